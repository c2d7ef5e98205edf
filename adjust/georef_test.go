package adjust

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"
)

const deg = math.Pi / 180

// beam is the vector of a line scanner: nadir down, angle positive to the right.
func beam(rhoM, angleDeg float64) Vec {
	s, c := math.Sincos(angleDeg * deg)
	return Vec{0, rhoM * s, rhoM * c}
}

func near(t *testing.T, what string, got, want Vec, tolM float64) {
	t.Helper()
	for i := range got {
		if math.Abs(got[i]-want[i]) > tolM {
			t.Errorf("%s: got %.6f %.6f %.6f, want %.6f %.6f %.6f ± %g", what, got[0], got[1], got[2], want[0], want[1], want[2], tolM)
			return
		}
	}
}

// TestElementaryEffects asserts the closed-form check values of the georeferencing reference, section 13:
// level, exact rotations, the point seen with the used parameters minus the true one.
func TestElementaryEffects(t *testing.T) {
	type change struct {
		roll, pitch, heading, rangeM, rangeScale, angleScale float64
	}
	cases := []struct {
		name                string
		gridHeadingDeg      float64
		heightM, aDeg       float64
		c                   change
		wantE, wantN, wantU float64
	}{
		{"roll, nadir", 0, 100, 0, change{roll: 0.01}, -0.017453, 0, 0.000002},
		{"roll, right", 0, 100, 30, change{roll: 0.01}, -0.017454, 0, -0.010075},
		{"roll, left", 0, 100, -30, change{roll: 0.01}, -0.017452, 0, 0.010078},
		{"pitch", 0, 100, 30, change{pitch: 0.01}, 0, 0.017453, 0.000002},
		{"heading, right", 0, 100, 30, change{heading: 0.05}, -0.000022, -0.050383, 0},
		{"heading, left", 0, 100, -30, change{heading: 0.05}, 0.000022, 0.050383, 0},
		{"range, nadir", 0, 100, 0, change{rangeM: 0.02}, 0, 0, -0.02},
		{"range, right", 0, 100, 30, change{rangeM: 0.02}, 0.01, 0, -0.017321},
		{"range scale", 0, 100, 30, change{rangeScale: 1e-4}, 0.005774, 0, -0.01},
		{"angle scale", 0, 100, 30, change{angleScale: 1e-3}, 0.052352, 0, 0.030244},
		{"heading east, roll", 90, 100, 30, change{roll: 0.01}, 0, 0.017454, -0.010075},
		{"roll, high", 0, 1000, 20, change{roll: 0.01}, -0.174538, 0, -0.063510},
		{"roll, wide", 0, 80, 35, change{roll: 0.05}, -0.069834, 0, -0.048853},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			rho := c.heightM / math.Cos(c.aDeg*deg)
			h := c.gridHeadingDeg * deg
			truth := Georeference(Vec{}, 0, 0, h, Mounting{}, beam(rho, c.aDeg))
			b := Mounting{RollRad: c.c.roll * deg, PitchRad: c.c.pitch * deg, HeadingRad: c.c.heading * deg}
			used := Georeference(Vec{}, 0, 0, h, b, beam(rho*(1+c.c.rangeScale)+c.c.rangeM, c.aDeg*(1+c.c.angleScale)))
			near(t, c.name, used.Sub(truth), Vec{c.wantE, c.wantN, c.wantU}, 0.6e-6)
		})
	}
}

// TestFullEquation asserts the worked value of equation (1), section 13.
func TestFullEquation(t *testing.T) {
	p := Vec{1000, 2000, 500}
	b := Mounting{RollRad: 0.03 * deg, PitchRad: -0.02 * deg, HeadingRad: 0.05 * deg, LeverM: Vec{0.10, -0.05, 0.20}}
	at := func(b Mounting, gammaDeg float64) Vec {
		return Georeference(p, 2*deg, -1.5*deg, (37-gammaDeg)*deg, b, beam(110, 20))
	}
	x := at(b, 0.5)
	near(t, "full equation", x, Vec{1025.620950, 1977.666430, 395.202983}, 0.6e-6)
	near(t, "zero boresight", at(Mounting{LeverM: b.LeverM}, 0.5), Vec{1025.706253, 1977.689536, 395.218950}, 0.6e-6)
	near(t, "forgetting convergence", at(b, 0).Sub(x), Vec{-0.195870, -0.222732, 0}, 0.6e-6)
	s := Unreference(x, p, 2*deg, -1.5*deg, 36.5*deg, b)
	near(t, "round trip", s, beam(110, 20), 1e-9)
}

