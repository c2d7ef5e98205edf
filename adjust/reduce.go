package adjust

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// reduction is a fit of all strip columns for given global parameters, with the columns of some kinds free and
// the others held to what a flight in good order shows: x_s = v - m x_g. All models with these strip kinds share
// it, so that a model costs no more than its few global parameters.
type reduction struct {
	ok bool
	v  *mat.VecDense // strips
	m  *mat.Dense    // strips x globals

	// normal equations of the global parameters with the strips eliminated
	n [globalKinds][globalKinds]float64
	u [globalKinds]float64

	// squares that are left in the fold that was held out: c - 2 x'b + x'a x
	a [globalKinds][globalKinds]float64
	b [globalKinds]float64
	c float64
}

// stripPlaces lists the columns of all strips that take part.
func (p *problem) stripPlaces() []int {
	var cols []int
	for s, seen := range p.seen {
		if seen {
			at := int(globalKinds) + stripColumns*s
			for c := range stripColumns {
				cols = append(cols, at+c)
			}
		}
	}
	return cols
}

// information is what is known of a column beforehand, when the kinds of a set are free.
func (p *problem) information(col int, set model) float64 {
	k, strip := p.layout.kindOf(col)
	sigma := k.priorSigma()
	if strip >= 0 && !set.has(k) {
		sigma = k.quietSigma()
	}
	return 1 / (sigma * sigma)
}

