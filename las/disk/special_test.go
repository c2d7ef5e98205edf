//go:build linux

package disk

import (
	"errors"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

// Pipes and devices are refused before they are opened, which could wait for ever.
func TestSpecial(t *testing.T) {
	pipe := filepath.Join(t.TempDir(), "pipe")
	if err := syscall.Mkfifo(pipe, 0o600); err != nil {
		t.Skip(err)
	}
	for p, want := range map[string]string{pipe: "pipe", "/dev/zero": "device", "/dev/null": "device"} {
		_, err := Read(p, 1<<20)
		var e *Error
		if !errors.As(err, &e) || !strings.Contains(err.Error(), want) || e.Remedy == "" {
			t.Errorf("%s: %v", p, err)
		}
	}
	// some files of the system say that they have no bytes and then have some
	if b, err := Read("/proc/self/status", 1<<20); err != nil || len(b) == 0 {
		t.Errorf("%d bytes, %v", len(b), err)
	}
	if _, err := Read("/proc/self/status", 10); err == nil {
		t.Error("a file that is longer than it says was read beyond the limit")
	}
}
