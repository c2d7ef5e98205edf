package adjust

import (
	"context"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"sidelap/overlap"
)

// component is what a column of a strip changes.
type component int

const (
	compEast component = iota
	compNorth
	compUp
	compRoll
	compHeading
	compGlobal
)

// fitColumn is a parameter: a global kind, or a component of a strip times a function of time.
type fitColumn struct {
	comp  component
	kind  Kind
	strip int32
	curve Curve // of time; empty: constant
	step  bool  // the curve is a step
	prior float64
}

// fitGroup is a set of parameters that come and go together.
type fitGroup struct {
	kind  Kind
	strip int // -1: all
	cols  []int
	knots int

	banned bool // these data cannot decide about it
}

// fitProblem is the least squares problem with every parameter that may be of use. Models are subsets of its columns.
type fitProblem struct {
	ctx     context.Context // of the estimation; goOn asks it
	strips  []StripCorrection
	columns []fitColumn
	ofStrip [][]int // columns of each strip
	groups  []fitGroup
	rows    []fitRow
	entries []entry
	blocks  int

	size  int
	total []float64 // size x size, upper triangle
	fold  [folds][]float64
	u     []float64
	foldU [folds][]float64
	yy    float64
	w     float64
	reg   []float64 // size x size: prior knowledge and stiffness
	used  int
}

// newFitProblem sets up the equations. l sees, refs are the cells.
func newFitProblem(ctx context.Context, strips []StripCorrection, pairs []overlap.Pair, refs []cellRef, l *look, cellM float64, cols []fitColumn, ofStrip [][]int) *fitProblem {
	p := &fitProblem{ctx: ctx, strips: strips, columns: cols, ofStrip: ofStrip, size: len(cols)}
	block, n := fitBlocks(pairs, refs, cellM)
	p.blocks = n
	for i, ref := range refs {
		if i%1024 == 0 {
			goOn(ctx)
		}
		pair := &pairs[ref.pair]
		c := &pair.Cells[ref.cell]
		a := l.seen(pair.A, c.TimeAS, Vec{c.EM, c.NM, c.ZAM}, c.AngleA)
		b := l.seen(pair.B, c.TimeBS, Vec{c.EM, c.NM, c.ZBM}, c.AngleB)
		if l.pose != nil && !(a.known && b.known) {
			continue
		}
		r := fitRow{y: c.DzM, base: 1 / (c.SigmaM*c.SigmaM + minPlaneSigmaM*minPlaneSigmaM), block: block[i], pair: ref.pair, a: int32(pair.A), b: int32(pair.B),
			slopeVar: slopeVarianceOf(c, cellM), tA: c.TimeAS, tB: c.TimeBS, first: int32(len(p.entries))}
		p.put(c, -1, pair.A, &a)
		both := len(p.entries)
		p.put(c, 1, pair.B, &b)
		p.joinGlobals(int(r.first), both)
		r.n = int32(len(p.entries)) - r.first
		p.rows = append(p.rows, r)
	}
	return p
}

// minPlaneSigmaM keeps single very smooth cells from ruling the fit.
const minPlaneSigmaM = 0.002

// slopeVarianceOf is the variance of the mean gradient of two planes through points spread evenly over a cell.
func slopeVarianceOf(c *overlap.PairCell, cellM float64) float64 {
	if c.NA < 1 || c.NB < 1 || math.IsNaN(c.RoughAM+c.RoughBM) {
		return 0
	}
	return (c.RoughAM*c.RoughAM/float64(c.NA) + c.RoughBM*c.RoughBM/float64(c.NB)) * 3 / (cellM * cellM)
}

