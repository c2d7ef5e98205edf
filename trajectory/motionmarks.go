package trajectory

import (
	"math"
	"slices"
)

// straights returns stretches a..b of straight flight faster than minSpeed.
func (g *grid) straights(free func(i int) bool, minSpeed float64, o MotionOptions) [][2]int {
	const cone = 12 * math.Pi / 180
	var out [][2]int
	for a := 0; a < len(g.t); {
		if !free(a) || g.v[a] < minSpeed || math.Abs(g.w[a]) > o.MaxTurnRateRad {
			a++
			continue
		}
		b, sx, sy := a, 0.0, 0.0
		for b < len(g.t) && free(b) && g.v[b] >= minSpeed && math.Abs(g.w[b]) <= o.MaxTurnRateRad {
			if sx != 0 || sy != 0 {
				if math.Abs(WrapPi(g.course[b]-math.Atan2(sx, sy))) > cone {
					break
				}
			}
			s, c := math.Sincos(g.course[b])
			sx, sy = sx+s, sy+c
			b++
		}
		if b-1 > a {
			out = append(out, [2]int{a, b - 1})
		}
		a = max(b, a+1)
	}
	return out
}

// candidate is a straight stretch that may be a strip.
type stripCandidate struct {
	a, b           int
	e0, n0, e1, n1 float64
	course, length float64
	height, speed  float64
}

// stripsByMotion finds strips without a cloud: straight stretches at the height
// of most of the straight flight, side by side with another or crossed by another.
// A straight run that stands alone is none.
func (g *grid) stripsByMotion(kind []EventKind, o MotionOptions) []Interval {
	var cand []stripCandidate
	var heights, weights []float64
	for _, s := range g.straights(func(i int) bool { return kind[i] == "" }, 1.5, o) {
		a, b := g.trim(s[0], s[1])
		if g.t[b]-g.t[a] < o.StripMinS {
			continue
		}
		c := stripCandidate{a: a, b: b, e0: g.e[a], n0: g.n[a], e1: g.e[b], n1: g.n[b], height: median(g.h[a : b+1]), speed: median(g.v[a : b+1])}
		c.course, c.length = math.Atan2(c.e1-c.e0, c.n1-c.n0), math.Hypot(c.e1-c.e0, c.n1-c.n0)
		if math.Abs(g.h[b]-g.h[a]) > 0.2*c.length {
			continue // a climb on a slant
		}
		cand = append(cand, c)
		heights, weights = append(heights, c.height), append(weights, c.length)
	}
	mission := weightedMedian(heights, weights)
	ground := math.Inf(1)
	for _, h := range g.h {
		ground = min(ground, h)
	}
	level := cand[:0]
	for _, c := range cand {
		if math.Abs(c.height-mission) <= max(5, 0.25*(mission-ground)) {
			level = append(level, c)
		}
	}
	return g.block(g.betweenEights(level, kind, o))
}

// betweenEights leaves out the runs before the figure-eights and the returns
// behind them: two long transits side by side would be taken for a block.
func (g *grid) betweenEights(cand []stripCandidate, kind []EventKind, o MotionOptions) []stripCandidate {
	k := slices.Clone(kind)
	g.markEights(k, o)
	none := make([]int, len(k))
	m := &Motion{Events: g.collect(k, none, g.t[0], g.t[len(g.t)-1])}
	m.Air = airOf(m.Events)
	all := make([]Line, len(cand))
	for i, c := range cand {
		all[i] = Line{Interval{g.t[c.a], g.t[c.b]}, c.length, c.speed}
	}
	drop := map[int]bool{}
	for _, air := range m.Air {
		for _, i := range aroundEights(m, air, all) {
			drop[i] = true
		}
	}
	var out []stripCandidate
	for i, c := range cand {
		if !drop[i] {
			out = append(out, c)
		}
	}
	return out
}

