package geodesy

import (
	"math"
	"strings"
	"testing"

	"sidelap/las/crs"
)

func utm(zone int) *crs.Projection {
	return &crs.Projection{Method: crs.TransverseMercator, Ellipsoid: GRS80, ScaleFactor: 0.9996,
		LonOriginRad: float64(6*zone-183) * deg, FalseEastingM: 500000}
}

// TestConvergenceSign: georeferencing-and-adjustment.md, section 1: gamma is about
// (lon - lon0) sin(lat), positive east of the central meridian in the north.
func TestConvergenceSign(t *testing.T) {
	p, err := New(utm(32))
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ lat, lon float64 }{{50, 10}, {50, 8}, {-30, 10}, {-30, 8}} {
		got, want := p.Convergence(c.lat*deg, c.lon*deg), (c.lon-9)*deg*math.Sin(c.lat*deg)
		if math.Abs(got-want) > 1e-5 {
			t.Errorf("at %v: convergence %.7f rad, want about %.7f", c, got, want)
		}
	}
	if k := p.PointScale(50*deg, 9*deg); math.Abs(k-0.9996) > 1e-12 {
		t.Errorf("scale on the central meridian %.12f, want 0.9996", k)
	}
}

// TestWorkedExamples holds the worked examples of EPSG Guidance Note 7-2 (values
// from memory of the note; TestForwardInverseAgainstPROJ compares the same three
// systems, EPSG:27700, 24200 and 32040, with PROJ).
func TestWorkedExamples(t *testing.T) {
	airy := crs.Ellipsoid{Name: "Airy 1830", A: 6377563.396, InvF: 299.32496}
	clarke := crs.Ellipsoid{Name: "Clarke 1866", A: 6378206.4, InvF: 294.9786982}
	for _, c := range []struct {
		name       string
		p          crs.Projection
		lat, lon   float64
		eM, nM, to float64
	}{
		{"transverse Mercator, British National Grid", crs.Projection{Method: crs.TransverseMercator, Ellipsoid: airy,
			LatOriginRad: 49 * deg, LonOriginRad: -2 * deg, ScaleFactor: 0.9996012717, FalseEastingM: 400000, FalseNorthingM: -100000},
			50.5, 0.5, 577274.99, 69740.50, 0.011},
		{"Lambert conformal 1SP, Jamaica", crs.Projection{Method: crs.LambertConformal1SP, Ellipsoid: clarke,
			LatOriginRad: 18 * deg, LonOriginRad: -77 * deg, ScaleFactor: 1, FalseEastingM: 250000, FalseNorthingM: 150000},
			17 + 55.0/60 + 55.80/3600, -(76 + 56.0/60 + 37.26/3600), 255966.58, 142493.51, 0.011},
		{"Lambert conformal 2SP, Texas South Central", crs.Projection{Method: crs.LambertConformal2SP, Ellipsoid: clarke, ScaleFactor: 1,
			LatOriginRad: (27 + 50.0/60) * deg, LonOriginRad: -99 * deg, StdParallel1Rad: (28 + 23.0/60) * deg, StdParallel2Rad: (30 + 17.0/60) * deg,
			FalseEastingM: 2000000 * crs.SurveyFootM}, 28.5, -96, 2963503.91 * crs.SurveyFootM, 254759.80 * crs.SurveyFootM, 0.011},
	} {
		p, err := New(&c.p)
		if err != nil {
			t.Fatalf("%s: %v", c.name, err)
		}
		e, n, err := p.Forward(c.lat*deg, c.lon*deg)
		if err != nil || math.Abs(e-c.eM) > c.to || math.Abs(n-c.nM) > c.to {
			t.Errorf("%s: (%.3f, %.3f) m %v, want (%.3f, %.3f) (EPSG Guidance Note 7-2)", c.name, e, n, err, c.eM, c.nM)
		}
	}
}