// put appends the entries of one side of a cell.
func (p *fitProblem) put(c *overlap.PairCell, sign float64, strip int, s *seen) {
	add := func(col int, f float64, d Vec) {
		f *= sign
		if f == 0 || d == (Vec{}) {
			return
		}
		p.entries = append(p.entries, entry{int32(col), f * apparent(d, c.SlopeE, c.SlopeN), float32(f * d[0]), float32(f * d[1]), float32(f * d[2])})
	}
	if s.known {
		for k := range int(globalKinds) {
			add(k, 1, s.global[k])
		}
	}
	for _, col := range p.ofStrip[strip] {
		k := &p.columns[col]
		f := 1.0
		if len(k.curve.TimeS) > 0 {
			f = k.curve.At(s.tS)
		}
		switch {
		case k.comp == compEast:
			add(col, f, Vec{1, 0, 0})
		case k.comp == compNorth:
			add(col, f, Vec{0, 1, 0})
		case k.comp == compUp:
			add(col, f, Vec{0, 0, 1})
		case !s.known:
		case k.comp == compRoll:
			add(col, f, s.roll)
		case k.comp == compHeading:
			add(col, f, s.heading)
		}
	}
}

// joinGlobals makes one entry of the two that both sides have for each global parameter.
func (p *fitProblem) joinGlobals(first, both int) {
	var place [globalKinds]int
	for i := first; i < both; i++ {
		if c := p.entries[i].col; c < int32(globalKinds) {
			place[c] = i + 1
		}
	}
	out := p.entries[:both]
	for _, e := range p.entries[both:] {
		if e.col < int32(globalKinds) && place[e.col] > 0 {
			t := &out[place[e.col]-1]
			t.val, t.e, t.n, t.up = t.val+e.val, t.e+e.e, t.n+e.n, t.up+e.up
			continue
		}
		out = append(out, e)
	}
	p.entries = out
}

func (p *fitProblem) of(r *fitRow) []entry { return p.entries[r.first : r.first+r.n] }

func (p *fitProblem) predict(r *fitRow, x []float64) float64 {
	sum := 0.0
	for _, e := range p.of(r) {
		sum += e.val * x[e.col]
	}
	return sum
}

// slopeNoise is the square that the noise of the gradient adds to a prediction.
func (p *fitProblem) slopeNoise(r *fitRow, x []float64) float64 {
	e, n := 0.0, 0.0
	for _, c := range p.of(r) {
		e += float64(c.e) * x[c.col]
		n += float64(c.n) * x[c.col]
	}
	return r.slopeVar * (e*e + n*n)
}

// accumulate sums the normal equations for the present weights. The noise of the gradient would make coefficients larger
// than they are: its expected square is taken off.
func (p *fitProblem) accumulate() {
	goOn(p.ctx)
	n := p.size
	p.total, p.u = make([]float64, n*n), make([]float64, n)
	for f := range p.fold {
		p.fold[f], p.foldU[f] = make([]float64, n*n), make([]float64, n)
	}
	p.yy, p.w, p.used = 0, 0, 0
	for i := range p.rows {
		r := &p.rows[i]
		if r.weight <= 0 {
			continue
		}
		q, u := p.fold[foldOf(r.block)], p.foldU[foldOf(r.block)]
		es := p.of(r)
		for j, a := range es {
			u[a.col] += r.weight * a.val * r.y
			for _, b := range es[j:] {
				lo, hi := a.col, b.col
				if lo > hi {
					lo, hi = hi, lo
				}
				q[int(lo)*n+int(hi)] += r.weight * (a.val*b.val - r.slopeVar*(float64(a.e)*float64(b.e)+float64(a.n)*float64(b.n)))
			}
		}
		p.yy += r.weight * r.y * r.y
		p.w += r.weight
		p.used++
	}
	for f := range p.fold {
		for i, v := range p.fold[f] {
			p.total[i] += v
		}
		for i, v := range p.foldU[f] {
			p.u[i] += v
		}
	}
}

