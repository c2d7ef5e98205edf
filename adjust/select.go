package adjust

import (
	"math"
	"slices"
)

// score is how well a model predicts ground that it was not fitted to.
type score struct {
	model   model
	squares float64 // weighted sum of squared residuals over all folds, each fitted without it
	x       [folds][]float64
}

// toleranceM is the rms separation below which the gain of a larger model is not worth its words. Our proposal: what
// curved ground within a cell, grass and the like leave in simulated flights without a fault.
const toleranceM = 0.0007

// slack is the gain in squares below which a larger model is not worth its words.
func (p *problem) slack() float64 { return p.total.w * toleranceM * toleranceM }

// holdOut scores a model.
func (p *problem) holdOut(m model) score {
	goOn(p.ctx)
	s := score{model: m}
	globals, set := m.split()
	for f, r := range p.reductions(set) {
		x, ok := r.solve(globals, p.prior)
		if !ok || !r.ok {
			s.squares, s.x[f] = inf, x
			continue
		}
		s.x[f] = x
		s.squares += p.fold[f].leaves(s.full(p, f, false))
	}
	return s
}

// blockSquares returns for each block the weighted squared residuals that the score's fits leave in it.
func (p *problem) blockSquares(s *score, own bool) []float64 {
	goOn(p.ctx)
	var x [folds][]float64
	for f := range x {
		x[f] = s.full(p, f, own)
	}
	sums := make([]float64, p.blocks)
	var local []float64
	for b := range sums {
		if q := &p.block[b]; q.rows > 0 {
			local = q.gather(x[foldOf(int32(b))], local)
			sums[b] = q.leaves(local)
		}
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

// asGood reports whether a model predicts held-out ground as well as another whose squares by block are given: to
// within one standard error, to within what is not worth a word, or to within what the doubt about the sensor's place makes of it.
func (p *problem) asGood(s *score, other float64, otherBlocks []float64) bool {
	return p.within(s, other, otherBlocks, 1)
}

// rivalSE is how many standard errors better a model must predict held-out ground to be told apart from another. Common practice: two.
const rivalSE = 2

func (p *problem) within(s *score, other float64, otherBlocks []float64, errors float64) bool {
	d := s.squares - other - p.geometrySlack(other)
	switch {
	case d <= p.slack():
		return true
	case d > 0.3*other:
		return false // no need to look at blocks
	}
	_, se := differenceSE(p.blockSquares(s, false), otherBlocks)
	return d <= errors*se
}

// geometrySlack is what models that explain the same may differ by, since the coefficients are known only to a share: the doubt's square of
// the squares that they explain.
func (p *problem) geometrySlack(squares float64) float64 {
	if p.doubt == 0 {
		return 0
	}
	if p.none == 0 {
		s := p.holdOut(model{})
		p.none = s.squares
	}
	return p.doubt * p.doubt * math.Max(0, p.none-squares)
}

// search chooses the model: the smallest candidate that predicts held-out ground as well as the best one does.
func (p *problem) search(alike [][2]Kind) (chosen, best score) {
	var scores []score
	for _, set := range stripSets() {
		for _, m := range globalModels(p.usable, alike) {
			s := p.holdOut(append(append(model{}, m...), set...))
			if !math.IsInf(s.squares, 1) {
				scores = append(scores, s)
			}
		}
	}
	if len(scores) == 0 {
		scores = []score{p.holdOut(model{})}
	}
	slices.SortStableFunc(scores, func(a, b score) int {
		if d := a.model.words() - b.model.words(); math.Abs(d) > 1e-9 {
			return int(math.Copysign(1, d))
		}
		if math.Abs(a.squares-b.squares) > 1e-6*a.squares {
			if a.squares < b.squares {
				return -1
			}
			return 1
		}
		return a.model.rank() - b.model.rank()
	})
	best = slices.MinFunc(scores, func(a, b score) int {
		if a.squares < b.squares {
			return -1
		}
		return 1
	})
	bestBlocks := p.blockSquares(&best, false)
	for i := range scores {
		if p.asGood(&scores[i], best.squares, bestBlocks) {
			return p.usual(scores[i:]), best
		}
	}
	return best, best
}

// usual returns the first of the scores or one of about the same size that holds more usual kinds, where the difference
// between them is chance.
func (p *problem) usual(scores []score) score {
	first := scores[0]
	blocks := p.blockSquares(&first, false)
	pick := first
	for _, s := range scores[1:] {
		if s.model.words() > first.model.words()+0.5 || s.squares-first.squares > p.slack() {
			break
		}
		if s.model.rank() >= pick.model.rank() {
			continue
		}
		diff, se := differenceSE(p.blockSquares(&s, false), blocks)
		if diff <= se || diff <= p.slack()/8 {
			pick = s
		}
	}
	return pick
}

// usable reports whether the data can determine a global kind at all, well enough to find an error of a size that matters, and
// from slopes rather than from what their noise looks like.
func (p *problem) usable(k Kind) bool {
	return p.sigmaAlone([]Kind{k}, k) < k.worthSigma() && p.slopeShare(k) < mostSlopeShare
}

// slopeDoubt is the share by which the noise of gradients may be larger or smaller than the planes say.
const slopeDoubt = 0.2

// mostSlopeShare is the share of itself by which an estimate may be wrong for that reason and still be looked for. Our proposal.
const mostSlopeShare = 0.1

// slopeShare is the share of its own size by which the estimate of a kind may be wrong since the noise of gradients is known only so well.
func (p *problem) slopeShare(k Kind) float64 {
	n := p.reduceTotal().n[k][k]
	if !(n > 0) {
		return inf
	}
	return slopeDoubt * p.total.slope[k] / n
}

// sigmaAlone predicts the standard deviation of a kind estimated together with the others given, from geometry, slopes and noise,
// with the quiet errors of strips and with what is not modelled.
func (p *problem) sigmaAlone(with []Kind, k Kind) float64 {
	inv, ok := p.reduceTotal().inverse(with, p.prior)
	loose, okLoose := p.total.globals().inverse(with, p.prior)
	if !ok || !okLoose {
		return inf
	}
	i := slices.Index(with, k)
	return math.Sqrt(inv.At(i, i) + p.floorShare()*loose.At(i, i))
}
