package report_test

import (
	"bytes"
	"database/sql"
	"fmt"
	"image/color"
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

	_ "modernc.org/sqlite" // the driver
)

func pdfFile(t *testing.T, s *sample.Survey, o report.PDFOptions) string {
	t.Helper()
	var b bytes.Buffer
	if err := report.WritePDF(&b, s.Record, s.Layers, o); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "report.pdf")
	if err := os.WriteFile(path, b.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// Outside the project: poppler finds every font embedded, title and maker in the
// metadata, the paper asked for, and each chapter on the page that the contents name.
func TestPDFDocument(t *testing.T) {
	for name, c := range map[string]struct {
		s     *sample.Survey
		o     report.PDFOptions
		paper string
	}{"failing, A4": {sample.Failing(), report.PDFOptions{}, "595.28 x 841.89 pts (A4)"}, "feet, letter": {sample.Feet(), report.PDFOptions{Letter: true}, "612 x 792 pts (letter)"}} {
		path := pdfFile(t, c.s, c.o)
		fonts := strings.Split(strings.TrimSpace(run(t, "pdffonts", path)), "\n")
		if len(fonts) < 4 {
			t.Errorf("%s: fonts:\n%v", name, fonts)
		}
		for _, f := range fonts[2:] {
			if !regexp.MustCompile(`Identity-H +yes +\S+ +yes`).MatchString(f) {
				t.Errorf("%s: not embedded with its characters: %s", name, f)
			}
		}
		info := run(t, "pdfinfo", path)
		for _, want := range []string{"Title:           Greystone quarry, northern extension", "Author:          Three Ridge Survey", "Creator:         sidelap 0.1.0", c.paper, "JavaScript:      no"} {
			if !strings.Contains(info, want) {
				t.Errorf("%s: no %q in\n%s", name, want, info)
			}
		}
		contents := regexp.MustCompile(`(?m)^ *(\d+) +([A-Z][a-zA-Z -]+?) {3,}(\d+)$`).FindAllStringSubmatch(run(t, "pdftotext", "-layout", "-l", "1", path, "-"), -1)
		if len(contents) != 10 {
			t.Fatalf("%s: contents list of %d chapters", name, len(contents))
		}
		for _, m := range contents {
			page := run(t, "pdftotext", "-layout", "-f", m[3], "-l", m[3], path, "-")
			if !regexp.MustCompile(`(?m)^ *` + m[1] + ` +` + regexp.QuoteMeta(m[2]) + `$`).MatchString(page) {
				t.Errorf("%s: chapter %s is not on page %s", name, m[2], m[3])
			}
		}
	}
}

// The same record on another day: the lines with the date are all that differs.
func TestPDFDiffersInItsDate(t *testing.T) {
	one, two := sample.Failing(), sample.Failing()
	two.Record.CreatedUTC = "2031-01-02T03:04:05Z"
	a := strings.Split(run(t, "pdftotext", "-layout", pdfFile(t, one, report.PDFOptions{}), "-"), "\n")
	b := strings.Split(run(t, "pdftotext", "-layout", pdfFile(t, two, report.PDFOptions{}), "-"), "\n")
	if len(a) != len(b) {
		t.Fatalf("%d and %d lines", len(a), len(b))
	}
	differ := 0
	for i := range a {
		if a[i] == b[i] {
			continue
		}
		differ++
		if !strings.Contains(a[i], string(one.Record.CreatedUTC)) || !strings.Contains(b[i], string(two.Record.CreatedUTC)) {
			t.Errorf("differs in more than the date: %q and %q", a[i], b[i])
		}
	}
	if differ == 0 {
		t.Error("no page shows the date")
	}
}

// One golden each for the PDF's text, the map as GeoJSON, the GeoPackage's rows
// and the styles; those of the other kinds of output are in TestGolden.
func TestGoldenOfDocuments(t *testing.T) {
	s := sample.Failing()
	dir := folder(t, s)
	text := run(t, "pdftotext", "-raw", filepath.Join(dir, "report.pdf"), "-")
	golden(t, "folder/report-pdf.txt", []byte(text))
	files := tree(t, dir)
	golden(t, "folder/map.geojson", []byte(files["map.geojson"]))
	golden(t, "folder/separation.qml", []byte(files["rasters/separation.qml"]))
	golden(t, "folder/map-gpkg.txt", []byte(rows(t, filepath.Join(dir, "map.gpkg"))))
}

// rows lists every row of every layer of a GeoPackage, geometries by their size.
func rows(t *testing.T, path string) string {
	t.Helper()
	db, err := sql.Open("sqlite", path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	var out strings.Builder
	for _, table := range []string{"gpkg_contents", "gpkg_geometry_columns", "strips", "strip_lines", "overlaps", "voids", "checkpoints", "findings", "layer_styles"} {
		r, err := db.Query("SELECT * FROM " + table + " ORDER BY 1")
		if err != nil {
			t.Fatal(err)
		}
		cols, _ := r.Columns()
		fmt.Fprintf(&out, "%s: %s\n", table, strings.Join(cols, ", "))
		for r.Next() {
			values, into := make([]any, len(cols)), make([]any, len(cols))
			for i := range into {
				into[i] = &values[i]
			}
			if err := r.Scan(into...); err != nil {
				t.Fatal(err)
			}
			for i, v := range values {
				if b, ok := v.([]byte); ok {
					values[i] = fmt.Sprintf("%d bytes", len(b))
				}
			}
			fmt.Fprintln(&out, values...)
		}
		if err := r.Err(); err != nil {
			t.Fatal(err)
		}
		r.Close()
	}
	return out.String()
}

// Outside the project: GDAL reads the swath separation image as colours with
// opacity, cloud optimized, and each pixel has the colour of its level over the grey of its intensity.
func TestSwathImageInGDAL(t *testing.T) {
	s := sample.Failing()
	dir := filepath.Join(t.TempDir(), "results")
	if err := report.Render(dir, s.Record, s.Layers, report.RenderOptions{SwathImage: true}); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(dir, "rasters", "swath_separation_image.tif")
	info := run(t, "gdalinfo", "-checksum", path)
	for _, want := range []string{"ColorInterp=Red", "ColorInterp=Green", "ColorInterp=Blue", "ColorInterp=Alpha", "LAYOUT=COG", "LEVELS_M=0.040 and 0.080", "GROUND=mean intensity"} {
		if !strings.Contains(info, want) {
			t.Errorf("no %s in\n%s", want, info)
		}
	}
	var all []float32
	for _, v := range s.Layers.Intensity.Values {
		if v == v {
			all = append(all, v)
		}
	}
	slices.Sort(all)
	lo, hi := float64(all[len(all)*2/100]), float64(all[(len(all)-1)*98/100])
	seen := map[int]int{}
	sep := s.Layers.Separation
	for i := 0; i < len(sep.Values) && seen[0]+seen[1]+seen[2]+seen[-1] < 24; i += 4999 {
		dz := math.Abs(float64(sep.Values[i]))
		level := -1
		switch {
		case dz <= 0.04:
			level = 0
		case dz <= 0.08:
			level = 1
		case dz > 0.08:
			level = 2
		}
		seen[level]++
		e, n := float64(int(sep.Col0)+i%sep.Cols)+0.5, float64(int(sep.Row0)+i/sep.Cols)+0.5
		grey := min(max((float64(s.Layers.Intensity.At(int32(e), int32(n)))-lo)/(hi-lo), 0), 1)
		c := color.RGBA{0, 0, 0, 255}
		share := 0.75
		switch level {
		case -1:
			share = 0
		case 0:
			c = color.RGBA{0xbf, 0xe0, 0xda, 255}
		case 1:
			c = color.RGBA{0xd9, 0x8f, 0x2b, 255}
		case 2:
			c = color.RGBA{0x54, 0x22, 0x0a, 255}
		}
		got := strings.Fields(run(t, "gdallocationinfo", "-valonly", "-geoloc", path, fmt.Sprint(e), fmt.Sprint(n)))
		for k, v := range []uint8{c.R, c.G, c.B} {
			want := share*float64(v) + (1-share)*255*grey
			if x, err := strconv.ParseFloat(got[k], 64); err != nil || math.Abs(x-want) > 1 {
				t.Errorf("at %g %g, separation %g: GDAL reads %v, want %.0f in band %d", e, n, dz, got, want, k+1)
			}
		}
	}
	if seen[0] == 0 || seen[1] == 0 || seen[2] == 0 {
		t.Errorf("levels tried: %v", seen)
	}
	rec, layers, err := report.LoadFolder(dir) // a folder that has the image keeps it, painted anew
	if err != nil {
		t.Fatal(err)
	}
	before := tree(t, dir)["rasters/swath_separation_image.tif"]
	if err := report.Render(dir, rec, layers, report.RenderOptions{Force: true}); err != nil {
		t.Fatal(err)
	}
	if tree(t, dir)["rasters/swath_separation_image.tif"] != before {
		t.Error("the image differs when rendered again")
	}
}

// TestSwathImageMissing: without separations there is no image, and the report says why, once.
func TestSwathImageMissing(t *testing.T) {
	rec := &report.Record{SchemaVersion: report.SchemaVersion, Verdict: report.Verdict{Result: report.NotJudged}}
	dir := filepath.Join(t.TempDir(), "results")
	for range 2 {
		if err := report.Render(dir, rec, &report.Layers{}, report.RenderOptions{SwathImage: true, Force: true}); err != nil {
			t.Fatal(err)
		}
	}
	const want = "no swath separation image was written: no overlap between strips was measured"
	files := tree(t, dir)
	for _, name := range []string{"results.json", "report.html"} {
		if strings.Count(files[name], want) != 1 {
			t.Errorf("%s says it %d times", name, strings.Count(files[name], want))
		}
	}
	if files["rasters/swath_separation_image.tif"] != "" {
		t.Error("there is an image of nothing")
	}
}

// figureOf cuts the figure of separations across overlaps out of a page.
func figureOf(page string) string {
	return regexp.MustCompile(`(?s)aria-label="Separation across the overlap of pairs">.*?</svg>`).FindString(page)
}

// Profiles are drawn on paper, as their colours ask for, and say how heights are scaled.
func TestProfilesInPage(t *testing.T) {
	var b bytes.Buffer
	s := sample.Failing()
	if err := report.WriteHTML(&b, s.Record, s.Layers); err != nil {
		t.Fatal(err)
	}
	m := regexp.MustCompile(`(?s)<figure class="([^"]*)"><svg[^>]*aria-label="Profile.*?</figure>`).FindStringSubmatch(b.String())
	if m == nil || !strings.Contains(m[1], "onpaper") {
		t.Fatal("no profile on paper")
	}
	if !regexp.MustCompile(`height \[m\], (to scale|exaggerated \d+×)`).MatchString(m[0]) || strings.Count(m[0], "h0") < 1000 {
		t.Errorf("the profile names no scale of heights, or has %d returns", strings.Count(m[0], "h0"))
	}
	wall := s.Layers.Profiles[0]
	wall.Points = []report.ProfilePoint{{DistM: 0, ZM: 0}, {DistM: 20, ZM: 90, Strip: 1}} // taller than long: narrower, not flattened
	s.Layers.Profiles = []report.Profile{wall}
	b.Reset()
	if err := report.WriteHTML(&b, s.Record, s.Layers); err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(b.String(), "height [m], to scale") {
		t.Error("a tall profile is not to scale")
	}
}

// The figures of the diagnosis and the maps before and after stand in page and
// document, also when rendered again from the folder; without causes no "after" is drawn.
func TestDiagnosisFigures(t *testing.T) {
	s := sample.Failing()
	dir := folder(t, s)
	first := tree(t, dir)
	for _, want := range []string{"Separation across the overlap of pairs", "Each strip against all others", "RMS separation with the causes taken out", "Map of the separation before the correction", "Map of the separation after the correction"} {
		if !strings.Contains(first["report.html"], want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	text := run(t, "pdftotext", filepath.Join(dir, "report.pdf"), "-")
	for _, want := range []string{"Separation across the overlap, later minus earlier", "Height of a strip over the strips it meets", "causes taken out [m]", "Separation before the correction (left)"} {
		if !strings.Contains(text, want) {
			t.Errorf("the PDF lacks %q", want)
		}
	}
	rec, layers, err := report.LoadFolder(dir)
	if err != nil {
		t.Fatal(err)
	}
	if err := report.Render(dir, rec, layers, report.RenderOptions{Force: true}); err != nil {
		t.Fatal(err)
	}
	if again := tree(t, dir); again["layers.json"] != first["layers.json"] {
		t.Error("rendered again, the layers differ")
	} else if a, b := figureOf(again["report.html"]), figureOf(first["report.html"]); a != b || a == "" {
		t.Errorf("rendered again, the figure of pairs differs: %d and %d bytes", len(a), len(b))
	}
	s.Record.Causes = []report.Cause{}
	var b bytes.Buffer
	if err := report.WriteHTML(&b, s.Record, s.Layers); err != nil {
		t.Fatal(err)
	}
	if strings.Contains(b.String(), "causes taken out") || strings.Contains(b.String(), "without the causes") {
		t.Error("no cause was found, and the page shows the cloud without them")
	}
}