// solve estimates the columns from all rows (fold -1) or from all but a fold. It returns the full vector, and the factor.
func (p *fitProblem) solve(cols []int, fold int) ([]float64, *mat.Cholesky, bool) {
	goOn(p.ctx)
	x := make([]float64, p.size)
	n := len(cols)
	if n == 0 {
		return x, nil, true
	}
	a, b := mat.NewSymDense(n, nil), mat.NewVecDense(n, nil)
	for i, ci := range cols {
		for j := i; j < n; j++ {
			at := ci*p.size + cols[j]
			v := p.total[at] + p.reg[at]
			if fold >= 0 {
				v -= p.fold[fold][at]
			}
			a.SetSym(i, j, v)
		}
		v := p.u[ci]
		if fold >= 0 {
			v -= p.foldU[fold][ci]
		}
		b.SetVec(i, v)
	}
	var chol mat.Cholesky
	if !chol.Factorize(a) {
		return x, nil, false
	}
	var s mat.VecDense
	if err := chol.SolveVecTo(&s, b); err != nil {
		if _, poor := err.(mat.Condition); !poor {
			return x, nil, false
		}
	}
	for i, c := range cols {
		x[c] = s.AtVec(i)
	}
	return x, &chol, true
}

// fitScore is what a model leaves on ground that it was not fitted to.
type fitScore struct {
	cols    []int
	ok      bool
	squares float64
	x       [folds][]float64
	block   []float64 // squares by block; filled by blockSquares
}

// score fits without each fold and sums the squares that are left in it, from the normal equations alone.
func (p *fitProblem) score(cols []int) *fitScore {
	slices.Sort(cols)
	s := &fitScore{cols: cols, ok: true}
	s.squares = p.yy
	for f := range folds {
		x, _, ok := p.solve(cols, f)
		if !ok {
			s.ok, s.squares = false, math.Inf(1)
			return s
		}
		s.x[f] = x
		for i, ci := range cols {
			row := -2 * p.foldU[f][ci]
			for j, cj := range cols {
				at := ci*p.size + cj
				if j < i {
					at = cj*p.size + ci
				}
				row += p.fold[f][at] * x[cj]
			}
			s.squares += x[ci] * row
		}
	}
	return s
}

// blockSquares fills the squares by block of ground.
func (p *fitProblem) blockSquares(s *fitScore) []float64 {
	if s.block != nil {
		return s.block
	}
	goOn(p.ctx)
	s.block = make([]float64, p.blocks)
	for i := range p.rows {
		r := &p.rows[i]
		if r.weight <= 0 {
			continue
		}
		x := s.x[foldOf(r.block)]
		e := r.y - p.predict(r, x)
		s.block[r.block] += r.weight * (e*e - p.slopeNoise(r, x))
	}
	return s.block
}

// reweigh sets robust weights from what a rich model leaves: base weights of the planes, widened by what they do not explain, times Tukey's.
func (p *fitProblem) reweigh(rich []int) {
	for i := range p.rows {
		p.rows[i].weight = p.rows[i].base
	}
	base := make([]float64, len(p.rows))
	res := make([]float64, len(p.rows))
	abs := make([]float64, len(p.rows))
	for range 3 {
		p.accumulate()
		x, _, ok := p.solve(rich, -1)
		if !ok {
			x = make([]float64, p.size)
		}
		for i := range p.rows {
			r := &p.rows[i]
			res[i] = r.y - p.predict(r, x)
			abs[i] = math.Abs(res[i]) * math.Sqrt(r.base)
			base[i] = r.base
		}
		scale := 1.4826 * quantile(abs, 0.5)
		extra := 0.0
		if scale > 1 {
			extra = (scale*scale - 1) / quantile(base, 0.5)
		}
		for i := range p.rows {
			v := 1/p.rows[i].base + extra
			p.rows[i].weight = tukeyWeight(res[i]/math.Sqrt(v)/math.Min(1, math.Max(scale, 0.2))) / v
		}
	}
	p.accumulate()
}

// tukeyWeight is Tukey's biweight with the usual 4.685.
func tukeyWeight(u float64) float64 {
	if u = math.Abs(u) / 4.685; u >= 1 {
		return 0
	}
	return (1 - u*u) * (1 - u*u)
}
