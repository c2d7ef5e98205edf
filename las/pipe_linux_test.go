package las

import (
	"errors"
	"path/filepath"
	"testing"

	"golang.org/x/sys/unix"
)

// TestPipeIsRefused: a named pipe without a writer is refused at once, where opening it would wait for ever.
func TestPipeIsRefused(t *testing.T) {
	path := filepath.Join(t.TempDir(), "pipe.las")
	if err := unix.Mkfifo(path, 0o600); err != nil {
		t.Skip(err)
	}
	_, err := Open(path)
	var fe *FormatError
	if !errors.As(err, &fe) {
		t.Fatalf("error %v, want a *FormatError", err)
	}
}
