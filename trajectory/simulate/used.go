package simulate

import (
	"math"
	"math/rand/v2"
)

// usedPath returns the processed path: the true one with slow noise, datum shift,
// missing alignment and the faults of each strip. Between strips the strip errors
// run linearly from the end of one to the start of the next, as a smoother leaves them.
func (s *Scenario) usedPath(m *motion, strips []Strip) *Path {
	u := m.path.clone()
	s.addNoise(u)
	s.addUnaligned(u, m)
	f := &s.Faults
	for i := range u.TimeS {
		u.EM[i] += f.DatumEM
		u.NM[i] += f.DatumNM
		u.HM[i] += f.DatumHeightM
	}
	byStrip := make([][]StripFault, len(strips))
	any := false
	for _, sf := range f.Strips {
		byStrip[sf.Strip-1] = append(byStrip[sf.Strip-1], sf)
		any = true
	}
	if !any {
		return u
	}
	cols := u.columns()
	for c := range cols {
		s.addStripErrors(*cols[c], c, u, strips, byStrip)
	}
	return u
}

// addStripErrors adds component c (E, N, H, roll, pitch, heading) of the strip faults.
func (s *Scenario) addStripErrors(col []float64, c int, u *Path, strips []Strip, byStrip [][]StripFault) {
	var prevEnd, prevErr float64
	prevEnd = u.TimeS[0]
	i := 0
	for k := range strips {
		st := &strips[k]
		curves := make([]func(float64) float64, 0, len(byStrip[k]))
		for j := range byStrip[k] {
			curves = append(curves, s.stripCurve(&byStrip[k][j], c, j, st))
		}
		errAt := func(t float64) float64 {
			var sum float64
			for _, f := range curves {
				sum += f(t)
			}
			return sum
		}
		first := errAt(st.StartS)
		for ; i < len(col) && u.TimeS[i] < st.StartS; i++ {
			w := (u.TimeS[i] - prevEnd) / (st.StartS - prevEnd)
			col[i] += prevErr + w*(first-prevErr)
		}
		for ; i < len(col) && u.TimeS[i] <= st.EndS+1.5/u.rateHz; i++ {
			col[i] += errAt(u.TimeS[i])
		}
		prevEnd, prevErr = st.EndS, errAt(st.EndS)
	}
	end := u.TimeS[len(col)-1]
	for ; i < len(col); i++ {
		col[i] += prevErr * (end - u.TimeS[i]) / (end - prevEnd)
	}
}

// stripCurve returns the error of component c over a strip as a function of time; it is
// extended by its formula a little beyond the ends.
func (s *Scenario) stripCurve(f *StripFault, c, nth int, st *Strip) func(float64) float64 {
	constant := [6]float64{f.EastM, f.NorthM, f.HeightM}[c]
	d := [6]Drift{f.DriftE, f.DriftN, f.DriftH, f.Roll, f.Pitch, f.Heading}[c]
	size := d.Size
	if c >= 3 {
		size *= math.Pi / 180
	}
	seed := s.Seed ^ uint64(st.Number)<<20 ^ uint64(c)<<12 ^ uint64(nth)<<4
	curve := d.curve(st.StartS, st.EndS, seed)
	return func(t float64) float64 { return constant + size*curve(t) }
}

// curve returns the drift of unit size over [t0, t1].
func (d Drift) curve(t0, t1 float64, seed uint64) func(float64) float64 {
	switch d.Shape {
	case DriftLinear:
		return func(t float64) float64 { return (t-t0)/(t1-t0) - 0.5 }
	case DriftWave:
		return func(t float64) float64 { return math.Sin(2 * math.Pi * (t - t0) / d.PeriodS) }
	case DriftStep:
		at := t0 + d.At*(t1-t0)
		return func(t float64) float64 {
			if t < at {
				return 0
			}
			return 1
		}
	case DriftSpline:
		return splineCurve(t0, t1, d.PeriodS, seed)
	}
	return func(float64) float64 { return 0 }
}

// splineCurve is a uniform cubic B-spline with random coefficients, scaled to unit standard deviation.
func splineCurve(t0, t1, knotS float64, seed uint64) func(float64) float64 {
	rng := rand.New(rand.NewPCG(seed, 0x5b11e))
	n := int(math.Ceil((t1-t0)/knotS)) + 5
	c := make([]float64, n)
	for i := range c {
		c[i] = rng.NormFloat64() * 1.44 // mean of the squared B-spline weights is 0.479
	}
	return func(t float64) float64 {
		x := (t-t0)/knotS + 1
		i := min(max(int(math.Floor(x)), 1), n-3)
		u := x - float64(i)
		v := 1 - u
		return (c[i-1]*v*v*v + c[i]*(3*u*u*u-6*u*u+4) + c[i+1]*(3*v*v*v-6*v*v+4) + c[i+2]*u*u*u) / 6
	}
}

// addNoise adds a slow random error (Gauss-Markov, first order, smoothed) to each component.
func (s *Scenario) addNoise(u *Path) {
	p := &s.Process
	rad := math.Pi / 180
	sigma := [6]float64{p.NoiseHorizontalM, p.NoiseHorizontalM, p.NoiseVerticalM,
		p.NoiseRollPitchDeg * rad, p.NoiseRollPitchDeg * rad, p.NoiseHeadingDeg * rad}
	rng := rand.New(rand.NewPCG(s.Seed, 0x9a55))
	for c, col := range u.columns() {
		if sigma[c] == 0 {
			continue
		}
		// values at knots a tenth of the correlation time apart, cubic between them
		knot := p.NoiseCorrelationS / 10
		n := int((u.TimeS[len(u.TimeS)-1]-u.TimeS[0])/knot) + 5
		phi := math.Exp(-0.1)
		v := make([]float64, n)
		v[0] = rng.NormFloat64()
		for i := 1; i < n; i++ {
			v[i] = phi*v[i-1] + math.Sqrt(1-phi*phi)*rng.NormFloat64()
		}
		for i := range *col {
			x := (u.TimeS[i]-u.TimeS[0])/knot + 1
			k := min(int(x), n-3)
			(*col)[i] += sigma[c] * catmull(v[k-1], v[k], v[k+1], v[k+2], x-float64(k))
		}
	}
}

// catmull is the Catmull-Rom cubic between b and c.
func catmull(a, b, c, d, u float64) float64 {
	return b + 0.5*u*(c-a+u*(2*a-5*b+4*c-d+u*(3*(b-c)+d-a)))
}

// addUnaligned adds the heading error of a system that was not aligned: it
// starts at HeadingUnalignedDeg and decays with turning (three quarters of a full turn) and with time (120 s) after take-off.
func (s *Scenario) addUnaligned(u *Path, m *motion) {
	if s.Faults.HeadingUnalignedDeg == 0 {
		return
	}
	for i, h := range s.alignment(m) {
		u.HeadingRad[i] += s.Faults.HeadingUnalignedDeg * math.Pi / 180 * h
	}
}

// alignment returns the share of the initial heading uncertainty left at each pose.
func (s *Scenario) alignment(m *motion) []float64 {
	out := make([]float64, len(m.events))
	var airborne float64
	for i := range out {
		if m.events[i] != EventStill && m.events[i] != EventTakeOff {
			airborne += 1 / m.path.rateHz
		}
		out[i] = math.Exp(-airborne/120 - m.turned[i]/(1.5*math.Pi))
	}
	return out
}
