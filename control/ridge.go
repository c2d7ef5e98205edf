package control

import (
	"fmt"
	"math"
)

// RidgeFix is a roof ridge as the cloud shows it beside a surveyed point on that ridge. One ridge gives the
// height and the offset across it; ridges in two directions give the horizontal shift (SolveRidges).
type RidgeFix struct {
	ID               string
	EM, NM, ZM       float64 // surveyed
	AcrossM          float64 // cloud minus survey, along the normal; NaN when not found
	NormalE, NormalN float64 // horizontal unit normal of the ridge
	DzM              float64 // height of the ridge beside the point minus surveyed
	SigmaAcrossM     float64 // from the planes' residuals
	SigmaZM          float64
	PitchDeg         [2]float64 // of the two roof planes
	RMSM             float64    // larger residual of the planes
	Returns          [2]int
	OK               bool
	Reason           string
}

// Thresholds of a ridge: our proposals.
const (
	minRidgeReturns  = 15
	maxRidgeRMSM     = 0.08
	minRidgeGradient = 0.25 // difference of the planes' gradients; a ridge of two slopes of 7 degrees
	maxRidgeOffsetM  = 1.0
)

// Ridges fits two planes to the returns around each point and intersects them. The points have to lie on
// ridges, 1.5 m or more from the gable ends; the collector's radius of 2 to 3 m has to stay on the roof.
//
// With planes z = a x + b y + c about the point, the ridge in plan is (a1-a2) x + (b1-b2) y + c1-c2 = 0. Returns
// farther than three robust sigma from their plane are left out (chimneys, gutters).
func (c *Collector) Ridges() []RidgeFix {
	out := make([]RidgeFix, len(c.points))
	for i := range c.points {
		out[i] = c.ridge(i)
	}
	return out
}

func (c *Collector) ridge(i int) RidgeFix {
	p := &c.points[i]
	nan := math.NaN()
	r := RidgeFix{ID: p.ID, EM: p.EM, NM: p.NM, ZM: p.ZM, AcrossM: nan, DzM: nan, SigmaAcrossM: nan, SigmaZM: nan}
	returns, _ := c.Returns(i)
	var v []vertex
	for k := range returns {
		if q := &returns[k]; q.ReturnNumber <= 1 { // roofs are seen by first returns, trees above them too
			v = append(v, vertex{q.EM - p.EM, q.NM - p.NM, q.ZM})
		}
	}
	if len(v) < 2*minRidgeReturns {
		r.Reason = fmt.Sprintf("%d returns around the point", len(v))
		return r
	}
	a, b, ok := ridgePlanes(v)
	if !ok {
		r.Reason = "no two planes meet near the point"
		return r
	}
	ge, gn := a.a-b.a, a.b-b.b
	g := math.Hypot(ge, gn)
	r.NormalE, r.NormalN = ge/g, gn/g
	r.AcrossM = -(a.c - b.c) / g
	x, y := r.NormalE*r.AcrossM, r.NormalN*r.AcrossM
	r.DzM = (a.a*x + a.b*y + a.c + b.a*x + b.b*y + b.c) / 2
	r.DzM -= p.ZM
	r.SigmaAcrossM = math.Hypot(a.sigmaM, b.sigmaM) / g
	r.SigmaZM = math.Hypot(a.sigmaM, b.sigmaM) / 2
	r.PitchDeg = [2]float64{math.Atan(a.slopePct()/100) * 180 / math.Pi, math.Atan(b.slopePct()/100) * 180 / math.Pi}
	r.RMSM, r.Returns = max(a.rmsM, b.rmsM), [2]int{a.n, b.n}
	switch {
	case g < minRidgeGradient:
		r.Reason = "the planes do not meet at an angle"
	case a.n < minRidgeReturns || b.n < minRidgeReturns:
		r.Reason = fmt.Sprintf("%d and %d returns on the planes", a.n, b.n)
	case r.RMSM > maxRidgeRMSM:
		r.Reason = fmt.Sprintf("planes are rough: %.3f m", r.RMSM)
	case math.Abs(r.AcrossM) > maxRidgeOffsetM:
		r.Reason = fmt.Sprintf("the ridge lies %.2f m off", r.AcrossM)
	default:
		r.OK = true
		return r
	}
	r.AcrossM, r.DzM = nan, nan
	return r
}

