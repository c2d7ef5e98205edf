package adjust

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// tried is how many of the best groups by their sum of squares are put to the test by blocks of ground in each round.
const tried = 6

// choose looks for the smallest model from several starts: what the diagnosis names and kinds of the whole flight before those of single strips; the
// diagnosis and single strips; single strips alone. Three angles thereby stand against three shifts for each strip that mimic them. Of the results the smallest
// is taken that held-out ground cannot tell from the best.
func (e *estimation) choose(named groupSet) groupSet {
	var models []groupSet
	full := e.grow(e.grow(named, e.globalGroup), stripGroup)
	models = append(models, e.simplify(e.prune(e.grow(full, e.globalGroup), anyGroup)))
	models = append(models, e.simplify(e.prune(full, stripGroup)))
	models = append(models, e.simplify(e.prune(e.grow(named, stripGroup), anyGroup)))
	if len(named) > 0 {
		models = append(models, e.simplify(e.prune(e.grow(nil, stripGroup), anyGroup)))
		// what the diagnosis names may have a rival that fits a little better here
		other := e.grow(e.grow(nil, e.globalGroup), stripGroup)
		models = append(models, e.simplify(e.prune(other, anyGroup)), e.simplify(e.prune(other, stripGroup)))
	}
	for _, m := range slices.Clone(models) {
		models = append(models, e.swap(m), e.swap(slices.DeleteFunc(slices.Clone(m), func(g int) bool { return e.p.groups[g].strip >= 0 })))
	}
	scores := make([]*fitScore, len(models))
	best := 0
	for i, m := range models {
		scores[i] = e.p.score(e.p.columnsOf(m))
		if scores[i].squares < scores[best].squares {
			best = i
		}
	}
	equal := func(i int) bool {
		return scores[i].ok && (scores[i].squares <= (1+alikeSquares)*scores[best].squares || clearness(e.p.blockSquares(scores[i]), e.p.blockSquares(scores[best])) <= 1)
	}
	chosen := best
	for i := range models {
		a, b := scores[i], scores[chosen]
		if equal(i) && (len(a.cols) < len(b.cols) || len(a.cols) == len(b.cols) && a.squares < b.squares) {
			chosen = i
		}
	}
	// Shifts of nearly all strips can mimic a cause of the whole flight with as few parameters, but they need large values for it; the cause with what
	// little is left for the strips is the simpler story.
	none := e.p.score(nil).squares
	quietM := math.Sqrt2 * StripHeight.quietSigma() // of two strips
	nearly := func(i int) bool {
		more := scores[i].squares - scores[best].squares
		return equal(i) || scores[i].ok && more <= mimicLeft*(none-scores[best].squares) && more <= e.p.w*quietM*quietM
	}
	for i := range models {
		if len(scores[i].cols) <= len(scores[chosen].cols)+4 && nearly(i) && e.stripMoves(models[i]) < mimicShare*e.stripMoves(models[chosen]) {
			chosen = i
		}
	}
	return e.complete(models[chosen])
}

// mimicShare is the share of the strips' own moves below which a model with a cause of the whole flight replaces one without. Our proposal.
const mimicShare = 0.25

// mimicLeft is the share of what the better model explains that the one with a cause of the whole flight may leave; nor may that be more than the slow errors of a
// path in good order (correct_quiet.go). On dense clouds the surfaces are quieter than the path, and a model of single strips takes its slow errors along. Our
// proposal.
const mimicLeft = 0.02

// stripMoves is the root mean square of the moves that the parameters of single strips cause in a model.
func (e *estimation) stripMoves(m groupSet) float64 {
	x, _, ok := e.p.solve(e.p.columnsOf(m), -1)
	if !ok {
		return math.Inf(1)
	}
	for c := range x {
		if e.p.columns[c].comp == compGlobal {
			x[c] = 0
		}
	}
	ss, n := 0.0, 0.0
	for _, v := range e.moves(x, -1) {
		ss, n = ss+v*v, n+1
	}
	return math.Sqrt(ss / math.Max(n, 1))
}

// alikeSquares is the share of the held-out squares by which a smaller model may be worse: a hundredth of the root mean square, too little to
// pay for more parameters with, however significant. Our proposal.
const alikeSquares = 0.02

// globalGroup is a kind of the whole flight that may be fitted: a range offset with control points only, since overlaps show next to nothing of it.
func (e *estimation) globalGroup(g *fitGroup) bool {
	return g.strip < 0 && g.kind != LeverZ && (g.kind != RangeOffset || len(e.o.Control) > 0)
}

func stripGroup(g *fitGroup) bool { return g.strip >= 0 }

func anyGroup(*fitGroup) bool { return true }

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

// materialShare is the share of the squares of its strip that a group must take away to be worth its parameters: a hundredth of the root mean square.
// Our proposal.
const materialShare = 0.02

