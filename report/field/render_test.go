package field

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"sidelap/report"
	"sidelap/report/schema"
	"sidelap/trajectory/fieldcheck"
	"sidelap/trajectory/simulate"
)

var ansi = regexp.MustCompile("\x1b\\[[0-9;]*m")

// The word of the verdict stands alone in the first line, no line is wider than the window, and bold adds nothing
// but emphasis.
func TestText(t *testing.T) {
	r := badReport(t)
	if r.Verdict != fieldcheck.Refly {
		tell(t, r)
		t.Fatalf("verdict %s", r.Verdict)
	}
	for columns := leastColumns; columns <= 130; columns++ {
		var plain, bold bytes.Buffer
		if err := WriteText(&plain, r, TextOptions{Columns: columns, Events: true, Page: "a/rather/long/path/to/the/folder/of/the/day/field.html"}); err != nil {
			t.Fatal(err)
		}
		if err := WriteText(&bold, r, TextOptions{Columns: columns, Events: true, Bold: true, Page: "a/rather/long/path/to/the/folder/of/the/day/field.html"}); err != nil {
			t.Fatal(err)
		}
		lines := strings.Split(plain.String(), "\n")
		if lines[0] != "REFLY" {
			t.Fatalf("first line %q", lines[0])
		}
		for _, l := range lines {
			if n := utf8.RuneCountInString(l); n > columns {
				t.Fatalf("%d columns: %d in %q", columns, n, l)
			}
		}
		if got := strings.Replace(ansi.ReplaceAllString(bold.String(), ""), " REFLY ", "REFLY", 1); got != plain.String() {
			t.Fatalf("%d columns: bold changes the words", columns)
		}
		words := strings.Join(strings.Fields(plain.String()), " ")
		for _, want := range []string{"strip 102", "strip 103", "pilot in command", "no certificate", "laser"} {
			if !strings.Contains(words, want) && columns > 30 {
				t.Errorf("%d columns: %q is missing", columns, want)
			}
		}
	}
}

func TestControlCharactersStayOut(t *testing.T) {
	r := *badReport(t)
	check := *r.Report
	check.Checks = append([]fieldcheck.Check{}, check.Checks...)
	check.Checks[0].Title, check.Checks[0].Result, check.Checks[0].Note = "a\x1b[2Jb", fieldcheck.Refly, "\x1b]0;x\x07"
	r.Report = &check
	for _, columns := range []int{40, 100} {
		var b bytes.Buffer
		if err := WriteText(&b, &r, TextOptions{Columns: columns}); err != nil {
			t.Fatal(err)
		}
		if strings.ContainsAny(b.String(), "\x1b\x07") {
			t.Error("a control character reached the terminal")
		}
	}
}

// One file, nothing from elsewhere, every caution, every judged check, hostile texts as text.
func TestPage(t *testing.T) {
	r := badReport(t)
	var b bytes.Buffer
	if err := WriteHTML(&b, r); err != nil {
		t.Fatal(err)
	}
	s := b.String()
	for _, bad := range []string{"<script", "src=", "href=", "@import", "url(http"} {
		if strings.Contains(s, bad) {
			t.Errorf("the page has %q", bad)
		}
	}
	for _, want := range []string{"<h1>REFLY</h1>", "strip 102", "strip 103", "pilot in command", "no certificate", "&lt;script&gt;", "<svg", "take-off", "prefers-color-scheme:dark", "@media print"} {
		if !strings.Contains(s, want) {
			t.Errorf("%q is missing", want)
		}
	}
	for _, c := range r.Checks {
		if !strings.Contains(s, c.Title) {
			t.Errorf("check %q is missing", c.Title)
		}
	}
	// Outside the project: the map is well-formed XML.
	svg := s[strings.Index(s, "<svg"):]
	svg = svg[:strings.Index(svg, "</svg>")+6]
	for d := xml.NewDecoder(strings.NewReader(svg)); ; {
		if _, err := d.Token(); err == io.EOF {
			break
		} else if err != nil {
			t.Fatalf("map: %v", err)
		}
	}
	if n := strings.Count(svg, `class="redo"`); n != len(r.Refly) {
		t.Errorf("%d lines to fly again on the map, %d in the list", n, len(r.Refly))
	}
}

