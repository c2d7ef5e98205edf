package adjust

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// Standard deviations of a correction. Thousands of cells make the formal ones vanish; what is left of an error then is not noise of cells but what they have in
// common: the path's own slow errors in each strip, surfaces that are no planes, coefficients that are known only so well. The stochastic model is that of the
// diagnosis, so that both state the same doubt for the same estimate.

// precision is what is known about the errors of the columns of a model.
type precision struct {
	x      []float64 // all columns, as they are taken off
	quiet  []float64 // the same when the path's own slow errors are allowed for
	cols   []int
	p      *fitProblem
	place  []int         // of a column in cols, plus one; 0: not in the model
	formal *mat.SymDense // inverse of the normal matrix, in the directions that are determined
	robust *mat.SymDense // by clusters of ground, with the path's own slow errors
	loose  *mat.SymDense // like formal without those
	floor  float64       // share of loose that is added for what is not modelled
	share  float64       // of a value that may be wrong, since coefficients are known only so well
	trim   float64       // variance of roll from an unknown lean of the body
	whole  bool          // curves are taken to follow all there is: whether something is there at all is not asked of what they cut off
}

// unmodelledM is the rms of what is not modelled (curved ground, grass, incidence) that may go along with a parameter of a correction. Our proposal: half of what the diagnosis allows
// for before it blames somebody; with it, stated and true errors of simulated flights agree (TestStatedSigmas).
const unmodelledM = 0.0002

// term is a column with its weight in a linear combination.
type term struct {
	col    int
	weight float64
}

// sigma is the standard deviation of a linear combination of columns; those that are not in the model are taken to be good to quiet.
func (s *precision) sigma(form []term, quiet float64) float64 {
	v := mat.NewVecDense(max(len(s.cols), 1), nil)
	value, moved, roll, inModel := 0.0, 0.0, 0.0, false
	for _, t := range form {
		if at := s.place[t.col]; at > 0 {
			v.SetVec(at-1, v.AtVec(at-1)+t.weight)
			if s.quiet != nil {
				moved += t.weight * (s.x[t.col] - s.quiet[t.col])
			}
			if !s.exact(t.col) {
				value += s.share * t.weight * s.x[t.col]
			}
			inModel = true
			if t.col == int(BoresightRoll) {
				roll += t.weight
			}
		}
	}
	sum := 0.0
	if inModel && s.formal != nil {
		formal := mat.Inner(v, s.formal, v)
		sum = math.Max(formal, mat.Inner(v, s.robust, v)) + s.floor*mat.Inner(v, s.loose, v) + value*value + moved*moved + roll*roll*s.trim
	} else if inModel {
		return math.NaN() // not known
	} else {
		sum = quiet * quiet
	}
	return math.Sqrt(math.Max(sum, 0))
}

// determined returns the inverse of the normal matrix at cols in the directions about which the cells know more than is known beforehand. The common shift of all
// strips, say, is none of them: it stays at zero, and its uncertainty is not that of the strips against each other. With very many columns all directions
// are kept, and the standard deviations are larger.
func (p *fitProblem) determined(cols []int, normal *mat.SymDense) (*mat.SymDense, bool) {
	n := len(cols)
	inv := mat.NewSymDense(n, nil)
	if n > 400 {
		var chol mat.Cholesky
		return inv, chol.Factorize(normal) && !poor(chol.InverseTo(inv))
	}
	scaled := mat.NewSymDense(n, nil)
	for i, ci := range cols {
		for j := i; j < n; j++ {
			scaled.SetSym(i, j, normal.At(i, j)*p.columns[ci].prior*p.columns[cols[j]].prior)
		}
	}
	var eig mat.EigenSym
	if !eig.Factorize(scaled, true) {
		return inv, false
	}
	var v mat.Dense
	eig.VectorsTo(&v)
	for k, lambda := range eig.Values(nil) {
		if lambda > leastKnown {
			inv.SymRankOne(inv, 1/lambda, v.ColView(k))
		}
	}
	for i, ci := range cols {
		for j := i; j < n; j++ {
			inv.SetSym(i, j, inv.At(i, j)*p.columns[ci].prior*p.columns[cols[j]].prior)
		}
	}
	return inv, true
}

