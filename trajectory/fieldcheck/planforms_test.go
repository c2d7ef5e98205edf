package fieldcheck

import (
	"archive/zip"
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"

	"sidelap/trajectory/rinex"
)

// archive packs files, name and text in turn.
func archive(t testing.TB, files ...string) string {
	t.Helper()
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	for i := 0; i < len(files); i += 2 {
		f, err := w.Create(files[i])
		if err != nil {
			t.Fatal(err)
		}
		if _, err := f.Write([]byte(files[i+1])); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func kml(geometry string) string {
	return `<?xml version="1.0" encoding="UTF-8"?><kml xmlns="http://www.opengis.net/kml/2.2"><Document><Placemark><name>site</name>` + geometry + `</Placemark></Document></kml>`
}

const (
	outer     = `11.2,47.3,412 11.204,47.3,412 11.204,47.303,412 11.2,47.303,412 11.2,47.3,412`
	backwards = `11.2,47.3,412 11.2,47.303,412 11.204,47.303,412 11.204,47.3,412 11.2,47.3,412`
	inner     = `11.201,47.301,1 11.201,47.302,1 11.202,47.302,1 11.201,47.301,1`
	openRing  = `11.2,47.3,412 11.204,47.3,412 11.204,47.303,412 11.2,47.303,412`
)

func boundary(kind, ring string) string {
	return "<" + kind + "><LinearRing><coordinates>" + ring + "</coordinates></LinearRing></" + kind + ">"
}

// Known truth: the site of plan_test.go with its hole, as files break the rules of their formats.
func TestReadPlanForms(t *testing.T) {
	whole := kml("<Polygon>" + boundary("outerBoundaryIs", outer) + boundary("innerBoundaryIs", inner) + "</Polygon>")
	j := func(rings string) string {
		return `{"type":"Feature","properties":null,"geometry":{"type":"Polygon","coordinates":[` + rings + `]}}`
	}
	ring := func(s string) string {
		var out []string
		for _, p := range strings.Fields(s) {
			out = append(out, "["+p+"]")
		}
		return "[" + strings.Join(out, ",") + "]"
	}
	for name, text := range map[string]string{
		"plain.kml":            whole,
		"backwards.kml":        kml("<Polygon>" + boundary("outerBoundaryIs", backwards) + boundary("innerBoundaryIs", inner) + "</Polygon>"),
		"holefirst.kml":        kml("<Polygon>" + boundary("innerBoundaryIs", inner) + boundary("outerBoundaryIs", outer) + "</Polygon>"),
		"open.kml":             kml("<Polygon>" + boundary("outerBoundaryIs", openRing) + boundary("innerBoundaryIs", inner) + "</Polygon>"),
		"multi.kml":            kml("<MultiGeometry><Polygon>" + boundary("outerBoundaryIs", outer) + boundary("innerBoundaryIs", inner) + "</Polygon><Point><coordinates>11.2,47.3</coordinates></Point></MultiGeometry>"),
		"mark.kml":             "\xef\xbb\xbf" + whole,
		"site.kmz":             archive(t, "files/icon.png", "no picture", "doc.kml", whole),
		"folder.kmz":           archive(t, "a/other.kml", kml(""), "main.KML", whole),
		"right.geojson":        j(ring(outer) + "," + ring(inner)),
		"backwards.geojson":    j(ring(backwards) + "," + ring(inner)),
		"holefirst.geojson":    j(ring(inner) + "," + ring(outer)),
		"open.geojson":         j(ring(openRing) + "," + ring(inner)),
		"multi.geojson":        `{"type":"MultiPolygon","coordinates":[[` + ring(outer) + "," + ring(inner) + `]]}`,
		"collection.geojson":   `{"type":"GeometryCollection","geometries":[{"type":"Point","coordinates":[11.2,47.3]},{"type":"Polygon","coordinates":[` + ring(outer) + "," + ring(inner) + `]}]}`,
		"nullgeometry.geojson": `{"type":"FeatureCollection","features":[{"type":"Feature","properties":{},"geometry":null},` + j(ring(outer)+","+ring(inner)) + `]}`,
	} {
		t.Run(name, func(t *testing.T) {
			p, err := ReadPlan(write(t, name, text))
			if err != nil {
				t.Fatal(err)
			}
			site(t, p, 0)
		})
	}
	p, err := ReadPlan(write(t, "ring.kml", kml("<LinearRing><coordinates>"+outer+"</coordinates></LinearRing>")))
	if err != nil || len(p.Area) != 1 || len(p.Lines) != 0 {
		t.Errorf("a ring alone: %+v, %v", p, err)
	}
	p, err = ReadPlan(write(t, "old.geojson", `{"type":"Polygon","crs":{"type":"name","properties":{"name":"urn:ogc:def:crs:EPSG::25832"}},"coordinates":[[[500000,5300000],[500100,5300000],[500100,5300100],[500000,5300000]]]}`))
	if err != nil || p.Geographic || p.EPSG != 25832 {
		t.Errorf("GeoJSON with a stated grid: %+v, %v", p, err)
	}
	for name, text := range map[string]string{"photos.kmz": archive(t, "a.jpg", "x"), "bomb.kmz": archive(t, "doc.kml", strings.Repeat(" ", maxPlanBytes+2))} {
		if _, err := ReadPlan(write(t, name, text)); err == nil || !strings.Contains(err.Error(), name) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// Outside truth: what GDAL writes of the site, names of lines and stated grids among it.
func TestReadPlanNamesOfGDAL(t *testing.T) {
	tool := outside(t, "ogr2ogr")
	src := write(t, "site.geojson", siteGeoJSON)
	formats, err := exec.Command(tool, "--formats").Output()
	if err != nil || !strings.Contains(string(formats), " GPKG ") {
		t.Fatalf("ogr2ogr --formats: %v: %s", err, formats)
	}
	for _, c := range []struct {
		name string
		args []string
		epsg int
	}{
		{"named.gpkg", []string{"-f", "GPKG", "-dim", "XY", "-nlt", "GEOMETRY"}, 4326},
		{"grid.gpkg", []string{"-f", "GPKG", "-dim", "XY", "-nlt", "GEOMETRY", "-t_srs", "EPSG:25832"}, 25832},
		{"grid.geojson", []string{"-f", "GeoJSON", "-t_srs", "EPSG:25832", "-lco", "RFC7946=NO"}, 25832},
		{"doc.kml", []string{"-f", "LIBKML"}, 0},
		{"doc.kmz", []string{"-f", "LIBKML"}, 0},
	} {
		out := filepath.Join(t.TempDir(), c.name)
		if format := c.args[1]; !strings.Contains(string(formats), " "+format+" ") {
			if os.Getenv("CI") == "true" {
				t.Errorf("%s: this GDAL has no %s", c.name, format)
			}
			t.Logf("%s is left out: this GDAL has no %s", c.name, format) // LIBKML is not in every build
			continue
		}
		if b, err := exec.Command(tool, append(append([]string{}, c.args...), out, src)...).CombinedOutput(); err != nil {
			t.Errorf("%s: ogr2ogr: %v: %s", c.name, err, b)
			continue
		}
		p, err := ReadPlan(out)
		if err != nil || len(p.Area) != 1 || len(p.Area[0]) != 2 || len(p.Lines) != 1 || p.Lines[0].ID != "L1" || p.EPSG != c.epsg || p.Geographic != (c.epsg == 4326 || c.epsg == 0) {
			t.Errorf("%s: %+v, %v", c.name, p, err)
		}
	}
}

// Outside the project: the list for the tablet is read by GDAL, as GeoJSON and as KML, with its lines where they were
// flown and its texts.
func TestReflyListReadByGDAL(t *testing.T) {
	tool := outside(t, "ogrinfo")
	in := fly(t, script{gaps: gapsOfStrip3, shift: map[int]float64{5: 18}}, 2)
	r := mustRun(t, in)
	if len(r.Refly) != 2 {
		dump(t, r)
		t.Fatalf("%d items", len(r.Refly))
	}
	g, err := r.GeoJSON()
	if err != nil {
		t.Fatal(err)
	}
	var k bytes.Buffer
	if err := r.WriteKML(&k); err != nil {
		t.Fatal(err)
	}
	for name, b := range map[string][]byte{"refly.geojson": g, "refly.kml": k.Bytes()} {
		p := filepath.Join(t.TempDir(), name)
		if err := os.WriteFile(p, b, 0o644); err != nil {
			t.Fatal(err)
		}
		out, err := exec.Command(tool, "-ro", "-al", p).CombinedOutput()
		text := string(out)
		if err != nil || strings.Contains(text, "ERROR") || strings.Contains(text, "Warning") {
			t.Errorf("%s: %v\n%s", name, err, text)
		}
		lat, lon, _ := in.Grid.Inverse(r.Refly[0].Line[0][0], r.Refly[0].Line[0][1])
		for _, want := range []string{"Feature Count: 2", "LINESTRING", "no points for 4.0 s", fmt.Sprintf("%.7f", lon*deg)[:7], fmt.Sprintf("%.7f", lat*deg)[:7]} {
			if !strings.Contains(text, want) {
				t.Errorf("%s: GDAL does not find %q in\n%s", name, want, text)
			}
		}
	}
}

// Closed form and an independent way: the scan by rows marks the cells whose centres lie in the polygons, whatever the
// direction of their rings, counts those beyond the raster, and counts a cell in two polygons once.
func TestMask(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	c := &Coverage{CellM: 0.5, EM: -3, NM: 10, Cols: 60, Rows: 40, First: make([]uint32, 2400)}
	for range 20 {
		star := func(e, n float64) (ring orb.Ring) {
			for a := 0.0; a < 2*math.Pi; a += 0.3 {
				d := 2 + 10*r.Float64()
				ring = append(ring, orb.Point{e + d*math.Cos(a), n + d*math.Sin(a)})
			}
			return append(ring, ring[0])
		}
		area := orb.MultiPolygon{{star(5, 20)}, {star(20, 25)}}
		area[1][0].Reverse()
		in, beyond := c.mask(area)
		n, want, wantBeyond := 0, 0, 0
		for row := -60; row < 120; row++ {
			for col := -60; col < 140; col++ {
				p := orb.Point{c.EM + (float64(col)+0.5)*c.CellM, c.NM + (float64(row)+0.5)*c.CellM}
				x := planar.MultiPolygonContains(area, p)
				inside := col >= 0 && row >= 0 && col < c.Cols && row < c.Rows
				switch {
				case inside && in[row*c.Cols+col] != x:
					t.Fatalf("cell %d, %d: %v", col, row, !x)
				case inside && x:
					want++
				case x:
					wantBeyond++
				}
				if inside && in[row*c.Cols+col] {
					n++
				}
			}
		}
		if n != want || beyond != wantBeyond {
			t.Fatalf("%d inside, want %d; %d beyond, want %d", n, want, beyond, wantBeyond)
		}
	}
	if _, beyond := c.mask(orb.MultiPolygon{{{{0, 0}, {1e9, 0}, {1e9, 1e9}, {0, 0}}}}); beyond < 1e9 {
		t.Errorf("an area of another world: %d cells beyond", beyond)
	}
}

// A base log that is cut short asks to copy it again before anybody flies.
func TestDamagedBaseIsCopiedFirst(t *testing.T) {
	in := fly(t, script{baseEnd: 240}, 3)
	r := mustRun(t, in)
	if c := r.Check("base_covers"); strings.Contains(c.Note, copyBase) || strings.Contains(r.Refly[0].Reasons[0], copyBase) {
		t.Errorf("a sound log: %s", c.Note)
	}
	in.Base.Files[0].DamageN = 1
	in.Base.Files[0].Damage = []rinex.Damage{{Line: 7, Text: "the file ends"}}
	r = mustRun(t, in)
	if c := r.Check("base_covers"); c.Result != Refly || strings.Count(c.Note, copyBase) != 1 || len(r.Refly) != 1 || !strings.Contains(r.Refly[0].Reasons[0], copyBase) {
		t.Errorf("%s, list %+v", c.Note, r.Refly)
	}
}

// A base that jumps during the recording is a caution with its time; one that logs too seldom is not judged.
func TestBaseThatJumps(t *testing.T) {
	in := fly(t, script{}, 3)
	if c := mustRun(t, in).Check("base_moved"); c.Result != Go {
		t.Errorf("a base that stands: %s, %s", c.Result, c.Note)
	}
	k := len(in.Base.Epochs) / 2
	in.Base.Epochs[k].JumpM = 0.2
	want := clock(in.Base.Epochs[k].GPSS)
	if c := mustRun(t, in).Check("base_moved"); c.Result != Caution || !strings.Contains(c.Note, want) || math.Abs(c.Value-0.2) > 1e-6 {
		t.Errorf("a base that jumps at %s: %+v", want, c)
	}
	in.Base.Epochs[k].JumpM = 0.001
	in.Base.Epochs[1].JumpM = 0.2 // ten minutes before the recording: when it was set up
	if c := mustRun(t, in).Check("base_moved"); c.Result != Go {
		t.Errorf("a base that was set up: %s, %s", c.Result, c.Note)
	}
	if c := mustRun(t, fly(t, script{baseStep: 30}, 3)).Check("base_moved"); c.Result != NotJudged {
		t.Errorf("every 30 s: %s", c.Result)
	}
}
