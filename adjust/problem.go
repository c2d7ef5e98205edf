package adjust

import (
	"math"
	"slices"
	"sort"
)

// folds is the number of parts that the blocks of ground are dealt to for hold-out.
const folds = 4

// problem is everything that the fits of one survey share.
type problem struct {
	layout layout
	rows   []row
	blocks int // number of clusters of ground
	prior  []float64
	seen   []bool // strips with at least one row

	total *normal
	fold  [folds]*normal
	rests [folds]*normal // total without the fold
	spare sparse
}

func newProblem(rows []row, strips, blocks int) *problem {
	p := &problem{layout: layout{strips}, rows: rows, blocks: blocks}
	p.prior = make([]float64, p.layout.size())
	for c := range p.prior {
		k, _ := p.layout.kindOf(c)
		p.prior[c] = k.priorSigma()
	}
	p.seen = make([]bool, strips)
	for i := range rows {
		p.seen[rows[i].a], p.seen[rows[i].b] = true, true
	}
	return p
}

// strips is the number of strips that take part.
func (p *problem) strips() int {
	n := 0
	for _, s := range p.seen {
		if s {
			n++
		}
	}
	return n
}

// accumulate fills the normal equations from the rows and their present weights.
func (p *problem) accumulate() {
	p.total = newNormal(p.layout.size())
	for f := range p.fold {
		p.fold[f] = newNormal(p.layout.size())
	}
	for i := range p.rows {
		r := &p.rows[i]
		if r.weight <= 0 {
			continue
		}
		p.spare.fill(r, p.layout)
		p.fold[foldOf(r.block)].add(&p.spare, r.y, r.weight)
	}
	for _, f := range p.fold {
		p.total.plus(f, 1)
	}
	p.rests = [folds]*normal{}
}

// foldOf deals blocks to folds. Blocks are numbered so that neighbours differ.
func foldOf(block int32) int { return int(block) % folds }

// reweigh sets robust weights from the residuals of a rich model: base weights from the planes'
// own standard deviations, widened by what they do not explain, times Tukey's weights.
func (p *problem) reweigh(rich model, base []float64) {
	for i := range p.rows {
		p.rows[i].weight = base[i]
	}
	cols := rich.columns(p.layout)
	res := make([]float64, len(p.rows))
	abs := make([]float64, 0, len(p.rows))
	for range 4 {
		p.accumulate()
		s := p.total.solve(cols, p.prior)
		x := s.full(p.layout.size())
		abs = abs[:0]
		for i := range p.rows {
			r := &p.rows[i]
			p.spare.fill(r, p.layout)
			res[i] = r.y - p.spare.predict(x)
			abs = append(abs, math.Abs(res[i])*math.Sqrt(base[i]))
		}
		scale := 1.4826 * median(abs)
		extra := 0.0 // variance that the planes do not know of
		if scale > 1 {
			extra = (scale*scale - 1) / median(base)
		}
		for i := range p.rows {
			v := 1/base[i] + extra
			p.rows[i].weight = tukey(res[i]/math.Sqrt(v)/math.Min(1, math.Max(scale, 0.2))) / v
		}
	}
	p.accumulate()
}

// usable reports whether the data can determine a global kind at all, far better than it is known beforehand.
func (p *problem) usable(k Kind) bool {
	s := p.total.solve([]int{int(k)}, p.prior)
	if !s.ok {
		return false
	}
	return math.Sqrt(s.inverse().At(0, 0)) < 0.1*p.prior[k]
}

// score is how well a model predicts ground that it was not fitted to.
type score struct {
	model   model
	squares float64 // weighted sum of squared residuals over all folds, each fitted without it
	fits    [folds]*solution
}

// holdOut scores a model.
func (p *problem) holdOut(m model) score {
	s := score{model: m}
	cols := m.columns(p.layout)
	for f := range p.fold {
		rest := p.rest(f)
		s.fits[f] = rest.solve(cols, p.prior)
		s.squares += p.fold[f].squares(s.fits[f])
	}
	return s
}

// rest returns the normal equations of all folds but f. It builds them on first use after accumulate.
func (p *problem) rest(f int) *normal {
	if p.rests[f] == nil {
		q := newNormal(p.layout.size())
		q.plus(p.total, 1)
		q.plus(p.fold[f], -1)
		p.rests[f] = q
	}
	return p.rests[f]
}

// blockSquares returns for each block the weighted squared residuals that the score's fits leave in it.
func (p *problem) blockSquares(s *score) []float64 {
	var x [folds][]float64
	for f := range x {
		x[f] = s.fits[f].full(p.layout.size())
	}
	sums := make([]float64, p.blocks)
	for i := range p.rows {
		r := &p.rows[i]
		if r.weight <= 0 {
			continue
		}
		p.spare.fill(r, p.layout)
		e := r.y - p.spare.predict(x[foldOf(r.block)])
		sums[r.block] += r.weight * (e*e - p.spare.slopeNoise(x[foldOf(r.block)]))
	}
	return sums
}

// differenceSE returns the sum over blocks of a - b and the standard error of that sum.
func differenceSE(a, b []float64) (sum, se float64) {
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

// selectModel returns the smallest candidate whose hold-out error is within one standard
// error of the best candidate's, with all scores in order of preference.
func (p *problem) selectModel(candidates []model) (chosen score, best score) {
	scores := make([]score, len(candidates))
	for i, m := range candidates {
		scores[i] = p.holdOut(m)
	}
	n := p.strips()
	sort.SliceStable(scores, func(i, j int) bool {
		a, b := scores[i].model, scores[j].model
		if pa, pb := a.parameters(n), b.parameters(n); pa != pb {
			return pa < pb
		}
		if scores[i].squares != scores[j].squares && math.Abs(scores[i].squares-scores[j].squares) > 1e-6*scores[i].squares {
			return scores[i].squares < scores[j].squares
		}
		return a.rank() < b.rank()
	})
	best = slices.MinFunc(scores, func(a, b score) int {
		if a.squares < b.squares {
			return -1
		}
		return 1
	})
	bestBlocks := p.blockSquares(&best)
	for _, s := range scores {
		if s.squares <= best.squares {
			return s, best
		}
		diff, se := differenceSE(p.blockSquares(&s), bestBlocks)
		if diff <= se {
			return s, best
		}
	}
	return best, best
}

func median(v []float64) float64 {
	if len(v) == 0 {
		return math.NaN()
	}
	s := slices.Clone(v)
	slices.Sort(s)
	if n := len(s); n%2 == 0 {
		return (s[n/2-1] + s[n/2]) / 2
	}
	return s[len(s)/2]
}