// block keeps the largest group of parallel stretches that lie side by side,
// and those of like speed that cross at least two of it at more than 60 degrees.
func (g *grid) block(cand []stripCandidate) []Interval {
	best, bestLength := -1, 0.0
	for i, c := range cand {
		sum := 0.0
		for j, d := range cand {
			if j != i && c.besides(d) {
				sum += d.length
			}
		}
		if sum > 0 && sum+c.length > bestLength {
			best, bestLength = i, sum+c.length
		}
	}
	if best < 0 {
		return nil
	}
	in := make([]bool, len(cand))
	in[best] = true
	var speeds []float64
	for grown := true; grown; {
		grown = false
		for i, c := range cand {
			for j, d := range cand {
				if !in[i] && in[j] && d.besides(c) && c.speed > 0.6*cand[best].speed && c.speed < 1.6*cand[best].speed {
					in[i], grown = true, true
				}
			}
		}
	}
	for i, c := range cand {
		if in[i] {
			speeds = append(speeds, c.speed)
		}
	}
	speed := median(speeds)
	var out []Interval
	for i, c := range cand {
		crossed := 0
		for j, d := range cand {
			if in[j] && !in[i] && c.crosses(d) {
				crossed++
			}
		}
		if in[i] || crossed >= 2 && math.Abs(c.speed-speed) < 0.25*speed {
			out = append(out, Interval{g.t[c.a], g.t[c.b]})
		}
	}
	return out
}

// besides reports whether d is flown parallel to c, next to it, over at least
// half of the shorter one.
func (c stripCandidate) besides(d stripCandidate) bool {
	turn := math.Abs(WrapPi(c.course - d.course))
	if turn > math.Pi/2 {
		turn = math.Pi - turn
	}
	if turn > 12*math.Pi/180 {
		return false
	}
	s, k := math.Sincos(c.course)
	along := func(e, n float64) float64 { return (e-c.e0)*s + (n-c.n0)*k }
	across := func(e, n float64) float64 { return (e-c.e0)*k - (n-c.n0)*s }
	a0, a1 := along(d.e0, d.n0), along(d.e1, d.n1)
	both := min(c.length, max(a0, a1)) - max(0, min(a0, a1))
	off := math.Abs(across((d.e0+d.e1)/2, (d.n0+d.n1)/2))
	return both > 0.5*min(c.length, d.length) && off > 2 && off < 0.8*max(c.length, d.length)+50
}

// crosses reports whether c and d cross at more than 60 degrees.
func (c stripCandidate) crosses(d stripCandidate) bool {
	if math.Abs(math.Sin(c.course-d.course)) < 0.866 {
		return false
	}
	// side is positive for points to the left of b.
	side := func(b stripCandidate, e, n float64) float64 { return (b.e1-b.e0)*(n-b.n0) - (b.n1-b.n0)*(e-b.e0) }
	return side(d, c.e0, c.n0)*side(d, c.e1, c.n1) < 0 && side(c, d.e0, d.n0)*side(c, d.e1, d.n1) < 0
}

func weightedMedian(v, w []float64) float64 {
	all := 0.0
	for _, x := range w {
		all += x
	}
	best, at := math.Inf(1), 0.0
	for _, x := range v {
		below := 0.0
		for j, y := range v {
			if y < x {
				below += w[j]
			} else if y == x {
				below += w[j] / 2
			}
		}
		if d := math.Abs(below - all/2); d < best {
			best, at = d, x
		}
	}
	return at
}

// lobe is one unbroken turn to one side.
type lobe struct {
	a, b int
	rad  float64 // right positive
}

// lobes returns the turns among samples that free allows; a straight of up to
// four seconds does not end a turn to the same side.
func (g *grid) lobes(free func(i int) bool, o MotionOptions) []lobe {
	var out []lobe
	for i := range g.t {
		if !free(i) || g.v[i] < 0.7 || math.Abs(g.w[i]) < o.MaxTurnRateRad {
			continue
		}
		d := g.w[i] * g.step
		if k := len(out) - 1; k >= 0 && (out[k].rad > 0) == (d > 0) && g.t[i]-g.t[out[k].b] < 4 && g.allFree(out[k].b, i, free) {
			out[k].b = i
			out[k].rad += d
			continue
		}
		out = append(out, lobe{i, i, d})
	}
	return out
}

func (g *grid) allFree(a, b int, free func(i int) bool) bool {
	for i := a; i <= b; i++ {
		if !free(i) {
			return false
		}
	}
	return true
}

