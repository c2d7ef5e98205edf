package overlap

import (
	"math"
	"runtime"
	"slices"
	"sync"
)

// Pairs compares the lines that cover common cells, by A, then B.
func (s *Survey) Pairs(o PairOptions) []Pair {
	if o.RoughLimitM == 0 {
		o.RoughLimitM = s.roughLimitM
	}
	meet := s.meetings()
	out := make([]Pair, len(meet))
	next := make(chan int)
	var wg sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), len(meet)) {
		wg.Go(func() {
			for i := range next {
				out[i] = s.pair(meet[i], o)
			}
		})
	}
	for i := range meet {
		next <- i
	}
	close(next)
	wg.Wait()
	return slices.DeleteFunc(out, func(p Pair) bool { return p.CommonCells < o.MinCells })
}

func (s *Survey) pair(m meeting, o PairOptions) Pair {
	a, b := &s.Strips[m.a], &s.Strips[m.b]
	p := Pair{A: int(m.a), B: int(m.b), IDA: a.ID, IDB: b.ID, AngleRad: turnBetween(a.HeadingRad, b.HeadingRad)}
	p.Crossing = p.AngleRad > 20*degree && p.AngleRad < 160*degree
	cell := s.Options.CellM
	rowsA, rowsB := a.rows(m.lo, m.hi), b.rows(m.lo, m.hi)
	first, last := 0, 0 // growing slices would take a quarter more than they hold, and leave twice that behind
	join(rowsA, rowsB, func(x, y *Facet) {
		if x.First > 0 && y.First > 0 {
			first++
		}
		if x.N > 0 && y.N > 0 {
			last++
		}
	})
	common := make([]cellID, 0, first)
	p.Cells = make([]PairCell, 0, last)
	join(rowsA, rowsB, func(x, y *Facet) {
		if x.First > 0 && y.First > 0 {
			common = append(common, cellID{x.Col, x.Row})
		}
		if x.N > 0 && y.N > 0 {
			p.Cells = append(p.Cells, compareFacets(x, y, o))
		}
	})
	p.CommonCells = len(common)
	if p.CommonCells < o.MinCells {
		return p
	}
	p.OverlapM2 = float64(len(common)) * cell * cell
	p.Regions = regions(common, cell)
	s.sidelap(&p, a, b, common)
	p.describe(a.axis, o)
	return p
}

// compareFacets compares two planes of one cell.
func compareFacets(a, b *Facet, o PairOptions) PairCell {
	c := PairCell{
		Col: a.Col, Row: a.Row, NA: a.N, NB: b.N, TimeAS: a.TimeS, TimeBS: b.TimeS,
		AngleA: a.AngleRad, AngleB: b.AngleRad, RoughAM: a.RoughM, RoughBM: b.RoughM,
		ZAM: a.ZM, ZBM: b.ZM, DzM: math.NaN(), SigmaM: math.NaN(), SlopeE: math.NaN(), SlopeN: math.NaN(),
	}
	var ok bool
	c.EM, c.NM, ok = commonPlace(a, b)
	if !ok {
		c.EM, c.NM = (a.EM+b.EM)/2, (a.NM+b.NM)/2
		c.Flag = Thin
		return c
	}
	c.ZAM, c.ZBM = a.At(c.EM, c.NM), b.At(c.EM, c.NM)
	c.DzM = c.ZBM - c.ZAM
	c.SlopeE, c.SlopeN = (a.SlopeE+b.SlopeE)/2, (a.SlopeN+b.SlopeN)/2
	if a.N < int32(o.MinPoints) || b.N < int32(o.MinPoints) {
		c.Flag |= Thin
	}
	if math.Atan(math.Hypot(c.SlopeE, c.SlopeN)) > o.MaxSlopeRad {
		c.Flag |= Steep
	}
	if a.RoughM > o.RoughLimitM || b.RoughM > o.RoughLimitM {
		c.Flag |= Rough
	}
	if max(a.mahalanobis2(c.EM, c.NM), b.mahalanobis2(c.EM, c.NM)) > maxExtrapolation2 {
		c.Flag |= Extrapolated
	}
	va, vb := residualVar(a), residualVar(b)
	c.SigmaM = math.Sqrt(va*a.Leverage(c.EM, c.NM) + vb*b.Leverage(c.EM, c.NM))
	tilt := math.Atan(math.Hypot(b.SlopeE-a.SlopeE, b.SlopeN-a.SlopeN))
	if tilt > max(minDisagree, 4*math.Sqrt(va*slopeVar(a)+vb*slopeVar(b))) {
		c.Flag |= Disagree
	}
	return c
}