// leastKnown is the information about a direction, in units of that known beforehand, from which it counts as determined: its standard deviation is then
// below a fifth of the size that the parameters can have at all.
const leastKnown = 25

// exact reports whether a column's coefficients are known: a height is one, whatever slopes, motion and the place of the sensor are.
func (s *precision) exact(col int) bool { return s.p.columns[col].comp == compUp }

// clusterScores returns the sums of A'Wv at the columns that have a place, block by block of ground. All pairs of a block are one cluster: their strips were there at one
// time each, and what was wrong then is wrong in all of them.
func (p *fitProblem) clusterScores(place []int, n int, x []float64) [][]float64 {
	scores := make([][]float64, p.blocks)
	for i := range p.rows {
		r := &p.rows[i]
		if r.weight <= 0 {
			continue
		}
		sc := scores[r.block]
		if sc == nil {
			sc = make([]float64, n)
			scores[r.block] = sc
		}
		e := r.weight * (r.y - p.predict(r, x))
		for _, c := range p.of(r) {
			if at := place[c.col]; at > 0 {
				sc[at-1] += e * c.val
			}
		}
	}
	return slices.DeleteFunc(scores, func(s []float64) bool { return s == nil })
}

// precisionOf returns what is known about the errors of a model's columns, with M the proj of the scores that the elimination of quiet errors makes and P their information:
// N^-1 [ sum over clusters of (M A'Wv)(M A'Wv)' + N_cq (N_qq + P)^-1 P (N_qq + P)^-1 N_qc ] N^-1, equation (5) of the georeferencing reference, for the estimate that allows for
// quiet errors. That which is taken off does not: its mean square error is larger by the square of how far the two lie apart.
func (p *fitProblem) precisionOf(cols []int, x []float64, know Knowledge) *precision {
	n := len(cols)
	s := &precision{p: p, x: x, cols: cols, place: make([]int, p.size), share: modelShare + know.doubt()/2, floor: p.w * unmodelledM * unmodelledM}
	for i, c := range cols {
		s.place[c] = i + 1
	}
	if n == 0 {
		return s
	}
	quietX, all, r, ok := p.solveQuiet(cols, -1)
	if !ok {
		return s
	}
	s.quiet = quietX
	inv, ok := p.determined(cols, r.n)
	if !ok {
		return s
	}
	if s.loose, ok = p.determined(cols, r.raw); !ok {
		return s
	}
	s.formal = inv
	place := slices.Clone(s.place)
	for i, c := range r.quiet {
		place[c] = n + i + 1
	}
	cov, scores := mat.NewSymDense(n, nil), p.clusterScores(place, n+len(r.quiet), all)
	g := float64(len(scores))
	var v mat.VecDense
	for _, sc := range scores {
		t := mat.NewVecDense(n, slices.Clone(sc[:n]))
		for i := range r.quiet {
			for k := range n {
				t.SetVec(k, t.AtVec(k)-r.gain.At(i, k)*sc[n+i])
			}
		}
		v.MulVec(inv, t)
		cov.SymRankOne(cov, g/math.Max(g-1, 1), &v)
	}
	for i, c := range r.quiet {
		v.MulVec(inv, r.gain.RowView(i))
		sigma := p.columns[c].quiet()
		cov.SymRankOne(cov, 1/(sigma*sigma), &v)
	}
	s.robust = cov
	return s
}

// precision returns what is known about the errors of a model.
func (e *estimation) precision(cols []int, x []float64) *precision {
	s := e.p.precisionOf(cols, x, e.d.Knowledge)
	if e.path == nil || e.path.RollRad == nil || e.d.Knowledge == FromAngles {
		heading := 1.5 * BoresightHeading.worthSigma()
		if s.place[BoresightHeading] > 0 {
			heading = math.Abs(x[BoresightHeading])
		}
		s.trim = trimRad * heading * trimRad * heading
	}
	return s
}

