package fieldcheck

import "math"

// levelM returns the median height of the path on a strip and how much it
// changes, in the heights of the path; false without a path.
func (s *shot) levelM() (median, spread float64, ok bool) {
	var h []float64
	for _, o := range s.inner() {
		h = append(h, o.HM)
	}
	if len(h) < 3 {
		return 0, 0, false
	}
	return quantile(h, 0.5), quantile(h, 0.98) - quantile(h, 0.02), true
}

// heightSpread returns how much the height of a strip changes, in percent of
// the height above ground: over the ground or in level, whichever is less, since
// a level flight over relief and one that follows it are both flown as they
// should be. A level flight that comes very near to the ground in places is not.
func (r *runner) heightSpread(s *shot) (float64, bool) {
	if s.HeightAboveGroundM <= 0 {
		return 0, false
	}
	over := 100 * s.HeightSpreadM / s.HeightAboveGroundM
	_, spread, ok := s.levelM()
	level := 100 * spread / s.HeightAboveGroundM
	switch {
	case !ok:
		return over, over > 0
	case over == 0:
		return level, level <= r.lim.HeightSpreadPct // may follow the ground, which is not known
	case over > r.lim.HeightReliefPct:
		return over, true
	}
	return min(over, level), true
}

// heightApart returns how far the height of a strip is from the nearest of all
// others, in percent: above ground, or in level, whichever is less. Blocks at
// two heights are two groups that are alike.
func (r *runner) heightApart(s *shot) (float64, bool) {
	if s.HeightAboveGroundM <= 0 {
		return 0, false
	}
	best := math.Inf(1)
	h, _, ok := s.levelM()
	for i := range r.shots {
		o := &r.shots[i]
		if o == s || o.HeightAboveGroundM <= 0 {
			continue
		}
		best = min(best, math.Abs(o.HeightAboveGroundM-s.HeightAboveGroundM))
		if k, _, okToo := o.levelM(); ok && okToo {
			best = min(best, math.Abs(k-h))
		}
	}
	return 100 * best / s.HeightAboveGroundM, !math.IsInf(best, 1)
}
