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
