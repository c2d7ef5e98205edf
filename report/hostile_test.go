package report_test

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"sidelap/report"
	"sidelap/report/internal/sample"

	"github.com/paulmach/orb/geojson"
)

const evil = `</title><script>alert(1)</script><img src=x onerror=alert(1)>"'&|=1+1` + "\n\x01\u202e"

// Texts from files never become markup: every text of the record is replaced by
// a hostile one.
func TestHostileTexts(t *testing.T) {
	s := sample.Failing()
	r := s.Record
	r.Project.Name, r.Project.Firm, r.Project.Client, r.Project.Address = evil, evil, evil, []report.Text{evil}
	r.CommandLine = []string{evil}
	r.Warnings = []string{evil}
	r.CRS.Horizontal, r.CRS.WKT, r.CRS.Notes = evil, evil, []string{evil}
	r.Reference.BaseMark, r.StripsBy.Why = evil, evil
	for i := range r.Strips {
		r.Strips[i].ID, r.Strips[i].Source, r.Strips[i].Notes = evil+strconv.Itoa(i), evil, []string{evil}
		s.Layers.Strips[i].ID = r.Strips[i].ID
	}
	for i := range r.Pairs {
		r.Pairs[i].A, r.Pairs[i].B, r.Pairs[i].Notes = evil+"a", evil+strconv.Itoa(i), []string{evil}
		s.Layers.Pairs[i].A, s.Layers.Pairs[i].B = r.Pairs[i].A, r.Pairs[i].B
	}
	for i := range r.Checkpoints.Points {
		p := &r.Checkpoints.Points[i]
		p.ID, p.Code, p.Reason, p.Source = evil+strconv.Itoa(i), evil, evil, evil
	}
	r.Checkpoints.Worst = report.Text(r.Checkpoints.Points[0].ID)
	r.Checkpoints.Surface, r.Checkpoints.File = evil, evil
	for i := range r.Findings {
		r.Findings[i].Text, r.Findings[i].Evidence, r.Findings[i].Rivals, r.Findings[i].DecideBy = evil, evil, []string{evil}, evil
	}
	for i := range r.Inputs {
		r.Inputs[i].Path = "../../" + evil
	}
	for i := range r.Verdict.Criteria {
		r.Verdict.Criteria[i].Name, r.Verdict.Criteria[i].Source = evil, evil
	}
	r.Verdict.Title, r.Verdict.Notes = evil, []string{evil}
	s.Layers.Profiles[0].Title, s.Layers.Profiles[0].Strips = evil, []string{evil, evil}
	s.Layers.Logo, s.Layers.LogoType = []byte("no image"), "image/png"
	dir := folder(t, s)
	files := tree(t, dir)
	page := files["report.html"]
	if n := strings.Count(page, "<script"); n != 2 {
		t.Errorf("%d script elements, want the data and the program", n)
	}
	if regexp.MustCompile(`<img src=x|onerror=alert\(1\)>`).MatchString(page) || strings.Count(page, "</title><script>") > 0 {
		t.Error("a text became markup")
	}
	for name := range files {
		if !regexp.MustCompile(`^[A-Za-z0-9./_-]{1,120}$`).MatchString(name) || strings.Contains(name, "..") {
			t.Errorf("not a plain file name: %q", name)
		}
	}
	if fc, err := geojson.UnmarshalFeatureCollection([]byte(files["map.geojson"])); err == nil && !slices.ContainsFunc(fc.Features, func(f *geojson.Feature) bool { return f.Properties["text"] == evil }) {
		t.Error("the GeoJSON lost the text")
	}
	for name, b := range files {
		if strings.HasSuffix(name, ".qml") {
			styleItems(t, name, b)
		}
	}
	if text := run(t, "pdftotext", filepath.Join(dir, "report.pdf"), "-"); !strings.Contains(text, "alert(1)") {
		t.Error("the PDF lost the text")
	}
	if out := run(t, "ogrinfo", "-al", "-so", filepath.Join(dir, "map.gpkg")); strings.Contains(out, "ERROR") {
		t.Errorf("GDAL complains:\n%s", out)
	}
}

