package report_test

import (
	"encoding/binary"
	"encoding/json"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"sidelap/las/crs"
	"sidelap/report"
)

// tool returns the path of a program, skips without it, and fails without it in CI.
func tool(t *testing.T, name string) string {
	t.Helper()
	p, err := exec.LookPath(name)
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatalf("%s is needed in CI", name)
		}
		t.Skipf("%s is not installed", name)
	}
	return p
}

func run(t *testing.T, name string, arg ...string) string {
	t.Helper()
	out, err := exec.Command(tool(t, name), arg...).CombinedOutput()
	if err != nil {
		t.Fatalf("%s %v: %v\n%s", name, arg, err, out)
	}
	return string(out)
}

// ramp is a grid of a known function with a hole.
func ramp(cols, rows int, count bool) *report.Grid {
	g := &report.Grid{Col0: 567200, Row0: 5934100, Cols: cols, Rows: rows, CellM: 1, Values: make([]float32, cols*rows)}
	for i := range g.Values {
		c, r := i%cols, i/cols
		switch {
		case c < 3 && r < 2:
			g.Values[i] = float32(math.NaN())
		case count:
			g.Values[i] = float32((c + r) % 200)
		default:
			g.Values[i] = float32(0.001*float64(c) - 0.002*float64(r))
		}
	}
	return g
}

