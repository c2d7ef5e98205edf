package adjust

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// estimate is a model fitted to all rows, with standard deviations that respect that the
// residuals of one block of ground belong together.
type estimate struct {
	model model
	cols  []int
	x     []float64 // values at cols
	sigma []float64 // cluster-robust standard deviations at cols
	full  []float64

	robust *mat.Dense    // cluster-robust covariance at cols
	formal *mat.SymDense // inverse of the normal matrix at cols, in the directions that are determined
}

// fit estimates a model from all rows.
//
// Directions of the parameters about which the rows know less than is known beforehand (the common height of all strips, a tilt of
// a block of parallel strips) are left at zero: the estimate is that of minimum norm, in units of the prior sizes, and its
// standard deviations are those of what the data do determine.
//
// The covariance is N^-1 [ sum over clusters of (A'Wv)(A'Wv)' ] N^-1 with one cluster for each pair
// and block of ground, equation (5) of the georeferencing reference, and times G/(G-1).
func (p *problem) fit(m model) *estimate {
	e := &estimate{model: m, cols: m.columns(p.layout)}
	n := len(e.cols)
	e.x, e.sigma = make([]float64, n), make([]float64, n)
	e.full = make([]float64, p.layout.size())
	if n == 0 {
		return e
	}
	inv := p.pseudoInverse(e.cols)
	u := mat.NewVecDense(n, nil)
	place := make([]int32, p.layout.size())
	for i := range place {
		place[i] = -1
	}
	for i, c := range e.cols {
		u.SetVec(i, p.total.u[c])
		place[c] = int32(i)
	}
	var x mat.VecDense
	x.MulVec(inv, u)
	copy(e.x, x.RawVector().Data)
	for i, c := range e.cols {
		e.full[c] = e.x[i]
	}
	meat := p.meat(e.full, place, n)
	var half, cov mat.Dense
	half.Mul(inv, meat)
	cov.Mul(&half, inv)
	e.robust, e.formal = &cov, inv
	for i := range n {
		// never smaller than the formal value: few clusters can agree by chance
		e.sigma[i] = math.Sqrt(math.Max(cov.At(i, i), inv.At(i, i)))
	}
	return e
}

// pseudoInverse inverts the normal matrix at cols in the directions that the rows determine better than the priors do.
func (p *problem) pseudoInverse(cols []int) *mat.SymDense {
	n := len(cols)
	scaled := mat.NewSymDense(n, nil)
	for i, ci := range cols {
		for j := i; j < n; j++ {
			scaled.SetSym(i, j, p.total.at(ci, cols[j])*p.prior[ci]*p.prior[cols[j]])
		}
	}
	inv := mat.NewSymDense(n, nil)
	var eig mat.EigenSym
	if !eig.Factorize(scaled, true) {
		return inv
	}
	var v mat.Dense
	eig.VectorsTo(&v)
	for k, lambda := range eig.Values(nil) {
		if lambda < minInformation {
			continue
		}
		inv.SymRankOne(inv, 1/lambda, v.ColView(k))
	}
	for i, ci := range cols {
		for j := i; j < n; j++ {
			inv.SetSym(i, j, inv.At(i, j)*p.prior[ci]*p.prior[cols[j]])
		}
	}
	return inv
}

// minInformation is the information about a direction, in units of the prior's, below which it counts as undetermined:
// the standard deviation would exceed a tenth of the prior's.
const minInformation = 100

// sigmaOf returns the standard deviation of a linear combination of the parameters at cols, never smaller than the
// formal one.
func (e *estimate) sigmaOf(c []float64) float64 {
	v := mat.NewVecDense(len(c), c)
	return math.Sqrt(math.Max(mat.Inner(v, e.robust, v), mat.Inner(v, e.formal, v)))
}

// meat returns the sum over clusters of the outer products of their scores.
func (p *problem) meat(full []float64, place []int32, n int) *mat.SymDense {
	type cluster struct{ pair, block int32 }
	scores := map[cluster][]float64{}
	var order [][]float64 // in order of first appearance, so that sums do not depend on the map
	for i := range p.rows {
		r := &p.rows[i]
		if r.weight <= 0 {
			continue
		}
		c := cluster{r.pair, r.block}
		sc := scores[c]
		if sc == nil {
			sc = make([]float64, n)
			scores[c] = sc
			order = append(order, sc)
		}
		p.spare.fill(r, p.layout)
		e := r.weight * (r.y - p.spare.predict(full))
		for k := range p.spare.n {
			if at := place[p.spare.at[k]]; at >= 0 {
				sc[at] += e * p.spare.val[k]
			}
		}
	}
	meat := mat.NewSymDense(n, nil)
	for _, sc := range order {
		meat.SymRankOne(meat, 1, mat.NewVecDense(n, sc))
	}
	if g := float64(len(order)); g > 1 {
		meat.ScaleSym(g/(g-1), meat)
	}
	return meat
}

// of returns the value and standard deviation of a global kind.
func (e *estimate) of(k Kind) (x, sigma float64) {
	for i, c := range e.cols {
		if c == int(k) {
			return e.x[i], e.sigma[i]
		}
	}
	return 0, math.NaN()
}

// effect returns the rms and the 95th percentile of the height change that a kind causes between strips
// in the rows, in metres.
func (p *problem) effect(e *estimate, k Kind) (rmsM, p95M float64) {
	x := make([]float64, len(e.full))
	for _, c := range p.layout.columnsOf(k) {
		x[c] = e.full[c]
	}
	var abs []float64
	ss := 0.0
	for i := range p.rows {
		if p.rows[i].weight <= 0 {
			continue
		}
		p.spare.fill(&p.rows[i], p.layout)
		v := p.spare.predict(x)
		ss += v * v
		abs = append(abs, math.Abs(v))
	}
	if len(abs) == 0 {
		return 0, 0
	}
	return math.Sqrt(ss / float64(len(abs))), quantile(abs, 0.95)
}