// The record is valid against the published schema, is read by package report, and holds the list.
func TestRecord(t *testing.T) {
	r := badReport(t)
	b, err := Marshal(r)
	if err != nil {
		t.Fatal(err)
	}
	sch, err := jsonschema.UnmarshalJSON(bytes.NewReader(schema.Results))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource("results.schema.json", sch); err != nil {
		t.Fatal(err)
	}
	compiled, err := c.Compile("results.schema.json")
	if err != nil {
		t.Fatal(err)
	}
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(b))
	if err != nil {
		t.Fatal(err)
	}
	if err := compiled.Validate(doc); err != nil {
		t.Error(err)
	}
	rec, err := report.Unmarshal(b)
	if err != nil || rec.Field == nil || rec.Field.Verdict != string(r.Verdict) || len(rec.Field.Checks) != len(r.Checks) {
		t.Fatalf("%v", err)
	}
	var got struct {
		Field struct {
			Refly []struct {
				Strip     string  `json:"strip"`
				StartGPSS float64 `json:"start_gps_s"`
			} `json:"refly"`
			Events []struct {
				Kind  string `json:"kind"`
				Clock string `json:"clock"`
			} `json:"events"`
			Cautions []string `json:"cautions"`
		} `json:"field"`
	}
	if err := json.Unmarshal(b, &got); err != nil {
		t.Fatal(err)
	}
	if len(got.Field.Refly) != len(r.Refly) || len(got.Field.Events) != len(r.Motion.Events) || len(got.Field.Cautions) == 0 {
		t.Errorf("%+v", got.Field)
	}
	for i, it := range got.Field.Refly { // in the time of the cloud: inside its strip
		s := rec.Strips[0]
		for _, x := range rec.Strips {
			if x.ID == it.Strip {
				s = x
			}
		}
		if it.StartGPSS < *s.StartGPSS-30 || it.StartGPSS > *s.EndGPSS {
			t.Errorf("item %d starts at %f, its strip %f to %f", i, it.StartGPSS, *s.StartGPSS, *s.EndGPSS)
		}
	}
}

// The same inputs give the same bytes for any number of workers.
func TestWorkers(t *testing.T) {
	_, o, _ := lay(t, small(3), simulate.CloudOptions{Compressed: true})
	var first []byte
	for _, n := range []int{1, 3} {
		o.Workers = n
		b, err := Marshal(check(t, o))
		if err != nil {
			t.Fatal(err)
		}
		if first == nil {
			first = b
		} else if !bytes.Equal(first, b) {
			t.Errorf("%d workers give another record", n)
		}
	}
}

func TestFolder(t *testing.T) {
	r := badReport(t)
	dir := filepath.Join(t.TempDir(), "out")
	warning, err := WriteFolder(dir, r)
	if err != nil || warning != "" {
		t.Fatal(warning, err)
	}
	b, err := os.ReadFile(filepath.Join(dir, GeoJSONName))
	if err != nil {
		t.Fatal(err)
	}
	var fc struct {
		Type        string
		Description string
		Features    []struct {
			Geometry   struct{ Coordinates [][2]float64 }
			Properties map[string]any
		}
	}
	if err := json.Unmarshal(b, &fc); err != nil || fc.Type != "FeatureCollection" || len(fc.Features) != len(r.Refly) || !strings.Contains(fc.Description, "pilot in command") {
		t.Fatalf("%v: %s", err, b)
	}
	for _, f := range fc.Features {
		// The invented site lies at 12.97 E, 50.18 N: RFC 7946, longitude first.
		if c := f.Geometry.Coordinates; len(c) < 2 || c[0][0] < 12.9 || c[0][0] > 13.1 || c[0][1] < 50.1 || c[0][1] > 50.3 {
			t.Errorf("%v", c)
		}
		if s, _ := f.Properties["start_gps_s"].(float64); s < 4e8 {
			t.Errorf("start %v is not in the time of the cloud", f.Properties["start_gps_s"])
		}
	}
	// A report without a coordinate system leaves no list behind, and says so.
	other := *r
	plain := *r.Report
	other.Report = &plain
	without, err := fieldcheck.Run(fieldcheck.Input{Path: r.path}, fieldcheck.DefaultLimits())
	if err != nil {
		t.Fatal(err)
	}
	without.Refly = r.Refly
	other.Report = without
	warning, err = WriteFolder(dir, &other)
	if err != nil || !strings.Contains(warning, "--crs") {
		t.Errorf("%q, %v", warning, err)
	}
	entries, err := os.ReadDir(dir)
	if err != nil || len(entries) != 3 { // page, record and table
		t.Errorf("%v, %v: the old list must go, no temporary file may stay", entries, err)
	}
}