func TestRefusals(t *testing.T) {
	for _, code := range []int{3005, 3035, 3857, 2053, 5513} {
		c, err := crs.FromEPSG(code)
		if err != nil {
			t.Fatal(err)
		}
		if _, err = New(c.Projection); err == nil || !strings.Contains(err.Error(), c.Projection.Name) || !strings.Contains(err.Error(), "supported") {
			t.Errorf("EPSG:%d: error %v, want one that names %q and what is supported", code, err, c.Projection.Name)
		}
	}
	if _, err := New(nil); err == nil {
		t.Error("no projection: no error")
	}
	broken := utm(32)
	broken.ScaleFactor = 0
	if _, err := New(broken); err == nil {
		t.Error("scale factor 0: no error")
	}
	p, err := New(utm(32))
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ lat, lon float64 }{{91, 9}, {math.NaN(), 9}, {50, 60}, {50, math.Inf(1)}, {-90, 9}} {
		if _, _, err := p.Forward(c.lat*deg, c.lon*deg); err == nil {
			t.Errorf("Forward at %v: no error", c)
		}
	}
	for _, c := range [][2]float64{{1e9, 0}, {math.NaN(), 0}, {500000, 2e7}} {
		if _, _, err := p.Inverse(c[0], c[1]); err == nil {
			t.Errorf("Inverse of %v: no error", c)
		}
	}
}

// TestECEF has the check value of georeferencing-and-adjustment.md, section 12: the
// position in the header of a RINEX file.
func TestECEF(t *testing.T) {
	lat, lon, h := FromECEF(WGS84, -4388121.1700, 726671.0500, -4556535.6300)
	if math.Abs(lat/deg+45.883675) > 5e-7 || math.Abs(lon/deg-170.597175) > 5e-7 || math.Abs(h-388.86) > 0.005 {
		t.Errorf("lat %.7f, lon %.7f, h %.3f, want -45.883675, 170.597175, 388.86 (section 12)", lat/deg, lon/deg, h)
	}
	for _, lat := range []float64{-90, -89.99, -45, -1e-9, 0, 30, 60, 89.9999, 90} {
		for _, lon := range []float64{-180, -77, 0, 9, 179.9} {
			for _, h := range []float64{-9000, 0, 120, 9000, 2e6, 3.6e7} {
				x, y, z := ToECEF(WGS84, lat*deg, lon*deg, h)
				la, lo, hh := FromECEF(WGS84, x, y, z)
				x2, y2, z2 := ToECEF(WGS84, la, lo, hh)
				if d := math.Sqrt((x-x2)*(x-x2) + (y-y2)*(y-y2) + (z-z2)*(z-z2)); !(d < 1e-7) || math.Abs(hh-h) > 1e-6 || math.Abs(la-lat*deg) > 1e-13*10 {
					t.Errorf("lat %g lon %g h %g: back %.3e m off, height %.9f, latitude off by %.2e", lat, lon, h, d, hh, la-lat*deg)
				}
			}
		}
	}
	if lat, _, _ := FromECEF(WGS84, 0, 0, 0); !math.IsNaN(lat) {
		t.Error("centre of the Earth: a latitude")
	}
}

func TestCombinedScale(t *testing.T) {
	p, err := New(utm(32))
	if err != nil {
		t.Fatal(err)
	}
	// R/(R+h) at 45 degrees: R = a sqrt(1-e2)/(1-e2/2) = 6378101.03 m; h = 1000 m.
	want := 0.9996 * 6378101.03 / (6378101.03 + 1000)
	if got := p.CombinedScale(45*deg, 9*deg, 1000); math.Abs(got-want) > 1e-9 {
		t.Errorf("combined scale %.10f, want %.10f", got, want)
	}
}

func BenchmarkForward(b *testing.B) {
	p, err := New(utm(32))
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, _, err := p.Forward(50.1*deg, 9.7*deg); err != nil {
			b.Fatal(err)
		}
	}
}
