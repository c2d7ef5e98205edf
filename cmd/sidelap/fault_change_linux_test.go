package main

import (
	"bytes"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

// Inputs that vanish or change while they are read are told; no figures come from a mixture. The process stands still while
// its input changes, with less read than the cloud has bytes: so that a change that is not told would be a mistake, never luck.
func TestFaultChanging(t *testing.T) {
	b := newBench(t)
	b.bigCloud("big.las", 1_500_000)
	big := filepath.Join(b.dir, "in", "big.las")
	whole, err := os.ReadFile(big)
	if err != nil {
		t.Fatal(err)
	}
	other := bytes.Clone(whole)
	for at := len(other) / 2; at < len(other); at++ {
		other[at] ^= 1
	}
	cut := func() error { return os.Truncate(big, 1000) }
	gone := func() error { return os.Remove(big) }
	rewritten := func() error { return os.WriteFile(big, other, 0o644) }
	replaced := func() error {
		return errors.Join(os.WriteFile(big+".new", other, 0o644), os.Rename(big+".new", big))
	}
	longer := func() error { return appendTo(big) }
	assess, strips := []string{"assess", "../in/big.las"}, []string{"strips", "../in/big.las"}
	checkpoints := []string{"checkpoints", "--checkpoints", "../in/checkpoints.csv", "../in/big.las"}
	repack := []string{"repack", "../in/big.las", "x.laz"}
	correct := []string{"correct", "--out", "corrected", "../in/big.las"}
	field := []string{"field", "--out", "field", "../in/big.las"}
	for _, c := range []struct {
		name string
		args []string
		act  func() error
	}{
		{"assess: cut", assess, cut},
		{"assess: gone", assess, gone},
		{"assess: rewritten", assess, rewritten},
		{"assess: replaced", assess, replaced},
		{"assess: longer", assess, longer},
		{"strips: cut", strips, cut},
		{"strips: gone", strips, gone},
		{"strips: rewritten", strips, rewritten},
		{"checkpoints: cut", checkpoints, cut},
		{"checkpoints: gone", checkpoints, gone},
		{"checkpoints: rewritten", checkpoints, rewritten},
		{"repack: cut", repack, cut},
		{"repack: gone", repack, gone},
		{"repack: rewritten", repack, rewritten},
		{"correct: gone", correct, gone},
		{"correct: rewritten", correct, rewritten},
		{"field: gone", field, gone},
		{"field: rewritten", field, rewritten},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := b.caught(t, c.args, both(holds("big.las"), early(int64(len(whole)))), func(*os.Process) {
				if err := c.act(); err != nil {
					t.Fatal(err)
				}
			})
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
