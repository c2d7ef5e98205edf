package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// assessArgs is an assessment of the bench's survey with everything that can be given.
func assessArgs(more ...string) []string {
	return append([]string{"assess", "--trajectory", "../in/trajectory/flight.sbet", "--checkpoints", "../in/checkpoints.csv", "--out", "results"}, append(more, "../in/cloud")...)
}

// Damaged, missing and wrong inputs: exit 3, the file named, no output, inputs as they were.
func TestFaultInputs(t *testing.T) {
	b := newBench(t)
	cloud := filepath.Join(b.dir, "in", "cloud")
	whole, err := os.ReadFile(filepath.Join(cloud, "strip_101.las"))
	if err != nil {
		t.Fatal(err)
	}
	put := func(name string, data []byte) {
		if err := os.WriteFile(filepath.Join(b.dir, "in", name), data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	put("cut.las", whole[:len(whole)-70]) // more than the last point
	put("head.las", whole[:200])
	put("empty.las", nil)
	if r := b.run("repack", "../in/cloud/strip_101.las", "cut.laz"); r.code != 0 {
		t.Fatal(r)
	}
	packed, err := os.ReadFile(filepath.Join(b.dir, "out", "cut.laz"))
	if err != nil {
		t.Fatal(err)
	}
	b.empty()
	put("cut.laz", packed[:len(packed)/2])
	torn := bytes.Clone(packed)
	for i := len(torn) / 2; i < len(torn)/2+2000; i++ {
		torn[i] ^= 0x5a
	}
	put("torn.laz", torn)
	put("cut.sbet", make([]byte, 136*10+5))
	put("empty.csv", nil)
	if err := os.Mkdir(filepath.Join(b.dir, "in", "folder.las"), 0o755); err != nil {
		t.Fatal(err)
	}
	b.before = b.inputs()
	for _, c := range []struct {
		name, want string
		args       []string
	}{
		{"no such file", "../in/none.las: no such file", []string{"assess", "../in/none.las"}},
		{"points cut off", "cut.las", []string{"assess", "../in/cut.las"}},
		{"header cut off", "head.las: byte 200", []string{"assess", "../in/head.las"}},
		{"empty file", "empty.las", []string{"strips", "../in/empty.las"}},
		{"LAZ cut off", "cut.laz", []string{"assess", "../in/cut.laz"}},
		{"LAZ damaged", "torn.laz", []string{"assess", "../in/torn.laz"}},
		{"folder for a file", "folder.las", []string{"assess", "../in/folder.las"}},
		{"repack: points cut off", "cut.las", []string{"repack", "../in/cut.las", "x.laz"}},
		{"repack: LAZ cut off", "cut.laz", []string{"repack", "../in/cut.laz", "x.las"}},
		{"repack: LAZ damaged", "torn.laz", []string{"repack", "../in/torn.laz", "x.las"}},
		{"repack: folder", "folder.las", []string{"repack", "../in/folder.las", "x.laz"}},
		{"path: cut off", "cut.sbet", []string{"assess", "--trajectory", "../in/cut.sbet", "../in/cloud"}},
		{"path: folder", "cloud", []string{"assess", "--trajectory", "../in/cloud", "../in/cloud"}},
		{"list: missing", "none.csv", []string{"checkpoints", "--checkpoints", "../in/none.csv", "../in/cloud"}},
		{"list: empty", "empty.csv", []string{"checkpoints", "--checkpoints", "../in/empty.csv", "../in/cloud"}},
		{"list: folder", "cloud", []string{"checkpoints", "--checkpoints", "../in/cloud", "../in/cloud"}},
		{"base log: folder", "cloud", []string{"assess", "--base", "../in/cloud", "../in/cloud"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := b.run(c.args...)
			if r.code != exitInput || !strings.Contains(r.stderr, c.want) || !strings.HasPrefix(r.stderr, "sidelap: ") || r.stdout != "" {
				t.Errorf("exit %d, stdout %q, stderr %q; want exit 3 and %q", r.code, r.stdout, r.stderr, c.want)
			}
			b.clean(t)
			b.empty()
		})
	}
}

// An output that cannot be made is told before the reading, as a matter of the command line.
func TestFaultOutput(t *testing.T) {
	b := newBench(t)
	file := filepath.Join(b.dir, "in", "README.txt")
	for _, c := range []struct {
		name, want string
		code       int
		args       []string
	}{
		{"results below a file", "README.txt", exitUsage, []string{"assess", "--out", filepath.Join(file, "results"), "../in/cloud"}},
		{"results are a file", "is a file; name a folder", exitUsage, []string{"assess", "--out", file, "../in/cloud"}},
		{"results are the inputs", "name another folder", exitUsage, []string{"assess", "--out", "../in/cloud", "../in/cloud"}},
		{"results are the inputs, forced", "nothing was replaced", exitInput, []string{"assess", "--force", "--out", "../in/cloud", "../in/cloud"}},
		{"correct onto the inputs, forced", "nothing was replaced", exitInput, []string{"correct", "--force", "--trajectory", "../in/trajectory/flight.sbet", "--out", "../in/cloud", "../in/cloud"}},
		{"repack below a file", "README.txt", exitUsage, []string{"repack", "../in/cloud/strip_101.las", filepath.Join(file, "x.laz")}},
		{"repack onto itself", "the output is the input", exitUsage, []string{"repack", "--force", "../in/cloud/strip_101.las", "../in/cloud/strip_101.las"}},
		{"demo below a file", "README.txt", exitUsage, []string{"demo", filepath.Join(file, "demo")}},
		{"demo into the inputs", "not empty", exitUsage, []string{"demo", "../in"}},
		{"field below a file", "README.txt", exitUsage, []string{"field", "--out", filepath.Join(file, "f"), "--trajectory", "../in/trajectory/flight.sbet"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := b.run(c.args...)
			if r.code != c.code || !strings.Contains(r.stderr, c.want) {
				t.Errorf("exit %d, stderr %q; want exit %d and %q", r.code, r.stderr, c.code, c.want)
			}
			b.clean(t)
			b.empty()
		})
	}
}

// A run that is cancelled before it starts does nothing.
func TestFaultCancelled(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	b := newBench(t)
	dir := filepath.Join(b.dir, "out")
	for _, args := range [][]string{
		{"assess", "--out", filepath.Join(dir, "results"), filepath.Join(b.dir, "in", "cloud")},
		{"strips", filepath.Join(b.dir, "in", "cloud")},
		{"checkpoints", "--checkpoints", filepath.Join(b.dir, "in", "checkpoints.csv"), filepath.Join(b.dir, "in", "cloud")},
		{"repack", filepath.Join(b.dir, "in", "cloud", "strip_101.las"), filepath.Join(dir, "x.laz")},
		{"demo", filepath.Join(dir, "demo")},
		{"field", "--out", filepath.Join(dir, "field"), "--trajectory", filepath.Join(b.dir, "in", "trajectory", "flight.sbet"), filepath.Join(b.dir, "in", "cloud")},
	} {
		var stdout, stderr bytes.Buffer
		began := time.Now()
		if code := run(ctx, args, &stdout, &stderr); code != exitInterrupted || stdout.Len() > 0 || !strings.Contains(stderr.String(), "interrupted") {
			t.Errorf("%s: exit %d, stdout %q, stderr %q", args[0], code, stdout.String(), stderr.String())
		}
		t.Logf("%s ended after %v", args[0], time.Since(began))
		b.clean(t)
		b.empty()
	}
}

// endsAt cancels when it is written to.
type endsAt struct {
	bytes.Buffer
	cancel context.CancelFunc
}

func (w *endsAt) Write(p []byte) (int, error) {
	w.cancel()
	return w.Buffer.Write(p)
}

// A Ctrl-C that comes when the demo is complete and only tells what it found does not make it an interrupted one.
func TestFaultLateCancel(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	dir := filepath.Join(t.TempDir(), "demo")
	stdout, stderr := endsAt{cancel: cancel}, bytes.Buffer{}
	code := run(ctx, []string{"demo", dir}, &stdout, &stderr)
	if ctx.Err() == nil || code != exitWithin || strings.Contains(stderr.String(), "interrupted") {
		t.Errorf("cancelled %t, exit %d, stderr %q", ctx.Err() != nil, code, stderr.String())
	}
	if _, err := os.Stat(filepath.Join(dir, "results", "results.json")); err != nil {
		t.Error(err)
	}
}
