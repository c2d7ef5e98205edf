package adjust

import (
	"cmp"
	"math"
	"slices"
)

// tried is how many of the best groups by their sum of squares are put to the test by blocks of ground in each round.
const tried = 6

// choose looks for the smallest model from three starts: what the diagnosis names and kinds of the whole flight before those of single strips; the
// diagnosis and single strips; single strips alone. Three angles thereby stand against three shifts for each strip that mimic them. Of the three results the smallest
// is taken that held-out ground cannot tell from the best.
func (e *estimation) choose(named groupSet) groupSet {
	var models []groupSet
	full := e.grow(e.grow(named, globalGroup), stripGroup)
	models = append(models, e.prune(e.grow(full, globalGroup)))
	models = append(models, e.prune(e.grow(named, stripGroup)))
	if len(named) > 0 {
		models = append(models, e.prune(e.grow(nil, stripGroup)))
	}
	scores := make([]*fitScore, len(models))
	best := 0
	for i, m := range models {
		scores[i] = e.p.score(e.p.columnsOf(m))
		if scores[i].squares < scores[best].squares {
			best = i
		}
	}
	chosen := best
	for i := range models {
		if len(scores[i].cols) >= len(scores[chosen].cols) || !scores[i].ok {
			continue
		}
		if sum, se := differenceOf(e.p.blockSquares(scores[i]), e.p.blockSquares(scores[best])); sum <= math.Max(se, alikeSquares*scores[best].squares) {
			chosen = i
		}
	}
	return models[chosen]
}

// alikeSquares is the share of the held-out squares by which a smaller model may be worse: a fiftieth of the root mean square, too little to
// pay for more parameters with, however significant. Our proposal.
const alikeSquares = 0.04

func globalGroup(g *fitGroup) bool {
	return g.strip < 0 && g.kind != RangeOffset && g.kind != LeverZ
}

func stripGroup(g *fitGroup) bool { return g.strip >= 0 }

// grow adds, one after the other, the group of parameters that improves held-out ground most for its size, as long as the
// improvement is more than MinZ of its standard errors and moves points by what matters.
func (e *estimation) grow(m groupSet, among func(*fitGroup) bool) groupSet {
	cur := e.p.score(e.p.columnsOf(m))
	if !cur.ok {
		m, cur = groupSet{}, e.p.score(nil)
	}
	m = slices.Clone(m)
	for range 3*len(e.s.Lines()) + int(globalKinds) {
		next := e.bestStep(m, cur, among)
		if next < 0 {
			break
		}
		m = append(m, next)
		cur = e.p.score(e.p.columnsOf(m))
	}
	return m
}

type step struct {
	group int
	gain  float64
	score *fitScore
}

func (e *estimation) bestStep(m groupSet, cur *fitScore, among func(*fitGroup) bool) int {
	unit := cur.squares / math.Max(float64(e.p.used-len(cur.cols)), 1) // square of one cell
	var steps []step
	for g := range e.p.groups {
		grp := &e.p.groups[g]
		if !among(grp) || slices.Contains(m, g) || !e.o.Splines && grp.knots > 2 {
			continue
		}
		cols := e.p.columnsOf(append(slices.Clone(m), g))
		more := len(cols) - len(cur.cols)
		if more == 0 {
			continue
		}
		s := e.p.score(cols)
		gain := cur.squares - s.squares - 2*unit*float64(more)
		if s.ok && gain > 0 {
			steps = append(steps, step{g, gain, s})
		}
	}
	slices.SortStableFunc(steps, func(a, b step) int { return cmp.Compare(b.gain, a.gain) })
	for i := len(steps) - 1; i > 0; i-- { // equal to half a per cent: what is usual before what is rare
		if a, b := e.p.groups[steps[i-1].group], e.p.groups[steps[i].group]; steps[i].gain > 0.995*steps[i-1].gain && b.kind < a.kind && len(b.cols) <= len(a.cols) {
			steps[i-1], steps[i] = steps[i], steps[i-1]
		}
	}
	for _, s := range steps[:min(tried, len(steps))] {
		sum, se := differenceOf(e.p.blockSquares(cur), e.p.blockSquares(s.score))
		if sum < e.o.MinZ*se || !e.relevant(m, s.group) {
			continue
		}
		return s.group
	}
	return -1
}

