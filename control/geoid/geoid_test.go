package geoid

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// gtx writes a grid of the function, 61 x 41 nodes of 0.05 degree from 40 N 82 W.
func gtx(f func(lat, lon float64) float32) []byte {
	var b bytes.Buffer
	for _, v := range []float64{40, -82, 0.05, 0.05} {
		binary.Write(&b, binary.BigEndian, v)
	}
	binary.Write(&b, binary.BigEndian, [2]int32{41, 61})
	for r := range 41 {
		for c := range 61 {
			binary.Write(&b, binary.BigEndian, f(40+0.05*float64(r), -82+0.05*float64(c)))
		}
	}
	return b.Bytes()
}

func hills(lat, lon float64) float32 {
	return float32(-33 + 2*math.Sin(3*lat) + 1.5*math.Cos(2*lon))
}

const deg = math.Pi / 180

func TestBilinear(t *testing.T) {
	g, err := Parse(gtx(func(lat, lon float64) float32 { return float32(lat/4 + lon/8) })) // bilinear is exact on a plane
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range [][2]float64{{40, -82}, {42, -79}, {41.0123, -80.777}, {40.05, -81.95}, {41.0123, 279.223}} {
		lon := math.Remainder(p[1], 360)
		n, ok := g.At(p[0]*deg, p[1]*deg)
		if want := p[0]/4 + lon/8; !ok || math.Abs(n-want) > 2e-6 {
			t.Errorf("%v: %g %v, want %g", p, n, ok, want)
		}
	}
	for _, p := range [][2]float64{{39.99, -81}, {42.01, -81}, {41, -82.01}, {41, -78.99}, {math.NaN(), 0}} {
		if n, ok := g.At(p[0]*deg, p[1]*deg); ok {
			t.Errorf("%v is outside, got %g", p, n)
		}
	}
}

func TestNoValue(t *testing.T) {
	g, err := Parse(gtx(func(lat, lon float64) float32 {
		if lat > 41 {
			return gtxNoData
		}
		return 5
	}))
	if err != nil {
		t.Fatal(err)
	}
	if _, ok := g.At(41.02*deg, -80*deg); ok {
		t.Error("a node without value must not be interpolated")
	}
	if n, ok := g.At(40.93*deg, -80*deg); !ok || n != 5 {
		t.Errorf("beside it: %g %v", n, ok)
	}
}

// program finds a program of the general-purpose libraries, skips without it, fails in CI.
func program(t *testing.T, name string) string {
	t.Helper()
	p, err := exec.LookPath(name)
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatalf("%s is missing: apt-get install gdal-bin proj-bin", name)
		}
		t.Skipf("%s is missing", name)
	}
	return p
}

// Grids in GTX and in GeoTIFF of every kind that GDAL writes, against PROJ's vertical grid shift.
func TestAgainstPROJ(t *testing.T) {
	cct, translate := program(t, "cct"), program(t, "gdal_translate")
	dir := t.TempDir()
	src := filepath.Join(dir, "n.gtx")
	if err := os.WriteFile(src, gtx(hills), 0o644); err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(1, 9))
	var in strings.Builder
	var at [][2]float64
	for range 200 {
		p := [2]float64{40.01 + 1.98*rng.Float64(), -81.99 + 2.98*rng.Float64()}
		at = append(at, p)
		fmt.Fprintf(&in, "%.9f %.9f 0 0\n", p[1], p[0])
	}
	cmd := exec.Command(cct, "-d", "6", "+proj=pipeline", "+step", "+proj=unitconvert", "+xy_in=deg", "+xy_out=rad", "+step", "+proj=vgridshift", "+grids="+src, "+multiplier=1",
		"+step", "+proj=unitconvert", "+xy_in=rad", "+xy_out=deg")
	cmd.Stdin = strings.NewReader(in.String())
	out, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	var want []float64
	for _, l := range strings.Split(strings.TrimSpace(string(out)), "\n") {
		v, err := strconv.ParseFloat(strings.Fields(l)[2], 64)
		if err != nil {
			t.Fatal(err)
		}
		want = append(want, v)
	}
	files := []string{src}
	for i, o := range [][]string{{}, {"-co", "COMPRESS=DEFLATE"}, {"-co", "COMPRESS=DEFLATE", "-co", "PREDICTOR=3", "-co", "TILED=YES", "-co", "BLOCKXSIZE=32", "-co", "BLOCKYSIZE=16"},
		{"-co", "COMPRESS=LZW", "-co", "PREDICTOR=2"}, {"-co", "ENDIANNESS=BIG", "-co", "COMPRESS=LZW", "-co", "PREDICTOR=2"}, {"-ot", "Float64", "-co", "COMPRESS=DEFLATE", "-co", "PREDICTOR=2"},
		{"-mo", "AREA_OR_POINT=Area"}} {
		f := filepath.Join(dir, fmt.Sprintf("n%d.tif", i))
		args := append([]string{"-q", "-a_srs", "EPSG:4326"}, o...)
		if b, err := exec.Command(translate, append(args, src, f)...).CombinedOutput(); err != nil {
			t.Fatalf("%v: %s", err, b)
		}
		files = append(files, f)
	}
	for _, f := range files {
		g, err := Open(f)
		if err != nil {
			t.Errorf("%s: %v", f, err)
			continue
		}
		worst := 0.0
		for i, p := range at {
			n, ok := g.At(p[0]*deg, p[1]*deg)
			if !ok {
				t.Errorf("%s: no value at %v (%v)", f, p, g.Err())
				break
			}
			// the pipeline's step adds or takes off N: its size is what counts
			worst = max(worst, math.Abs(math.Abs(n)-math.Abs(want[i])))
			if n >= 0 {
				t.Errorf("separation %g at %v must be negative", n, p)
			}
		}
		if worst > 2e-6 {
			t.Errorf("%s (%s): differs from PROJ by up to %g m", filepath.Base(f), g.Format, worst)
		}
	}
}

func TestRefused(t *testing.T) {
	good := gtx(hills)
	for name, b := range map[string][]byte{"empty": nil, "short": good[:39], "cut": good[:500], "text": []byte(strings.Repeat("no grid ", 20)), "TIFF head": []byte("II*\x00\x08\x00\x00\x00\x00\x00")} {
		if _, err := Parse(b); !errors.Is(err, ErrFormat) {
			t.Errorf("%s: %v, want ErrFormat", name, err)
		}
	}
	if _, err := Open(filepath.Join(t.TempDir(), "none.gtx")); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("missing file: %v", err)
	}
}

func FuzzParse(f *testing.F) {
	f.Add(gtx(hills)[:2000])
	f.Add([]byte("II*\x00\x08\x00\x00\x00\x01\x00\x00\x01\x03\x00\x01\x00\x00\x00\x02\x00\x00\x00\x00\x00\x00\x00"))
	f.Fuzz(func(t *testing.T, b []byte) {
		g, err := Parse(b)
		if err != nil {
			return
		}
		for _, p := range [][2]float64{{0.7, -1.4}, {0, 0}, {g.SouthDeg * deg, g.WestDeg * deg}} {
			g.At(p[0], p[1])
		}
	})
}
