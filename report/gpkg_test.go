package report_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"sidelap/report"
	"sidelap/report/internal/sample"

	"github.com/paulmach/orb/geojson"
)

// Outside the project: GDAL opens the GeoPackage without a complaint and finds
// the layers, their counts, their CRS and their values.
func TestGPKGInGDAL(t *testing.T) {
	for name, c := range map[string]struct {
		s     *sample.Survey
		code  int
		unitM float64
	}{"metres": {sample.Failing(), 25832, 1}, "feet": {sample.Feet(), 6578, 1200. / 3937}} {
		t.Run(name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "map.gpkg")
			if err := report.WriteGPKG(path, c.s.Record, c.s.Layers, epsg(t, c.code)); err != nil {
				t.Fatal(err)
			}
			out := run(t, "ogrinfo", "-al", "-so", path)
			if strings.Contains(out, "Warning") || strings.Contains(out, "ERROR") {
				t.Errorf("GDAL complains:\n%s", out)
			}
			rec := c.s.Record
			want := map[string]int{"strips": 6, "strip_lines": 6, "overlaps": len(rec.Pairs), "voids": 1, "checkpoints": len(rec.Checkpoints.Points)}
			if name == "metres" {
				want["findings"] = 1
			}
			for layer, n := range want {
				m := regexp.MustCompile(`(?s)Layer name: ` + layer + `\n.{0,120}?Geometry: ([A-Za-z ]+)\nFeature Count: (\d+)`).FindStringSubmatch(out)
				if m == nil || m[2] != fmt.Sprint(n) {
					t.Errorf("layer %s: GDAL sees %v, want %d features", layer, m, n)
				}
			}
			if strings.Count(out, fmt.Sprintf(`ID["EPSG",%d]`, c.code)) < len(want) {
				t.Errorf("not every layer is in EPSG:%d", c.code)
			}
			row := run(t, "ogrinfo", path, "checkpoints", "-where", "id='CP01'", "-q")
			p := rec.Checkpoints.Points[0]
			if !strings.Contains(row, fmt.Sprintf("dz_m (Real) = %.15g", *p.DzM)) {
				t.Errorf("GDAL reads\n%s, want dz_m %.15g", row, *p.DzM)
			}
			xy := regexp.MustCompile(`POINT \(([\d.]+) ([\d.]+)\)`).FindStringSubmatch(row)
			if xy == nil {
				t.Fatal(row)
			}
			e, _ := strconv.ParseFloat(xy[1], 64)
			n, _ := strconv.ParseFloat(xy[2], 64)
			if math.Abs(e*c.unitM-p.EM) > 1e-6 || math.Abs(n*c.unitM-p.NM) > 1e-6 {
				t.Errorf("GDAL places it at %v, want %.6f %.6f m", xy, p.EM, p.NM)
			}
		})
	}
}

// Outside the project: PROJ gives the same longitude and latitude.
func TestGeoJSONAgainstPROJ(t *testing.T) {
	s := sample.Failing()
	var b bytes.Buffer
	if err := report.WriteGeoJSON(&b, s.Record, s.Layers, epsg(t, 25832)); err != nil {
		t.Fatal(err)
	}
	fc, err := geojson.UnmarshalFeatureCollection(b.Bytes())
	if err != nil {
		t.Fatal(err)
	}
	var in strings.Builder
	var got [][2]float64
	i := 0
	for _, f := range fc.Features {
		if f.Properties["layer"] != "checkpoints" {
			continue
		}
		p := s.Record.Checkpoints.Points[i]
		fmt.Fprintf(&in, "%.6f %.6f\n", p.EM, p.NM)
		got = append(got, f.Point())
		i++
	}
	if i != len(s.Record.Checkpoints.Points) {
		t.Fatalf("%d check points, want %d", i, len(s.Record.Checkpoints.Points))
	}
	cmd := exec.Command(tool(t, "cs2cs"), "-f", "%.10f", "EPSG:25832", "EPSG:4258")
	cmd.Stdin = strings.NewReader(in.String())
	out, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	for k, l := range strings.Split(strings.TrimSpace(string(out)), "\n") {
		f := strings.Fields(l)
		lat, _ := strconv.ParseFloat(f[0], 64)
		lon, _ := strconv.ParseFloat(f[1], 64)
		if math.Abs(got[k][0]-lon) > 2e-9 || math.Abs(got[k][1]-lat) > 2e-9 {
			t.Errorf("point %d: %v, PROJ %.10f %.10f", k, got[k], lon, lat)
		}
	}
	if !json.Valid(b.Bytes()) {
		t.Error("not JSON")
	}
}