// share is the part of the cells' weight that a strip takes part in; 1 for the whole flight.
func (p *fitProblem) share(strip int) float64 {
	if strip < 0 {
		return 1
	}
	w := 0.0
	for i := range p.rows {
		if r := &p.rows[i]; int(r.a) == strip || int(r.b) == strip {
			w += r.weight
		}
	}
	return w / p.w
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
		if !among(grp) || grp.banned || slices.Contains(m, g) || !e.o.Splines && grp.knots > 2 {
			continue
		}
		cols := e.p.columnsOf(append(slices.Clone(m), g))
		more := len(cols) - len(cur.cols)
		if more == 0 {
			continue
		}
		s := e.p.score(cols)
		gain := cur.squares - s.squares - 2*unit*float64(more)
		if s.ok && gain > materialShare*cur.squares*e.p.share(grp.strip) && (grp.strip >= 0 || !e.p.tied(cols, int(grp.kind))) {
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
		if clearness(e.p.blockSquares(cur), e.p.blockSquares(s.score)) < e.o.MinZ || !e.relevant(m, s.group) {
			continue
		}
		return s.group
	}
	return -1
}

// tiedLimit is the correlation above which two parameters are not estimated side by side. Georeferencing reference, section 7: common practice.
const tiedLimit = 0.98

// tied reports whether a global parameter's estimate would hang on that of another: large values that cancel in the overlaps, and nowhere else.
func (p *fitProblem) tied(cols []int, k int) bool {
	_, chol, ok := p.solve(cols, -1)
	if !ok {
		return true
	}
	inv := mat.NewSymDense(len(cols), nil)
	if err := chol.InverseTo(inv); err != nil {
		return true
	}
	i := slices.Index(cols, k)
	for j, c := range cols {
		if j != i && p.columns[c].comp == compGlobal && math.Abs(inv.At(i, j)) > tiedLimit*math.Sqrt(inv.At(i, i)*inv.At(j, j)) {
			return true
		}
	}
	return false
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

// prune takes out of some kinds of groups, weakest first, what held-out ground does not miss once everything else is in.
func (e *estimation) prune(m groupSet, among func(*fitGroup) bool) groupSet {
	for len(m) > 0 {
		cur := e.p.score(e.p.columnsOf(m))
		worst, worstZ := -1, math.Inf(1)
		for i := range m {
			if !among(&e.p.groups[m[i]]) {
				continue
			}
			rest := slices.Delete(slices.Clone(m), i, i+1)
			s := e.p.score(e.p.columnsOf(rest))
			if len(s.cols) == len(cur.cols) { // another group holds the same columns
				worst = i
				break
			}
			z := math.Inf(1)
			if s.ok {
				z = clearness(e.p.blockSquares(s), e.p.blockSquares(cur))
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

// simplify puts a smaller group in the place of one that holds it, where held-out ground does not clearly ask for the larger: a shift for a drift, a line for a
// spline.
func (e *estimation) simplify(m groupSet) groupSet {
	m = slices.Clone(m)
	cur := e.p.score(e.p.columnsOf(m))
	for i := 0; i < len(m); i++ {
		for _, h := range e.smaller(m[i]) {
			try := slices.Clone(m)
			try[i] = h
			s := e.p.score(e.p.columnsOf(try))
			if !s.ok || len(s.cols) >= len(cur.cols) {
				continue
			}
			material := materialShare * cur.squares * e.p.share(e.p.groups[h].strip)
			if s.squares-cur.squares < material || clearness(e.p.blockSquares(s), e.p.blockSquares(cur)) < e.o.MinZ {
				m, cur = try, s
				break
			}
		}
	}
	return m
}

// smaller lists the groups whose columns are part of a group's, smallest first.
func (e *estimation) smaller(g int) []int {
	var out []int
	big := e.p.groups[g].cols
	for h := range e.p.groups {
		small := e.p.groups[h].cols
		if e.p.groups[h].strip != e.p.groups[g].strip || len(small) >= len(big) || slices.ContainsFunc(small, func(c int) bool { return !slices.Contains(big, c) }) {
			continue
		}
		out = append(out, h)
	}
	slices.SortStableFunc(out, func(a, b int) int { return cmp.Compare(len(e.p.groups[a].cols), len(e.p.groups[b].cols)) })
	return out
}

// clearness tells by how many standard errors held-out ground prefers the model with squares b to that with squares a, block by block; negative: it prefers a.
//
// Few blocks, those with roofs and banks, carry most of what sideways shifts do. The mean over blocks then has a large standard error although every one
// of them agrees; the signed ranks (Wilcoxon 1945) say so. The larger of the two counts.
func clearness(a, b []float64) float64 {
	var d []float64
	sum, ss := 0.0, 0.0
	for i := range a {
		if a[i] != 0 || b[i] != 0 {
			d = append(d, a[i]-b[i])
			sum += a[i] - b[i]
		}
	}
	n := float64(len(d))
	if n < 2 {
		return 0
	}
	for _, v := range d {
		ss += (v - sum/n) * (v - sum/n)
	}
	mean := sum / math.Max(math.Sqrt(ss/(n-1)*n), 1e-300)
	if sum <= 0 {
		return mean
	}
	slices.SortFunc(d, func(x, y float64) int { return cmp.Compare(math.Abs(x), math.Abs(y)) })
	w := 0.0
	for i, v := range d {
		if v > 0 {
			w += float64(i + 1)
		}
	}
	rank := (w - n*(n+1)/4) / math.Sqrt(n*(n+1)*(2*n+1)/24)
	return math.Max(mean, rank)
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
	return slices.ContainsFunc(e.d.Causes, func(c Cause) bool { return c.Kind == k && c.Strip < 0 })
}
