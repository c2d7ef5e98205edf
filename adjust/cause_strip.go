package adjust

import (
	"fmt"
	"math"

	"sidelap/overlap"
)

// stripCauses reads the values of a per-strip kind; like holds what they have in common. Heights and horizontal
// shifts show only as differences between strips: they are given against the median of the strips that are tied together.
func (p *problem) stripCauses(s *overlap.Survey, e *estimate, like Cause, o Options) []Cause {
	var out []Cause
	limit := like.Kind.relevance() * o.RelevantM / 2
	for _, group := range p.groups() {
		for _, i := range group {
			c := like
			c.Strip = i
			switch c.Kind {
			case StripHeight:
				c.Estimate, c.Sigma = p.againstMedian(e, c.Kind, 0, i, group)
			case StripHorizontal:
				x0, s0 := p.againstMedian(e, c.Kind, 0, i, group)
				x1, s1 := p.againstMedian(e, c.Kind, 1, i, group)
				c.Estimate = math.Hypot(x0, x1)
				c.Sigma = math.Hypot(x0*s0, x1*s1) / math.Max(c.Estimate, 1e-12)
				c.Detail = fmt.Sprintf("%+.3f m east, %+.3f m north", x0, x1)
			case StripDrift:
				p.drift(e, &c)
			case AttitudeDrift:
				p.rollDrift(e, &c)
			}
			if c.Kind == AttitudeDrift || math.Abs(c.Estimate) >= limit {
				out = append(out, c)
			}
		}
	}
	return out
}

// groups lists the strips that overlaps tie together.
func (p *problem) groups() [][]int {
	root := make([]int, len(p.seen))
	for i := range root {
		root[i] = i
	}
	find := func(i int) int {
		for root[i] != i {
			i = root[i]
		}
		return i
	}
	for i := range p.rows {
		if a, b := find(int(p.rows[i].a)), find(int(p.rows[i].b)); a != b {
			root[max(a, b)] = min(a, b)
		}
	}
	at := map[int]int{}
	var out [][]int
	for i, seen := range p.seen {
		if !seen {
			continue
		}
		r := find(i)
		g, ok := at[r]
		if !ok {
			g = len(out)
			at[r] = g
			out = append(out, nil)
		}
		out[g] = append(out[g], i)
	}
	return out
}

// againstMedian returns the value of a column of a strip against the median of its group, with the standard deviation against
// the strip in the middle or, of an even number, the mean of the two.
func (p *problem) againstMedian(e *estimate, k Kind, column, strip int, group []int) (x, sigma float64) {
	at := map[int]int{}
	for i, c := range e.cols {
		at[c] = i
	}
	place := func(s int) int { return at[p.layout.first(k, s)+column] }
	values := make([]float64, len(group))
	for i, g := range group {
		values[i] = e.x[place(g)]
	}
	mid := median(values)
	c := make([]float64, len(e.cols))
	c[place(strip)]++
	low, high := -inf, inf
	var below, above int
	for _, g := range group { // the strips next to the middle from either side
		if v := e.x[place(g)]; v <= mid && v > low {
			low, below = v, g
		}
		if v := e.x[place(g)]; v >= mid && v < high {
			high, above = v, g
		}
	}
	c[place(below)] -= 0.5
	c[place(above)] -= 0.5
	return e.x[place(strip)] - mid, e.sigmaOf(c)
}

// drift reads the height drift of a strip: its largest departure along the strip, at the places where the polynomials
// are looked at.
func (p *problem) drift(e *estimate, c *Cause) {
	first := p.layout.first(StripDrift, c.Strip)
	x := e.full[first : first+driftColumns]
	at := func(t float64) float64 { return legendre(x, t) }
	low, high, lowT, highT := inf, -inf, 0.0, 0.0
	for i := range 41 {
		t := float64(i)/20 - 1
		if v := at(t); v < low {
			low, lowT = v, t
		}
		if v := at(t); v > high {
			high, highT = v, t
		}
	}
	// from the lowest to the highest place, in the order of flight
	from, to := lowT, highT
	if highT < lowT {
		from, to = highT, lowT
	}
	w := make([]float64, len(e.cols))
	for i, col := range e.cols {
		if n := col - first; n >= 0 && n < driftColumns {
			unit := make([]float64, driftColumns)
			unit[n] = 1
			w[i] = legendre(unit, to) - legendre(unit, from)
		}
	}
	c.Estimate, c.Sigma = at(to)-at(from), e.sigmaOf(w)
	c.Detail = fmt.Sprintf("%+.3f m from %.0f %% to %.0f %% of the strip, %+.3f m from its start to its end", c.Estimate, 50*(from+1), 50*(to+1), at(1)-at(-1))
}

// rollDrift reads the roll error of a strip: constant, or its change from start to end where that is larger.
func (p *problem) rollDrift(e *estimate, c *Cause) {
	first := p.layout.first(AttitudeDrift, c.Strip)
	x0, s0 := e.of(first)
	x1, s1 := e.of(first + 1)
	c.Estimate, c.Sigma = x0, s0
	if math.Abs(2*x1) > math.Abs(x0) {
		c.Estimate, c.Sigma = 2*x1, 2*s1
	}
	const deg = 180 / math.Pi
	c.Detail = fmt.Sprintf("roll %+.4f deg in the middle, %+.4f deg more at its end than at its start", x0*deg, 2*x1*deg)
}
