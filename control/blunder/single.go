package blunder

import (
	"fmt"
	"math"
	"strings"

	"sidelap/control"
)

// outliers returns the points of the series beyond 3 robust sigma and the limit.
func (r *run) outliers() []int {
	s := &r.series
	var out []int
	for k, d := range s.dz {
		if math.Abs(d-s.med) > max(3*max(s.sr, 0.001), r.limitM) {
			out = append(out, k)
		}
	}
	return out
}

// sites is rule B13: single outliers on edges, slopes and places without points.
func (r *run) sites() {
	s := &r.series
	if s.n() < 3 {
		r.needs("B13", "three check points with a height in the cloud")
		return
	}
	r.ran("B13")
	if !r.moved {
		r.slopes()
	}
	p := make([]float64, s.n())
	var ids, why []string
	for _, k := range r.outliers() {
		q := &r.e.Points[s.index[k]]
		reason := siteReason(q, s.dz[k]-s.med)
		if reason == "" || r.byShift(q, s.dz[k]-s.med) {
			continue
		}
		p[k] = s.dz[k] - s.med
		ids = append(ids, q.ID)
		why = append(why, fmt.Sprintf("%s %+.3f m (%s)", q.ID, s.dz[k], reason))
	}
	if len(ids) == 0 {
		return
	}
	r.add(Finding{ID: "B13", Title: "edge, slope or thin place", Severity: Serious,
		Text:      fmt.Sprintf("%d outliers stand where a height cannot be compared well: %s", len(ids), strings.Join(why, "; ")),
		Observed:  fmt.Sprintf("more than %.3f m from the median", max(3*s.sr, r.limitM)),
		Predicted: "slope x horizontal error (10 % and 0.3 m are 3 cm), or the height of the kerb (about 0.15 m)", ChancePct: math.NaN(),
		Points: ids, DecideBy: "photographs of the points, and new shots 1 m clear of the edge"}, p)
}

// byShift reports whether the shift in plan that the targets show leaves the deviation on the slope at the point.
func (r *run) byShift(p *control.PointResult, devM float64) bool {
	if !r.moved || !finite(p.GradE) || !finite(p.GradN) {
		return false
	}
	left := devM + p.GradE*r.planE + p.GradN*r.planN
	return math.Abs(left) <= max(3*max(r.series.sr, 0.001), r.limitM, 0.25*math.Abs(devM))
}

// siteReason names what is wrong with the place of a point, if it can leave the deviation: a step its own
// height, a slope what 3 m of horizontal error make of it.
func siteReason(p *control.PointResult, devM float64) string {
	a := math.Abs(devM) - 0.1
	switch {
	case p.Has(control.FlagStep) && a <= 1.5*p.StepM:
		return fmt.Sprintf("step of %.2f m within 1 m", p.StepM)
	case p.Has(control.FlagSteep) && a <= 0.03*p.SlopePct:
		return fmt.Sprintf("slope %.0f %%", p.SlopePct)
	case p.Has(control.FlagSparse):
		return fmt.Sprintf("%d returns within 0.5 m", p.Returns)
	}
	return ""
}

// slopes fits one horizontal shift to the differences on sloping sites: dz = c - gE tE - gN tN, the
// cloud being shifted by t.
func (r *run) slopes() {
	s := &r.series
	var ge, gn, dz []float64
	var members []int
	for k, i := range s.index {
		if p := &r.e.Points[i]; finite(p.GradE) && finite(p.GradN) {
			ge, gn, dz = append(ge, p.GradE), append(gn, p.GradN), append(dz, s.dz[k])
			members = append(members, k)
		}
	}
	t, ok := fitSlopes(ge, gn, dz)
	if !ok || math.Hypot(t.e, t.n) < 0.05 || t.p >= 0.01 {
		return
	}
	for _, drop := range strongestOf(dz) { // one wrong point on a slope must not make a shift
		g, ok := fitSlopes(without(ge, drop), without(gn, drop), without(dz, drop))
		if !ok || g.p >= 0.01 {
			return
		}
	}
	p := make([]float64, s.n())
	for j, k := range members {
		p[k] = t.c - ge[j]*t.e - gn[j]*t.n
	}
	r.add(Finding{ID: "B13", Title: "horizontal shift on slopes", Severity: Serious,
		Text:     fmt.Sprintf("differences follow the slopes as if the cloud were shifted by %+.2f m east and %+.2f m north (+- %.2f)", t.e, t.n, t.sigma),
		Observed: fmt.Sprintf("F test p %.2g over %d points", t.p, len(dz)), Predicted: "dz = -slope x shift", ChancePct: 100 * t.p,
		DecideBy: "horizontal targets, or roof ridges in two directions"}, p)
}