// No text from a file becomes a formula in a spreadsheet: every cell of every
// CSV table that begins like one is a number or carries an apostrophe. CWE-1236 names the characters.
func TestFormulasInTables(t *testing.T) {
	for _, starts := range [][]string{{"=", "@", "\t="}, {"+", "-", "\r="}} {
		n := 0
		next := func() string { n++; return starts[n%3] + `HYPERLINK("http://x","y")` }
		s := sample.Failing()
		r := s.Record
		for i := range r.Strips {
			bad := next()
			r.Strips[i].ID, r.Strips[i].Notes = bad+strconv.Itoa(i), []string{bad}
			s.Layers.Strips[i].ID = r.Strips[i].ID
		}
		for i := range r.Pairs {
			bad := next()
			r.Pairs[i].A, r.Pairs[i].Notes = bad, []string{bad}
			s.Layers.Pairs[i].A = bad
		}
		for i := range r.Checkpoints.Points {
			p, bad := &r.Checkpoints.Points[i], next()
			p.ID, p.Code, p.Reason, p.Source = bad+strconv.Itoa(i), report.Text(bad), report.Text(bad), report.Text(bad)
		}
		for i := range r.Findings {
			bad := next()
			r.Findings[i].Text, r.Findings[i].Evidence, r.Findings[i].DecideBy, r.Findings[i].Rivals = bad, report.Text(bad), report.Text(bad), []string{bad}
		}
		for i := range r.Inputs {
			bad := next()
			r.Inputs[i].Path, r.Inputs[i].Software = bad, report.Text(bad)
		}
		for i := range r.Verdict.Criteria {
			bad := next()
			r.Verdict.Criteria[i].Name, r.Verdict.Criteria[i].Source = bad, bad
		}
		dangerous, quoted := 0, 0
		for name, b := range tree(t, folder(t, s)) {
			if !strings.HasSuffix(name, ".csv") {
				continue
			}
			cells, err := csv.NewReader(strings.NewReader(b)).ReadAll()
			if err != nil {
				t.Fatalf("%s: %v", name, err)
			}
			for _, row := range cells {
				for _, x := range row {
					if strings.HasPrefix(x, "'") {
						quoted++
					}
					if _, err := strconv.ParseFloat(x, 64); x != "" && strings.ContainsRune("=+-@\t\r", rune(x[0])) && err != nil {
						dangerous++
						t.Errorf("%s: %q", name, x)
					}
				}
			}
		}
		if quoted < 50 {
			t.Errorf("%q: only %d cells quoted, the test looks at nothing", starts, quoted)
		}
	}
}

// Records with parts missing, and sizes out of the ordinary, render in every form.
func TestOddRecords(t *testing.T) {
	tiny := func() *report.Grid {
		return &report.Grid{Col0: 3, Row0: -4, Cols: 1, Rows: 1, CellM: 0.5, Values: []float32{float32(math.NaN())}}
	}
	many := sample.Passing()
	for i := range 400 {
		p := many.Record.Pairs[i%9]
		p.A, p.B = fmt.Sprintf("%d", 1000+i), fmt.Sprintf("%d", 2000+i)
		many.Record.Pairs = append(many.Record.Pairs, p)
		many.Record.Checkpoints.Points = append(many.Record.Checkpoints.Points, many.Record.Checkpoints.Points[i%38])
	}
	noRelief := sample.Passing()
	noRelief.Layers.Relief = nil
	noLimits := sample.Passing()
	noLimits.Record.Verdict = report.Verdict{Result: report.NotJudged}
	for name, s := range map[string]*sample.Survey{
		"nothing":     {Record: &report.Record{SchemaVersion: report.SchemaVersion, Verdict: report.Verdict{Result: report.NotJudged}}},
		"no layers":   {Record: sample.Failing().Record},
		"no relief":   noRelief,
		"no limits":   noLimits,
		"many":        many,
		"empty grids": {Record: sample.Passing().Record, Layers: &report.Layers{Relief: tiny(), Separation: tiny(), Density: tiny(), StripCount: tiny(), Separations: &report.Histogram{LowM: -1, StepM: 0.1, Counts: make([]int64, 20)}}},
	} {
		t.Run(name, func(t *testing.T) {
			dir := folder(t, s)
			page, err := os.ReadFile(filepath.Join(dir, "report.html"))
			if err != nil {
				t.Fatal(err)
			}
			if bytes.Contains(page, []byte("NaN")) && !bytes.Contains(page, []byte(`numeric ? NaN`)) && strings.Contains(visible(string(page)), "NaN") || strings.Contains(visible(string(page)), "Inf") {
				t.Error("the page shows NaN or Inf")
			}
			if out := run(t, "pdfinfo", filepath.Join(dir, "report.pdf")); !strings.Contains(out, "Pages:") {
				t.Error(out)
			}
			for _, o := range []report.PDFOptions{{Brief: true}, {Brief: true, Letter: true}} {
				var b bytes.Buffer
				if err := report.WritePDF(&b, s.Record, s.Layers, o); err != nil {
					t.Fatal(err)
				}
				path := filepath.Join(t.TempDir(), "brief.pdf")
				if err := os.WriteFile(path, b.Bytes(), 0o644); err != nil {
					t.Fatal(err)
				}
				out := run(t, "pdfinfo", path)
				if n, _ := strconv.Atoi(regexp.MustCompile(`Pages: +(\d+)`).FindStringSubmatch(out)[1]); n > 2 {
					t.Errorf("the summary has %d pages", n)
				}
				if o.Letter && !strings.Contains(out, "612 x 792") {
					t.Errorf("not US letter:\n%s", out)
				}
			}
		})
	}
}
