package correct

import (
	"context"
	"maps"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"sidelap/adjust"
	"sidelap/report"
	"sidelap/report/assess"
)

// TestReplaceKeepsForeignFiles: force replaces a results folder only when everything in it is the program's own.
func TestReplaceKeepsForeignFiles(t *testing.T) {
	const cloud = `{"files": [{"output": "strip.las", "undo": "strip.las.undo"}, {"output": "day2/strip.las", "undo": "day2/strip.las.undo"}]}`
	own := map[string]string{
		"results.json": `{"rasters": [{"path": "rasters/density.tif"}]}`, "report.html": "", "tables/pairs.csv": "", "tables/tables.md": "", "tables/standard_asprs-2.csv": "",
		"rasters/density.tif": "", "rasters/density.qml": "", "rasters/density.tif.aux.xml": "",
		"before/results.json": `{}`, "before/tables/strips.csv": "",
		"cloud/correction.json": cloud, "cloud/correction.path": "", "cloud/strip.las": "", "cloud/strip.las.undo": "", "cloud/day2/strip.las": "", "cloud/day2/strip.las.undo": "",
	}
	for _, c := range []struct {
		name, file, text string // what is put into the folder, or taken out of it
		want             string // part of the error, "" = may be replaced
	}{
		{"own", "", "", ""},
		{"a note", "notes.txt", "", "notes.txt"},
		{"a cloud beside", "strip.las", "", "strip.las"},
		{"a list in cloud", "cloud/points.csv", "", "points.csv"},
		{"a cloud of somebody else", "cloud/original.las", "", "original.las"},
		{"a folder in cloud", "cloud/day3/strip.las", "", "strip.las"},
		{"a table", "tables/invoice.csv", "", "invoice.csv"},
		{"a raster", "rasters/orthophoto.tif", "", "orthophoto.tif"},
		{"a style", "rasters/mine.qml", "", "mine.qml"},
		{"a folder of tables", "tables/old/strips.csv", "", "old"},
		{"a note in before", "before/notes.txt", "", "notes.txt"},
		{"a table in before", "before/tables/invoice.csv", "", "invoice.csv"},
		{"a cloud in before", "before/cloud/strip.las", "", "no folder of corrected clouds"},
		{"a damaged record", "results.json", "{", "no results folder"},
		{"no record", "results.json", "-", "no results folder"},
		{"no list of the clouds", "cloud/correction.json", "-", "no folder of corrected clouds"},
	} {
		dir := t.TempDir()
		files := maps.Clone(own)
		if files[c.file] = c.text; c.text == "-" || c.file == "" {
			delete(files, c.file)
		}
		for f, text := range files {
			p := filepath.Join(dir, filepath.FromSlash(f))
			if err := os.MkdirAll(filepath.Dir(p), 0o777); err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(p, []byte(text), 0o666); err != nil {
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
		if err := replaceableCloud(filepath.Join(dir, "cloud"), true); c.file != "results.json" && (err == nil || !strings.Contains(err.Error(), "that the results in")) {
			t.Errorf("%s: the cloud of a results folder: %v", c.name, err)
		}
		alone := filepath.Join(t.TempDir(), "alone")
		if err := os.Rename(filepath.Join(dir, "cloud"), alone); err != nil {
			t.Fatal(err)
		}
		if err := replaceableCloud(alone, true); (err == nil) != (c.want == "" || !strings.HasPrefix(c.file, "cloud/")) {
			t.Errorf("%s: the cloud alone: %v", c.name, err)
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

// TestRetiredFolderKeepsItsClouds: a folder that a killed run had put aside, with the clouds it had still to carry over, is finished and not removed by any
// run into the same place, also one that fails.
func TestRetiredFolderKeepsItsClouds(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	for _, c := range []struct {
		name string
		run  func(in, out string) error
	}{
		{"run", func(_, out string) error {
			r := &run{o: Options{Out: out, Force: true}, p: &assess.Prepared{Record: &report.Record{}}, fit: &adjust.CorrectionFit{Correction: &adjust.Correction{}}}
			_, err := r.write(ctx)
			return err
		}},
		{"again", func(_, out string) error {
			_, err := (&again{}).write(ctx, out)
			return err
		}},
		{"undo", func(in, out string) error {
			_, err := UndoFolder(t.Context(), in, out, 1, nil)
			return err
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			dir := t.TempDir()
			in, out := filepath.Join(dir, "in"), filepath.Join(dir, "out")
			kept := []string{filepath.Join("cloud", "strip.las"), filepath.Join("before", "results.json")}
			old := filepath.Join(dir, ".out.sidelap-00c0ffee.old")
			for _, p := range []string{filepath.Join(in, "none.las"), filepath.Join(old, kept[0]), filepath.Join(old, kept[1])} {
				if err := os.MkdirAll(filepath.Dir(p), 0o777); err != nil {
					t.Fatal(err)
				}
				if err := os.WriteFile(p, nil, 0o666); err != nil {
					t.Fatal(err)
				}
			}
			if err := os.Mkdir(out, 0o777); err != nil {
				t.Fatal(err)
			}
			then := time.Now().Add(-48 * time.Hour) // systems without locks tell a killed run's by its age
			if err := os.Chtimes(old, then, then); err != nil {
				t.Fatal(err)
			}
			if err := c.run(in, out); err == nil {
				t.Fatal("a run that was to fail did not")
			}
			for _, k := range kept {
				if _, err := os.Stat(filepath.Join(out, k)); err != nil {
					t.Error(err)
				}
			}
			if _, err := os.Stat(old); err == nil {
				t.Error("the retired folder is still there")
			}
		})
	}
}
