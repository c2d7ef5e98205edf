package adjust

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// estimate is a model fitted to all rows, with standard deviations that respect that the
// residuals of one block of ground belong together, and that a good flight has small errors of its own.
type estimate struct {
	model model
	cols  []int
	x     []float64 // values at cols
	full  []float64

	robust *mat.SymDense // cluster-robust covariance at cols
	formal *mat.SymDense // inverse of the normal matrix at cols, in the directions that are determined
	loose  *mat.SymDense // the same without quiet errors of strips
	share  []float64     // of the value at cols that may be wrong
	leaks  []leak        // counted when wide
	trim   *leak         // always counted; nil with a path
	wide   bool
	doubts []Kind  // usual kinds, not in the model, that could make a third or more of a value that was asked for when wide
	floor  float64 // share of loose that is added to the variances for what is not modelled
}

// floorShare is the variance that an unmodelled effect of rms floorM in the pattern of a parameter adds to it, in units of
// its formal variance: with many cells the formal variance vanishes, that of unmodelled effects does not.
func (p *problem) floorShare() float64 { return p.total.w * floorM * floorM }

// floorM is the rms of unmodelled effects (curved ground, grass, incidence) that may go along with a parameter.
const floorM = 0.0004

// modelShare is the share of its own size by which an estimate may be wrong since coefficients (slopes, motion, heights) are known only so well.
const modelShare = 0.015

// fit estimates a model from all rows.
//
// The strips' columns that the model does not have are held to their quiet sizes and eliminated. Directions of the others about which the
// rows know less than is known beforehand (the common height of all strips, a tilt of
// a block of parallel strips) are left at zero: the estimate is that of minimum norm, in units of the prior sizes, and its
// standard deviations are those of what the data do determine.
//
// The covariance is N^-1 [ sum over clusters of (A'Wv)(A'Wv)' + P ] N^-1 with one cluster for each pair
// and block of ground, equation (5) of the georeferencing reference, times G/(G-1), and P the information on quiet errors.
func (p *problem) fit(m model) *estimate {
	goOn(p.ctx)
	e := &estimate{model: m, cols: m.columns(p.layout), full: make([]float64, p.layout.size()), floor: p.floorShare()}
	n := len(e.cols)
	e.x = make([]float64, n)
	if n == 0 {
		return e
	}
	quiet := p.quietPlaces(m)
	proj, ncc := p.eliminate(e.cols, quiet) // proj: how the scores of all columns add up to those of cols
	inv := p.pseudoInverse(ncc, e.cols, 1)
	u := mat.NewVecDense(n+len(quiet), nil)
	for i, c := range append(append([]int{}, e.cols...), quiet...) {
		u.SetVec(i, p.total.u[c])
	}
	var r, x mat.VecDense
	r.MulVec(proj, u)
	x.MulVec(inv, &r)
	copy(e.x, x.RawVector().Data)
	for i, c := range e.cols {
		e.full[c] = e.x[i]
	}
	raw := mat.NewSymDense(n, nil)
	for i, ci := range e.cols {
		for j := i; j < n; j++ {
			raw.SetSym(i, j, p.total.at(ci, e.cols[j]))
		}
	}
	e.loose = p.pseudoInverse(raw, e.cols, 1+e.floor)
	e.share = make([]float64, n)
	for i, c := range e.cols {
		e.share[i] = modelShare + p.doubt/2
		if v := inv.At(i, i); v > 0 {
			e.share[i] += slopeDoubt * p.total.slope[c] * v
		}
	}
	meat := p.meat(e, quiet, proj)
	var half, cov mat.Dense
	half.Mul(inv, meat)
	cov.Mul(&half, inv)
	e.robust, e.formal = mat.NewSymDense(n, nil), inv
	if p.level {
		e.trim = p.trimLeak(e)
	}
	for k := range LeverZ { // the usual kinds that the model does not have
		if !m.has(k) && (k < LeverX || k == RangeOffset && m.has(ScanAngleScale)) {
			e.leaks = append(e.leaks, p.leakOf(e, k, quiet))
		}
	}
	for i := range n {
		for j := i; j < n; j++ {
			e.robust.SetSym(i, j, (cov.At(i, j)+cov.At(j, i))/2)
		}
	}
	return e
}

// quietPlaces lists the columns of strips that a model does not have.
func (p *problem) quietPlaces(m model) []int {
	var out []int
	for _, c := range p.stripPlaces() {
		if k, _ := p.layout.kindOf(c); !m.has(k) {
			out = append(out, c)
		}
	}
	return out
}

