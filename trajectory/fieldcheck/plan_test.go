package fieldcheck

import (
	"errors"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/paulmach/orb/planar"
)

const siteGeoJSON = `{"type":"FeatureCollection","features":[
 {"type":"Feature","properties":{"name":"site"},"geometry":{"type":"Polygon","coordinates":[[[11.2,47.3,412.5],[11.204,47.3,412.5],[11.204,47.303,412.5],[11.2,47.303,412.5],[11.2,47.3,412.5]],[[11.201,47.301,1],[11.201,47.302,1],[11.202,47.302,1],[11.201,47.301,1]]]}},
 {"type":"Feature","properties":{"name":"L1"},"geometry":{"type":"LineString","coordinates":[[11.2005,47.2995],[11.2005,47.3035]]}}]}`

// outside returns a program of GDAL; without it the test is skipped, and fails where CI=true.
func outside(t *testing.T, name string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal(err)
		}
		t.Skip(err)
	}
	return path
}

// site checks what every wrapping of siteGeoJSON must give.
func site(t *testing.T, p *Plan, lines int) {
	t.Helper()
	if !p.Geographic || len(p.Area) != 1 || len(p.Area[0]) != 2 || len(p.Lines) != lines {
		t.Fatalf("geographic %v, %d polygons, %d lines: %+v", p.Geographic, len(p.Area), len(p.Lines), p)
	}
	if err := p.Project(grid{}); err != nil {
		t.Fatal(err)
	}
	// Closed form on the test's plane: 0.004 by 0.003 degrees less half of 0.001 by 0.001.
	k := mPerLat * mPerLat * math.Cos(lat0) / (deg * deg)
	if a, want := math.Abs(planar.Area(p.Area)), k*(0.004*0.003-0.0005*0.001); math.Abs(a-want) > 1 {
		t.Errorf("area %.1f m², want %.1f", a, want)
	}
}

func write(t *testing.T, name, text string) string {
	t.Helper()
	p := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(p, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	return p
}

func TestReadPlanGeoJSON(t *testing.T) {
	p, err := ReadPlan(write(t, "site.geojson", siteGeoJSON))
	if err != nil {
		t.Fatal(err)
	}
	site(t, p, 1)
	if p.Lines[0].ID != "L1" {
		t.Errorf("line %q", p.Lines[0].ID)
	}
	p, err = ReadPlan(write(t, "grid.json", `{"type":"Polygon","coordinates":[[[500000,5300000],[500100,5300000],[500100,5300100],[500000,5300000]]]}`))
	if err != nil || p.Geographic || len(p.Area) != 1 {
		t.Errorf("projected metres: %+v, %v", p, err)
	}
}

// Outside truth: KML and GeoPackage files written by GDAL from the same site.
func TestReadPlanOfGDAL(t *testing.T) {
	tool := outside(t, "ogr2ogr")
	src := write(t, "site.geojson", siteGeoJSON)
	for _, c := range []struct {
		name  string
		args  []string
		lines int
	}{
		{"site.kml", nil, 1},
		{"areas.gpkg", []string{"-where", "OGR_GEOMETRY='POLYGON'"}, 0},
		{"multi.gpkg", []string{"-where", "OGR_GEOMETRY='POLYGON'", "-nlt", "MULTIPOLYGON25D"}, 0},
		{"flat.gpkg", []string{"-dim", "XY", "-nlt", "GEOMETRY"}, 1},
		{"measured.gpkg", []string{"-dim", "XYZM", "-nlt", "GEOMETRY"}, 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			out := filepath.Join(t.TempDir(), c.name)
			format := "GPKG"
			if strings.HasSuffix(c.name, "kml") {
				format = "KML"
			}
			if b, err := exec.Command(tool, append([]string{"-f", format, out, src}, c.args...)...).CombinedOutput(); err != nil {
				t.Fatalf("ogr2ogr: %v: %s", err, b)
			}
			p, err := ReadPlan(out)
			if err != nil {
				t.Fatal(err)
			}
			site(t, p, c.lines)
			if format == "GPKG" && p.EPSG != 4326 {
				t.Errorf("EPSG %d", p.EPSG)
			}
		})
	}
	out := filepath.Join(t.TempDir(), "utm.gpkg")
	if b, err := exec.Command(tool, "-f", "GPKG", "-t_srs", "EPSG:32632", "-dim", "XY", "-nlt", "GEOMETRY", out, src).CombinedOutput(); err != nil {
		t.Fatalf("ogr2ogr: %v: %s", err, b)
	}
	p, err := ReadPlan(out)
	if err != nil || p.Geographic || p.EPSG != 32632 {
		t.Fatalf("a projected GeoPackage: geographic %v, EPSG %d, %v", p.Geographic, p.EPSG, err)
	}
}

func TestReadPlanRefusals(t *testing.T) {
	for name, text := range map[string]string{
		"empty.geojson":  `{"type":"FeatureCollection","features":[]}`,
		"points.geojson": `{"type":"Point","coordinates":[1,2]}`,
		"far.geojson":    `{"type":"Polygon","coordinates":[[[11,147],[12,147],[12,148],[11,147]]]}`,
		"cut.kml":        `<?xml version="1.0"?><kml><Document><Placemark>`,
		"html.kml":       `<html><body>hello</body></html>`,
		"words.txt":      `hello`,
		"site.kmz":       "PK\x03\x04rest",
		"db.gpkg":        "SQLite format 3\x00 and nothing else",
	} {
		p := write(t, name, text)
		_, err := ReadPlan(p)
		var e *PlanError
		if !errors.As(err, &e) || !strings.Contains(err.Error(), name) {
			t.Errorf("%s: %v, want a PlanError with the name", name, err)
		}
	}
	p, err := ReadPlan(write(t, "site.geojson", siteGeoJSON))
	if err != nil {
		t.Fatal(err)
	}
	if err := p.Project(nil); err == nil {
		t.Error("degrees brought into no grid")
	}
}

func FuzzPlan(f *testing.F) {
	f.Add([]byte(siteGeoJSON))
	f.Add([]byte(`<kml><Document><Placemark><name>a</name><Polygon><outerBoundaryIs><LinearRing><coordinates>11,47 12,47 12,48 11,47</coordinates></LinearRing></outerBoundaryIs></Polygon></Placemark></Document></kml>`))
	f.Add([]byte(archive(f, "doc.kml", kml("<Polygon>"+boundary("outerBoundaryIs", outer)+boundary("innerBoundaryIs", inner)+"</Polygon>"))))
	f.Add([]byte(`{"type":"Polygon","crs":{"properties":{"name":"EPSG:25832"}},"coordinates":[[[5e5,53e5],[5e5,54e5],[6e5,53e5]]]}`))
	c := &Coverage{CellM: 1, Cols: 8, Rows: 8, First: make([]uint32, 64)}
	f.Fuzz(func(t *testing.T, b []byte) {
		z := &Plan{}
		_ = z.readKMZ(b)
		for _, p := range [](func([]byte) error){(&Plan{}).readKML, (&Plan{}).readGeoJSON} {
			_ = p(b)
		}
		if z.check("fuzz") == nil {
			c.mask(z.Area)
		}
		p := &Plan{}
		_ = p.readGeoJSON(b)
		q := &Plan{}
		_ = q.readKML(b)
		_ = p.check("fuzz")
		_ = q.check("fuzz")
		if body, err := geoPackageBody(b); err == nil && body != nil {
			_, _ = flatten(body)
		}
		if out, err := flatten(b); err == nil && len(out) > len(b) {
			t.Fatal("flatten grew")
		}
	})
}
