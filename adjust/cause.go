package adjust

import (
	"math"
	"slices"

	"sidelap/overlap"
)

// causes turns the fitted model into causes, with those too small or too uncertain left out.
func (p *problem) causes(s *overlap.Survey, chosen *score, e *estimate, o Options) []Cause {
	var out []Cause
	ownBlocks := p.blockSquares(chosen, false)
	for _, k := range chosen.model {
		without := p.holdOut(chosen.model.without(k))
		gain := without.squares - chosen.squares
		c := Cause{Kind: k, Strip: -1, EffectM: p.effect(e, k)}
		c.ExplainedPct = 100 * math.Min(1, math.Max(0, gain)/p.total.yy)
		moves := p.moves(e, k)
		relevant := moves >= k.relevance()*o.RelevantM && 100*gain >= o.MinExplainedPct*without.squares
		if math.IsInf(without.squares, 1) || !relevant {
			continue
		}
		var found []Cause
		if k < globalKinds {
			c.Estimate, c.Sigma = e.of(int(k))
			found = []Cause{c}
		} else {
			found = p.stripCauses(s, e, c, o)
		}
		found = slices.DeleteFunc(found, func(c Cause) bool { return !(math.Abs(c.Estimate) >= o.MinT*c.Sigma) })
		if len(found) == 0 {
			continue
		}
		rivals := p.rivals(chosen, k, ownBlocks)
		for i := range found {
			found[i].Significant, found[i].ConfoundedWith = true, rivals
		}
		out = append(out, found...)
	}
	return out
}

// rivals lists the kinds that predict held-out ground as well as k does in its place, to within one
// standard error or what is not worth a word.
func (p *problem) rivals(chosen *score, k Kind, own []float64) []Kind {
	var out []Kind
	for q := range DatumHeight {
		if q == k || q == globalKinds || q == LeverZ || chosen.model.has(q) || q < globalKinds && !p.usable(q) {
			continue
		}
		if k == BoresightRoll && q == AttitudeDrift {
			continue // a roll for each strip always holds one roll for all
		}
		alt := p.holdOut(chosen.model.without(k).with(q))
		if !math.IsInf(alt.squares, 1) && p.asGood(&alt, chosen.squares, own) {
			out = append(out, q)
		}
	}
	return out
}

// effect returns the 95th percentile of the height change that a kind causes between strips in the rows, in metres.
func (p *problem) effect(e *estimate, k Kind) float64 {
	x := p.only(e, k)
	var abs []float64
	var s sparse
	for i := range p.rows {
		if p.rows[i].weight > 0 {
			s.fill(&p.rows[i], p.layout)
			abs = append(abs, math.Abs(s.predict(x)))
		}
	}
	if len(abs) == 0 {
		return 0
	}
	return quantile(abs, 0.95)
}

// moves returns the 95th percentile of the distance by which a kind moves the strips against each other in the rows, in metres.
func (p *problem) moves(e *estimate, k Kind) float64 {
	x := p.only(e, k)
	var all []float64
	var s sparse
	for i := range p.rows {
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
		all = append(all, d.Norm())
	}
	if len(all) == 0 {
		return 0
	}
	return quantile(all, 0.95)
}

// only returns the parameter vector of one kind.
func (p *problem) only(e *estimate, k Kind) []float64 {
	x := make([]float64, len(e.full))
	for _, c := range p.layout.columnsOf(k) {
		x[c] = e.full[c]
	}
	return x
}
