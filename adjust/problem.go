package adjust

import (
	"context"
	"math"
	"sync"
)

// folds is the number of parts that the blocks of ground are dealt to for hold-out.
const folds = 4

// problem is everything that the fits of one survey share.
type problem struct {
	ctx    context.Context // of the diagnosis; goOn asks it. nil: never done
	layout layout
	rows   []row
	blocks int     // number of clusters of ground
	level  bool    // the attitude is not known and taken as level
	doubt  float64 // share by which effects may be wrong since the sensor's place is not known better
	none   float64 // squares on held-out ground of no model at all; 0 until asked for
	prior  []float64
	seen   []bool // strips with at least one row

	block   []blockSums
	total   *normal
	fold    [folds]*normal
	reduced map[int]*[folds]*reduction
	all     *reduction // of total
}

func newProblem(rows []row, strips, blocks int) *problem {
	p := &problem{layout: newLayout(strips), rows: rows, blocks: blocks}
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

// accumulate fills the normal equations from the rows and their present weights. Each block is summed in the order
// of the rows, and the blocks in theirs, whatever the number of processors.
func (p *problem) accumulate() {
	goOn(p.ctx)
	p.reduced, p.all, p.none = map[int]*[folds]*reduction{}, nil, 0
	p.block = make([]blockSums, p.blocks)
	strips := p.blockStrips()
	var wg sync.WaitGroup
	for f := range folds {
		wg.Go(func() {
			p.sumBlocks(f, strips)
			p.fold[f] = newNormal(p.layout.size())
			for b := f; b < p.blocks; b += folds {
				p.block[b].addTo(p.fold[f])
			}
		})
	}
	wg.Wait()
	p.total = newNormal(p.layout.size())
	for _, f := range p.fold {
		p.total.plus(f, 1)
	}
}

// foldOf deals blocks to folds. Blocks are numbered so that neighbours differ.
func foldOf(block int32) int { return int(block) % folds }

// parts is the number of parts in which rows are worked through; fixed, so that sums do not depend on the machine.
const parts = 8

// inParts calls f for runs of 0..n-1, several at once.
func inParts(n int, f func(part, from, to int)) {
	var wg sync.WaitGroup
	for i := range parts {
		wg.Go(func() { f(i, i*n/parts, (i+1)*n/parts) })
	}
	wg.Wait()
}

// residuals returns the rows' separations less what parameters x cause.
func (p *problem) residuals(x []float64) []float64 {
	res := make([]float64, len(p.rows))
	inParts(len(p.rows), func(_, from, to int) {
		var s sparse
		for i := from; i < to; i++ {
			s.fill(&p.rows[i], p.layout)
			res[i] = p.rows[i].y - s.predict(x)
		}
	})
	return res
}

// most is the number of rows from which robust weights are found: the fit needs no more.
const most = 60000

// reweigh sets robust weights from the residuals of a rich model: base weights from the planes'
// own standard deviations, widened by what they do not explain, times Tukey's weights.
func (p *problem) reweigh(rich model, base []float64) {
	every := (len(p.rows) + most - 1) / most
	extra, scale := 0.0, 1.0
	few := make([]int, 0, most)
	for i := range p.rows {
		p.rows[i].weight = base[i]
		if i%every == 0 {
			few = append(few, i)
		}
	}
	var x []float64
	for range 4 {
		goOn(p.ctx)
		x = p.richFit(rich, few)
		abs, bases := make([]float64, len(few)), make([]float64, len(few))
		res := make([]float64, len(few))
		inParts(len(few), func(_, from, to int) {
			var s sparse
			for j := from; j < to; j++ {
				i := few[j]
				s.fill(&p.rows[i], p.layout)
				res[j] = p.rows[i].y - s.predict(x)
				abs[j], bases[j] = math.Abs(res[j])*math.Sqrt(base[i]), base[i]
			}
		})
		scale, extra = 1.4826*median(abs), 0
		if scale > 1 {
			extra = (scale*scale - 1) / median(bases) // variance that the planes do not know of
		}
		for j, i := range few {
			p.rows[i].weight = robustWeight(res[j], base[i], scale, extra)
		}
	}
	if every > 1 {
		res := p.residuals(x)
		for i := range p.rows {
			p.rows[i].weight = robustWeight(res[i], base[i], scale, extra)
		}
	}
	p.accumulate()
}

func robustWeight(res, base, scale, extra float64) float64 {
	v := 1/base + extra
	return tukey(res/math.Sqrt(v)/math.Min(1, math.Max(scale, 0.2))) / v
}

// richFit solves a model from some of the rows.
func (p *problem) richFit(rich model, few []int) []float64 {
	var part [parts]*normal
	inParts(len(few), func(k, from, to int) {
		part[k] = newNormal(p.layout.size())
		var s sparse
		for _, i := range few[from:to] {
			if r := &p.rows[i]; r.weight > 0 {
				s.fill(r, p.layout)
				part[k].add(&s, r.y, r.weight)
			}
		}
	})
	q := part[0]
	for _, o := range part[1:] {
		q.plus(o, 1)
	}
	cols := rich.columns(p.layout)
	prior := append([]float64(nil), p.prior...)
	for range 8 {
		if s := q.solve(cols, prior); s.ok {
			return s.full(p.layout.size())
		}
		// what the rows do not determine needs to be held more tightly
		for c := range prior {
			prior[c] /= 3
		}
	}
	return make([]float64, p.layout.size())
}