// eliminate removes the quiet columns from the normal equations. proj is [I, -N_cq (N_qq + P)^-1], ncc what is left at cols.
func (p *problem) eliminate(cols, quiet []int) (proj *mat.Dense, ncc *mat.SymDense) {
	n, s := len(cols), len(quiet)
	ncc = mat.NewSymDense(n, nil)
	proj = mat.NewDense(n, n+s, nil)
	for i, ci := range cols {
		proj.Set(i, i, 1)
		for j := i; j < n; j++ {
			ncc.SetSym(i, j, p.total.at(ci, cols[j]))
		}
	}
	if s == 0 {
		return proj, ncc
	}
	nqq, nqc := mat.NewSymDense(s, nil), mat.NewDense(s, n, nil)
	for i, ci := range quiet {
		for j := i; j < s; j++ {
			nqq.SetSym(i, j, p.total.at(ci, quiet[j]))
		}
		nqq.SetSym(i, i, nqq.At(i, i)+p.information(ci, nil))
		for k, ck := range cols {
			nqc.Set(i, k, p.total.at(ci, ck))
		}
	}
	var chol mat.Cholesky
	var g mat.Dense // (N_qq + P)^-1 N_qc
	if !chol.Factorize(nqq) || chol.SolveTo(&g, nqc) != nil {
		return proj, ncc
	}
	var taken mat.Dense
	taken.Mul(nqc.T(), &g)
	for i := range n {
		for j := i; j < n; j++ {
			ncc.SetSym(i, j, ncc.At(i, j)-(taken.At(i, j)+taken.At(j, i))/2)
		}
		for k := range s {
			proj.Set(i, n+k, -g.At(k, i))
		}
	}
	return proj, ncc
}

