package simulate

import (
	"math"
	"math/rand/v2"
	"testing"
)

// The expected values of this file are closed forms of
// georeferencing-and-adjustment.md, section 13, derived there from equation (1) and
// checked with a second implementation; half a unit of the last printed digit is the tolerance.

const deg = math.Pi / 180

func mount(rollDeg, pitchDeg, headingDeg float64) Mount {
	return Mount{RollRad: rollDeg * deg, PitchRad: pitchDeg * deg, HeadingRad: headingDeg * deg, MapScale: 1}
}

func near(t *testing.T, name, unit string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s = %.7f %s, want %.7f ± %.1e %s", name, got, unit, want, tol, unit)
	}
}

func TestElementaryEffects(t *testing.T) {
	type e struct {
		name                 string
		used                 Mount
		headDeg, aDeg, h     float64
		rangeAdd, rangeScale float64
		angleScale           float64
		wantE, wantN, wantU  float64
	}
	level := func(name string, m Mount, a float64, E, N, U float64) e {
		return e{name: name, used: m, aDeg: a, h: 100, wantE: E, wantN: N, wantU: U}
	}
	zero := mount(0, 0, 0)
	cases := []e{
		level("roll +0.01, a = 0", mount(0.01, 0, 0), 0, -0.017453, 0, 0.000002),
		level("roll +0.01, a = +30", mount(0.01, 0, 0), 30, -0.017454, 0, -0.010075),
		level("roll +0.01, a = -30", mount(0.01, 0, 0), -30, -0.017452, 0, 0.010078),
		level("pitch +0.01, a = 30", mount(0, 0.01, 0), 30, 0, 0.017453, 0.000002),
		level("heading +0.05, a = +30", mount(0, 0, 0.05), 30, -0.000022, -0.050383, 0),
		level("heading +0.05, a = -30", mount(0, 0, 0.05), -30, 0.000022, 0.050383, 0),
		{name: "range +0.02, a = 0", used: zero, h: 100, rangeAdd: 0.02, wantU: -0.02},
		{name: "range +0.02, a = 30", used: zero, h: 100, aDeg: 30, rangeAdd: 0.02, wantE: 0.01, wantU: -0.017321},
		{name: "range scale 1e-4, a = 30", used: zero, h: 100, aDeg: 30, rangeScale: 1e-4, wantE: 0.005774, wantU: -0.01},
		{name: "angle scale 1e-3, a = 30", used: zero, h: 100, aDeg: 30, angleScale: 1e-3, wantE: 0.052352, wantU: 0.030244},
		{name: "heading east, roll +0.01, a = 30", used: mount(0.01, 0, 0), headDeg: 90, h: 100, aDeg: 30, wantN: 0.017454, wantU: -0.010075},
		{name: "roll +0.01, H = 1000, a = 20", used: mount(0.01, 0, 0), h: 1000, aDeg: 20, wantE: -0.174538, wantU: -0.063510},
		{name: "roll +0.05, H = 80, a = 35", used: mount(0.05, 0, 0), h: 80, aDeg: 35, wantE: -0.069834, wantU: -0.048853},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			p := Pose{HM: c.h, HeadingRad: c.headDeg * deg}
			a := c.aDeg * deg
			rho := c.h / math.Cos(a)
			e0, n0, u0 := zero.Georeference(p, rho, a)
			e1, n1, u1 := c.used.Georeference(p, rho*(1+c.rangeScale)+c.rangeAdd, a*(1+c.angleScale))
			near(t, "E", "m", e1-e0, c.wantE, 6e-7)
			near(t, "N", "m", n1-n0, c.wantN, 6e-7)
			near(t, "U", "m", u1-u0, c.wantU, 6e-7)
		})
	}
}

func TestFullEquation(t *testing.T) {
	p := Pose{EM: 1000, NM: 2000, HM: 500, RollRad: 2 * deg, PitchRad: -1.5 * deg, HeadingRad: (37 - 0.5) * deg}
	m := mount(0.03, -0.02, 0.05)
	m.LeverM = Vec{0.10, -0.05, 0.20}
	e, n, h := m.Georeference(p, 110, 20*deg)
	near(t, "E", "m", e, 1025.620950, 6e-7)
	near(t, "N", "m", n, 1977.666430, 6e-7)
	near(t, "H", "m", h, 395.202983, 6e-7)

	m0 := Mount{LeverM: m.LeverM, MapScale: 1}
	e0, n0, h0 := m0.Georeference(p, 110, 20*deg)
	near(t, "E, no boresight", "m", e0, 1025.706253, 6e-7)
	near(t, "N, no boresight", "m", n0, 1977.689536, 6e-7)
	near(t, "H, no boresight", "m", h0, 395.218950, 6e-7)

	p.HeadingRad = 37 * deg // convergence forgotten
	e2, n2, h2 := m.Georeference(p, 110, 20*deg)
	near(t, "E moved by forgotten convergence", "m", e2-e, -0.195870, 6e-7)
	near(t, "N moved by forgotten convergence", "m", n2-n, -0.222732, 6e-7)
	near(t, "H moved by forgotten convergence", "m", h2-h, 0, 6e-7)

	c := Rotation(2*deg, -1.5*deg, 37*deg)
	want := Mat{0.798362, -0.602178, 0.000110, 0.601609, 0.797599, -0.043616, 0.026177, 0.034888, 0.999048}
	for i := range c {
		near(t, "C_bn element", "", c[i], want[i], 6e-7)
	}
}

// line is a level straight flight line for pair checks.
type line struct {
	e, n, headDeg float64 // a point of the line, heading
	h             float64
}

