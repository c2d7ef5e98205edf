package adjust

import (
	"cmp"
	"math"
	"slices"

	"sidelap/overlap"
)

// causes names what is in the chosen model. Kinds that are too small, too uncertain or explain too little are taken out of the model, the
// one that costs least first, until all that is left has a name: kinds that hide each other by their correlation
// do not keep each other from being named. It returns the model that is left, and its fit.
func (p *problem) causes(s *overlap.Survey, chosen score, alike [][2]Kind, o Options) ([]Cause, score, *estimate) {
	for {
		e := p.fit(chosen.model)
		named := map[Kind][]Cause{}
		own := p.blockSquares(&chosen, false)
		worst, least := Kind(-1), inf
		var without score
		for _, k := range chosen.model {
			less := p.holdOut(chosen.model.without(k))
			if !p.asGood(&less, chosen.squares, own) {
				named[k] = p.named(s, &chosen, &less, e, k, o)
			}
			if gain := less.squares - chosen.squares; len(named[k]) == 0 && (worst < 0 || gain < least) {
				worst, least, without = k, gain, less
			}
		}
		if worst < 0 {
			var out []Cause
			var others []score
			if len(chosen.model) > 0 {
				others = p.others(&chosen, own, alike)
			}
			for _, k := range chosen.model {
				rivals := p.rivals(&chosen, k, own, others, alike)
				for _, c := range named[k] {
					c.Significant, c.ConfoundedWith = clearOf(c.Estimate, c.Sigma), union(rivals, c.ConfoundedWith)
					out = append(out, c)
				}
			}
			return out, chosen, e
		}
		chosen = without
	}
}

// minRangeT is how many of its full standard deviations a range offset must differ from zero to be named. Our proposal.
const minRangeT = 5

// named returns the causes of one kind of the model that can be named; without is the model without the kind.
func (p *problem) named(s *overlap.Survey, chosen, without *score, e *estimate, k Kind, o Options) []Cause {
	gain := without.squares - chosen.squares
	height, distance := p.effect(e, k)
	if distance < k.relevance()*o.RelevantM || 100*gain < o.MinExplainedPct*without.squares {
		return nil
	}
	like := Cause{Kind: k, Strip: -1, EffectM: height, ExplainedPct: 100 * math.Min(1, math.Max(0, gain)/p.total.yy)}
	values := func(wide bool) []Cause {
		e.wide = wide
		defer func() { e.wide = false }()
		if k >= globalKinds {
			return p.stripCauses(s, e, like, o)
		}
		c := like
		e.doubts = nil
		c.Estimate, c.Sigma = e.of(int(k))
		c.ConfoundedWith = e.doubts
		return []Cause{c}
	}
	narrow := values(false)
	found := values(true)
	var out []Cause
	for i, c := range found {
		// A range offset shows in overlaps only as a millimetre or so between nadir and edge, as much as other small errors
		// make there; control is what decides it (georeferencing reference, section 6). It must be clear of its whole doubt.
		if k == RangeOffset && math.Abs(c.Estimate) < minRangeT*c.Sigma {
			continue
		}
		if math.Abs(c.Estimate) >= o.MinT*narrow[i].Sigma {
			out = append(out, c)
		}
	}
	return out
}

// rivals lists the kinds that explain these data in place of k: those whose estimates go together with its own in this geometry, and those
// that predict held-out ground as well, to within two standard errors or what is not worth a word, alone in its place or within another model that needs hardly
// more words. A kind that these data show too dimly to look for it is a rival as long as its size would not be unusual.
func (p *problem) rivals(chosen *score, k Kind, own []float64, others []score, alike [][2]Kind) []Kind {
	var out []Kind
	for q := range DatumHeight {
		if q == k || q == globalKinds || q == LeverZ || chosen.model.has(q) {
			continue
		}
		if k == BoresightRoll && q == AttitudeDrift {
			continue // a roll for each strip always holds one roll for all
		}
		if slices.Contains(alike, [2]Kind{min(k, q), max(k, q)}) {
			out = append(out, q)
			continue
		}
		alt := p.holdOut(chosen.model.without(k).with(q))
		if !math.IsInf(alt.squares, 1) && p.within(&alt, chosen.squares, own, rivalSE) && (q > globalKinds || p.usable(q) || p.usualSize(&alt, q)) {
			out = append(out, q)
		}
	}
	for i := range others {
		if others[i].model.has(k) || len(others[i].model) > len(chosen.model) {
			continue
		}
		for _, q := range others[i].model {
			if !chosen.model.has(q) && !slices.Contains(out, q) && !(k == BoresightRoll && q == AttitudeDrift) {
				out = append(out, q)
			}
		}
	}
	slices.Sort(out)
	return out
}

// union returns the kinds of both lists, in order.
func union(a, b []Kind) []Kind {
	all := append(slices.Clone(a), b...)
	slices.Sort(all)
	return slices.Compact(all)
}

// usualSize reports whether a global kind would be of a size that such errors have: four times what is worth an estimate.
func (p *problem) usualSize(s *score, k Kind) bool {
	globals, _ := s.model.split()
	at, sum := slices.Index(globals, int(k)), 0.0
	for f := range folds {
		sum += s.x[f][at] / folds
	}
	return math.Abs(sum) < 4*k.worthSigma()
}

// others returns models that need hardly more words than the chosen one and predict held-out ground as well.
func (p *problem) others(chosen *score, own []float64, alike [][2]Kind) []score {
	var list []score
	for _, set := range stripSets() {
		for _, m := range globalModels(p.usable, alike) {
			full := append(append(model{}, m...), set...)
			if full.words() > chosen.model.words()+0.5 || full.words() == 0 {
				continue
			}
			if s := p.holdOut(full); !math.IsInf(s.squares, 1) {
				list = append(list, s)
			}
		}
	}
	slices.SortStableFunc(list, func(a, b score) int { return cmp.Compare(a.squares, b.squares) })
	var out []score
	for i := range list[:min(len(list), 12)] {
		if p.asGood(&list[i], chosen.squares, own) {
			out = append(out, list[i])
		}
	}
	return out
}

// effect returns two 95th percentiles over the rows, in metres: of the height change between strips that a kind causes, and of the distance by
// which it moves them against each other.
func (p *problem) effect(e *estimate, k Kind) (heightM, distanceM float64) {
	x := p.only(e, k)
	var heights, distances []float64
	var s sparse
	every := (len(p.rows) + most - 1) / most
	for i := 0; i < len(p.rows); i += every {
		r := &p.rows[i]
		if r.weight <= 0 {
			continue
		}
		s.fill(r, p.layout)
		var d Vec
		for c := range s.n {
			v := x[s.at[c]]
			d[0] += v * s.east[c]
			d[1] += v * s.north[c]
			d[2] += v * (s.val[c] + r.gE*s.east[c] + r.gN*s.north[c])
		}
		heights, distances = append(heights, math.Abs(apparent(d, r.gE, r.gN))), append(distances, d.Norm())
	}
	if len(heights) == 0 {
		return 0, 0
	}
	return quantile(heights, 0.95), quantile(distances, 0.95)
}

// only returns the parameter vector of one kind.
func (p *problem) only(e *estimate, k Kind) []float64 {
	x := make([]float64, len(e.full))
	for _, c := range p.layout.columnsOf(k) {
		x[c] = e.full[c]
	}
	return x
}
