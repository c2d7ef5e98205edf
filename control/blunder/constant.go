package blunder

import (
	"fmt"
	"math"

	"sidelap/control"
)

// candidate is a blunder that predicts a height difference for each point.
type candidate struct {
	name   string
	valueM float64
	at     []float64 // per point of the series; nil = valueM everywhere
}

// matchAll tests candidates against the median and reports those within tolerance. rangeM is the largest
// shift that the rule could have met: chance is the share of it that the windows cover.
func (r *run) matchAll(id, title, decide string, cands []candidate, tolM, rangeM float64, severity Severity, caution string) int {
	if len(cands) == 0 || !r.shifted() {
		return 0
	}
	s := &r.series
	var values []float64
	for _, c := range cands {
		values = append(values, c.valueM)
	}
	luck := 100 * unionM(values, tolM, rangeM) / (2 * rangeM)
	found := 0
	best, bestGap := -1, math.Inf(1)
	for k, c := range cands {
		if gap := math.Abs(s.med - c.valueM); gap <= tolM && gap < bestGap {
			best, bestGap = k, gap
		}
	}
	if best < 0 {
		return 0
	}
	c := cands[best]
	also := ""
	for k, o := range cands {
		if k != best && math.Abs(s.med-o.valueM) <= tolM {
			found++
			also += fmt.Sprintf("; also %s (%+.3f m)", o.name, o.valueM)
		}
	}
	p := c.at
	if p == nil {
		p = s.same(c.valueM)
	}
	r.constant = true
	r.add(Finding{ID: id, Title: title, Severity: severity,
		Text:      fmt.Sprintf("cloud %s the survey by %.3f m at all points: %s would leave %+.3f m%s", aboveBelow(s.med), math.Abs(s.med), c.name, c.valueM, also),
		Observed:  fmt.Sprintf("median %+.3f m, spread %.3f m, n %d", s.med, s.sr, s.n()),
		Predicted: fmt.Sprintf("%+.3f m within %.3f m", c.valueM, tolM),
		ChancePct: luck, DecideBy: decide, Caution: caution}, p)
	return found + 1
}

func aboveBelow(v float64) string {
	if v > 0 {
		return "above"
	}
	return "below"
}

// geoid is rule B1: heights over the ellipsoid against heights over the geoid.
func (r *run) geoid() {
	s := &r.series
	if s.n() < 3 {
		r.needs("B1", "three check points with a height in the cloud")
		return
	}
	r.ran("B1")
	const decide = "one benchmark with a published height, and the height system of cloud and list in writing"
	const title = "ellipsoidal and geoid heights mixed"
	switch {
	case r.e.GeoidGrid != nil:
		r.geoidGrid(title, decide)
	case r.e.GeoidM != 0:
		n := r.e.GeoidM
		r.matchAll("B1", title, decide, geoidCandidates(n, nil), 1, 110, Serious,
			"separation given as one coarse number; a geoid grid decides")
	case r.shifted() && math.Abs(s.med) > 3 && math.Abs(s.med) < 110 && s.sr < 0.5:
		r.constant = true
		r.add(Finding{ID: "B1", Title: title, Severity: Serious,
			Text:      fmt.Sprintf("a constant %+.2f m looks like a geoid separation; give the separation of the site or a geoid grid", s.med),
			Observed:  fmt.Sprintf("median %+.3f m, spread %.3f m", s.med, s.sr),
			Predicted: "the separation at the site, not known here", ChancePct: math.NaN(), DecideBy: decide}, s.same(s.med))
	}
	r.geoidVersions(decide)
}

// geoidCandidates are +N (cloud left ellipsoidal), -N (survey ellipsoidal) and +2N (wrong sign in the cloud), -2N (in the
// list).
func geoidCandidates(n float64, at []float64) []candidate {
	scaled := func(f float64) []float64 {
		if at == nil {
			return nil
		}
		out := make([]float64, len(at))
		for i := range out {
			out[i] = f * at[i]
		}
		return out
	}
	return []candidate{
		{"a cloud left in ellipsoidal heights (+N)", n, scaled(1)},
		{"a survey in ellipsoidal heights, or the separation taken off the cloud twice (-N)", -n, scaled(-1)},
		{"the separation applied with the wrong sign to the cloud (+2N)", 2 * n, scaled(2)},
		{"the separation applied with the wrong sign to the survey (-2N)", -2 * n, scaled(-2)},
	}
}