// form is the linear combination of the columns of a component of a strip in which a curve counts with what weigh says of it; constants count as curves without knots.
func (e *estimation) form(strip int, comp component, weigh func(c *Curve) float64) []term {
	var out []term
	for _, c := range e.p.ofStrip[strip] {
		if col := &e.p.columns[c]; col.comp == comp {
			if w := weigh(&col.curve); w != 0 {
				out = append(out, term{c, w})
			}
		}
	}
	return out
}

// valueAt weighs a curve by its value at a time.
func valueAt(tS float64) func(c *Curve) float64 {
	return func(c *Curve) float64 {
		if len(c.TimeS) == 0 {
			return 1
		}
		return c.At(tS)
	}
}

// change weighs a curve by how much it changes from one time to another.
func change(fromS, toS float64) func(c *Curve) float64 {
	return func(c *Curve) float64 {
		if len(c.TimeS) == 0 {
			return 0
		}
		return c.At(toS) - c.At(fromS)
	}
}

// shiftSigma is the standard deviation of the constant shift of a strip in a component, counted as centre counts it.
func (e *estimation) shiftSigma(s *precision, strip int, comp component) float64 {
	mean := func(c *Curve) float64 {
		switch {
		case len(c.TimeS) == 0:
			return 1
		case len(c.TimeS) == 2 && c.Value[0] == 0: // a step, which is told apart
			return 0
		}
		sum := 0.0
		for _, v := range c.Value {
			sum += v / float64(len(c.Value))
		}
		return sum
	}
	form := e.form(strip, comp, mean)
	middle := e.fit.middle[comp]
	for _, m := range middle {
		for _, t := range e.form(m, comp, mean) {
			form = append(form, term{t.col, -t.weight / float64(len(middle))})
		}
	}
	kind := StripHorizontal
	if comp == compUp {
		kind = StripHeight
	}
	return s.sigma(form, kind.quietSigma())
}

// changeSigma is the standard deviation of how much a component of a strip changes between two times, with what its curve cuts off at both of them.
func (s *precision) changeSigma(e *estimation, strip int, comp component, over func(c *Curve) float64) float64 {
	return math.Hypot(s.sigma(e.form(strip, comp, over), 0), 2*s.misfit(strip, comp))
}

// misfitS is the length of the pieces of time in which misfit looks. Our proposal: shorter than the waves that no spline follows.
const misfitS = 1

// misfit is the most that a component of a strip still does in time when a model is taken off: an error that waves faster than its curve can is in no
// covariance. Piece by piece of a second the value is sought that fits what is left; twice its standard deviation counts as noise.
func (s *precision) misfit(strip int, comp component) float64 {
	if s.whole {
		return 0
	}
	p, x := s.p, s.x
	constant := slices.IndexFunc(p.ofStrip[strip], func(c int) bool { return p.columns[c].comp == comp && len(p.columns[c].curve.TimeS) == 0 })
	start := p.strips[strip].StartS
	if constant < 0 || start == nil {
		return 0
	}
	col := int32(p.ofStrip[strip][constant])
	type piece struct{ y, w float64 }
	pieces := map[int]piece{}
	for i := range p.rows {
		r := &p.rows[i]
		if r.weight <= 0 || int(r.a) != strip && int(r.b) != strip {
			continue
		}
		t := r.tA
		if int(r.b) == strip {
			t = r.tB
		}
		for _, c := range p.of(r) {
			if c.col == col {
				k := int(math.Floor((t - *start) / misfitS))
				q := pieces[k]
				q.y += r.weight * c.val * (r.y - p.predict(r, x))
				q.w += r.weight * c.val * c.val
				pieces[k] = q
			}
		}
	}
	most := 0.0
	for _, q := range pieces {
		if q.w > 0 {
			most = math.Max(most, math.Abs(q.y)/q.w-2/math.Sqrt(q.w))
		}
	}
	return most
}
