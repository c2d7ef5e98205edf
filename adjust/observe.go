package adjust

import (
	"math"
	"slices"
)

// observability predicts the standard deviations of the global kinds from geometry, slopes and noise.
func (p *problem) observability() []Observability {
	bore := []Kind{BoresightRoll, BoresightPitch, BoresightHeading}
	var out []Observability
	for k := range LeverZ {
		with := slices.Clone(bore)
		if !slices.Contains(with, k) {
			with = append(with, k)
		}
		o := Observability{Kind: k, Sigma: p.sigmaAlone([]Kind{k}, k), SigmaJoint: p.sigmaAlone(with, k)}
		o.Observable = p.usable(k)
		out = append(out, o)
	}
	return out
}

// alikeLimit is the correlation above which two parameters are not interpreted apart. Common practice.
const alikeLimit = 0.98

// alike lists the pairs of observable global kinds whose estimates would be correlated too closely.
func (p *problem) alike(obs []Observability) [][2]Kind {
	var out [][2]Kind
	r := p.reduceTotal()
	for i, a := range obs {
		for _, b := range obs[i+1:] {
			if !a.Observable || !b.Observable {
				continue
			}
			inv, ok := r.inverse([]Kind{a.Kind, b.Kind}, p.prior)
			if !ok || math.Abs(inv.At(0, 1))/math.Sqrt(inv.At(0, 0)*inv.At(1, 1)) > alikeLimit {
				out = append(out, [2]Kind{a.Kind, b.Kind})
			}
		}
	}
	return out
}
