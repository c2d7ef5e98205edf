package report_test

import (
	"encoding/base64"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"sidelap/report"
	"sidelap/report/internal/sample"
)

// A folder that is read and rendered again is the same, file by file: nothing
// that the reports show lives only in memory.
func TestRenderAgain(t *testing.T) {
	for name, s := range map[string]*sample.Survey{"failing": sample.Failing(), "feet": sample.Feet()} {
		s.Layers.Before = s.Layers.Separation
		first := folder(t, s)
		rec, layers, err := report.LoadFolder(first)
		if err != nil {
			t.Fatal(err)
		}
		second := filepath.Join(t.TempDir(), "again")
		if err := report.Render(second, rec, layers, report.RenderOptions{}); err != nil {
			t.Fatal(err)
		}
		a, b := tree(t, first), tree(t, second)
		if len(a) != len(b) {
			t.Errorf("%s: %d files, again %d", name, len(a), len(b))
		}
		for file := range a {
			// Values between the decimals of results.json move figures by less than a pixel.
			if file == "report.html" || file == "report.pdf" || file == "map.gpkg" || file == "map.geojson" {
				if len(a[file]) == 0 || len(b[file]) < len(a[file])*9/10 {
					t.Errorf("%s: %s has %d bytes, again %d", name, file, len(a[file]), len(b[file]))
				}
				continue
			}
			if a[file] != b[file] {
				t.Errorf("%s: %s differs when rendered again", name, file)
			}
		}
	}
}

func TestLoadFolderRefuses(t *testing.T) {
	if _, _, err := report.LoadFolder(t.TempDir()); err == nil || !strings.Contains(err.Error(), "no results.json") {
		t.Errorf("an empty folder: %v", err)
	}
	dir := folder(t, sample.Passing())
	path := filepath.Join(dir, "results.json")
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ name, old, new, want string }{
		{"a later schema", `"schema_version": "1.0"`, `"schema_version": "2.0"`, "schema_version 2.0"},
		{"no record", `"schema_version": "1.0"`, `"schema": "1.0"`, "no schema_version"},
		{"broken JSON", `"strips": [`, `"strips": [,`, "results.json: line "},
		{"another type", `"cells": 10`, `"cells": "x10`, "line "},
		{"a raster elsewhere", `"path": "rasters/separation.tif"`, `"path": "../../secret.tif"`, "outside the folder"},
		{"a raster missing", `"path": "rasters/separation.tif"`, `"path": "rasters/none.tif"`, "none.tif"},
	} {
		broken := strings.Replace(string(b), c.old, c.new, 1)
		if broken == string(b) {
			t.Fatalf("%s: nothing to break", c.name)
		}
		if err := os.WriteFile(path, []byte(broken), 0o644); err != nil {
			t.Fatal(err)
		}
		if _, _, err := report.LoadFolder(dir); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", c.name, err, c.want)
		}
	}
}

// onePixel is a PNG of one pixel.
const onePixel = "iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNkYPhfDwAChwGA60e6kgAAAABJRU5ErkJggg=="

