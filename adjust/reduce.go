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
}

// stripPlaces lists the columns of all strips that take part.
func (p *problem) stripPlaces() []int {
	var cols []int
	for s, seen := range p.seen {
		if seen {
			at := int(globalKinds) + stripColumns*s
			for c := range stripColumns {
				if p.layout.has(s, at+c) {
					cols = append(cols, at+c)
				}
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

// reduce eliminates the strips' columns from the equations q.
func (p *problem) reduce(q *normal, set model) *reduction {
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
	return r
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
			r[f] = p.reduce(rest, set)
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

// quietLimit is how many of its quiet sizes an error of a strip may have before it needs a cause.
const quietLimit = 2.5

// full returns the whole parameter vector of a fold's fit. Errors of strips of kinds that the model does not have are cut at what is
// quiet, or left at zero when own is true: what is more has to be explained by the model.
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
		k, _ := p.layout.kindOf(c)
		free := set.has(k)
		if own && !free {
			continue
		}
		v := r.v.AtVec(i)
		for j, k := range globals {
			v -= r.m.At(i, k) * s.x[f][j]
		}
		if most := quietLimit * k.quietSigma(); !free {
			v = math.Max(-most, math.Min(most, v))
		}
		x[c] = v
	}
	return x
}

var inf = math.Inf(1)

// reduceTotal eliminates the strips' columns, held to their quiet sizes, from the equations of all rows.
func (p *problem) reduceTotal() *reduction {
	if p.all == nil {
		p.all = p.reduce(p.total, nil)
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