func epsg(t *testing.T, code int) *crs.CRS {
	t.Helper()
	c, err := crs.FromEPSG(code)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func same(a, b []float32) bool {
	for i := range a {
		if math.Float32bits(a[i]) != math.Float32bits(b[i]) && !(a[i] != a[i] && b[i] != b[i]) {
			return false
		}
	}
	return len(a) == len(b)
}

func TestGeoTIFFReadsBack(t *testing.T) {
	for name, typ := range map[string]report.SampleType{"float32": report.Float32, "uint8": report.Uint8, "uint16": report.Uint16} {
		for _, size := range [][2]int{{1, 1}, {256, 256}, {257, 300}, {700, 30}} {
			g := ramp(size[0], size[1], typ != report.Float32)
			path := filepath.Join(t.TempDir(), "g.tif")
			if err := report.WriteGeoTIFF(path, g, report.RasterOptions{Type: typ, UnitM: 0.3048}); err != nil {
				t.Fatal(err)
			}
			got, err := report.ReadGeoTIFF(path, 0.3048)
			if err != nil {
				t.Fatal(err)
			}
			if got.Col0 != g.Col0 || got.Row0 != g.Row0 || got.Cols != g.Cols || got.CellM != g.CellM || !same(got.Values, g.Values) {
				t.Errorf("%s %v: %d %d %d %g reads back otherwise", name, size, got.Col0, got.Row0, got.Cols, got.CellM)
			}
		}
	}
}

func TestGeoTIFFRefuses(t *testing.T) {
	dir := t.TempDir()
	bad := ramp(4, 4, false)
	bad.Values = bad.Values[:5]
	if err := report.WriteGeoTIFF(filepath.Join(dir, "a.tif"), bad, report.RasterOptions{}); err == nil {
		t.Error("a grid without all of its values is written")
	}
	many := ramp(4, 4, true)
	many.Values[9] = 255
	if err := report.WriteGeoTIFF(filepath.Join(dir, "a.tif"), many, report.RasterOptions{Type: report.Uint8}); err == nil {
		t.Error("255 in a raster whose mark for no value is 255 is written")
	}
	if left, _ := os.ReadDir(dir); len(left) != 0 {
		t.Errorf("files left behind: %v", left)
	}
	path := filepath.Join(dir, "g.tif")
	if err := report.WriteGeoTIFF(path, ramp(300, 300, false), report.RasterOptions{}); err != nil {
		t.Fatal(err)
	}
	whole, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for cut := 0; cut < len(whole); cut += 1 + len(whole)/97 {
		if err := os.WriteFile(path, whole[:cut], 0o644); err != nil {
			t.Fatal(err)
		}
		if _, err := report.ReadGeoTIFF(path, 1); err == nil {
			t.Errorf("cut at byte %d of %d: no error", cut, len(whole))
		}
	}
}

type gdalInfo struct {
	Size         []int
	GeoTransform []float64
	Stac         struct {
		EPSG int `json:"proj:epsg"`
	}
	CoordinateSystem struct{ WKT string } `json:"coordinateSystem"`
	Bands            []struct {
		Type, Unit, Description  string
		NoDataValue              any `json:"noDataValue"`
		Checksum                 int
		Minimum, Maximum, Mean   float64
		ComputedMin, ComputedMax float64
		Block                    []int
		Overviews                []struct{ Size []int }
		Metadata                 map[string]map[string]string
	}
	Metadata map[string]map[string]string
}

func info(t *testing.T, path string, arg ...string) gdalInfo {
	t.Helper()
	var i gdalInfo
	out := run(t, "gdalinfo", append(append([]string{"-json"}, arg...), path)...)
	if err := json.Unmarshal([]byte(out), &i); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	return i
}

// Outside the project: GDAL reads place, CRS, values, nodata, predictor and layout.
func TestGeoTIFFInGDAL(t *testing.T) {
	us := 1200.0 / 3937
	for _, c := range []struct {
		name  string
		epsg  int
		unitM float64
		typ   report.SampleType
		kind  string
	}{{"metres", 25832, 1, report.Float32, "Float32"}, {"US survey feet", 6578, us, report.Float32, "Float32"}, {"international feet", 2992, 0.3048, report.Uint16, "UInt16"}, {"counts", 25832, 1, report.Uint8, "Byte"}} {
		t.Run(c.name, func(t *testing.T) {
			g := ramp(700, 301, c.typ != report.Float32)
			path := filepath.Join(t.TempDir(), "g.tif")
			if err := report.WriteGeoTIFF(path, g, report.RasterOptions{CRS: epsg(t, c.epsg), UnitM: c.unitM, Type: c.typ, Unit: "metre", Description: "a < b"}); err != nil {
				t.Fatal(err)
			}
			i := info(t, path, "-stats")
			if len(i.Bands) != 1 || i.Bands[0].Type != c.kind || i.Size[0] != 700 || i.Size[1] != 301 || i.Bands[0].Description != "a < b" || i.Bands[0].Unit != "metre" {
				t.Fatalf("GDAL sees %+v", i)
			}
			want := []float64{567200 / c.unitM, 1 / c.unitM, 0, (5934100 + 301) / c.unitM, 0, -1 / c.unitM}
			for k, w := range want {
				if math.Abs(i.GeoTransform[k]-w) > 1e-6 {
					t.Errorf("geotransform %d = %.9f, want %.9f", k, i.GeoTransform[k], w)
				}
			}
			if !strings.Contains(i.CoordinateSystem.WKT, `ID["EPSG",`) || i.Stac.EPSG != c.epsg {
				t.Errorf("CRS EPSG:%d, want EPSG:%d", i.Stac.EPSG, c.epsg)
			}
			var n, sum float64
			lo, hi := math.Inf(1), math.Inf(-1)
			for _, v := range g.Values {
				if v == v {
					n, sum, lo, hi = n+1, sum+float64(v), math.Min(lo, float64(v)), math.Max(hi, float64(v))
				}
			}
			b := i.Bands[0]
			if math.Abs(b.Minimum-lo) > 5e-4 || math.Abs(b.Maximum-hi) > 5e-4 || math.Abs(b.Mean-sum/n) > 5e-4 {
				t.Errorf("GDAL: %g %g %g, want %g %g %g", b.Minimum, b.Maximum, b.Mean, lo, hi, sum/n)
			}
			if i.Metadata["IMAGE_STRUCTURE"]["LAYOUT"] != "COG" || i.Metadata["IMAGE_STRUCTURE"]["COMPRESSION"] != "DEFLATE" {
				t.Errorf("structure %v, want a cloud optimized file with DEFLATE", i.Metadata["IMAGE_STRUCTURE"])
			}
			if len(b.Overviews) != 2 || b.Overviews[0].Size[0] != 350 || b.Block[0] != 256 {
				t.Errorf("overviews %v, blocks %v, want 350 and 175 wide, 256", b.Overviews, b.Block)
			}
			if b.NoDataValue == nil {
				t.Error("GDAL sees no nodata value")
			}
		})
	}
}

// Outside the project: every value as GDAL exports it.
func TestGeoTIFFValuesInGDAL(t *testing.T) {
	g := ramp(300, 20, false)
	dir := t.TempDir()
	path, raw := filepath.Join(dir, "g.tif"), filepath.Join(dir, "g.bin")
	if err := report.WriteGeoTIFF(path, g, report.RasterOptions{}); err != nil {
		t.Fatal(err)
	}
	run(t, "gdal_translate", "-q", "-of", "ENVI", path, raw)
	b, err := os.ReadFile(raw)
	if err != nil {
		t.Fatal(err)
	}
	got := make([]float32, len(b)/4)
	for i := range got {
		c, r := i%300, 19-i/300
		got[r*300+c] = math.Float32frombits(binary.LittleEndian.Uint32(b[4*((19-r)*300+c):]))
	}
	if !same(got, g.Values) {
		t.Error("GDAL reads other values")
	}
}

// Cloud optimized: all directories before all tiles, the coarsest level first, each level's tiles in order.
func TestGeoTIFFLayout(t *testing.T) {
	path := filepath.Join(t.TempDir(), "g.tif")
	if err := report.WriteGeoTIFF(path, ramp(1100, 600, false), report.RasterOptions{}); err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	u16, u32 := binary.LittleEndian.Uint16, binary.LittleEndian.Uint32
	var first []uint32 // first tile of each level
	lastDir := uint32(0)
	for at := u32(b[4:]); at != 0; {
		lastDir = at
		n := uint32(u16(b[at:]))
		for i := range n {
			e := b[at+2+12*i:]
			if u16(e) != 324 {
				continue
			}
			list := e[8:]
			count := u32(e[4:])
			if count > 1 {
				list = b[u32(e[8:]):]
			}
			for k := range count {
				if k > 0 && u32(list[4*k:]) <= u32(list[4*k-4:]) {
					t.Error("tiles of a level are not in order")
				}
			}
			first = append(first, u32(list))
		}
		at = u32(b[at+2+12*n:])
	}
	if len(first) != 4 {
		t.Fatalf("%d levels, want 4 (1100, 550, 275, 138)", len(first))
	}
	for i := 1; i < len(first); i++ {
		if first[i] >= first[i-1] {
			t.Errorf("level %d starts at %d, after level %d at %d", i, first[i], i-1, first[i-1])
		}
	}
	if lastDir > first[len(first)-1] {
		t.Error("a directory stands behind tiles")
	}
}
