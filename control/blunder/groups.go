package blunder

import (
	"fmt"
	"math"

	"sidelap/control"
)

// groupKey is what points surveyed in one set-up share.
type groupKey struct {
	day string
	rod float64
}

// groups looks for sets of points (day, pole) whose means stand apart: the rover's side.
func (r *run) groups() bool {
	s := &r.series
	member := map[groupKey][]int{}
	var order []groupKey
	for k, i := range s.index {
		p := &r.e.Points[i]
		g := groupKey{p.Date.Format("2006-01-02"), p.RodM}
		if len(member[g]) == 0 {
			order = append(order, g)
		}
		member[g] = append(member[g], k)
	}
	if len(order) < 2 {
		return false
	}
	within := r.withinGroups(member)
	var low, high groupKey
	lowM, highM := math.Inf(1), math.Inf(-1)
	for _, g := range order {
		if len(member[g]) < 2 {
			continue
		}
		if m := control.Median(pick(s.dz, member[g])); m < lowM {
			low, lowM = g, m
		}
		if m := control.Median(pick(s.dz, member[g])); m > highM {
			high, highM = g, m
		}
	}
	if low == high || !(highM > lowM) {
		return false
	}
	gap := highM - lowM
	se := within * math.Sqrt(1/float64(len(member[low]))+1/float64(len(member[high])))
	if gap <= max(3*se, r.limitM/2) {
		return false
	}
	off, offM := low, lowM
	if math.Abs(highM) > math.Abs(lowM) {
		off, offM = high, highM
	}
	p := make([]float64, s.n())
	var ids []string
	for _, k := range member[off] {
		p[k] = offM
		ids = append(ids, r.e.Points[s.index[k]].ID)
	}
	text := fmt.Sprintf("the %d points of %s stand %.3f m from the others: the rover's side, not the cloud", len(ids), groupName(off.day, off.rod), gap)
	if name := r.poleFor(offM, max(0.02, 2*se)); name != "" {
		text += "; " + name + " would leave as much"
	}
	r.constant = true
	r.add(Finding{ID: "B6", Title: "antenna or pole height", Severity: Serious, Text: text,
		Observed:  fmt.Sprintf("group medians %+.3f and %+.3f m, standard error of the difference %.3f m", lowM, highM, se),
		Predicted: "equal medians in all groups", ChancePct: 100 * 2 * normalTail(gap/math.Max(se, 1e-9)) * float64(len(order)*(len(order)-1)/2),
		Points: ids, DecideBy: "the pole height on the field sheet of that group, and one point shot again with another pole"}, p)
	return true
}

// withinGroups is the robust spread of the differences about their groups' medians.
func (r *run) withinGroups(member map[groupKey][]int) float64 {
	v := make([]float64, r.series.n())
	for _, ks := range member {
		m := control.Median(pick(r.series.dz, ks))
		for _, k := range ks {
			v[k] = r.series.dz[k] - m
		}
	}
	return max(control.RMS(v), 0.003)
}

func groupName(day string, rod float64) string {
	if rod > 0 {
		return fmt.Sprintf("%s with pole %.3f m", day, rod)
	}
	return day
}

// poleFor names a pole or difference of poles that would leave the value.
func (r *run) poleFor(v, tol float64) string {
	poles := r.e.PolesM
	if len(poles) == 0 {
		poles = usualPolesM
	}
	for i, p := range poles {
		if math.Abs(math.Abs(v)-p) <= tol {
			return fmt.Sprintf("a pole of %.3f m left out or doubled", p)
		}
		for _, q := range poles[:i] {
			if p != q && math.Abs(math.Abs(v)-math.Abs(p-q)) <= tol {
				return fmt.Sprintf("poles of %.3f and %.3f m exchanged", p, q)
			}
		}
	}
	return ""
}
