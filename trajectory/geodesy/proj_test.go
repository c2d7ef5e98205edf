package geodesy

import (
	"bufio"
	"bytes"
	"fmt"
	"math"
	"os"
	"os/exec"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"sidelap/las/crs"
)

const deg = math.Pi / 180

// outside returns the path of a program of PROJ. Without it the test is skipped,
// and fails where CI=true.
func outside(t *testing.T, program string) string {
	t.Helper()
	path, err := exec.LookPath(program)
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatalf("%s (PROJ) is needed: %v", program, err)
		}
		t.Skipf("%s (PROJ) not installed", program)
	}
	return path
}

func run(t *testing.T, stdin, program string, args ...string) string {
	t.Helper()
	cmd := exec.Command(program, args...)
	cmd.Stdin = strings.NewReader(stdin)
	var errText bytes.Buffer
	cmd.Stderr = &errText
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("%s %v: %v: %s", program, args, err, errText.String())
	}
	return string(out)
}

// place is a latitude and longitude in degrees.
type place struct{ lat, lon float64 }

// grid returns n x n places over an area, a little inside its edges.
func grid(a *crs.Area, n int) []place {
	west, east := a.WestDeg, a.EastDeg
	if east < west {
		east += 360
	}
	var p []place
	for i := range n {
		for j := range n {
			u, v := (float64(i)+0.5)/float64(n), (float64(j)+0.5)/float64(n)
			p = append(p, place{a.SouthDeg + u*(a.NorthDeg-a.SouthDeg), math.Remainder(west+v*(east-west), 360)})
		}
	}
	return p
}

// projCoordinates runs the places through PROJ's own formulas; metres.
func projCoordinates(t *testing.T, code int, unitM float64, places []place) [][2]float64 {
	t.Helper()
	def := strings.TrimSpace(run(t, "", outside(t, "projinfo"), fmt.Sprintf("EPSG:%d", code), "-o", "PROJ", "-q", "--single-line"))
	var in strings.Builder
	for _, p := range places {
		fmt.Fprintf(&in, "%.12f %.12f\n", p.lon, p.lat)
	}
	args := []string{"-f", "%.9f"}
	for _, w := range strings.Fields(def) {
		if w != "+type=crs" && w != "+no_defs" {
			args = append(args, w)
		}
	}
	var out [][2]float64
	s := bufio.NewScanner(strings.NewReader(run(t, in.String(), outside(t, "proj"), args...)))
	for s.Scan() {
		var e, n float64
		if _, err := fmt.Sscan(s.Text(), &e, &n); err != nil {
			t.Fatalf("EPSG:%d: PROJ answered %q", code, s.Text())
		}
		out = append(out, [2]float64{e * unitM, n * unitM})
	}
	if len(out) != len(places) {
		t.Fatalf("EPSG:%d: PROJ answered %d of %d places", code, len(out), len(places))
	}
	return out
}

// codes are systems that lidar is delivered in, and the odd ones: prime meridian
// Paris, grads, feet, south, Belgium, Michigan.
var codes = []int{
	32601, 32610, 32631, 32660, 32701, 32723, 32756, 32760, // UTM, WGS 84
	26910, 26915, 26919, 26715, // UTM, NAD83 and NAD27
	25828, 25832, 25833, 3067, 3006, // ETRS89
	28356, 7856, 31982, 31983, 2975, // GDA94, GDA2020, SIRGAS, RGR92
	27700, 2180, 2193, 31467, 31468, 2157, 2100, // national transverse Mercator grids
	2154, 3942, 3943, 3950, 27572, 27561, // France; the last two from Paris, in grads
	31370, 3812, // Belgium: with turn, without
	2229, 2227, 26943, 2994, 2992, 2913, 2271, 32128, 2903, 6880, 2255, 6580, // state plane and state-wide
	6201, 6202, // Michigan with ellipsoid scale
	28992, 31700, 2056, 21781, 23700, 3375, 6497, 26931, 5514, // oblique: stereographic, Mercator, Krovak
	3034, 31287, 3347, 3978, // conics of Europe, Austria, Canada
	24200, 32040, 2001, // Jamaica, Texas South Central, Antigua
}

