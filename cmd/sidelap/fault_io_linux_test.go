package main

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
)

// failing prepares a run in which the kernel answers calls with an error, as a disk with damaged sectors does: those named (syscalls(2)),
// from the nth of a thread on, on the file named, or on any.
func (b *bench) failing(t *testing.T, calls, when, file string, args ...string) *exec.Cmd {
	t.Helper()
	strace, err := exec.LookPath("strace")
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal(err)
		}
		t.Skip(err)
	}
	if out, err := exec.Command(strace, "-o", os.DevNull, "true").CombinedOutput(); err != nil {
		t.Skipf("processes may not be traced here: %v, %s", err, out)
	}
	to := []string{"-f", "-qq", "-o", os.DevNull, "-e", "trace=" + calls, "-e", "inject=" + calls + ":error=EIO:when=" + when}
	if file != "" {
		to = append(to, "-P", filepath.Join(b.dir, "in", filepath.FromSlash(file)))
	}
	c := exec.Command(strace, append(append(to, b.program), args...)...)
	c.Dir = filepath.Join(b.dir, "out")
	return c
}

// A read error in the middle of any input: exit 3, the file and the disk's error, no output, inputs as they were.
func TestFaultReadError(t *testing.T) {
	b := newBench(t)
	b.bigCloud("big.las", 500_000)
	if r := b.run("repack", "../in/big.las", "../in/big.laz"); r.code != 0 {
		t.Fatal(r)
	}
	b.before = b.inputs()
	log, err := filepath.Glob(filepath.Join(b.dir, "in", "base", "*o"))
	if err != nil || len(log) != 1 {
		t.Fatal(log, err)
	}
	base := "base/" + filepath.Base(log[0])
	const path = "trajectory/flight.sbet"
	for _, c := range []struct {
		file, when string
		args       []string
	}{
		{"big.las", "9+", []string{"assess", "../in/big.las"}},
		{"big.laz", "5+", []string{"assess", "../in/big.laz"}},
		{"big.las", "9+", []string{"strips", "../in/big.las"}},
		{"big.las", "9+", []string{"checkpoints", "--checkpoints", "../in/checkpoints.csv", "../in/big.las"}},
		{"big.las", "9+", []string{"repack", "../in/big.las", "x.laz"}},
		{"big.laz", "5+", []string{"repack", "../in/big.laz", "x.las"}},
		{"cloud/strip_102.las", "5+", []string{"correct", "--force", "--trajectory", "../in/" + path, "--out", "corrected", "../in/cloud"}},
		{path, "1+", []string{"assess", "--trajectory", "../in/" + path, "../in/cloud"}},
		{base, "2+", []string{"assess", "--base", "../in/" + base, "../in/cloud"}},
		{base, "2+", []string{"field", "--base", "../in/" + base, "../in/cloud"}},
		{"checkpoints.csv", "1+", []string{"checkpoints", "--checkpoints", "../in/checkpoints.csv", "../in/cloud"}},
	} {
		t.Run(c.args[0]+" "+c.file, func(t *testing.T) {
			r := b.finish(b.failing(t, "pread64,read", c.when, c.file, c.args...))
			if r.code != exitInput || !strings.Contains(r.stderr, filepath.Base(c.file)) || !strings.Contains(r.stderr, "input/output error") || r.stdout != "" {
				t.Errorf("exit %d, stdout %.80q, stderr %q", r.code, r.stdout, r.stderr)
			}
			b.clean(t)
			b.empty()
		})
	}
	t.Run("field", func(t *testing.T) { // there a cloud that cannot be read is a finding, with what to do
		r := b.finish(b.failing(t, "pread64,read", "9+", "big.las", "field", "../in/big.las"))
		said := strings.Join(strings.Fields(r.stdout), " ")
		if r.code != exitExceeded || !strings.Contains(said, "files whole: big.las") || !strings.Contains(said, "input/output error") || !strings.Contains(said, "copy") {
			t.Errorf("exit %d, stdout %q, stderr %q", r.code, r.stdout, r.stderr)
		}
		b.untouched(t)
		b.empty()
	})
}