// geoidGrid tests the separation at each point; where it varies enough, the regression of dz on it is proof.
func (r *run) geoidGrid(title, decide string) {
	s := &r.series
	at := make([]float64, s.n())
	for k, i := range s.index {
		v, ok := r.e.GeoidGrid(r.e.Points[i].EM, r.e.Points[i].NM)
		if !ok {
			r.needs("B1", "a geoid grid that covers the points")
			return
		}
		at[k] = v
	}
	caution := ""
	if slope, sigma, ok := regress(at, s.dz); ok && (control.Quantile(at, 1)-control.Quantile(at, 0)) > 3*max(s.sr, 0.001) {
		caution = fmt.Sprintf("slope of dz on the separation %.2f +- %.2f (1, -1 or 2 where the separation is the cause)", slope, sigma)
	}
	r.matchAll("B1", title, decide, geoidCandidates(control.Median(at), at), 0.10, 110, Serious, caution)
}

// geoidVersions tests a mix of two models.
func (r *run) geoidVersions(decide string) {
	if r.e.GeoidGrid == nil || r.e.GeoidOther == nil {
		return
	}
	s := &r.series
	diff, minus := make([]float64, s.n()), make([]float64, s.n())
	for k, i := range s.index {
		a, okA := r.e.GeoidGrid(r.e.Points[i].EM, r.e.Points[i].NM)
		b, okB := r.e.GeoidOther(r.e.Points[i].EM, r.e.Points[i].NM)
		if !okA || !okB {
			return
		}
		diff[k], minus[k] = a-b, b-a
	}
	m := control.Median(diff)
	if math.Abs(m) < 0.03 {
		return
	}
	r.matchAll("B1", "two geoid models mixed", decide, []candidate{
		{"the cloud reduced with the other model", m, diff}, {"the survey reduced with the other model", -m, minus}},
		max(0.02, 2*s.seM()), 1, Serious, "")
}

// regress is the least squares slope of y on x and its standard deviation.
func regress(x, y []float64) (slope, sigma float64, ok bool) {
	n := float64(len(x))
	if n < 4 {
		return 0, 0, false
	}
	var mx, my, xx, xy, ss float64
	for i := range x {
		mx, my = mx+x[i]/n, my+y[i]/n
	}
	for i := range x {
		xx += (x[i] - mx) * (x[i] - mx)
		xy += (x[i] - mx) * (y[i] - my)
	}
	if xx == 0 {
		return 0, 0, false
	}
	slope = xy / xx
	for i := range x {
		v := y[i] - my - slope*(x[i]-mx)
		ss += v * v
	}
	return slope, math.Sqrt(ss / (n - 2) / xx), true
}

// usualPolesM are tried when the field sheet gives none. Source: common practice.
var usualPolesM = []float64{1.5, 1.8, 2.0}

// heights is rule B6: antenna and pole heights.
func (r *run) heights() {
	s := &r.series
	if s.n() < 3 {
		r.needs("B6", "three check points with a height in the cloud")
		return
	}
	r.ran("B6")
	if r.groups() {
		return
	}
	var cands []candidate
	pair := func(name string, v float64) {
		cands = append(cands, candidate{name + " left out", -v, nil}, candidate{name + " applied twice", v, nil})
	}
	if a := r.e.AntennaM; a > 0 {
		pair(fmt.Sprintf("the base antenna height of %.3f m", a), a)
	}
	if a := r.e.AntennaOffsetM; a > 0 {
		pair(fmt.Sprintf("the offset of %.3f m from antenna reference point to phase centre", a), a)
	}
	poles, listed := r.e.PolesM, true
	if len(poles) == 0 {
		poles, listed = usualPolesM, false
	}
	for i, p := range poles {
		pair(fmt.Sprintf("the rover pole of %.3f m", p), p)
		for _, q := range poles[:i] {
			if p != q {
				cands = append(cands, candidate{fmt.Sprintf("a pole of %.3f m entered as %.3f m", p, q), q - p, nil},
					candidate{fmt.Sprintf("a pole of %.3f m entered as %.3f m", q, p), p - q, nil})
			}
		}
	}
	caution := ""
	if !listed {
		caution = "usual pole heights were tried: a height written on the field sheet is worth more"
	}
	if control.TestIndependence(r.points()).Sources[control.SourceBase] == s.n() {
		caution += "; all check points come from the base itself: an error of the base antenna shows only if cloud and survey used different heights"
	}
	r.matchAll("B6", "antenna or pole height", "the field sheet, the base log's antenna line, and one mark not surveyed from this base",
		cands, max(0.02, 2*s.seM()), 3, Serious, caution)
}

// points returns the surveyed points of the series.
func (r *run) points() []control.Point {
	out := make([]control.Point, 0, r.series.n())
	for _, i := range r.series.index {
		out = append(out, r.e.Points[i].Point)
	}
	return out
}

func pick(v []float64, index []int) []float64 {
	out := make([]float64, len(index))
	for i, k := range index {
		out[i] = v[k]
	}
	return out
}

func normalTail(z float64) float64 { return 0.5 * math.Erfc(z/math.Sqrt2) }
