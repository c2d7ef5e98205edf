package report_test

import (
	"errors"
	"os"
	"path/filepath"
	"testing"

	"sidelap/report"
	"sidelap/report/internal/sample"
)

// folder renders a survey and returns the folder.
func folder(t *testing.T, s *sample.Survey) string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "results")
	if err := report.Render(dir, s.Record, s.Layers, report.RenderOptions{}); err != nil {
		t.Fatal(err)
	}
	return dir
}

// SIDELAP_LOOK=DIR writes the folders of the sample surveys there, to be looked at.
func TestLook(t *testing.T) {
	look := os.Getenv("SIDELAP_LOOK")
	if look == "" {
		t.Skip("SIDELAP_LOOK is not set")
	}
	for name, s := range surveys() {
		if err := report.Render(filepath.Join(look, name), s.Record, s.Layers, report.RenderOptions{Force: true}); err != nil {
			t.Error(err)
		}
	}
}

func tree(t *testing.T, dir string) map[string]string {
	t.Helper()
	files := map[string]string{}
	err := filepath.WalkDir(dir, func(path string, d os.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		b, err := os.ReadFile(path)
		rel, _ := filepath.Rel(dir, path)
		files[filepath.ToSlash(rel)] = string(b)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return files
}

// The same record gives the same bytes in every file.
func TestRenderIsDeterministic(t *testing.T) {
	a, b := tree(t, folder(t, sample.Failing())), tree(t, folder(t, sample.Failing()))
	if len(a) != len(b) || len(a) < 20 {
		t.Fatalf("%d and %d files", len(a), len(b))
	}
	for name := range a {
		if a[name] != b[name] {
			t.Errorf("%s differs between equal runs", name)
		}
	}
}

func TestRenderRefuses(t *testing.T) {
	s := sample.Passing()
	dir := folder(t, s)
	before := tree(t, dir)
	if err := report.Render(dir, s.Record, s.Layers, report.RenderOptions{}); !errors.Is(err, report.ErrExists) {
		t.Errorf("without Force: %v", err)
	}
	foreign := filepath.Join(dir, "thesis.txt")
	if err := os.WriteFile(foreign, []byte("do not lose"), 0o644); err != nil {
		t.Fatal(err)
	}
	if err := report.Render(dir, s.Record, s.Layers, report.RenderOptions{Force: true}); !errors.Is(err, report.ErrExists) {
		t.Errorf("over somebody else's file: %v", err)
	}
	for _, below := range []string{"tables/invoice.csv", "rasters/orthophoto.tif"} {
		moved := filepath.Join(dir, filepath.FromSlash(below))
		if err := os.Rename(foreign, moved); err != nil {
			t.Fatal(err)
		}
		if foreign = moved; !errors.Is(report.Render(dir, s.Record, s.Layers, report.RenderOptions{Force: true}), report.ErrExists) {
			t.Errorf("over somebody else's %s", below)
		}
	}
	other := t.TempDir()
	if err := os.WriteFile(filepath.Join(other, "a.las"), nil, 0o644); err != nil {
		t.Fatal(err)
	}
	if err := report.Render(other, s.Record, s.Layers, report.RenderOptions{Force: true}); !errors.Is(err, report.ErrExists) {
		t.Errorf("over a folder that is none of ours: %v", err)
	}
	if err := os.Remove(foreign); err != nil {
		t.Fatal(err)
	}
	if err := os.MkdirAll(filepath.Join(dir, "cloud"), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "cloud", "a.laz"), []byte("points"), 0o644); err != nil {
		t.Fatal(err)
	}
	if err := report.Render(dir, s.Record, s.Layers, report.RenderOptions{Force: true}); err != nil {
		t.Fatal(err)
	}
	after := tree(t, dir)
	if after["cloud/a.laz"] != "points" {
		t.Error("the corrected cloud is lost")
	}
	delete(after, "cloud/a.laz")
	if len(after) != len(before) {
		t.Errorf("%d files before, %d after", len(before), len(after))
	}
}

// A record that cannot be written leaves nothing behind, and the old folder as it was.
func TestRenderFailsWhole(t *testing.T) {
	s := sample.Passing()
	dir := folder(t, s)
	before := tree(t, dir)
	s.Layers.Density.Values = s.Layers.Density.Values[:7]
	if err := report.Render(dir, s.Record, s.Layers, report.RenderOptions{Force: true}); err == nil {
		t.Fatal("a broken raster is rendered")
	}
	after := tree(t, dir)
	for name := range before {
		if before[name] != after[name] {
			t.Errorf("%s changed", name)
		}
	}
	if list, _ := os.ReadDir(filepath.Dir(dir)); len(list) != 1 {
		t.Errorf("left behind: %v", list)
	}
}

// Rasters of pairs that are made when they are needed give the same bytes as those that are at hand.
func TestPairGridsDrawnLater(t *testing.T) {
	want := tree(t, folder(t, sample.Failing()))
	s := sample.Failing()
	for i := range s.Layers.Pairs {
		p := &s.Layers.Pairs[i]
		grid, flags := p.Grid, p.Flags
		frame := *grid
		frame.Values = nil
		*p = report.PairGrid{A: p.A, B: p.B, Frame: &frame, DrawGrid: func() *report.Grid { return grid }, DrawFlags: func() *report.Grid { return flags }}
	}
	got := tree(t, folder(t, s))
	if len(got) != len(want) {
		t.Fatalf("%d files, want %d", len(got), len(want))
	}
	for name := range want {
		if got[name] != want[name] {
			t.Errorf("%s differs", name)
		}
	}
}