// relevant reports whether a group moves points of its strip by what matters.
func (e *estimation) relevant(m groupSet, g int) bool {
	before := e.p.columnsOf(m)
	after := e.p.columnsOf(append(slices.Clone(m), g))
	x, _, ok := e.p.solve(after, -1)
	if !ok {
		return false
	}
	for c := range x { // what the group itself does
		if slices.Contains(before, c) || !slices.Contains(e.p.groups[g].cols, c) {
			x[c] = 0
		}
	}
	return quantile(e.moves(x, e.p.groups[g].strip), 0.95) >= e.o.RelevantM
}

// prune takes out, weakest first, what held-out ground does not miss once everything else is in.
func (e *estimation) prune(m groupSet) groupSet {
	for len(m) > 0 {
		cur := e.p.score(e.p.columnsOf(m))
		worst, worstZ := -1, math.Inf(1)
		for i := range m {
			rest := slices.Delete(slices.Clone(m), i, i+1)
			s := e.p.score(e.p.columnsOf(rest))
			if len(s.cols) == len(cur.cols) { // another group holds the same columns
				worst, worstZ = i, math.Inf(-1)
				break
			}
			z := math.Inf(1)
			if s.ok {
				sum, se := differenceOf(e.p.blockSquares(s), e.p.blockSquares(cur))
				z = sum / math.Max(se, 1e-300)
			}
			limit := e.o.MinZ
			if e.named(e.p.groups[m[i]].kind) && e.p.groups[m[i]].strip < 0 {
				limit = 1 // the diagnosis has weighed it already
			}
			if z < limit && z < worstZ {
				worst, worstZ = i, z
			}
		}
		if worst < 0 {
			break
		}
		m = slices.Delete(slices.Clone(m), worst, worst+1)
	}
	return m
}

// differenceOf returns the sum over blocks of a - b and the standard error of that sum.
func differenceOf(a, b []float64) (sum, se float64) {
	n := 0.0
	for i := range a {
		if a[i] != 0 || b[i] != 0 {
			sum += a[i] - b[i]
			n++
		}
	}
	if n < 2 {
		return sum, math.Inf(1)
	}
	mean, ss := sum/n, 0.0
	for i := range a {
		if a[i] != 0 || b[i] != 0 {
			d := a[i] - b[i] - mean
			ss += d * d
		}
	}
	return sum, math.Sqrt(ss / (n - 1) * n)
}

// guard leaves out what is larger than the path's own accuracy allows, unless asked to apply it.
func (e *estimation) guard(m groupSet) groupSet {
	if e.path == nil || e.path.Sigma == nil {
		return m
	}
	cols := e.p.columnsOf(m)
	x, _, ok := e.p.solve(cols, -1)
	if !ok {
		return groupSet{}
	}
	return slices.DeleteFunc(slices.Clone(m), func(g int) bool {
		grp := &e.p.groups[g]
		if grp.strip < 0 {
			return false
		}
		text := e.beyond(grp.strip, x)
		if text == "" {
			return false
		}
		if e.o.ApplyBeyond {
			e.fit.Notes = append(e.fit.Notes, "Strip "+e.s.Strips[grp.strip].ID+": "+text+" It is applied as asked for.")
			return false
		}
		e.refuse(grp.kind, grp.strip, text+" --apply-beyond-accuracy applies it all the same")
		return true
	})
}

// named reports whether the diagnosis names a kind for the whole flight.
func (e *estimation) named(k Kind) bool {
	return slices.ContainsFunc(e.d.Causes, func(c Cause) bool { return c.Kind == k && c.Strip < 0 && c.Significant })
}