// maxExtrapolation2 is the squared distance of the common place from the mean
// of a strip's points, in standard deviations of their places, up to which it
// is among them. The corner of an evenly filled cell has 6.
const maxExtrapolation2 = 4

// minDisagree is the angle between two planes that measurement noise may leave
// on any surface: 5 deg. Rejection limits of plane correspondences are 5-10 deg
// by common practice.
const minDisagree = 5 * degree

// residualVar is the variance of a plane's residuals, with a floor of 0.1 mm so
// that exact data do not claim an exact height.
func residualVar(f *Facet) float64 {
	r := f.RoughM
	if math.IsNaN(r) {
		return math.NaN()
	}
	return max(r*r, 1e-8)
}

// slopeVar is the sum of the variances of the two slopes in units of the
// residual variance.
func slopeVar(f *Facet) float64 {
	return (f.VarE + f.VarN) / (f.VarE*f.VarN - f.CovEN*f.CovEN) / float64(f.N)
}

// describe fills the statistics of a pair.
func (p *Pair) describe(axis frame, o PairOptions) {
	flagIsolated(p.Cells)
	free := 0
	for i := range p.Cells {
		if p.Cells[i].Flag == 0 {
			free++
		}
	}
	used, all := make([]float64, 0, free), make([]float64, 0, len(p.Cells))
	cells := make([]PairCell, 0, free)
	for i := range p.Cells {
		c := &p.Cells[i]
		for k := range p.Flagged {
			if c.Flag&(1<<k) != 0 {
				p.Flagged[k]++
			}
		}
		if !math.IsNaN(c.DzM) {
			all = append(all, c.DzM)
		}
		if c.Flag == 0 {
			used = append(used, c.DzM)
			cells = append(cells, *c)
		}
	}
	p.Used, p.All = Describe(used, o.LimitM), Describe(all, o.LimitM)
	p.MedianSigmaM = medianSigma(cells)
	p.Trend = fitTrend(cells, axis)
	p.Shift = FitShift(p.Cells, o.ShiftSigmaM)
}

// Separation describes all pairs together: their cells without a flag, or, with
// flagged set, all that have two planes.
func Separation(pairs []Pair, limitM float64, flagged bool) Stats {
	var v []float64
	for i := range pairs {
		for k := range pairs[i].Cells {
			if c := &pairs[i].Cells[k]; flagged || c.Flag == 0 {
				v = append(v, c.DzM)
			}
		}
	}
	return Describe(v, limitM)
}

// commonPlace returns the place at which the heights of two planes are known
// best together: the minimum of the sum of their leverages,
// (Ka + Kb)^-1 (Ka ca + Kb cb) with K = C^-1 / N. ok is false without two planes.
func commonPlace(a, b *Facet) (eM, nM float64, ok bool) {
	if !a.Plane || !b.Plane {
		return math.NaN(), math.NaN(), false
	}
	kee, ken, knn := 0.0, 0.0, 0.0
	var re, rn float64
	for _, f := range [2]*Facet{a, b} {
		w := 1 / ((f.VarE*f.VarN - f.CovEN*f.CovEN) * float64(f.N))
		ee, en, nn := w*f.VarN, -w*f.CovEN, w*f.VarE
		dE, dN := f.EM-a.EM, f.NM-a.NM // about a's mean, for the digits
		kee, ken, knn = kee+ee, ken+en, knn+nn
		re += ee*dE + en*dN
		rn += en*dE + nn*dN
	}
	det := kee*knn - ken*ken
	return a.EM + (knn*re-ken*rn)/det, a.NM + (kee*rn-ken*re)/det, true
}
