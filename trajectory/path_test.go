package trajectory

import (
	"math"
	"testing"
)

const deg = math.Pi / 180

// The rows of C_bn(2, -1.5, 37 deg) were derived and checked numerically in the
// project's science reference, section 13 (closed form, exact rotations).
func TestBodyToNEDCheckValues(t *testing.T) {
	want := [3][3]float64{{0.798362, -0.602178, 0.000110}, {0.601609, 0.797599, -0.043616}, {0.026177, 0.034888, 0.999048}}
	got := BodyToNED(2*deg, -1.5*deg, 37*deg)
	for i := range want {
		for j := range want[i] {
			if math.Abs(got[i][j]-want[i][j]) > 0.5e-6*1.2 {
				t.Errorf("C_bn[%d][%d] = %.7f, want %.6f (science reference, section 13)", i, j, got[i][j], want[i][j])
			}
		}
	}
}

// Full equation (1) of direct georeferencing, same section: P = (1000, 2000,
// 500), zero boresight, lever (0.10, -0.05, 0.20), range 110 m, 20 degrees, convergence 0.5.
func TestPoseBodyToMapFullEquation(t *testing.T) {
	o := Pose{RollRad: 2 * deg, PitchRad: -1.5 * deg, HeadingRad: (37 - 0.5) * deg}
	r := o.BodyToMap()
	v := [3]float64{0.10, -0.05 + 110*math.Sin(20*deg), 0.20 + 110*math.Cos(20*deg)}
	want := [3]float64{1025.706253, 1977.689536, 395.218950}
	for i, p0 := range []float64{1000, 2000, 500} {
		got := p0
		for k := range v {
			got += r[i][k] * v[k]
		}
		if math.Abs(got-want[i]) > 1e-6 {
			t.Errorf("X[%d] = %.6f m, want %.6f (science reference, section 13)", i, got, want[i])
		}
	}
}

// parabola is a path with known truth: quadratic position, steady rotation.
func parabola(step float64, n int) *Path {
	p := &Path{Source: "test"}
	t := 100.0
	for i := range n {
		if i > 0 {
			t += step * (1 + 0.2*math.Sin(float64(i))) // uneven steps
		}
		p.TimeS = append(p.TimeS, t)
		p.EM = append(p.EM, 5*(t-100)+0.5*0.7*(t-100)*(t-100))
		p.NM = append(p.NM, -3*(t-100))
		p.HM = append(p.HM, 80-0.1*(t-100)*(t-100))
		p.RollRad = append(p.RollRad, 0.02*math.Sin(t))
		p.PitchRad = append(p.PitchRad, 0.01*math.Cos(t))
		p.HeadingRad = append(p.HeadingRad, Wrap2Pi(350*deg+0.3*(t-100)))
	}
	return p
}

func TestPathAtQuadraticMotionIsExact(t *testing.T) {
	p := parabola(0.1, 60)
	if err := p.Validate(); err != nil {
		t.Fatal(err)
	}
	c := p.NewCursor()
	for _, tt := range []float64{100, 100.013, 101.5, 103.3333, 105.5, p.TimeS[len(p.TimeS)-1]} {
		o, ok := p.At(tt)
		if !ok {
			t.Fatalf("At(%v) = false inside the path", tt)
		}
		s := tt - 100
		if d := math.Abs(o.EM - (5*s + 0.35*s*s)); d > 1e-9 {
			t.Errorf("At(%v): E off by %.2g m, a parabola must be exact", tt, d)
		}
		if d := math.Abs(o.HM - (80 - 0.1*s*s)); d > 1e-9 {
			t.Errorf("At(%v): H off by %.2g m", tt, d)
		}
		if want := math.Hypot(5+0.7*s, 3); math.Abs(o.SpeedMPS-want) > 1e-8 {
			t.Errorf("At(%v): speed %.9f m/s, want %.9f", tt, o.SpeedMPS, want)
		}
		if d := math.Abs(WrapPi(o.HeadingRad - (350*deg + 0.3*s))); d > 1e-5 {
			t.Errorf("At(%v): heading off by %.2g rad across north", tt, d)
		}
		if math.Abs(o.YawRateRadPS-0.3) > 0.01 {
			t.Errorf("At(%v): yaw rate %.4f rad/s, want 0.3", tt, o.YawRateRadPS)
		}
		if oc, ok := c.At(tt); !ok || oc != o {
			t.Errorf("Cursor.At(%v) = %+v, Path.At = %+v", tt, oc, o)
		}
	}
}

func TestPathGapsAndEnds(t *testing.T) {
	p := &Path{TimeS: []float64{0, 1, 2, 10, 11, 30}, EM: []float64{0, 1, 2, 10, 11, 30}, NM: make([]float64, 6), HM: make([]float64, 6)}
	for _, c := range []struct {
		t  float64
		ok bool
	}{{-0.1, false}, {0, true}, {1.5, true}, {2, true}, {2.1, false}, {9.9, false}, {10, true}, {10.5, true}, {11, true}, {11.5, false}, {30, true}, {30.1, false}, {math.NaN(), false}} {
		o, ok := p.At(c.t)
		if ok != c.ok {
			t.Errorf("At(%v) inside = %v, want %v", c.t, ok, c.ok)
		}
		if ok && math.Abs(o.EM-c.t) > 1e-12 {
			t.Errorf("At(%v): E = %v", c.t, o.EM)
		}
		if ok && (o.HasAttitude || (o.SpeedMPS > 0 && o.HeadingRad != o.CourseRad)) {
			t.Errorf("At(%v): a path without attitude must give the course as heading", c.t)
		}
	}
	one := &Path{TimeS: []float64{5}, EM: []float64{1}, NM: []float64{2}, HM: []float64{3}}
	if o, ok := one.At(5); !ok || o.EM != 1 || o.NM != 2 || o.HM != 3 {
		t.Errorf("a path of one sample: %+v, %v", o, ok)
	}
}

func TestPathSigmaAt(t *testing.T) {
	p := &Path{TimeS: []float64{0, 1, 2}, EM: make([]float64, 3), NM: make([]float64, 3), HM: make([]float64, 3),
		Sigma: &PathSigma{UpM: []float64{0.02, 0.04, 0.04}}}
	s, ok := p.SigmaAt(0.5)
	if !ok || math.Abs(s.UpM-0.03) > 1e-15 || !math.IsNaN(s.RollRad) {
		t.Errorf("SigmaAt(0.5) = %+v, %v; want UpM 0.03, RollRad NaN", s, ok)
	}
	if s, _ := p.SigmaAt(2); s.UpM != 0.04 {
		t.Errorf("SigmaAt(2) = %v", s.UpM)
	}
}

func BenchmarkPathAt(b *testing.B) {
	p := parabola(0.005, 60_000)
	b.Run("cursor", func(b *testing.B) {
		c := p.NewCursor()
		k := 0
		for b.Loop() {
			c.At(p.TimeS[0] + float64(k%200_000)*1e-3)
			k++
		}
		b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "poses/s")
	})
}