// seen returns what a line makes of the ground point (e, n, 0): the pose is abeam of it.
func (l line) seen(e, n float64, used Mount, dr, ks float64) Vec {
	s, c := math.Sincos(l.headDeg * deg)
	along := (e-l.e)*s + (n-l.n)*c
	y := (e-l.e)*c - (n-l.n)*s
	p := Pose{EM: l.e + along*s, NM: l.n + along*c, HM: l.h, HeadingRad: l.headDeg * deg}
	a := math.Atan2(y, l.h)
	x, yy, z := used.Georeference(p, math.Hypot(y, l.h)+dr, a*(1+ks))
	return Vec{x, yy, z}
}

func TestPairSignatures(t *testing.T) {
	const d = 50.0
	l1 := line{0, 0, 0, 100}
	opposed := line{d, 0, 180, 100}
	same := line{d, 0, 0, 100}
	crossing := line{0, 0, 90, 100}
	roll, pitch, head := mount(0.01, 0, 0), mount(0, 0.01, 0), mount(0, 0, 0.05)
	lever := Mount{LeverM: Vec{0.05, 0, 0}, MapScale: 1}
	leverZ := Mount{LeverM: Vec{0, 0, 0.05}, MapScale: 1}
	zero := mount(0, 0, 0)
	diff := func(a, b line, e, n float64, m Mount, dr, ks float64) Vec {
		p, q := a.seen(e, n, m, dr, ks), b.seen(e, n, m, dr, ks)
		return Vec{p[0] - q[0], p[1] - q[1], p[2] - q[2]}
	}
	const tol = 3e-6 // printed digits, and the few micrometres of second order that the table leaves out
	for i, y := range []float64{0, 25, 50} {
		v := diff(l1, opposed, y, 0, roll, 0, 0)
		near(t, "roll opposed dz", "m", v[2], []float64{0.008727, 0, -0.008727}[i], tol)
		near(t, "roll opposed across", "m", v[0], -0.034907, tol)
		v = diff(l1, same, y, 0, roll, 0, 0)
		near(t, "roll same dz", "m", v[2], -0.008727, tol)
		near(t, "roll same across", "m", v[0], 0, tol)
		v = diff(l1, opposed, y, 0, zero, 0, 1e-3)
		near(t, "angle scale dz", "m", v[2], []float64{-0.023193, 0, 0.023193}[i], tol)
		near(t, "angle scale across", "m", v[0], []float64{0.046359, 0.048994, 0.046359}[i], tol)
		v = diff(l1, opposed, y, 0, leverZ, 0, 0)
		near(t, "lever z dz", "m", v[2], 0, tol)
	}
	v := diff(l1, crossing, 20, 30, roll, 0, 0)
	near(t, "roll crossing dz", "m", v[2], -0.008727, tol)
	near(t, "roll crossing E", "m", v[0], -0.017454, tol)
	near(t, "roll crossing N", "m", v[1], -0.017453, tol)
	v = diff(l1, opposed, 10, 0, pitch, 0, 0)
	near(t, "pitch opposed along", "m", v[1], 0.034907, tol)
	near(t, "pitch opposed dz on 20 % rising north", "m", v[2]-0.2*v[1], -0.006981, tol)
	v = diff(l1, opposed, 10, 0, head, 0, 0)
	near(t, "heading opposed along", "m", v[1], -0.043633, tol)
	v = diff(l1, same, 10, 0, head, 0, 0)
	near(t, "heading same along", "m", v[1], -0.043633, tol)
	v = diff(l1, line{0, 0, 180, 100}, 10, 0, head, 0, 0)
	near(t, "heading coincident opposed along", "m", v[1], 0, tol)
	v = diff(l1, crossing, 20, 30, head, 0, 0)
	near(t, "heading crossing E", "m", v[0], -0.026188, 2e-5) // second order: psi^2 Y
	near(t, "heading crossing N", "m", v[1], -0.017442, 2e-5)
	v = diff(l1, opposed, 0, 0, zero, 0.02, 0)
	near(t, "range +0.02 opposed dz at y = 0", "m", v[2], -0.002111, tol)
	v = diff(l1, opposed, 50, 0, zero, 0.02, 0)
	near(t, "range +0.02 opposed dz at y = 50", "m", v[2], 0.002111, tol)
	v = diff(l1, opposed, 10, 0, lever, 0, 0)
	near(t, "lever x opposed along", "m", v[1], 0.1, tol)
	v = diff(line{0, 0, 0, 80}, line{d, 0, 180, 80}, 10, 0, mount(0, 0.03, 0), 0, 0)
	near(t, "pitch 0.03 H 80 opposed along", "m", v[1], 0.083776, tol)
}

// Property: Scanner undoes Georeference below a micrometre, for any pose and mount.
func TestRoundTrip(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for range 2000 {
		p := Pose{EM: 355000 + 1000*rng.Float64(), NM: 5561000 + 1000*rng.Float64(), HM: 500 * rng.Float64(),
			RollRad: 0.3 * rng.NormFloat64(), PitchRad: 0.2 * rng.NormFloat64(), HeadingRad: 7 * rng.NormFloat64()}
		m := mount(rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64())
		m.LeverM = Vec{rng.NormFloat64(), rng.NormFloat64(), rng.NormFloat64()}
		m.MapScale = 1 + 4e-4*rng.NormFloat64()
		rho, a := 20+100*rng.Float64(), 1.2*(rng.Float64()-0.5)
		e, n, h := m.Georeference(p, rho, a)
		s := m.Scanner(p, e, n, h)
		near(t, "forward", "m", s[0], 0, 1e-6)
		near(t, "right", "m", s[1], rho*math.Sin(a), 1e-6)
		near(t, "down", "m", s[2], rho*math.Cos(a), 1e-6)
	}
}