// ridgePlanes splits the vertices by the line that leaves two planes with the least absolute residuals, then refines by
// intersecting the planes and splitting again.
func ridgePlanes(v []vertex) (a, b plane, ok bool) {
	best := math.Inf(1)
	for k := range 18 {
		sin, cos := math.Sincos(float64(k) * math.Pi / 18)
		for j := -3; j <= 3; j++ {
			p, q, cost, valid := splitPlanes(v, cos, sin, 0.2*float64(j))
			if valid && cost < best {
				a, b, best, ok = p, q, cost, true
			}
		}
	}
	if !ok {
		return a, b, false
	}
	for range 4 {
		ge, gn := a.a-b.a, a.b-b.b
		g := math.Hypot(ge, gn)
		if g < 1e-6 {
			return a, b, false
		}
		p, q, _, valid := splitPlanes(v, ge/g, gn/g, -(a.c-b.c)/g)
		if !valid {
			return a, b, false
		}
		a, b = p, q
	}
	return a, b, true
}

// splitPlanes fits a plane on each side of a line, without what lies beyond three robust sigma; cost is the sum
// of absolute residuals.
func splitPlanes(v []vertex, cos, sin, offsetM float64) (p, q plane, cost float64, ok bool) {
	const gapM = 0.05 // ridge tiles
	var left, right []vertex
	for _, s := range v {
		switch d := s.x*cos + s.y*sin - offsetM; {
		case d < -gapM:
			left = append(left, s)
		case d > gapM:
			right = append(right, s)
		}
	}
	if len(left) < minRidgeReturns || len(right) < minRidgeReturns {
		return p, q, 0, false
	}
	p, costP := trimmedPlane(left)
	q, costQ := trimmedPlane(right)
	return p, q, costP + costQ, p.ok && q.ok
}

func trimmedPlane(v []vertex) (p plane, cost float64) {
	all := v
	for range 3 {
		p = fitPlane(v, math.Inf(1))
		if !p.ok {
			return p, math.Inf(1)
		}
		d := make([]float64, len(all))
		for i, s := range all {
			d[i] = math.Abs(p.residual(s))
		}
		limit := max(3*NMADFactor*Median(d), 0.02)
		v = v[:0:0]
		for i, s := range all {
			if d[i] <= limit {
				v = append(v, s)
			}
		}
	}
	for _, s := range all {
		cost += min(math.Abs(p.residual(s)), 0.5)
	}
	return p, cost
}

// RidgeShift is the shift of the cloud that ridges show, cloud minus survey.
type RidgeShift struct {
	EM, NM, ZM          float64
	SigmaEM, SigmaNM    float64 // from the scatter of the ridges
	SigmaZM             float64
	RMSEAcrossM, RMSEZM float64 // of the offsets themselves: accuracy of one horizontal component, and of height
	N                   int
	Horizontal          bool // ridges in two directions: EM and NM are determined; else they are NaN
}

// SolveRidges fits one shift to the ridges found: across = normal . shift. ok is false without any.
func SolveRidges(fixes []RidgeFix) (s RidgeShift, ok bool) {
	var ee, en, nn, ex, nx float64
	var dz, across []float64
	for i := range fixes {
		if f := &fixes[i]; f.OK {
			ee, en, nn = ee+f.NormalE*f.NormalE, en+f.NormalE*f.NormalN, nn+f.NormalN*f.NormalN
			ex, nx = ex+f.NormalE*f.AcrossM, nx+f.NormalN*f.AcrossM
			across = append(across, f.AcrossM)
			if finite(f.DzM) {
				dz = append(dz, f.DzM)
			}
		}
	}
	s.N = len(across)
	nan := math.NaN()
	s.EM, s.NM, s.SigmaEM, s.SigmaNM, s.ZM, s.SigmaZM, s.RMSEZM = nan, nan, nan, nan, nan, nan, nan
	if s.N == 0 {
		return s, false
	}
	s.RMSEAcrossM = RMS(across)
	if a, err := Summarize(dz); err == nil {
		s.ZM, s.RMSEZM = a.MeanM, a.RMSEM
		if a.StdM != nil {
			s.SigmaZM = *a.StdM / math.Sqrt(float64(a.N))
		}
	}
	smallest := (ee+nn)/2 - math.Hypot((ee-nn)/2, en)
	if s.N < 3 || smallest < 0.1*float64(s.N) {
		return s, true
	}
	det := ee*nn - en*en
	s.EM, s.NM, s.Horizontal = (ex*nn-nx*en)/det, (nx*ee-ex*en)/det, true
	ss := 0.0
	for i := range fixes {
		if f := &fixes[i]; f.OK {
			v := f.AcrossM - f.NormalE*s.EM - f.NormalN*s.NM
			ss += v * v
		}
	}
	s0 := math.Sqrt(ss / float64(max(s.N-2, 1)))
	s.SigmaEM, s.SigmaNM = s0*math.Sqrt(nn/det), s0*math.Sqrt(ee/det)
	return s, true
}
