package trajectory

import "math"

// grid is a path at even steps of time, smoothed, with speed, course, turn
// rate and climb. Samples inside gaps of the path are marked.
type grid struct {
	step          float64
	t             []float64
	e, n, h       []float64
	v, course, w  []float64 // m/s, radians from grid north, rad/s (right positive)
	climb, still3 []float64 // m/s up; speed in three dimensions over two seconds
	gap           []bool
}

const gridStepS = 0.2

func newGrid(p *Path) *grid {
	g := &grid{step: gridStepS}
	if len(p.TimeS) < 2 {
		return g
	}
	t0, t1 := p.TimeS[0], p.TimeS[len(p.TimeS)-1]
	count := int((t1-t0)/g.step) + 1
	const mostSamples = 5 * 86400 * 8 // eight days: a path with a wild time is not expanded beyond
	if count > mostSamples {
		return g
	}
	lo := 0
	c := p.NewCursor()
	for k := range count {
		t := t0 + float64(k)*g.step
		for lo < len(p.TimeS) && p.TimeS[lo] < t-g.step {
			lo++
		}
		var e, n, h, m float64
		for i := lo; i < len(p.TimeS) && p.TimeS[i] <= t+g.step; i++ {
			e, n, h, m = e+p.EM[i], n+p.NM[i], h+p.HM[i], m+1
		}
		o, inside := c.At(t)
		if m >= 4 {
			e, n, h = e/m, n/m, h/m
		} else {
			e, n, h = o.EM, o.NM, o.HM
		}
		g.t = append(g.t, t)
		g.gap = append(g.gap, !inside)
		g.e, g.n, g.h = append(g.e, e), append(g.n, n), append(g.h, h)
	}
	g.bridge()
	g.derive()
	return g
}

func (g *grid) length() float64 {
	if len(g.t) == 0 {
		return 0
	}
	return g.t[len(g.t)-1] - g.t[0]
}

// bridge fills gaps with a straight line, so that derivatives stay finite.
func (g *grid) bridge() {
	for a := 0; a < len(g.t); a++ {
		if !g.gap[a] {
			continue
		}
		b := a
		for b < len(g.t) && g.gap[b] {
			b++
		}
		for i := a; i < b; i++ {
			switch {
			case a == 0 && b == len(g.t):
			case a == 0:
				g.e[i], g.n[i], g.h[i] = g.e[b], g.n[b], g.h[b]
			case b == len(g.t):
				g.e[i], g.n[i], g.h[i] = g.e[a-1], g.n[a-1], g.h[a-1]
			default:
				u := float64(i-a+1) / float64(b-a+1)
				g.e[i], g.n[i], g.h[i] = g.e[a-1]+u*(g.e[b]-g.e[a-1]), g.n[a-1]+u*(g.n[b]-g.n[a-1]), g.h[a-1]+u*(g.h[b]-g.h[a-1])
			}
		}
		a = b
	}
}

// derive computes speed and course over ±0.6 s, turn rate over ±1 s, and the
// speed of stillness over ±1 s.
func (g *grid) derive() {
	n := len(g.t)
	at := func(i, d int) (int, int) { return max(0, i-d), min(n-1, i+d) }
	g.v, g.course, g.w, g.climb, g.still3 = make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n), make([]float64, n)
	for i := range g.t {
		a, b := at(i, 3)
		dt := g.t[b] - g.t[a]
		dx, dy := g.e[b]-g.e[a], g.n[b]-g.n[a]
		g.v[i], g.course[i], g.climb[i] = math.Hypot(dx, dy)/dt, math.Atan2(dx, dy), (g.h[b]-g.h[a])/dt
		a, b = at(i, 5)
		dx, dy = g.e[b]-g.e[a], g.n[b]-g.n[a]
		g.still3[i] = math.Hypot(math.Hypot(dx, dy), g.h[b]-g.h[a]) / (g.t[b] - g.t[a])
	}
	for i := range g.t {
		a, b := at(i, 5)
		sum := 0.0
		for k := a; k < b; k++ {
			sum += WrapPi(g.course[k+1] - g.course[k])
		}
		g.w[i] = sum / (g.t[b] - g.t[a])
	}
}

// markGround finds the stretches on the ground, and the gaps.
func (g *grid) markGround(kind []EventKind, o MotionOptions) {
	n := len(g.t)
	top := math.Inf(-1)
	for _, h := range g.h {
		top = max(top, h)
	}
	type run struct{ a, b int }
	var runs []run
	for a := 0; a < n; {
		if g.gap[a] || g.still3[a] > o.StillMPS {
			a++
			continue
		}
		b := a
		for b+1 < n && !g.gap[b+1] && g.still3[b+1] <= o.StillMPS {
			b++
		}
		if g.t[b]-g.t[a] >= 1 {
			runs = append(runs, run{a, b})
		}
		a = b + 1
	}
	// The lowest still is on the ground if anything flew; others are hovers
	// unless they stand as low as the place they left from.
	ground := math.Inf(1)
	for _, r := range runs {
		ground = min(ground, median(g.h[r.a:r.b+1]))
	}
	for _, r := range runs {
		h := median(g.h[r.a : r.b+1])
		low := top-h > o.GroundClimbM
		atEnd := r.a <= 5 || r.b >= n-6 // first or last second of the recording
		if low && (atEnd || h-ground < o.GroundClimbM) || top-ground <= o.GroundClimbM {
			for i := r.a; i <= r.b; i++ {
				kind[i] = EventStill
			}
		}
	}
	g.joinStills(kind)
	for i := range kind {
		if g.gap[i] {
			kind[i] = EventGap
		}
	}
}

// joinStills joins stills that a nudge of up to three seconds parts (somebody
// touched the aircraft) if it did not rise, and stretches the first and the last to the ends.
func (g *grid) joinStills(kind []EventKind) {
	last := -1
	for i := range kind {
		if kind[i] != EventStill {
			continue
		}
		if last >= 0 && i-last > 1 && g.t[i]-g.t[last] < 3 && math.Abs(g.h[i]-g.h[last]) < 0.3 {
			for k := last + 1; k < i; k++ {
				kind[k] = EventStill
			}
		}
		last = i
	}
}