func TestLetterhead(t *testing.T) {
	dir := t.TempDir()
	write := func(name, text string) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		return path
	}
	png, err := base64.StdEncoding.DecodeString(onePixel)
	if err != nil {
		t.Fatal(err)
	}
	write("logo.png", string(png))
	path := write("job.toml", "logo = \"logo.png\"\n[project]\nname = \"North field\"\nfirm = \"Three Ridge Survey\"\n[reference]\ngeoid = \"GCG2016\"\nantenna_height_m = 1.5\ncheckpoint_independent = true\n")
	h, err := report.ReadLetterhead(path)
	if err != nil {
		t.Fatal(err)
	}
	s := sample.Passing()
	s.Record.Reference.Epoch = "2026.4"
	h.Apply(s.Record, s.Layers)
	if s.Record.Project.Name != "North field" || s.Record.Reference.Geoid != "GCG2016" || s.Record.Reference.Epoch != "2026.4" || s.Layers.LogoType != "image/png" {
		t.Errorf("applied: %+v %+v %s", s.Record.Project, s.Record.Reference, s.Layers.LogoType)
	}
	files := tree(t, folder(t, s))
	if !strings.Contains(files["report.html"], `<img src="data:image/png;base64,`+onePixel[:40]) {
		t.Error("no logo on the page")
	}
	for text, want := range map[string]string{
		"[project]\nclinet = \"x\"\n":               `unknown key "project.clinet"`,
		"project = \"Meadow\"\n":                    `project is a section and not a value: write [project] on a line of its own and below it, for example, name = "Meadow"; sidelap report --print-letterhead`,
		"[project]\nnumber = 117\n":                 `project.number takes a text in quotes, for example number = "117"`,
		"[project]\naddress = \"x\"\n":              `project.address takes a list of texts`,
		"[reference]\nantenna_height_m = \"2\"\n":   `takes a number without quotes`,
		"[reference]\ncheckpoint_independent = 1\n": `takes true or false without quotes`,
		"logo = \"job.toml\"\n":                     "neither PNG nor JPEG",
		"logo = \"none.png\"\n":                     "none.png",
		"[project\n":                                "line 2",
		"[project]\nname = 3\n":                     "name",
		"[reference]\nantenna_height_m = \"1\"":     "antenna_height_m",
	} {
		if _, err := report.ReadLetterhead(write("bad.toml", text)); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v, want %q", text, err, want)
		}
	}
}

// TestLetterheadSample: the printed file reads without an error and fills every field; docs/reports.md shows the same.
func TestLetterheadSample(t *testing.T) {
	h, logo, err := report.ParseLetterhead("firm.toml", []byte(report.LetterheadSample))
	if err != nil || logo != "logo.png" {
		t.Fatal(logo, err)
	}
	for name, x := range map[string]any{"project": h.Project, "reference": h.Reference} {
		for v, i := reflect.ValueOf(x), 0; i < v.NumField(); i++ {
			if v.Field(i).IsZero() {
				t.Errorf("%s: the sample leaves %s empty", name, v.Type().Field(i).Name)
			}
		}
	}
	page, err := os.ReadFile("../docs/reports.md")
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(string(page), "```toml\n"+report.LetterheadSample+"```") {
		t.Error("docs/reports.md shows another file than report.LetterheadSample")
	}
}

// TestManyPairsRenderedAgain: of more than 200 pairs 200 have rasters of their own; the joint one keeps the others however
// often the folder is rendered again.
func TestManyPairsRenderedAgain(t *testing.T) {
	const pairs = 203
	rec, l := &report.Record{SchemaVersion: report.SchemaVersion, CRS: report.CRS{HorizontalUnitM: report.F(1), VerticalUnitM: report.F(1)}}, &report.Layers{}
	for i := range pairs {
		a, b := fmt.Sprintf("%d", i), fmt.Sprintf("%d", i+1)
		grid := func(x float32) *report.Grid {
			return &report.Grid{Col0: int32(i), Row0: 0, Cols: 1, Rows: 1, CellM: 1, Values: []float32{x}}
		}
		rec.Pairs = append(rec.Pairs, report.Pair{A: a, B: b, Cells: 1, RMSDM: report.F(0.001 * float64(i+1))})
		p := report.PairGrid{A: a, B: b, Grid: grid(0.001 * float32(i+1))}
		if i == 0 || i == pairs-1 {
			p.Flags = grid(1)
		}
		l.Pairs = append(l.Pairs, p)
	}
	dir := filepath.Join(t.TempDir(), "results")
	if err := report.Render(dir, rec, l, report.RenderOptions{}); err != nil {
		t.Fatal(err)
	}
	first := tree(t, dir)
	if first["rasters/used.tif"] == "" || first["rasters/separation_0_1.tif"] != "" || first["rasters/separation_3_4.tif"] == "" {
		t.Fatal("not the rasters of the 200 worst pairs and of the cells used")
	}
	for i := range 2 {
		rec, l, err := report.LoadFolder(dir)
		if err != nil {
			t.Fatal(err)
		}
		if err := report.Render(dir, rec, l, report.RenderOptions{Force: true}); err != nil {
			t.Fatal(err)
		}
		for _, name := range []string{"rasters/separation.tif", "rasters/used.tif"} {
			if tree(t, dir)[name] != first[name] {
				t.Errorf("rendered again %d times: %s differs", i+1, name)
			}
		}
	}
}
