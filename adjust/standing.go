package adjust

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/mat"

	"sidelap/overlap"
)

// Standing is how high a strip lies against those it is tied to by overlaps, whatever the reason: least squares through the median
// separations of all pairs on level ground, less the median of the strips that are tied together.
type Standing struct {
	Strip     int // index into Survey.Strips
	HeightM   float64
	SigmaM    float64 // from the standard errors of the medians, before any loop; 0 only for the strip that is the median itself
	ResidualM float64 // the largest that a height for each strip leaves of a median of its pairs: 0 without loops
}

// minStandingM and minStandingT are when strips are said to stand at different heights. Our proposal: half of what a delivery of good hard ground allows.
const (
	minStandingM = 0.01
	minStandingT = 3
)

// standings fits a height to each strip. Strips without a pair of at least minRows used cells are left out.
func standings(strips int, pairs []overlap.Pair) []Standing {
	var used []*overlap.Pair
	place := make([]int, strips)
	for i := range place {
		place[i] = -1
	}
	var list []Standing
	for i := range pairs {
		p := &pairs[i]
		if p.Used.Cells < minRows || math.IsNaN(p.Used.MedianM) || math.IsNaN(p.MedianSigmaM) {
			continue
		}
		used = append(used, p)
		for _, s := range [2]int{p.A, p.B} {
			if place[s] < 0 {
				place[s] = len(list)
				list = append(list, Standing{Strip: s})
			}
		}
	}
	if len(used) == 0 {
		return nil
	}
	n := len(list)
	normal, right := mat.NewSymDense(n, nil), mat.NewVecDense(n, nil)
	for i := range n {
		normal.SetSym(i, i, 1e-3) // the common height of a group is free
	}
	for _, p := range used {
		w := 1 / (p.MedianSigmaM*p.MedianSigmaM + minSigmaM*minSigmaM)
		a, b := place[p.A], place[p.B]
		normal.SetSym(a, a, normal.At(a, a)+w)
		normal.SetSym(b, b, normal.At(b, b)+w)
		normal.SetSym(a, b, normal.At(a, b)-w)
		right.SetVec(a, right.AtVec(a)-w*p.Used.MedianM)
		right.SetVec(b, right.AtVec(b)+w*p.Used.MedianM)
	}
	var chol mat.Cholesky
	var x mat.VecDense
	if !chol.Factorize(normal) || chol.SolveVecTo(&x, right) != nil {
		return nil
	}
	inv := mat.NewSymDense(n, nil)
	if chol.InverseTo(inv) != nil {
		return nil
	}
	for _, p := range used {
		a, b := place[p.A], place[p.B]
		left := math.Abs(p.Used.MedianM - (x.AtVec(b) - x.AtVec(a)))
		list[a].ResidualM, list[b].ResidualM = math.Max(list[a].ResidualM, left), math.Max(list[b].ResidualM, left)
	}
	againstGroups(list, used, place, &x, inv)
	slices.SortFunc(list, func(a, b Standing) int { return cmp.Compare(a.Strip, b.Strip) })
	return list
}

// againstGroups counts heights from the median of the strips that are tied together, with the standard deviation against the strip at the median or those to both sides of it.
func againstGroups(list []Standing, used []*overlap.Pair, place []int, x *mat.VecDense, inv *mat.SymDense) {
	group := make([]int, len(list))
	for i := range group {
		group[i] = i
	}
	for range list { // at most as many rounds as strips
		for _, p := range used {
			a, b := place[p.A], place[p.B]
			g := min(group[a], group[b])
			group[a], group[b] = g, g
		}
	}
	for i := range list {
		var heights []float64
		var members []int
		for k := range list {
			if group[k] == group[i] {
				heights, members = append(heights, x.AtVec(k)), append(members, k)
			}
		}
		list[i].HeightM = x.AtVec(i) - median(heights)
		v := mat.NewVecDense(len(list), nil)
		v.SetVec(i, 1)
		middle := middleOf(heights)
		for _, m := range middle {
			at := members[m]
			v.SetVec(at, v.AtVec(at)-1/float64(len(middle)))
		}
		list[i].SigmaM = math.Sqrt(math.Max(0, mat.Inner(v, inv, v)))
	}
}

// standing says which strips stand higher or lower than the others, where no height shifts are named as a cause.
func (d *Diagnosis) standing(s *overlap.Survey) []Finding {
	for _, c := range d.Causes {
		if c.Kind == StripHeight {
			return nil
		}
	}
	var out []Standing
	for _, h := range d.Standings {
		if math.Abs(h.HeightM) >= minStandingM && h.SigmaM > 0 && math.Abs(h.HeightM) >= minStandingT*h.SigmaM {
			out = append(out, h)
		}
	}
	if len(out) == 0 {
		return nil
	}
	slices.SortStableFunc(out, func(a, b Standing) int { return cmp.Compare(math.Abs(b.HeightM), math.Abs(a.HeightM)) })
	f := Finding{ID: "strip-standing", Severity: Note, DecideBy: "the causes above; without one, a crossing strip or control points in each strip"}
	var parts []string
	left := 0.0
	for i, h := range out {
		f.Strips = append(f.Strips, s.Strips[h.Strip].ID)
		left = math.Max(left, h.ResidualM)
		if i < 6 {
			parts = append(parts, fmt.Sprintf("%s by %+.3f ± %.3f m", s.Strips[h.Strip].ID, h.HeightM, h.SigmaM))
		}
	}
	more := ""
	if n := len(out) - len(parts); n > 0 {
		more = fmt.Sprintf(" and %d more", n)
	}
	f.Text = fmt.Sprintf("As they lie, strips stand at different heights against the median of the strips they overlap: %s%s.", strings.Join(parts, ", "), more)
	f.Evidence = fmt.Sprintf("median separations of all pairs on level ground; one height for each strip leaves up to %.3f m of them. This is what is seen, not why", left)
	return []Finding{f}
}