// strongestOf is strongest for a list of differences.
func strongestOf(dz []float64) []int {
	index := make([]int, len(dz))
	for i := range index {
		index[i] = i
	}
	r := run{series: series{dz: dz, med: control.Median(dz)}}
	return r.strongest(index)
}

func without(v []float64, k int) []float64 {
	return append(append([]float64(nil), v[:k]...), v[k+1:]...)
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

// digits is rule B14: a single outlier that transposed or mistyped digits explain.
func (r *run) digits() {
	s := &r.series
	if s.n() < 5 {
		r.needs("B14", "five check points with a height in the cloud")
		return
	}
	r.ran("B14")
	p := make([]float64, s.n())
	var ids, why []string
	luck := 0.0
	for _, k := range r.outliers() {
		q := &r.e.Points[s.index[k]]
		if siteReason(q, s.dz[k]-s.med) != "" || q.Has(control.FlagRough) {
			continue
		}
		value, text, chance := digitError(s.dz[k]-s.med, s.sr, q.ZM, placeM(q))
		if text == "" {
			continue
		}
		p[k] = value
		ids = append(ids, q.ID)
		why = append(why, fmt.Sprintf("%s %+.3f m: %s", q.ID, s.dz[k], text))
		luck = max(luck, chance)
	}
	if len(ids) == 0 || len(ids) > max(1, s.n()/5) {
		return
	}
	severity := Serious
	if luck > mostLuckPct {
		severity = Notice
	}
	r.add(Finding{ID: "B14", Title: "digits", Severity: severity,
		Text:      fmt.Sprintf("single outliers as digits would leave them: %s", strings.Join(why, "; ")),
		Observed:  "single points, others fine",
		Predicted: "9 k 10^j for two digits transposed, k 10^j for one wrong digit", ChancePct: luck, Points: ids,
		DecideBy: "the observation in the collector's raw file"}, p)
}

// mostLuckPct is the chance of a match by luck above which digits are a hint, no warning: our proposal.
const mostLuckPct = 20

// placeM is what an error of 5 cm in plan adds on the slope of the place: our proposal.
func placeM(p *control.PointResult) float64 {
	if !(p.SlopePct > 0) {
		return 0
	}
	return 0.05 * p.SlopePct / 100
}

// digitError explains a deviation by digits. Two neighbouring ones transposed leave 9 k 10^j: taken when the deviation lies within twice
// the spread, and what the place adds, of it, and exchanging two neighbouring digits of the height as written leaves just that; so the
// spread may be up to two units 10^j. One wrong digit leaves k 10^j: nothing written guards it against chance, so it has to lie within
// twice the spread alone, and the spread has to be under 0.15 units. From 10^3 down to 1 cm and 10 cm. The chance of the first counts
// four pairs of neighbours, those of a height with three digits before the point.
func digitError(dev, sr, zM, placeM float64) (value float64, text string, chancePct float64) {
	sr = max(sr, 0.002)
	a, tol := math.Abs(dev), 2*sr+placeM
	for j := 3; j >= -2; j-- {
		unit := math.Pow10(j)
		if sr >= 2*unit {
			break
		}
		k := math.Round(a / (9 * unit))
		if k >= 1 && k <= 9 && math.Abs(a-9*k*unit) <= tol && transposable(zM, math.Copysign(k, dev), unit) {
			return math.Copysign(9*k*unit, dev), fmt.Sprintf("two neighbouring digits transposed? (%.2f m = 9 x %.3g)", 9*k*unit, k*unit), min(100, 100*4*2*tol/max(10*unit, a))
		}
	}
	for j := 3; j >= -1; j-- {
		unit := math.Pow10(j)
		if sr >= 0.15*unit {
			break
		}
		k := math.Round(a / unit)
		if k >= 1 && k <= 9 && math.Abs(a-k*unit) <= 2*sr {
			return math.Copysign(k*unit, dev), fmt.Sprintf("one wrong digit? (%.3g m)", k*unit), min(100, 100*4*sr/unit)
		}
	}
	return 0, "", 0
}

// transposable reports whether exchanging the digits at 10^j (unit) and 10^(j+1) of the height as written changes it by 9 k 10^j, k with
// its sign: dz = cloud - written, so the true height is written + dev.
func transposable(zM, k, unit float64) bool {
	z := math.Abs(zM) + 1e-6
	low := math.Mod(math.Floor(z/unit+1e-6), 10)
	high := math.Mod(math.Floor(z/(10*unit)+1e-6), 10)
	if zM < 0 {
		low, high = high, low
	}
	return low-high == k // after the exchange minus before is 9 (low - high) 10^j
}
