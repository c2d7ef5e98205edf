package adjust

import (
	"slices"

	"gonum.org/v1/gonum/mat"
)

// Quiet errors: the small slow errors that a path in good order has in each strip. What a model estimates with and without an allowance for them tells how much they may be in it. The
// correction is the estimate without: strips agree best after it, and held-out ground has been asked about it.

// quiet is the size of a strip's slow error in a flight in good order, 0 for columns that are no such error.
func (c *fitColumn) quiet() float64 {
	switch {
	case c.comp == compGlobal || c.step || len(c.curve.TimeS) > 2:
		return 0
	case c.comp == compHeading:
		return quietHeading * c.kind.quietSigma()
	}
	return c.kind.quietSigma()
}

// quietHeading is how many times worse a path in good order knows the heading than the roll. Common practice.
const quietHeading = 2.5

// quietPlaces lists the columns that are slow errors of strips as a path in good order has them and that a model does not hold; none when they are too many to be solved for.
func (p *fitProblem) quietPlaces(cols []int) []int {
	var out []int
	for q := range p.columns {
		if p.columns[q].quiet() > 0 && !slices.Contains(cols, q) {
			out = append(out, q)
		}
	}
	if len(out) > mostQuiet {
		return nil
	}
	return out
}

// mostQuiet bounds the time of a solution: some 200 strips.
const mostQuiet = 1800

// reducedNormal are the normal equations of a model from which the quiet errors are eliminated.
type reducedNormal struct {
	cols, quiet []int
	raw         *mat.SymDense // N_cc
	n           *mat.SymDense // N_cc - N_cq (N_qq + P)^-1 N_qc
	u           *mat.VecDense
	gain        *mat.Dense    // (N_qq + P)^-1 N_qc; nil without quiet errors
	own         *mat.VecDense // (N_qq + P)^-1 u_q
}

// reduce eliminates the quiet errors from the equations of all folds but one (-1: of all).
func (p *fitProblem) reduce(cols []int, fold int) (*reducedNormal, bool) {
	at := func(i, j int) float64 {
		k := min(i, j)*p.size + max(i, j)
		v := p.total[k]
		if fold >= 0 {
			v -= p.fold[fold][k]
		}
		return v
	}
	right := func(i int) float64 {
		if fold >= 0 {
			return p.u[i] - p.foldU[fold][i]
		}
		return p.u[i]
	}
	n := len(cols)
	r := &reducedNormal{cols: cols, quiet: p.quietPlaces(cols), n: mat.NewSymDense(n, nil), u: mat.NewVecDense(n, nil)}
	for i, c := range cols {
		for j := i; j < n; j++ {
			r.n.SetSym(i, j, at(c, cols[j])+p.reg[min(c, cols[j])*p.size+max(c, cols[j])])
		}
		r.u.SetVec(i, right(c))
	}
	r.raw = mat.NewSymDense(n, nil)
	r.raw.CopySym(r.n)
	q := len(r.quiet)
	if q == 0 {
		return r, true
	}
	nqq, nqc, uq := mat.NewSymDense(q, nil), mat.NewDense(q, n, nil), mat.NewVecDense(q, nil)
	for i, c := range r.quiet {
		for j := i; j < q; j++ {
			nqq.SetSym(i, j, at(c, r.quiet[j]))
		}
		sigma := p.columns[c].quiet()
		nqq.SetSym(i, i, nqq.At(i, i)+1/(sigma*sigma))
		for k, m := range cols {
			nqc.Set(i, k, at(c, m))
		}
		uq.SetVec(i, right(c))
	}
	var chol mat.Cholesky
	r.gain, r.own = &mat.Dense{}, &mat.VecDense{}
	if !chol.Factorize(nqq) || chol.SolveTo(r.gain, nqc) != nil || chol.SolveVecTo(r.own, uq) != nil {
		return nil, false
	}
	var taken mat.Dense
	taken.Mul(nqc.T(), r.gain)
	for i := range n {
		for j := i; j < n; j++ {
			r.n.SetSym(i, j, r.n.At(i, j)-(taken.At(i, j)+taken.At(j, i))/2)
		}
		r.u.SetVec(i, r.u.AtVec(i)-mat.Dot(nqc.ColView(i), r.own))
	}
	return r, true
}

// solveQuiet estimates the columns of a model with the quiet errors of strips allowed for, which are not part of what it returns: x holds the model alone, all both.
func (p *fitProblem) solveQuiet(cols []int, fold int) (x, all []float64, r *reducedNormal, ok bool) {
	x = make([]float64, p.size)
	if len(cols) == 0 {
		return x, x, nil, true
	}
	r, ok = p.reduce(cols, fold)
	if !ok {
		return x, x, nil, false
	}
	var chol mat.Cholesky
	var v mat.VecDense
	if !chol.Factorize(r.n) || poor(chol.SolveVecTo(&v, r.u)) {
		return x, x, nil, false
	}
	for i, c := range cols {
		x[c] = v.AtVec(i)
	}
	all = slices.Clone(x)
	for i, c := range r.quiet {
		all[c] = r.own.AtVec(i)
		for k := range cols {
			all[c] -= r.gain.At(i, k) * v.AtVec(k)
		}
	}
	return x, all, r, true
}

// poor reports whether a solution failed; a poor condition, as of a spline with a knot that hardly anything sees, is none.
func poor(err error) bool {
	_, condition := err.(mat.Condition)
	return err != nil && !condition
}
