package main

import (
	"encoding/json"
	"os"
	"path/filepath"
	"reflect"
	"testing"
)

// TestSameBytes: what the machine has and how the files are named in order changes no byte of the results; the form of the files
// changes only what is said about the files.
func TestSameBytes(t *testing.T) {
	if testing.Short() {
		t.Skip("some ten assessments")
	}
	b := newBench(t)
	args := []string{"assess", "--quiet", "--trajectory", "../in/trajectory/flight.sbet", "--checkpoints", "../in/checkpoints.csv", "--out", "results"}
	cloud, err := filepath.Glob(filepath.Join(b.dir, "in", "cloud", "*.las"))
	if err != nil || len(cloud) < 3 {
		t.Fatal(cloud, err)
	}
	var files, back, packed []string
	for _, f := range cloud {
		name := filepath.Base(f)
		files = append(files, "../in/cloud/"+name)
		back = append([]string{"../in/cloud/" + name}, back...)
		laz := "../packed/" + name[:len(name)-1] + "z"
		if err := os.MkdirAll(filepath.Join(b.dir, "packed"), 0o755); err != nil {
			t.Fatal(err)
		}
		if r := b.run("repack", "../in/cloud/"+name, laz); r.code != 0 {
			t.Fatal(r)
		}
		packed = append(packed, laz)
	}
	assess := func(env []string, more ...string) string {
		c := b.command(append(append([]string{}, args...), more...)...)
		c.Env = append(os.Environ(), env...)
		if r := b.finish(c); r.code != exitWithin && r.code != exitExceeded {
			t.Fatalf("%q %q: exit %d, %s", env, more, r.code, r.stderr)
		}
		defer b.empty()
		return b.record("results/results.json")
	}
	want := assess(nil, files...)
	for _, c := range []struct {
		name string
		env  []string
		args []string
	}{
		{"one worker", nil, append([]string{"--workers", "1"}, files...)},
		{"seven workers", nil, append([]string{"--workers", "7"}, files...)},
		{"files backwards", nil, back},
		{"the folder", nil, []string{"../in/cloud"}},
		{"one processor", []string{"GOMAXPROCS=1"}, files},
		{"garbage collected often, memory short", []string{"GOGC=5", "GOMEMLIMIT=64MiB"}, files},
		{"elsewhere", []string{"TZ=Pacific/Chatham", "LANG=de_DE.UTF-8", "LC_ALL=tr_TR.UTF-8"}, files},
	} {
		if got := assess(c.env, c.args...); got != want {
			t.Errorf("%s: other bytes", c.name)
		}
	}
	var las, laz map[string]any
	for s, m := range map[string]*map[string]any{want: &las, assess(nil, packed...): &laz} {
		if err := json.Unmarshal([]byte(s), m); err != nil {
			t.Fatal(err)
		}
	}
	// the sample that proposes a cell is taken by chunks, which the two forms have of different lengths
	for _, m := range []map[string]any{las, laz} {
		if o, ok := m["options"].(map[string]any); ok {
			delete(o, "cell_why")
		}
	}
	for k := range las {
		if k != "inputs" && !reflect.DeepEqual(las[k], laz[k]) {
			t.Errorf("LAZ: other %s\n%v\n%v", k, las[k], laz[k])
		}
	}
}

// TestSameBytesCOPC: a COPC file of open data, whose points are in the order of an octree, and the same points as plain LAZ and LAS give the
// same results but for what is said about the files.
func TestSameBytesCOPC(t *testing.T) {
	data, err := os.ReadFile(filepath.Join("..", "..", "..", "shared", "data", "real", "odd", "laspy-simple.copc.laz"))
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal(err)
		}
		t.Skip("no open data beside the checkout")
	}
	b := newBench(t)
	if err := os.WriteFile(filepath.Join(b.dir, "in", "octree.laz"), data, 0o644); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"plain.laz", "plain.las"} {
		if r := b.run("repack", "../in/octree.laz", "../in/"+name); r.code != 0 {
			t.Fatal(r)
		}
	}
	results := func(name string) (m map[string]any) {
		if r := b.run("assess", "--quiet", "--cell", "10", "--out", "results", "../in/"+name); r.code != exitWithin && r.code != exitExceeded && r.code != exitNotJudged {
			t.Fatalf("%s: exit %d, %s", name, r.code, r.stderr)
		}
		defer b.empty()
		if err := json.Unmarshal([]byte(b.record("results/results.json")), &m); err != nil {
			t.Fatal(err)
		}
		return m
	}
	want := results("octree.laz")
	if strips, _ := want["strips"].([]any); len(strips) == 0 {
		t.Fatal("no strips")
	}
	for _, name := range []string{"plain.laz", "plain.las"} {
		got := results(name)
		for k := range want {
			if k != "inputs" && k != "warnings" && !reflect.DeepEqual(got[k], want[k]) {
				t.Errorf("%s: other %s\n%v\n%v", name, k, got[k], want[k])
			}
		}
		t.Logf("%q as COPC, %q as %s", want["warnings"], got["warnings"], name)
	}
}
