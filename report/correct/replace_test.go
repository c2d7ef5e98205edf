package correct

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestReplaceKeepsForeignFiles: force replaces a results folder only when everything in it is the program's own.
func TestReplaceKeepsForeignFiles(t *testing.T) {
	for _, c := range []struct {
		name  string
		files []string
		want  string // part of the error, "" = may be replaced
	}{
		{"own", []string{"results.json", "report.html", "cloud/strip.las", "cloud/strip.las.undo", "cloud/correction.json", "before/results.json"}, ""},
		{"a note", []string{"results.json", "notes.txt"}, "notes.txt"},
		{"a cloud beside", []string{"results.json", "strip.las"}, "strip.las"},
		{"a list in cloud", []string{"results.json", "cloud/strip.las", "cloud/points.csv"}, "points.csv"},
		{"no results folder", []string{"report.html"}, "no results folder"},
	} {
		dir := t.TempDir()
		for _, f := range c.files {
			p := filepath.Join(dir, filepath.FromSlash(f))
			if err := os.MkdirAll(filepath.Dir(p), 0o777); err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(p, nil, 0o666); err != nil {
				t.Fatal(err)
			}
		}
		err := replaceable(dir, true)
		if (err == nil) != (c.want == "") || err != nil && !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", c.name, err, c.want)
		}
		if err := replaceable(dir, false); err == nil {
			t.Errorf("%s: replaced without force", c.name)
		}
	}
}

// TestInputsBelowOutput: a folder that holds an input is never written, by whatever name the input goes.
func TestInputsBelowOutput(t *testing.T) {
	dir := t.TempDir()
	in := filepath.Join(dir, "out", "cloud", "strip.las")
	if err := os.MkdirAll(filepath.Dir(in), 0o777); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(in, nil, 0o666); err != nil {
		t.Fatal(err)
	}
	link := filepath.Join(dir, "link.las")
	if err := os.Symlink(in, link); err != nil {
		t.Skip(err)
	}
	out := filepath.Join(dir, "out")
	for _, p := range []string{in, link} {
		if err := noneBelow(out, []string{p}); err == nil {
			t.Errorf("%s lies in the output folder and is not refused", p)
		}
	}
	if err := noneBelow(filepath.Join(dir, "ou"), []string{in}); err != nil {
		t.Error(err)
	}
	beside := filepath.Join(dir, "outer.las")
	if err := os.WriteFile(beside, nil, 0o666); err != nil {
		t.Fatal(err)
	}
	if err := noneBelow(out, []string{beside}); err != nil {
		t.Error(err)
	}
}
