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
			c.Strip, e.doubts = i, nil
			switch c.Kind {
			case StripHeight:
				c.Estimate, c.Sigma = p.againstMedian(e, c.Kind, 0, i, group)
			case StripHorizontal:
				if p.dim(e, i) {
					continue
				}
				x0, s0 := p.againstMedian(e, c.Kind, 0, i, group)
				x1, s1 := p.againstMedian(e, c.Kind, 1, i, group)
				c.Estimate = math.Hypot(x0, x1)
				c.Sigma = math.Hypot(x0*s0, x1*s1) / math.Max(c.Estimate, 1e-12)
				c.Detail = fmt.Sprintf("%+.3f m east, %+.3f m north", x0, x1)
				p.jumpAside(e, s, &c)
			case StripDrift:
				p.drift(e, s, &c)
			case AttitudeDrift:
				p.rollDrift(e, group, &c)
			}
			c.ConfoundedWith = e.doubts
			if c.Kind == AttitudeDrift || math.Abs(c.Estimate) >= limit {
				out = append(out, c)
			}
		}
	}
	return out
}

// dim reports whether the ground is so level that the horizontal shift of a strip would be read from the noise of gradients.
func (p *problem) dim(e *estimate, strip int) bool {
	first := p.layout.first(StripHorizontal, strip)
	for i, c := range e.cols {
		if (c == first || c == first+1) && slopeDoubt*p.total.slope[c]*e.formal.At(i, i) > mostSlopeShare {
			return true
		}
	}
	return false
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
// are looked at, or its step.
func (p *problem) drift(e *estimate, s *overlap.Survey, c *Cause) {
	first := p.layout.first(StripDrift, c.Strip)
	x, step := e.full[first:first+driftColumns+1], p.layout.steps[c.Strip]
	at := func(t float64) float64 { return legendre(x[:driftColumns], t) + x[driftColumns]*stepAt(t, step) }
	low, high, lowT, highT := inf, -inf, 0.0, 0.0
	seenFrom, seenTo := p.seenPart(c.Strip)
	for i := range driftPlaces {
		t := seenFrom + (seenTo-seenFrom)*float64(i)/(driftPlaces-1)
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
		if n := col - first; n >= 0 && n <= driftColumns {
			unit := make([]float64, driftColumns+1)
			unit[n] = 1
			w[i] = legendre(unit[:driftColumns], to) - legendre(unit[:driftColumns], from) + unit[driftColumns]*(stepAt(to, step)-stepAt(from, step))
		}
	}
	c.Estimate, c.Sigma = at(to)-at(from), e.sigmaOf(w)
	c.Detail = fmt.Sprintf("%+.3f m from %.0f %% to %.0f %% of the strip, %+.3f m from its first to its last overlap", c.Estimate, 50*(from+1), 50*(to+1), at(seenTo)-at(seenFrom))
	if jump, sigma := e.of(first + driftColumns); math.Abs(jump) > math.Max(stepM, 3.5*sigma) && math.Abs(jump) > 0.5*math.Abs(c.Estimate) {
		c.Estimate, c.Sigma = jump, sigma
		c.Detail = fmt.Sprintf("a step of %+.3f m %s", jump, p.stepPlace(s, c.Strip))
	}
}

// driftPlaces is the number of places along a strip at which its drift is looked at.
const driftPlaces = 41

// seenPart returns the part of a strip that overlaps show: from the first to the last of its twentieths with a share of cells that is not stray.
func (p *problem) seenPart(strip int) (from, to float64) {
	var n [20]int
	all := 0
	for i := range p.rows {
		r := &p.rows[i]
		if r.weight <= 0 {
			continue
		}
		for _, end := range [2]struct {
			strip int32
			time  float64
		}{{r.a, r.timeA}, {r.b, r.timeB}} {
			if int(end.strip) == strip {
				n[min(len(n)-1, int((end.time+1)/2*float64(len(n))))]++
				all++
			}
		}
	}
	from, to = 1, -1
	for k, v := range n {
		if 200*v >= all && v > 0 {
			from, to = math.Min(from, 2*float64(k)/float64(len(n))-1), math.Max(to, 2*float64(k+1)/float64(len(n))-1)
		}
	}
	if from >= to {
		return -1, 1
	}
	return from, to
}

// jumpAside reads the horizontal jump of a strip, where that is larger than its shift as a whole.
func (p *problem) jumpAside(e *estimate, s *overlap.Survey, c *Cause) {
	at := p.layout.first(StripHorizontal, c.Strip) + 2
	x0, s0 := e.of(at)
	x1, s1 := e.of(at + 1)
	size := math.Hypot(x0, x1)
	sigma := math.Hypot(x0*s0, x1*s1) / math.Max(size, 1e-12)
	if size > math.Max(stepFlatM, 3.5*sigma) && size > 0.5*c.Estimate {
		c.Estimate, c.Sigma = size, sigma
		c.Detail = fmt.Sprintf("a jump of %+.3f m east, %+.3f m north %s", x0, x1, p.stepPlace(s, c.Strip))
	}
}

// stepPlace says where a strip jumps.
func (p *problem) stepPlace(s *overlap.Survey, strip int) string {
	u := (p.layout.steps[strip] + 1) / 2
	st := &s.Strips[strip]
	return fmt.Sprintf("at %.0f %% of the strip, %.1f s after its start", 100*u, u*(st.EndGPSS-st.StartGPSS))
}

// rollDrift reads the roll error of a strip: constant, against the median of the strips that are tied together since a roll of all strips is
// the boresight's, or its change from start to end where that is larger.
func (p *problem) rollDrift(e *estimate, group []int, c *Cause) {
	x0, s0 := p.againstMedian(e, AttitudeDrift, 0, c.Strip, group)
	x1, s1 := e.of(p.layout.first(AttitudeDrift, c.Strip) + 1)
	c.Estimate, c.Sigma = x0, s0
	if math.Abs(2*x1) > math.Abs(x0) {
		c.Estimate, c.Sigma = 2*x1, 2*s1
	}
	const deg = 180 / math.Pi
	c.Detail = fmt.Sprintf("roll %+.4f deg in the middle, %+.4f deg more at its end than at its start", x0*deg, 2*x1*deg)
}