// pseudoInverse inverts a normal matrix at cols in the directions that the rows determine: to better than what makes an estimate
// useful; least is the information in these units that a direction must have.
func (p *problem) pseudoInverse(normal *mat.SymDense, cols []int, least float64) *mat.SymDense {
	n := len(cols)
	worth := make([]float64, n)
	for i, c := range cols {
		k, _ := p.layout.kindOf(c)
		worth[i] = k.worthSigma()
	}
	scaled := mat.NewSymDense(n, nil)
	for i := range cols {
		for j := i; j < n; j++ {
			scaled.SetSym(i, j, normal.At(i, j)*worth[i]*worth[j])
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
		if lambda < least {
			continue
		}
		inv.SymRankOne(inv, 1/lambda, v.ColView(k))
	}
	for i := range cols {
		for j := i; j < n; j++ {
			inv.SetSym(i, j, inv.At(i, j)*worth[i]*worth[j])
		}
	}
	return inv
}

// meat returns the sum over clusters of the outer products of their scores, at the columns of the estimate after
// elimination, with the part of the quiet errors.
func (p *problem) meat(e *estimate, quiet []int, proj *mat.Dense) *mat.SymDense {
	n, s := len(e.cols), len(quiet)
	place := make([]int32, p.layout.size())
	for i := range place {
		place[i] = -1
	}
	for i, c := range e.cols {
		place[c] = int32(i)
	}
	for i, c := range quiet {
		place[c] = int32(n + i)
	}
	meat := mat.NewSymDense(n, nil)
	scores := p.clusterScores(p.withQuiet(e, quiet, proj), place, n+s)
	var t mat.VecDense
	for _, sc := range scores {
		t.MulVec(proj, mat.NewVecDense(n+s, sc))
		meat.SymRankOne(meat, 1, &t)
	}
	if g := float64(len(scores)); g > 1 {
		meat.ScaleSym(g/(g-1), meat)
	}
	for k, c := range quiet {
		meat.SymRankOne(meat, p.information(c, nil), proj.ColView(n+k))
	}
	return meat
}

// withQuiet returns the whole parameter vector, quiet errors included.
func (p *problem) withQuiet(e *estimate, quiet []int, proj *mat.Dense) []float64 {
	x := append([]float64(nil), e.full...)
	if len(quiet) == 0 {
		return x
	}
	s := len(quiet)
	nqq, b := mat.NewSymDense(s, nil), mat.NewVecDense(s, nil)
	for i, ci := range quiet {
		for j := i; j < s; j++ {
			nqq.SetSym(i, j, p.total.at(ci, quiet[j]))
		}
		nqq.SetSym(i, i, nqq.At(i, i)+p.information(ci, nil))
		b.SetVec(i, p.total.u[ci])
	}
	var chol mat.Cholesky
	var v mat.VecDense
	if !chol.Factorize(nqq) || chol.SolveVecTo(&v, b) != nil {
		return x
	}
	for i, c := range quiet {
		x[c] = v.AtVec(i)
		for k := range e.cols {
			x[c] += proj.At(k, len(e.cols)+i) * e.x[k]
		}
	}
	return x
}

// clusterScores returns the sums of A'Wv of the clusters in order of first appearance.
func (p *problem) clusterScores(x []float64, place []int32, size int) [][]float64 {
	type cluster struct{ pair, block int32 }
	scores := map[cluster][]float64{}
	var order [][]float64
	var s sparse
	for i := range p.rows {
		r := &p.rows[i]
		if r.weight <= 0 {
			continue
		}
		c := cluster{r.pair, r.block}
		sc := scores[c]
		if sc == nil {
			sc = make([]float64, size)
			scores[c] = sc
			order = append(order, sc)
		}
		s.fill(r, p.layout)
		e := r.weight * (r.y - s.predict(x))
		for k := range s.n {
			if at := place[s.at[k]]; at >= 0 {
				sc[at] += e * s.val[k]
			}
		}
	}
	return order
}

// sigmaOf returns the standard deviation of a linear combination of the parameters at cols: never smaller than the
// formal one, since few clusters can agree by chance, and widened by what is not modelled.
func (e *estimate) sigmaOf(c []float64) float64 {
	v := mat.NewVecDense(len(c), c)
	x := 0.0
	for i := range c {
		x += c[i] * e.x[i] * e.share[i]
	}
	formal := mat.Inner(v, e.formal, v)
	sum := math.Max(mat.Inner(v, e.robust, v), formal) + e.floor*mat.Inner(v, e.loose, v) + x*x
	leaks := e.leaks
	if !e.wide {
		leaks = nil
	}
	if e.trim != nil {
		leaks = append(slices.Clone(leaks), *e.trim)
	}
	value, narrow := 0.0, sum
	for i := range c {
		value += c[i] * e.x[i]
	}
	for _, l := range leaks {
		b := mat.Dot(v, l.per)
		sum += b * b * l.variance
		if l.kind < LeverZ && 9*b*b*l.variance > value*value && value*value > doubtT*doubtT*narrow && !slices.Contains(e.doubts, l.kind) {
			e.doubts = append(e.doubts, l.kind)
		}
	}
	return math.Sqrt(sum)
}

// doubtT is how many of its own standard deviations a value must have for it to matter what else could have made it.
const doubtT = 3.5

// leak is what a usual kind that the model leaves out, because it shows too little, may do to the estimates.
type leak struct {
	kind     Kind          // LeverZ: the unknown lean of the body
	per      *mat.VecDense // change of the estimates for a unit of the kind
	variance float64       // of the kind, from what the rows and what is usual say about it
}

// trimRad is how far an aircraft may fly nose up or down without our knowing.
const trimRad = 0.06

// trimLeak is what a heading error does to a roll estimate when the attitude is not known: an aircraft that flies nose down by
// some degrees shows that share of it as roll. Nil when the model holds no roll.
func (p *problem) trimLeak(e *estimate) *leak {
	at := slices.Index(e.cols, int(BoresightRoll))
	if at < 0 {
		return nil
	}
	heading := 1.5 * BoresightHeading.worthSigma()
	if h, sigma := e.of(int(BoresightHeading)); e.model.has(BoresightHeading) {
		heading = math.Abs(h) + sigma
	} else if p.usable(BoresightHeading) {
		heading = math.Min(heading, 3*p.sigmaAlone([]Kind{BoresightHeading}, BoresightHeading))
	}
	l := &leak{kind: LeverZ, per: mat.NewVecDense(len(e.cols), nil), variance: trimRad * heading * trimRad * heading}
	l.per.SetVec(at, 1)
	return l
}

func (p *problem) leakOf(e *estimate, k Kind, quiet []int) leak {
	n := len(e.cols)
	_, all := p.eliminate(append(append([]int{}, e.cols...), int(k)), quiet)
	r, raw := mat.NewVecDense(n, nil), mat.NewVecDense(n, nil)
	for i, c := range e.cols {
		r.SetVec(i, all.At(i, n))
		raw.SetVec(i, p.total.at(c, int(k)))
	}
	l := leak{kind: k, per: mat.NewVecDense(n, nil)}
	l.per.MulVec(e.formal, r)
	sigma := 4 * k.worthSigma() // as large as such errors usually are
	info := all.At(n, n) - mat.Dot(r, l.per)
	infoRaw := p.total.at(int(k), int(k)) - mat.Inner(raw, e.loose, raw)
	l.variance = sigma * sigma
	if alone := all.At(n, n); info > (1-alikeLimit*alikeLimit)*alone && infoRaw > 0 { // else what the rows say about it rests on what is not modelled
		v := 1/info + e.floor/infoRaw
		l.variance = 1 / (1/v + 1/(sigma*sigma))
	}
	return l
}

// of returns the value and standard deviation of a place.
func (e *estimate) of(col int) (x, sigma float64) {
	c := make([]float64, len(e.cols))
	for i := range e.cols {
		if e.cols[i] == col {
			c[i] = 1
			return e.x[i], e.sigmaOf(c)
		}
	}
	return 0, math.NaN()
}