// TestPairs asserts the separations of two strips of section 13: line 1 north at E = 0, H = 100 m, line 2 at D = 50 m.
func TestPairs(t *testing.T) {
	const heightM, spacingM = 100.0, 50.0
	// seen gives the displacement of the place (e, n, 0) in a strip with heading h whose nadir line passes through (e0, n0).
	seen := func(k Kind, size, e, n, headingDeg, e0, n0 float64) Vec {
		m := BodyToMap(0, 0, headingDeg*deg)
		sin, cos := math.Sincos(headingDeg * deg)
		along := (e-e0)*sin + (n-n0)*cos // the scanner is abeam of the place
		s := sight{body: m.MulT(Vec{e - e0 - along*sin, n - n0 - along*cos, -heightM}), toMap: m}
		return s.displacement(k).Times(size)
	}
	dz := func(k Kind, size, e, n, heading2, gE, gN float64) float64 {
		a := seen(k, size, e, n, 0, 0, 0)
		b := seen(k, size, e, n, heading2, spacingM, 0)
		return apparent(a, gE, gN) - apparent(b, gE, gN)
	}
	diff := func(k Kind, size, e, n, heading2 float64) Vec {
		return seen(k, size, e, n, 0, 0, 0).Sub(seen(k, size, e, n, heading2, spacingM, 0))
	}
	for _, c := range []struct {
		name      string
		got, want float64
	}{
		{"roll opposed, y 0", dz(BoresightRoll, 0.01*deg, 0, 0, 180, 0, 0), 0.008727},
		{"roll opposed, y 25", dz(BoresightRoll, 0.01*deg, 25, 0, 180, 0, 0), 0},
		{"roll opposed, y 50", dz(BoresightRoll, 0.01*deg, 50, 0, 180, 0, 0), -0.008727},
		{"roll opposed across", diff(BoresightRoll, 0.01*deg, 25, 0, 180)[0], -0.034907},
		{"roll same direction", dz(BoresightRoll, 0.01*deg, 13, 0, 0, 0, 0), -0.008727},
		{"roll same direction across", diff(BoresightRoll, 0.01*deg, 13, 0, 0)[0], 0},
		{"pitch opposed along", diff(BoresightPitch, 0.01*deg, 20, 0, 180)[1], 0.034907},
		{"pitch opposed, slope", dz(BoresightPitch, 0.01*deg, 20, 0, 180, 0, 0.2), -0.006981},
		{"heading opposed along", diff(BoresightHeading, 0.05*deg, 20, 0, 180)[1], -0.043633},
		{"heading same along", diff(BoresightHeading, 0.05*deg, 20, 0, 0)[1], -0.043633},
		{"angle scale, y 0", dz(ScanAngleScale, 1e-3, 0, 0, 180, 0, 0), -0.023193},
		{"angle scale, y 25", dz(ScanAngleScale, 1e-3, 25, 0, 0, 0, 0), 0},
		{"angle scale, y 50", dz(ScanAngleScale, 1e-3, 50, 0, 180, 0, 0), 0.023193},
		{"angle scale across", diff(ScanAngleScale, 1e-3, 0, 0, 0)[0], 0.046359},
		{"angle scale across, middle", diff(ScanAngleScale, 1e-3, 25, 0, 0)[0], 0.048994},
		{"range opposed, y 0", dz(RangeOffset, 0.02, 0, 0, 180, 0, 0), -0.002111},
		{"range opposed, y 50", dz(RangeOffset, 0.02, 50, 0, 180, 0, 0), 0.002111},
		{"lever x opposed", diff(LeverX, 0.05, 20, 0, 180)[1], 0.1},
		{"lever z opposed", dz(LeverZ, 0.05, 20, 0, 180, 0, 0), 0},
	} {
		tol := 0.6e-6
		if strings.HasPrefix(c.name, "angle scale") {
			tol = 1.5e-5 // the printed values are exact for 1e-3, the effect is of first order
		}
		if math.Abs(c.got-c.want) > tol {
			t.Errorf("%s: %.6f m, want %.6f m (section 13, closed form)", c.name, c.got, c.want)
		}
	}
	// crossing at right angles, line 2 heads east along n = 0: place 20 m right and 30 m forward of the crossing
	cross := func(k Kind, size float64) Vec {
		return seen(k, size, 20, 30, 0, 0, 0).Sub(seen(k, size, 20, 30, 90, 0, 0))
	}
	near(t, "roll crossing", cross(BoresightRoll, 0.01*deg), Vec{-0.017454, -0.017453, -0.008727}, 1.2e-6)
	near(t, "heading crossing", cross(BoresightHeading, 0.05*deg), Vec{-0.026180, -0.017453, 0}, 1.2e-5)
}

// TestRegressionAgainstRotations compares the linear effects with exact rotations for random strip pairs: a property
// of section 13 that held there to 0.9 micrometre.
func TestRegressionAgainstRotations(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	u := func(a float64) float64 { return a * (2*rng.Float64() - 1) }
	for range 200 {
		h := 70 + 50*rng.Float64()
		heading, roll, pitch := u(math.Pi), u(3*deg), u(3*deg)
		body := Vec{0, u(60), h}
		m := BodyToMap(roll, pitch, heading)
		b := Mounting{RollRad: u(1e-4), PitchRad: u(1e-4), HeadingRad: u(1e-4)}
		exact := Georeference(Vec{}, roll, pitch, heading, b, body).Sub(m.Mul(body))
		s := sight{body: body, toMap: m}
		sum := s.displacement(BoresightRoll).Times(b.RollRad).Add(s.displacement(BoresightPitch).Times(b.PitchRad)).Add(s.displacement(BoresightHeading).Times(b.HeadingRad))
		gE, gN := u(0.3), u(0.3)
		if d := math.Abs(apparent(exact, gE, gN) - apparent(sum, gE, gN)); d > 3e-6 {
			t.Fatalf("linear and exact effects differ by %g m", d)
		}
	}
}

// TestTimeOffsetJacobian compares the time-offset effect with a finite difference of equation (1).
func TestTimeOffsetJacobian(t *testing.T) {
	rates := Vec{0.2, -0.1, 0.05} // body rates, radians per second
	v := Vec{5, 6, -0.3}
	roll, pitch, heading := 0.03, -0.02, 1.1
	body := Vec{0.5, 30, 80}
	m := BodyToMap(roll, pitch, heading)
	s := sight{body: body, toMap: m, velocity: v, rates: rates}
	const dt = 1e-6
	// a small body rotation w dt turns R into R (I + [w dt]x)
	turned := m.Mul(body.Add(rates.Times(dt).Cross(body)))
	fd := turned.Sub(m.Mul(body)).Times(1 / dt).Add(v)
	near(t, "time offset", s.displacement(TimeOffset), fd, 1e-7)
}
