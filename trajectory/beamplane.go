package trajectory

import (
	"math"
	"slices"
)

// Return is what the tests of a path against a cloud need of a point.
type Return struct {
	TimeS, EM, NM, HM float64
	AngleRad          float64 // scan angle, positive to the right, relative to nadir; NaN when unknown
}

// BeamPlane measures how thick the plane of the beams is in body axes.
//
// A line scanner sends all beams into one plane of the body: the forward
// component of the vector from sensor to point is nearly constant. It is not
// when position and attitude are taken at the wrong time. BeamPlane returns
// the mean square of that component about its median over the 95 % of returns
// nearest to it, in m², and false when fewer than 30 returns, or a twentieth of them, meet the path.
// It says nothing for a spinning scanner with wide forward angles.
//
// Source: science reference, section 11.
func BeamPlane(p *Path, returns []Return) (m2 float64, ok bool) {
	return beamPlane(p, returns, 0)
}

// BeamPlaneCost returns BeamPlane as a cost of a shift of the path's times:
// the path is in the cloud's grid and shifted by shiftS - appliedS, appliedS
// being the shift that ToPath already added.
func BeamPlaneCost(p *Path, appliedS float64, returns []Return) ShiftCost {
	sorted := slices.Clone(returns)
	slices.SortFunc(sorted, func(a, b Return) int {
		switch {
		case a.TimeS < b.TimeS:
			return -1
		case a.TimeS > b.TimeS:
			return 1
		}
		return 0
	})
	// A few thousand returns settle the minimum; the search asks a hundred times.
	const enough = 4000
	if step := len(sorted) / enough; step > 1 {
		for k := 0; k*step < len(sorted); k++ {
			sorted[k] = sorted[k*step]
		}
		sorted = sorted[:len(sorted)/step]
	}
	return func(shiftS float64) (float64, bool) { return beamPlane(p, sorted, shiftS-appliedS) }
}

func beamPlane(p *Path, returns []Return, shiftS float64) (float64, bool) {
	c := p.NewCursor()
	w := make([]float64, 0, len(returns))
	for _, r := range returns {
		o, ok := c.At(r.TimeS - shiftS)
		if !ok {
			continue
		}
		m := o.BodyToMap()
		w = append(w, m[0][0]*(r.EM-o.EM)+m[1][0]*(r.NM-o.NM)+m[2][0]*(r.HM-o.HM))
	}
	if len(w) < 30 || 20*len(w) < len(returns) {
		return 0, false
	}
	return spread(w), true
}

// spread returns the mean square about the median of the 95 % of values nearest to it. It overwrites w.
func spread(w []float64) float64 {
	med := median(w)
	for i := range w {
		w[i] = (w[i] - med) * (w[i] - med)
	}
	slices.Sort(w)
	w = w[:len(w)*95/100]
	sum := 0.0
	for _, x := range w {
		sum += x
	}
	return sum / float64(len(w))
}

// minimise refines a shift within ±half: a scan, then a parabola through the
// lowest point and its neighbours, repeated on a tenth of the width.
//
// The sigma follows from the curvature: for N returns of variance v at the
// minimum, v(s) = v + k (s-s0)²/2, sigma² = 2v/(k·N) with N taken as 100
// independent stretches, since neighbouring returns share their errors.
func minimise(cost ShiftCost, at, half float64) (d, sigma, v float64, ok bool) {
	const steps, independent = 10, 100
	centre, width := 0.0, half
	var f0, f1, f2, h float64
	for range 3 {
		best, fBest := 0, math.Inf(1)
		var f [2*steps + 1]float64
		for k := range f {
			x, good := cost(at + centre + width*float64(k-steps)/steps)
			if !good {
				return 0, 0, 0, false
			}
			if f[k] = x; x < fBest {
				best, fBest = k, x
			}
		}
		if best == 0 || best == 2*steps {
			return 0, 0, 0, false // no minimum inside
		}
		h = width / steps
		centre += h * float64(best-steps)
		f0, f1, f2 = f[best-1], f[best], f[best+1]
		if curv := f0 - 2*f1 + f2; curv > 0 {
			centre += h * (f0 - f2) / (2 * curv)
		}
		if width /= 10; f1 > 0.999*max(f0, f2) {
			break // flat at this width: the last one decides
		}
	}
	curv := (f0 - 2*f1 + f2) / (h * h)
	if !(curv > 0) {
		return 0, 0, 0, false
	}
	return centre, math.Sqrt(2 * max(f1, 1e-12) / (curv * independent)), f1, true
}
