package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

// Inputs that vanish or change while they are read are told; no figures come from a mixture.
func TestFaultChanging(t *testing.T) {
	b := newBench(t)
	b.bigCloud("big.las", 3_000_000)
	big := filepath.Join(b.dir, "in", "big.las")
	whole, err := os.ReadFile(big)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name string
		args []string
		act  func() error
	}{
		{"assess: cut", []string{"assess", "../in/big.las"}, func() error { return os.Truncate(big, 1000) }},
		{"assess: gone", []string{"assess", "../in/big.las"}, func() error { return os.Remove(big) }},
		{"assess: rewritten", []string{"assess", "../in/big.las"}, func() error { return os.WriteFile(big, whole, 0o644) }},
		{"assess: longer", []string{"assess", "../in/big.las"}, func() error { return appendTo(big) }},
		{"strips: cut", []string{"strips", "../in/big.las"}, func() error { return os.Truncate(big, 1000) }},
		{"repack: cut", []string{"repack", "../in/big.las", "x.laz"}, func() error { return os.Truncate(big, 1000) }},
	} {
		t.Run(c.name, func(t *testing.T) {
			var r ended
			for range 8 { // a change that comes after the last look at the file is not seen: once more
				r = b.caught(t, c.args, holds("big.las"), func(*os.Process) {
					if err := c.act(); err != nil {
						t.Fatal(err)
					}
				})
				if r.code == exitInput {
					break
				}
				b.empty()
				if err := os.WriteFile(big, whole, 0o644); err != nil {
					t.Fatal(err)
				}
			}
			if r.code != exitInput || !strings.Contains(r.stderr, "big.las") || r.stdout != "" {
				t.Errorf("exit %d, stdout %.80q, stderr %q", r.code, r.stdout, r.stderr)
			}
			t.Log(strings.TrimSpace(r.stderr))
			if left := b.list("out"); len(left) > 0 {
				t.Errorf("left behind: %q", left)
			}
			b.empty()
			if err := os.WriteFile(big, whole, 0o644); err != nil {
				t.Fatal(err)
			}
		})
	}
}

func appendTo(path string) error {
	f, err := os.OpenFile(path, os.O_APPEND|os.O_WRONLY, 0)
	if err != nil {
		return err
	}
	if _, err := f.Write(make([]byte, 3000)); err != nil {
		return err
	}
	return f.Close()
}

// A pipe, a device and a loop of links where a cloud belongs end with a message and do not hang. A list may come through a pipe.
func TestFaultSpecialFiles(t *testing.T) {
	b := newBench(t)
	out := filepath.Join(b.dir, "out")
	if err := syscall.Mkfifo(filepath.Join(b.dir, "in", "pipe.las"), 0o644); err != nil {
		t.Fatal(err)
	}
	defer os.Remove(filepath.Join(b.dir, "in", "pipe.las")) // the inputs are hashed
	if err := os.Symlink("loop.las", filepath.Join(b.dir, "in", "loop.las")); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink("..", filepath.Join(b.dir, "in", "cloud", "up")); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name, want string
		args       []string
	}{
		{"pipe", "pipe.las", []string{"assess", "../in/pipe.las"}},
		{"device", "/dev/zero", []string{"assess", "/dev/zero"}},
		{"null", "/dev/null", []string{"strips", "/dev/null"}},
		{"loop of links", "too many levels", []string{"assess", "../in/loop.las"}},
		{"repack: pipe", "pipe.las", []string{"repack", "../in/pipe.las", "x.laz"}},
		{"list: endless", "/dev/zero", []string{"checkpoints", "--checkpoints", "/dev/zero", "../in/cloud"}},
		{"path: endless", "/dev/zero", []string{"assess", "--trajectory", "/dev/zero", "../in/cloud"}},
		{"base log: endless", "/dev/zero", []string{"assess", "--base", "/dev/zero", "../in/cloud"}},
		{"limits: endless", "/dev/zero", []string{"assess", "--limits", "/dev/zero", "../in/cloud"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			cmd := exec.Command("sh", append([]string{"-c", `ulimit -v 4000000; exec timeout 20 "$@"`, "sh", b.program}, c.args...)...)
			cmd.Dir = out
			r := b.finish(cmd)
			if r.code != exitInput && r.code != exitUsage || !strings.Contains(r.stderr, c.want) || strings.Contains(r.stderr, "goroutine") {
				t.Errorf("exit %d, stderr %.300q", r.code, r.stderr)
			}
			if left := b.list("out"); len(left) > 0 {
				t.Errorf("left behind: %q", left)
			}
		})
	}
	t.Run("folder that holds a link to itself", func(t *testing.T) {
		if r := b.run("strips", "../in/cloud"); r.code != 0 || strings.Count(r.stdout, "\n") > 20 {
			t.Errorf("exit %d: %s%s", r.code, r.stdout, r.stderr)
		}
	})
	t.Run("list by redirection", func(t *testing.T) {
		list, err := os.Open(filepath.Join(b.dir, "in", "checkpoints.csv"))
		if err != nil {
			t.Fatal(err)
		}
		defer list.Close()
		c := b.command("checkpoints", "--checkpoints", "/dev/stdin", "../in/cloud")
		c.Stdin = list
		if r := b.finish(c); r.code != exitWithin && r.code != exitExceeded {
			t.Errorf("exit %d: %s", r.code, r.stderr)
		}
	})
	t.Run("list through a pipe", func(t *testing.T) {
		c := b.command("checkpoints", "--checkpoints", "/dev/stdin", "../in/cloud")
		c.Stdin = strings.NewReader("P1,1,2,3\n")
		if r := b.finish(c); r.code != exitInput || !strings.Contains(r.stderr, "this is a pipe") || !strings.Contains(r.stderr, "put its contents into a file") {
			t.Errorf("exit %d: %s", r.code, r.stderr)
		}
	})
}
