package simulate

import "math"

// arc is a piece of a plane path: a straight line (curv 0) or a circle, curv > 0 to the right.
type arc struct{ lenM, curv float64 }

// place is a point and a direction (azimuth) in the plane.
type place struct{ e, n, az float64 }

// along returns the place at distance s on an arc that starts at p.
func (p place) along(s, curv float64) place {
	if curv == 0 {
		return place{p.e + s*math.Sin(p.az), p.n + s*math.Cos(p.az), p.az}
	}
	a := p.az + s*curv
	return place{p.e + (math.Cos(p.az)-math.Cos(a))/curv, p.n + (math.Sin(a)-math.Sin(p.az))/curv, a}
}

func mod2pi(a float64) float64 {
	a = math.Mod(a, 2*math.Pi)
	if a < 0 {
		a += 2 * math.Pi
	}
	return a
}

// dubins returns the shortest path of three arcs from p to q with turns of radius r.
//
// Source: L. E. Dubins, Amer. J. Math. 79 (1957) 497-516: the shortest path is of
// the form circle-line-circle or circle-circle-circle. Each candidate is checked by walking it.
func dubins(p, q place, r float64) []arc {
	dE, dN := (q.e-p.e)/r, (q.n-p.n)/r
	d := math.Hypot(dE, dN)
	// In mathematical angles (counter-clockwise), the classic formulas.
	theta := math.Atan2(dN, dE)
	a, b := mod2pi(math.Pi/2-p.az-theta), mod2pi(math.Pi/2-q.az-theta)
	sa, ca := math.Sincos(a)
	sb, cb := math.Sincos(b)
	cab := math.Cos(a - b)
	type word struct {
		turn [3]float64 // +1 left, 0 straight, -1 right
		len  [3]float64
		ok   bool
	}
	var words []word
	add := func(turn [3]float64, ok bool, t, s, u float64) {
		words = append(words, word{turn, [3]float64{t, s, u}, ok})
	}
	if x := 2 + d*d - 2*cab + 2*d*(sa-sb); x >= 0 { // left straight left
		k := math.Atan2(cb-ca, d+sa-sb)
		add([3]float64{1, 0, 1}, true, mod2pi(k-a), math.Sqrt(x), mod2pi(b-k))
	}
	if x := 2 + d*d - 2*cab + 2*d*(sb-sa); x >= 0 { // right straight right
		k := math.Atan2(ca-cb, d-sa+sb)
		add([3]float64{-1, 0, -1}, true, mod2pi(a-k), math.Sqrt(x), mod2pi(k-b))
	}
	if x := -2 + d*d + 2*cab + 2*d*(sa+sb); x >= 0 { // left straight right
		s := math.Sqrt(x)
		k := math.Atan2(-ca-cb, d+sa+sb) - math.Atan2(-2, s)
		add([3]float64{1, 0, -1}, true, mod2pi(k-a), s, mod2pi(k-b))
	}
	if x := -2 + d*d + 2*cab - 2*d*(sa+sb); x >= 0 { // right straight left
		s := math.Sqrt(x)
		k := math.Atan2(ca+cb, d-sa-sb) - math.Atan2(2, s)
		add([3]float64{-1, 0, 1}, true, mod2pi(a-k), s, mod2pi(b-k))
	}
	if x := (6 - d*d + 2*cab + 2*d*(sa-sb)) / 8; math.Abs(x) <= 1 { // right left right
		s := mod2pi(2*math.Pi - math.Acos(x))
		t := mod2pi(a - math.Atan2(ca-cb, d-sa+sb) + s/2)
		add([3]float64{-1, 1, -1}, true, t, s, mod2pi(a-b-t+s))
	}
	if x := (6 - d*d + 2*cab + 2*d*(sb-sa)) / 8; math.Abs(x) <= 1 { // left right left
		s := mod2pi(2*math.Pi - math.Acos(x))
		t := mod2pi(-a + math.Atan2(-ca+cb, d+sa-sb) + s/2)
		add([3]float64{1, -1, 1}, true, t, s, mod2pi(b-a-t+s))
	}
	best, bestLen := -1, math.Inf(1)
	for i, w := range words {
		end, l := p, 0.0
		for j := range 3 {
			end = end.along(w.len[j]*r, -w.turn[j]/r)
			l += w.len[j]
		}
		if math.Hypot(end.e-q.e, end.n-q.n) < 1e-6*(1+r) && math.Cos(end.az-q.az) > 1-1e-9 && l < bestLen {
			best, bestLen = i, l
		}
	}
	if best < 0 {
		return nil // cannot happen: LSL and RSR always exist
	}
	var out []arc
	for j := range 3 {
		if l := words[best].len[j] * r; l > 1e-9 {
			out = append(out, arc{l, -words[best].turn[j] / r})
		}
	}
	return out
}
