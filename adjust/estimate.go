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
	corr  *mat.SymDense
	full  []float64

	robust *mat.Dense    // cluster-robust covariance at cols
	formal *mat.SymDense // inverse of the normal matrix at cols
}

// fit estimates a model from all rows.
//
// The covariance is N^-1 [ sum over clusters of (A'Wv)(A'Wv)' ] N^-1 with one cluster for each pair
// and block of ground, equation (5) of the georeferencing reference, and times G/(G-1).
func (p *problem) fit(m model) *estimate {
	e := &estimate{model: m, cols: m.columns(p.layout)}
	s := p.total.solve(e.cols, p.prior)
	e.x, e.full = s.x, s.full(p.layout.size())
	n := len(e.cols)
	e.sigma = make([]float64, n)
	if n == 0 || !s.ok {
		return e
	}
	place := make([]int32, p.layout.size())
	for i := range place {
		place[i] = -1
	}
	for i, c := range e.cols {
		place[c] = int32(i)
	}
	inv := s.inverse()
	meat := p.meat(e.full, place, n)
	var half, cov mat.Dense
	half.Mul(inv, meat)
	cov.Mul(&half, inv)
	e.robust, e.formal = &cov, inv
	e.corr = mat.NewSymDense(n, nil)
	for i := range n {
		// never smaller than the formal value: few clusters can agree by chance
		e.sigma[i] = math.Sqrt(math.Max(cov.At(i, i), inv.At(i, i)))
	}
	for i := range n {
		for j := i; j < n; j++ {
			e.corr.SetSym(i, j, inv.At(i, j)/math.Sqrt(inv.At(i, i)*inv.At(j, j)))
		}
	}
	return e
}

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

// correlation returns the correlation of two global kinds in the estimate.
func (e *estimate) correlation(a, b Kind) float64 {
	i, j := -1, -1
	for n, c := range e.cols {
		if c == int(a) {
			i = n
		}
		if c == int(b) {
			j = n
		}
	}
	if i < 0 || j < 0 {
		return 0
	}
	return e.corr.At(i, j)
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
