package adjust

import (
	"fmt"
	"math"
	"slices"

	"sidelap/overlap"
)

// causes turns the fitted model into causes, with those too small or too uncertain left out.
func (p *problem) causes(s *overlap.Survey, chosen *score, e *estimate, o Options) []Cause {
	var out []Cause
	for _, k := range chosen.model {
		_, p95 := p.effect(e, k)
		explained := p.explained(chosen, k)
		rivals := p.rivals(chosen, k)
		var found []Cause
		if k < globalKinds {
			x, sigma := e.of(k)
			found = []Cause{{Kind: k, Strip: -1, Estimate: x, Sigma: sigma}}
		} else {
			found = p.stripCauses(s, e, k)
		}
		for _, c := range found {
			c.EffectM, c.ExplainedPct, c.ConfoundedWith = p95, explained, rivals
			c.Significant = math.Abs(c.Estimate) >= o.MinT*c.Sigma && p95 >= o.RelevantM && explained >= o.MinExplainedPct
			if c.Significant {
				out = append(out, c)
			}
		}
	}
	return out
}

// explained is the share of the weighted squares of the separations, in per cent, that comes back when a kind is
// left out of the model.
func (p *problem) explained(chosen *score, k Kind) float64 {
	none := p.total.yy
	if none <= 0 {
		return 0
	}
	without := p.holdOut(chosen.model.without(k))
	return 100 * math.Max(0, without.squares-chosen.squares) / none
}

// rivals lists the kinds that predict held-out ground as well as k does in its place, to within one
// standard error.
func (p *problem) rivals(chosen *score, k Kind) []Kind {
	var out []Kind
	own := p.blockSquares(chosen)
	for q := range DatumHeight {
		if q == k || q == LeverZ || chosen.model.has(q) || q < globalKinds && !p.usable(q) {
			continue
		}
		if q == StripDrift || k == BoresightRoll && q == AttitudeDrift {
			continue // a drift stands beside heights; a roll for each strip always holds one roll for all
		}
		alt := p.holdOut(chosen.model.without(k).with(q))
		diff, se := differenceSE(p.blockSquares(&alt), own)
		if diff <= se {
			out = append(out, q)
		}
	}
	return out
}

// stripCauses reads the values of a per-strip kind. Only differences between strips show, so
// the estimate of minimum norm gives them against the mean of the strips.
func (p *problem) stripCauses(s *overlap.Survey, e *estimate, k Kind) []Cause {
	at := map[int]int{}
	for i, c := range e.cols {
		at[c] = i
	}
	var strips []int
	for i, seen := range p.seen {
		if seen {
			strips = append(strips, i)
		}
	}
	value := func(strip, c int) (x, sigma float64) {
		i := at[p.layout.first(k, strip)+c]
		return e.x[i], e.sigma[i]
	}
	var out []Cause
	for _, i := range strips {
		c := Cause{Kind: k, Strip: i}
		x0, s0 := value(i, 0)
		switch k {
		case StripHeight:
			c.Estimate, c.Sigma = x0, s0
		case StripHorizontal:
			x1, s1 := value(i, 1)
			c.Estimate = math.Hypot(x0, x1)
			c.Sigma = math.Hypot(x0*s0, x1*s1) / math.Max(c.Estimate, 1e-12)
			c.Detail = fmt.Sprintf("%+.3f m east, %+.3f m north", x0, x1)
		case StripDrift:
			x1, s1 := value(i, 1)
			// height over the strip is x0 t + x1 (3t^2-1)/2 for t from -1 to 1
			c.Estimate, c.Sigma = 2*x0, 2*s0
			if math.Abs(1.5*x1) > math.Abs(2*x0) {
				c.Estimate, c.Sigma = 1.5*x1, 1.5*s1
			}
			c.Detail = fmt.Sprintf("%+.3f m from its start to its end, bent by %+.3f m", 2*x0, 1.5*x1)
		case AttitudeDrift:
			x1, s1 := value(i, 1)
			c.Estimate, c.Sigma = x0, s0
			if math.Abs(2*x1) > math.Abs(x0) {
				c.Estimate, c.Sigma = 2*x1, 2*s1
			}
			deg := 180 / math.Pi
			c.Detail = fmt.Sprintf("roll %+.4f deg in the middle, %+.4f deg more at its end than at its start", x0*deg, 2*x1*deg)
		}
		out = append(out, c)
	}
	return out
}

// observability predicts the standard deviations of the global kinds from geometry, slopes and noise.
func (p *problem) observability() []Observability {
	bore := []int{int(BoresightRoll), int(BoresightPitch), int(BoresightHeading)}
	var out []Observability
	for k := range LeverZ {
		alone := p.total.solve([]int{int(k)}, p.prior)
		cols := slices.Clone(bore)
		if !slices.Contains(cols, int(k)) {
			cols = append(cols, int(k))
		}
		joint := p.total.solve(cols, p.prior)
		if !alone.ok || !joint.ok {
			continue
		}
		o := Observability{Kind: k, Sigma: math.Sqrt(alone.inverse().At(0, 0))}
		i := slices.Index(joint.cols, int(k))
		o.SigmaJoint = math.Sqrt(joint.inverse().At(i, i))
		o.Observable = o.Sigma < 0.1*p.prior[k]
		out = append(out, o)
	}
	return out
}

// alikeLimit is the correlation above which two parameters are not interpreted apart. Common practice.
const alikeLimit = 0.98

// alike lists the pairs of observable global kinds whose estimates would be correlated too closely.
func (p *problem) alike(obs []Observability) [][2]Kind {
	var out [][2]Kind
	for i, a := range obs {
		for _, b := range obs[i+1:] {
			if !a.Observable || !b.Observable {
				continue
			}
			e := p.total.solve([]int{int(a.Kind), int(b.Kind)}, p.prior)
			if !e.ok {
				continue
			}
			inv := e.inverse()
			if math.Abs(inv.At(0, 1))/math.Sqrt(inv.At(0, 0)*inv.At(1, 1)) > alikeLimit {
				out = append(out, [2]Kind{a.Kind, b.Kind})
			}
		}
	}
	return out
}