// halves returns how many halves of figure-eights a turn makes: one from LobeRad on, one for each full circle.
func (l lobe) halves(o MotionOptions) int {
	r := math.Abs(l.rad)
	if r < o.LobeRad {
		return 0
	}
	return max(1, int(r/(2*math.Pi)+0.1))
}

// markEights marks the manoeuvres that have full turns to both sides.
func (g *grid) markEights(kind []EventKind, o MotionOptions) {
	free := func(i int) bool { return kind[i] == "" }
	var group []lobe
	flush := func() {
		l, r := 0, 0
		for _, x := range group {
			if x.rad > 0 {
				r += x.halves(o)
			} else {
				l += x.halves(o)
			}
		}
		if min(l, r) > 0 {
			for i := group[0].a; i <= group[len(group)-1].b; i++ {
				kind[i] = EventFigureEight
			}
		}
		group = nil
	}
	for _, l := range g.lobes(free, o) {
		if l.halves(o) == 0 {
			continue
		}
		if len(group) > 0 {
			last := group[len(group)-1]
			if g.t[l.a]-g.t[last.b] > 60 || !g.allFree(last.b, l.a, free) {
				flush()
			}
		}
		group = append(group, l)
	}
	if len(group) > 0 {
		flush()
	}
}

// countEights counts the figure-eights of an event: pairs of halves to the left and to the right.
func (g *grid) countEights(e Event, o MotionOptions) int {
	l, r := 0, 0
	for _, x := range g.lobes(func(i int) bool { return g.t[i] >= e.StartS && g.t[i] <= e.EndS }, o) {
		if x.rad > 0 {
			r += x.halves(o)
		} else {
			l += x.halves(o)
		}
	}
	return min(l, r)
}

// markStraightRuns marks fast straight flight that is no strip.
func (g *grid) markStraightRuns(kind []EventKind, o MotionOptions) {
	for _, s := range g.straights(func(i int) bool { return kind[i] == "" }, o.RunMPS, o) {
		if g.t[s[1]]-g.t[s[0]] >= o.RunS-g.step {
			for i := s[0]; i <= s[1]; i++ {
				kind[i] = EventStraightRun
			}
		}
	}
}

// markRest names what is left: the climb after the ground, the descent before
// it, hovers, turns, and transit.
func (g *grid) markRest(kind []EventKind, o MotionOptions) {
	n := len(kind)
	for a := 0; a < n; {
		if kind[a] != "" {
			a++
			continue
		}
		b := a
		for b+1 < n && kind[b+1] == "" {
			b++
		}
		i, j := a, b
		if a > 0 && kind[a-1] == EventStill {
			for i <= b && (g.v[i] < 2 && g.climb[i] > -0.3 || g.climb[i] > 0.5) && (i == a || g.v[i] > 0.5 || g.climb[i] > 0.1 || g.h[i]-g.h[a] < o.GroundClimbM) {
				kind[i] = EventTakeOff
				i++
			}
		}
		if b < n-1 && kind[b+1] == EventStill {
			for j >= i && (g.v[j] < 2 && g.climb[j] < 0.3 || g.climb[j] < -0.5) && (j == b || g.v[j] > 0.5 || g.climb[j] < -0.1 || g.h[j]-g.h[b] < o.GroundClimbM) {
				kind[j] = EventLanding
				j--
			}
		}
		for k := i; k <= j; k++ {
			switch {
			case g.v[k] < 0.5 && math.Abs(g.climb[k]) < 0.5:
				kind[k] = EventHover
			case math.Abs(g.w[k]) > o.MaxTurnRateRad:
				kind[k] = EventTurn
			default:
				kind[k] = EventTransit
			}
		}
		g.smooth(kind, i, j)
		a = b + 1
	}
}

// smooth removes events shorter than a second among i..j.
func (g *grid) smooth(kind []EventKind, i, j int) {
	for a := i; a <= j; {
		b := a
		for b+1 <= j && kind[b+1] == kind[a] {
			b++
		}
		if a > i && float64(b-a+1)*g.step < 1 {
			for k := a; k <= b; k++ {
				kind[k] = kind[a-1]
			}
		}
		a = b + 1
	}
}