func TestForwardInverseAgainstPROJ(t *testing.T) {
	points, systems := 0, 0
	for _, code := range codes {
		c, err := crs.FromEPSG(code)
		if err != nil {
			t.Errorf("EPSG:%d: %v", code, err)
			continue
		}
		p, err := New(c.Projection)
		if err != nil {
			t.Errorf("EPSG:%d %s: %v", code, c.Name, err)
			continue
		}
		places := grid(c.Area, 7)
		want := projCoordinates(t, code, c.Horizontal.Unit.M, places)
		systems++
		tolM := 1e-4
		if c.Projection.PrimeMeridianRad != 0 {
			tolM = 3e-4 // PROJ's Paris is 2d20'14.025", EPSG's 2.5969213 grads: 0.24 mm apart
		}
		for i, q := range places {
			if c.Projection.Method == crs.TransverseMercator && math.Abs(p.dlon(q.lon*deg)) > 10*deg {
				continue
			}
			points++
			e, n, err := p.Forward(q.lat*deg, q.lon*deg)
			if err != nil {
				t.Errorf("EPSG:%d at %v: %v", code, q, err)
				continue
			}
			if d := math.Hypot(e-want[i][0], n-want[i][1]); !(d < tolM) {
				t.Errorf("EPSG:%d %s at %v: (%.6f, %.6f) m, PROJ (%.6f, %.6f): %.2e m apart, want < %g", code, c.Name, q, e, n, want[i][0], want[i][1], d, tolM)
			}
			lat, lon, err := p.Inverse(e, n)
			if d := math.Hypot(lat-q.lat*deg, math.Remainder(lon-q.lon*deg, 2*math.Pi)*math.Cos(lat)); err != nil || !(d*6.4e6 < 1e-6) {
				t.Errorf("EPSG:%d at %v: way back %.3e m off (%v)", code, q, d*6.4e6, err)
			}
		}
	}
	t.Logf("%d places in %d systems", points, systems)
	if points < 2000 {
		t.Errorf("only %d places compared", points)
	}
}

// TestLocalAgainstPROJ compares convergence and scale with PROJ's verbose output,
// which counts the convergence with the same sign (bearing of grid north).
func TestLocalAgainstPROJ(t *testing.T) {
	bracket := regexp.MustCompile(`Convergence : .*\[ *(-?[0-9.]+) *\]`)
	meridian := regexp.MustCompile(`Meridian scale \(h\) : ([0-9.]+)`)
	for _, code := range []int{2154, 25832, 2229, 27700, 32723, 3978} {
		c, err := crs.FromEPSG(code)
		if err != nil {
			t.Fatal(err)
		}
		p, err := New(c.Projection)
		if err != nil {
			t.Fatal(err)
		}
		def := strings.Fields(run(t, "", outside(t, "projinfo"), fmt.Sprintf("EPSG:%d", code), "-o", "PROJ", "-q", "--single-line"))
		for _, q := range grid(c.Area, 3) {
			out := run(t, fmt.Sprintf("%.9f %.9f\n", q.lon, q.lat), outside(t, "proj"), append([]string{"-V"}, def[:len(def)-1]...)...)
			mc, ms := bracket.FindStringSubmatch(out), meridian.FindStringSubmatch(out)
			if mc == nil || ms == nil {
				t.Fatalf("EPSG:%d: PROJ gives no convergence: %s", code, out)
			}
			convergence, _ := strconv.ParseFloat(mc[1], 64)
			scale, _ := strconv.ParseFloat(ms[1], 64)
			// PROJ differentiates numerically and prints 8 decimals.
			if got := p.Convergence(q.lat*deg, q.lon*deg) / deg; math.Abs(got-convergence) > 2e-6 {
				t.Errorf("EPSG:%d at %v: convergence %.8f degrees, PROJ %.8f", code, q, got, convergence)
			}
			if got := p.PointScale(q.lat*deg, q.lon*deg); math.Abs(got-scale) > 2e-8 {
				t.Errorf("EPSG:%d at %v: scale %.9f, PROJ %.9f", code, q, got, scale)
			}
		}
	}
}

// TestLocalAgainstDifferences takes convergence and scale from finite differences of
// Forward: a step north on the ellipsoid of length ds moves the grid point by k ds in
// the direction of minus the convergence.
func TestLocalAgainstDifferences(t *testing.T) {
	for _, code := range codes {
		c, err := crs.FromEPSG(code)
		if err != nil {
			t.Fatal(err)
		}
		p, err := New(c.Projection)
		if err != nil {
			t.Fatal(err)
		}
		ell := c.Projection.Ellipsoid
		e2 := ell.F() * (2 - ell.F())
		for _, q := range grid(c.Area, 4) {
			lat, lon := q.lat*deg, q.lon*deg
			const h = 1e-5
			e1, n1, err1 := p.Forward(lat-h, lon)
			e3, n3, err2 := p.Forward(lat+h, lon)
			if err1 != nil || err2 != nil {
				t.Fatalf("EPSG:%d at %v: %v %v", code, q, err1, err2)
			}
			s := math.Sin(lat)
			ds := ell.A * (1 - e2) / math.Pow(1-e2*s*s, 1.5) * 2 * h
			convergence, scale := -math.Atan2(e3-e1, n3-n1), math.Hypot(e3-e1, n3-n1)/ds
			if got := p.Convergence(lat, lon); math.Abs(got-convergence) > 1e-8 {
				t.Errorf("EPSG:%d at %v: convergence %.10f rad, by differences %.10f", code, q, got, convergence)
			}
			if got := p.PointScale(lat, lon); math.Abs(got-scale) > 1e-8 {
				t.Errorf("EPSG:%d at %v: scale %.10f, by differences %.10f", code, q, got, scale)
			}
		}
	}
}