// reduce eliminates the strips' columns from the equations q; held, when not nil, is the fold to be judged.
func (p *problem) reduce(q, held *normal, set model) *reduction {
	cols := p.stripPlaces()
	s, g := len(cols), int(globalKinds)
	r := &reduction{v: mat.NewVecDense(max(s, 1), nil), m: mat.NewDense(max(s, 1), g, nil)}
	for i := range g {
		r.u[i] = q.u[i]
		for j := range g {
			r.n[i][j] = q.at(i, j)
		}
	}
	if s == 0 {
		return r
	}
	nss, nsg, us := mat.NewSymDense(s, nil), mat.NewDense(s, g, nil), mat.NewVecDense(s, nil)
	for i, ci := range cols {
		for j := i; j < s; j++ {
			nss.SetSym(i, j, q.at(ci, cols[j]))
		}
		nss.SetSym(i, i, nss.At(i, i)+p.information(ci, set))
		us.SetVec(i, q.u[ci])
		for k := range g {
			nsg.Set(i, k, q.at(k, ci))
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(nss) || chol.SolveVecTo(r.v, us) != nil || chol.SolveTo(r.m, nsg) != nil {
		return r
	}
	r.ok = true
	for i := range g {
		for k := range s {
			r.u[i] -= nsg.At(k, i) * r.v.AtVec(k)
			for j := range g {
				r.n[i][j] -= nsg.At(k, i) * r.m.At(k, j)
			}
		}
	}
	if held != nil {
		r.judge(held, cols)
	}
	return r
}

// judge fills the quadratic form of the squares that are left in a fold.
func (r *reduction) judge(q *normal, cols []int) {
	s, g := len(cols), int(globalKinds)
	nss, nsg, us := mat.NewSymDense(s, nil), mat.NewDense(s, g, nil), mat.NewVecDense(s, nil)
	for i, ci := range cols {
		for j := i; j < s; j++ {
			nss.SetSym(i, j, q.at(ci, cols[j]))
		}
		us.SetVec(i, q.u[ci])
		for k := range g {
			nsg.Set(i, k, q.at(k, ci))
		}
	}
	var nv mat.VecDense
	nv.MulVec(nss, r.v)
	r.c = q.yy - 2*mat.Dot(us, r.v) + mat.Dot(r.v, &nv)
	var h mat.VecDense // u_s - N_ss v
	h.SubVec(us, &nv)
	var mh, gv mat.VecDense
	mh.MulVec(r.m.T(), &h)
	gv.MulVec(nsg.T(), r.v)
	var nm, mnm, gm mat.Dense
	nm.Mul(nss, r.m)
	mnm.Mul(r.m.T(), &nm)
	gm.Mul(nsg.T(), r.m)
	for i := range g {
		r.b[i] = q.u[i] - mh.AtVec(i) - gv.AtVec(i)
		for j := range g {
			r.a[i][j] = q.at(i, j) + mnm.At(i, j) - gm.At(i, j) - gm.At(j, i)
		}
	}
}

// squares returns what global parameters at the places of kinds leave in the fold.
func (r *reduction) squares(kinds []int, x []float64) float64 {
	sum := r.c
	for i, k := range kinds {
		row := -2 * r.b[k]
		for j, l := range kinds {
			row += r.a[k][l] * x[j]
		}
		sum += x[i] * row
	}
	return sum
}

// solve estimates the global parameters at the places of kinds.
func (r *reduction) solve(kinds []int, prior []float64) ([]float64, bool) {
	n := len(kinds)
	x := make([]float64, n)
	if n == 0 {
		return x, true
	}
	a, b := mat.NewSymDense(n, nil), mat.NewVecDense(n, nil)
	for i, k := range kinds {
		for j := i; j < n; j++ {
			a.SetSym(i, j, (r.n[k][kinds[j]]+r.n[kinds[j]][k])/2)
		}
		a.SetSym(i, i, a.At(i, i)+1/(prior[k]*prior[k]))
		b.SetVec(i, r.u[k])
	}
	var chol mat.Cholesky
	var s mat.VecDense
	if !chol.Factorize(a) || chol.SolveVecTo(&s, b) != nil {
		return x, false
	}
	copy(x, s.RawVector().Data)
	return x, true
}

// reductions returns the reductions of the four folds for a set of strip kinds, made on first use.
func (p *problem) reductions(set model) *[folds]*reduction {
	key := 0
	for _, k := range set {
		key |= 1 << k
	}
	if r := p.reduced[key]; r != nil {
		return r
	}
	var r [folds]*reduction
	done := make(chan struct{}, folds)
	slots := make(chan struct{}, 2)
	for f := range folds {
		go func() {
			slots <- struct{}{}
			rest := newNormal(p.layout.size())
			rest.plus(p.total, 1)
			rest.plus(p.fold[f], -1)
			r[f] = p.reduce(rest, p.fold[f], set)
			<-slots
			done <- struct{}{}
		}()
	}
	for range folds {
		<-done
	}
	p.reduced[key] = &r
	return &r
}

// split parts a model into the places of its global kinds and its strip kinds.
func (m model) split() (globals []int, set model) {
	for _, k := range m {
		if k < globalKinds {
			globals = append(globals, int(k))
		} else {
			set = append(set, k)
		}
	}
	return globals, set
}

// full returns the whole parameter vector of a fold's fit; with strips of kinds that the model does not
// have left at zero when own is true.
func (s *score) full(p *problem, f int, own bool) []float64 {
	x := make([]float64, p.layout.size())
	globals, set := s.model.split()
	for i, k := range globals {
		x[k] = s.x[f][i]
	}
	r := p.reductions(set)[f]
	if !r.ok {
		return x
	}
	for i, c := range p.stripPlaces() {
		if k, _ := p.layout.kindOf(c); own && !set.has(k) {
			continue
		}
		v := r.v.AtVec(i)
		for j, k := range globals {
			v -= r.m.At(i, k) * s.x[f][j]
		}
		x[c] = v
	}
	return x
}

var inf = math.Inf(1)

// reduceTotal eliminates the strips' columns, held to their quiet sizes, from the equations of all rows.
func (p *problem) reduceTotal() *reduction {
	if p.all == nil {
		p.all = p.reduce(p.total, nil, nil)
	}
	return p.all
}

// inverse returns the covariance of global kinds estimated together.
func (r *reduction) inverse(kinds []Kind, prior []float64) (*mat.SymDense, bool) {
	n := mat.NewSymDense(len(kinds), nil)
	for i, k := range kinds {
		for j := i; j < len(kinds); j++ {
			l := kinds[j]
			n.SetSym(i, j, (r.n[k][l]+r.n[l][k])/2)
		}
		n.SetSym(i, i, n.At(i, i)+1/(prior[k]*prior[k]))
	}
	var chol mat.Cholesky
	inv := mat.NewSymDense(len(kinds), nil)
	if !r.ok || !chol.Factorize(n) || chol.InverseTo(inv) != nil {
		return nil, false
	}
	return inv, true
}
