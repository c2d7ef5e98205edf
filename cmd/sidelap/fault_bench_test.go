package main

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"

	"sidelap/las"
	"sidelap/trajectory/simulate"
)

// bench is a folder with a small simulated survey in "in" and an empty folder "out" to work in. The program is built
// as its users have it and started as a process of its own, since what is tested here is what an end of the process leaves behind.
type bench struct {
	t       *testing.T
	dir     string
	program string            // built from this package
	before  map[string]string // the inputs and their SHA-256
}

func newBench(t *testing.T) *bench {
	t.Helper()
	b := &bench{t: t, dir: t.TempDir()}
	s := simulate.SmallScenario()
	s.Plan.StripLengthM = 60
	if _, err := simulate.WriteSurvey(filepath.Join(b.dir, "in"), s, simulate.CloudOptions{}); err != nil {
		t.Fatal(err)
	}
	b.program = builtProgram(t)
	if err := os.Mkdir(filepath.Join(b.dir, "out"), 0o755); err != nil {
		t.Fatal(err)
	}
	b.before = b.inputs()
	return b
}

// built is the program, made by the first test that asks for it.
var built struct {
	sync.Once
	dir, output string
	err         error
}

// builtProgram builds the program once for all tests of this package; see TestMain for its end.
func builtProgram(t *testing.T) string {
	t.Helper()
	built.Do(func() {
		if built.dir, built.err = os.MkdirTemp("", "sidelap-built-*"); built.err != nil {
			return
		}
		var out []byte
		out, built.err = exec.Command("go", "build", "-buildvcs=false", "-o", filepath.Join(built.dir, "sidelap"), ".").CombinedOutput()
		built.output = string(out)
	})
	if built.err != nil {
		t.Fatalf("%v\n%s", built.err, built.output)
	}
	return filepath.Join(built.dir, "sidelap")
}

// tidyM removes the built program behind the tests.
type tidyM struct{ *testing.M }

func (m tidyM) Run() int {
	defer os.RemoveAll(built.dir)
	return m.M.Run()
}

// bigCloud adds a file of n points in 16 lines to the inputs, large enough for a reading to be caught at.
func (b *bench) bigCloud(name string, n int) {
	b.t.Helper()
	w, err := las.Create(filepath.Join(b.dir, "in", name), las.WriterOptions{Format: 6})
	if err != nil {
		b.t.Fatal(err)
	}
	const size = 30
	block := make([]byte, size*50_000)
	for at := 0; at < n; at += 50_000 {
		for i := range 50_000 {
			r := block[size*i : size*(i+1)]
			k := uint32(at + i)
			le(r[0:], k%1000*100)
			le(r[4:], k/1000%1000*100)
			le(r[8:], k*2654435761>>20)
			r[14], r[16] = 0x11, 2
			r[20] = byte(1 + k/1_000_000)
			r[29], r[28], r[27] = 0x40, 0x40, byte(at/50_000)
		}
		if err := w.WriteRecords(block[:size*min(50_000, n-at)]); err != nil {
			b.t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		b.t.Fatal(err)
	}
	b.before = b.inputs()
}

func le(b []byte, v uint32) { b[0], b[1], b[2], b[3] = byte(v), byte(v>>8), byte(v>>16), byte(v>>24) }

// command prepares a run in the folder "out". The inputs are in ../in.
func (b *bench) command(args ...string) *exec.Cmd {
	c := exec.Command(b.program, args...)
	c.Dir = filepath.Join(b.dir, "out")
	return c
}

// ended is what a run left.
type ended struct {
	code           int // -1: killed by a signal
	stdout, stderr string
}

func (b *bench) run(args ...string) ended { return b.finish(b.command(args...)) }

func (b *bench) finish(c *exec.Cmd) ended {
	b.t.Helper()
	var out, err bytes.Buffer
	c.Stdout, c.Stderr = &out, &err
	failed := c.Run()
	var exit *exec.ExitError
	if failed != nil && !errors.As(failed, &exit) {
		b.t.Fatal(failed)
	}
	return ended{c.ProcessState.ExitCode(), out.String(), err.String()}
}

// inputs gives the SHA-256 of every input.
func (b *bench) inputs() map[string]string {
	b.t.Helper()
	sums := map[string]string{}
	for _, name := range b.list("in") {
		path := filepath.Join(b.dir, "in", name)
		if info, err := os.Stat(path); err == nil && info.IsDir() {
			sums[name] = "folder"
			continue
		}
		data, err := os.ReadFile(path)
		if err != nil {
			b.t.Fatal(err)
		}
		sum := sha256.Sum256(data)
		sums[name] = hex.EncodeToString(sum[:])
	}
	return sums
}

// list gives the files below a folder of the bench, and folders that hold nothing.
func (b *bench) list(folder string) []string {
	b.t.Helper()
	root := filepath.Join(b.dir, folder)
	var names []string
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil || path == root {
			return err
		}
		if d.IsDir() {
			inside, err := os.ReadDir(path)
			if err != nil || len(inside) > 0 {
				return err
			}
		}
		rel, err := filepath.Rel(root, path)
		names = append(names, filepath.ToSlash(rel))
		return err
	})
	if err != nil {
		b.t.Fatal(err)
	}
	return names
}

// clean fails when an input changed or when anything is in the folder "out".
func (b *bench) clean(t *testing.T) {
	t.Helper()
	b.untouched(t)
	if left := b.list("out"); len(left) > 0 {
		t.Errorf("left behind: %q", left)
	}
}

func (b *bench) untouched(t *testing.T) {
	t.Helper()
	now := b.inputs()
	for name, sum := range b.before {
		if now[name] != sum {
			t.Errorf("input %s was changed", name)
		}
	}
	if len(now) != len(b.before) {
		t.Errorf("%d files where there were %d inputs", len(now), len(b.before))
	}
}

// empty removes what is in "out".
func (b *bench) empty() {
	b.t.Helper()
	entries, err := os.ReadDir(filepath.Join(b.dir, "out"))
	if err != nil {
		b.t.Fatal(err)
	}
	for _, e := range entries {
		if err := os.RemoveAll(filepath.Join(b.dir, "out", e.Name())); err != nil {
			b.t.Fatal(err)
		}
	}
}

// record reads a file of results without what differs from run to run.
func (b *bench) record(name string) string {
	b.t.Helper()
	data, err := os.ReadFile(filepath.Join(b.dir, "out", name))
	if err != nil {
		b.t.Fatal(err)
	}
	return string(withoutRun(data))
}

// hidden tells whether every name is that of a temporary file or lies in a temporary folder.
func hidden(names []string) bool {
	return !slices.ContainsFunc(names, func(n string) bool {
		return !slices.ContainsFunc(strings.Split(n, "/"), func(p string) bool { return strings.HasPrefix(p, ".") })
	})
}