// An output that the disk takes and then does not keep, or does not give its name: exit 3, what could not be written, nothing left.
func TestFaultWriteError(t *testing.T) {
	b := newBench(t)
	for _, c := range []struct {
		calls string
		args  []string
	}{
		{"fsync", []string{"repack", "../in/cloud/strip_101.las", "x.laz"}},
		{"rename,renameat,renameat2", []string{"repack", "../in/cloud/strip_101.las", "x.laz"}},
		{"rename,renameat,renameat2", assessArgs()},
		{"fsync", []string{"correct", "--force", "--trajectory", "../in/trajectory/flight.sbet", "--out", "corrected", "../in/cloud"}},
		{"rename,renameat,renameat2", []string{"field", "--trajectory", "../in/trajectory/flight.sbet", "--out", "field", "../in/cloud"}},
	} {
		t.Run(c.args[0]+" "+c.calls, func(t *testing.T) {
			r := b.finish(b.failing(t, c.calls, "1+", "", c.args...))
			if r.code != exitInput || !strings.Contains(r.stderr, "input/output error") || strings.Contains(r.stderr, ".part") {
				t.Errorf("exit %d, stderr %q", r.code, r.stderr)
			}
			b.clean(t)
			b.empty()
		})
	}
}

// A disk that is full, as a limit on the size of files and as a small file system: exit 3, what could not be
// written and why, nothing left.
func TestFaultDiskFull(t *testing.T) {
	b := newBench(t)
	limited := func(blocks int, args ...string) ended {
		c := exec.Command("sh", append([]string{"-c", "ulimit -f " + strconv.Itoa(blocks) + `; exec "$@"`, "sh", b.program}, args...)...)
		c.Dir = filepath.Join(b.dir, "out")
		return b.finish(c)
	}
	if r := b.run(assessArgs()...); r.code != exitWithin && r.code != exitExceeded {
		t.Fatal(r)
	}
	if err := os.Rename(filepath.Join(b.dir, "out", "results"), filepath.Join(b.dir, "in", "results")); err != nil {
		t.Fatal(err)
	}
	b.before = b.inputs()
	for _, c := range []struct {
		name   string
		blocks int
		args   []string
	}{
		{"assess", 4, assessArgs()},
		{"assess, later", 400, assessArgs()},
		{"repack", 40, []string{"repack", "../in/cloud/strip_101.las", "x.laz"}},
		{"demo", 2000, []string{"demo", "demo"}},
		{"report", 4, []string{"report", "--out", "again", "../in/results"}},
		{"field", 4, []string{"field", "--trajectory", "../in/trajectory/flight.sbet", "--out", "field", "../in/cloud"}},
		{"correct", 400, []string{"correct", "--force", "--trajectory", "../in/trajectory/flight.sbet", "../in/cloud"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := limited(c.blocks, c.args...)
			if r.code != exitInput || !strings.Contains(r.stderr, "file too large") {
				t.Errorf("exit %d, stderr %q", r.code, r.stderr)
			}
			b.clean(t)
			b.empty()
		})
	}
	t.Run("standard output", func(t *testing.T) {
		full, err := os.OpenFile("/dev/full", os.O_WRONLY, 0)
		if err != nil {
			t.Skip(err)
		}
		defer full.Close()
		for _, args := range [][]string{{"strips", "../in/cloud"}, {"strips", "--json", "../in/cloud"}, {"limits"}, {"checkpoints", "--checkpoints", "../in/checkpoints.csv", "../in/cloud"}} {
			var errs bytes.Buffer
			c := b.command(args...)
			c.Stdout, c.Stderr = full, &errs
			c.Run()
			if c.ProcessState.ExitCode() != exitInput || !strings.Contains(errs.String(), "no space left") {
				t.Errorf("%q: exit %d, %q", args, c.ProcessState.ExitCode(), errs.String())
			}
		}
	})
	t.Run("file system", func(t *testing.T) {
		out := filepath.Join(b.dir, "out")
		if err := syscall.Mount("tmpfs", out, "tmpfs", 0, "size=256k"); err != nil {
			t.Skip("may not mount a small file system: ", err)
		}
		defer syscall.Unmount(out, 0)
		for _, args := range [][]string{assessArgs(), {"repack", "../in/cloud/strip_101.las", "x.las"}, {"demo", "demo"}} {
			if r := b.run(args...); r.code != exitInput || !strings.Contains(r.stderr, "no space left") && !strings.Contains(r.stderr, "disk is full") || strings.Contains(r.stderr, ".part") {
				t.Errorf("%s: exit %d, stderr %q", args[0], r.code, r.stderr)
			}
			b.clean(t)
			b.empty()
		}
	})
}
