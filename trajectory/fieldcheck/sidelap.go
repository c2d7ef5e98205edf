package fieldcheck

import (
	"fmt"
	"math"
	"slices"
	"sort"

	"github.com/paulmach/orb"
)

// axis is the straight line of a strip in the grid.
type axis struct {
	e0, n0, s, c, length float64 // start, direction, length
	ok                   bool
}

// axisOf finds the line of a strip by its path, else by its swath and heading.
func axisOf(x *shot) axis {
	if len(x.poses) > 2 {
		a, b := x.poses[0], x.poses[len(x.poses)-1]
		return axisBetween(orb.Point{a.EM, a.NM}, orb.Point{b.EM, b.NM})
	}
	if len(x.Swath) == 0 || len(x.Swath[0]) < 4 {
		return axis{}
	}
	s, c := math.Sincos(x.HeadingRad)
	lo, hi, across, n := math.Inf(1), math.Inf(-1), 0.0, 0.0
	for _, p := range x.Swath[0] {
		lo, hi = min(lo, p[0]*s+p[1]*c), max(hi, p[0]*s+p[1]*c)
		across, n = across+p[0]*c-p[1]*s, n+1
	}
	across /= n
	return axis{lo*s + across*c, lo*c - across*s, s, c, hi - lo, hi-lo > 5}
}

// axisBetween is the line from one place to another; not ok under 5 m.
func axisBetween(a, b orb.Point) axis {
	e, n := b[0]-a[0], b[1]-a[1]
	l := math.Hypot(e, n)
	return axis{a[0], a[1], e / l, n / l, l, l > 5}
}

func (a axis) along(e, n float64) float64  { return (e-a.e0)*a.s + (n-a.n0)*a.c }
func (a axis) across(e, n float64) float64 { return (e-a.e0)*a.c - (n-a.n0)*a.s }
func (a axis) at(d float64) orb.Point      { return orb.Point{a.e0 + d*a.s, a.n0 + d*a.c} }

// edges returns where the line across the axis at distance d leaves a polygon:
// across offsets, false when it does not meet it.
func (a axis) edges(p orb.Polygon, d float64) (lo, hi float64, ok bool) {
	lo, hi = math.Inf(1), math.Inf(-1)
	if len(p) == 0 {
		return 0, 0, false
	}
	ring := p[0]
	for i := 1; i < len(ring); i++ {
		u0, u1 := a.along(ring[i-1][0], ring[i-1][1])-d, a.along(ring[i][0], ring[i][1])-d
		if (u0 > 0) == (u1 > 0) {
			continue
		}
		w0, w1 := a.across(ring[i-1][0], ring[i-1][1]), a.across(ring[i][0], ring[i][1])
		w := w0 + (w1-w0)*u0/(u0-u1)
		lo, hi = min(lo, w), max(hi, w)
	}
	return lo, hi, hi > lo
}

// neighbour is a pair of strips side by side.
type neighbour struct {
	a, b     int
	lowPct   float64 // 5th percentile of sidelap along the shared length; NaN without swaths
	widthM   float64 // of the narrower swath, median
	distance float64 // between the axes
	opposed  bool
	left     leftOut
}

// parallelCos is the cosine of 15 degrees.
var parallelCos = math.Cos(15 / deg)

// neighbours pairs every strip with the next one on each side that it shares length with.
func (r *runner) neighbours(ax []axis) []neighbour {
	seen := map[[2]int]bool{}
	var out []neighbour
	for i := range ax {
		if !ax[i].ok {
			continue
		}
		best := [2]int{-1, -1}
		dist := [2]float64{math.Inf(1), math.Inf(1)}
		for j := range ax {
			if j == i || !ax[j].ok || math.Abs(ax[i].s*ax[j].s+ax[i].c*ax[j].c) < parallelCos {
				continue
			}
			p, q := ax[j].at(0), ax[j].at(ax[j].length)
			u0, u1 := ax[i].along(p[0], p[1]), ax[i].along(q[0], q[1])
			shared := min(ax[i].length, max(u0, u1)) - max(0, min(u0, u1))
			if shared < 0.3*min(ax[i].length, ax[j].length) {
				continue
			}
			m := ax[j].at(ax[j].length / 2)
			w := ax[i].across(m[0], m[1])
			side := 0
			if w > 0 {
				side = 1
			}
			if d := math.Abs(w); d > 1 && d < dist[side] { // closer is the same line flown again
				best[side], dist[side] = j, d
			}
		}
		for side, j := range best {
			key := [2]int{min(i, j), max(i, j)}
			if j < 0 || seen[key] {
				continue
			}
			seen[key] = true
			low, width, left := r.sidelap(ax, key[0], key[1])
			out = append(out, neighbour{a: key[0], b: key[1], distance: dist[side], opposed: ax[i].s*ax[j].s+ax[i].c*ax[j].c < 0, lowPct: low, widthM: width, left: left})
		}
	}
	sort.Slice(out, func(i, j int) bool {
		if out[i].a != out[j].a {
			return out[i].a < out[j].a
		}
		return out[i].b < out[j].b
	})
	return out
}

// sidelap returns the 5th percentile of the overlap of two swaths, in percent
// of the narrower one, at places 5 m apart along their shared length, and the
// median width of the narrower one, and how much of their length that leaves
// out. Negative is open ground between them. NaN without both swaths.
func (r *runner) sidelap(ax []axis, i, j int) (lowPct, widthM float64, left leftOut) {
	a, p, q := ax[i], r.shots[i].Swath, r.shots[j].Swath
	if len(p) == 0 || len(q) == 0 {
		return nan, nan, left
	}
	type place struct{ width1, width2, both float64 }
	var all []place
	var width1, width2 []float64
	paused := append(r.pausesAlong(a, ax, i), r.pausesAlong(a, ax, j)...)
	from, to := ax[j].at(0), ax[j].at(ax[j].length)
	u, v0 := a.along(from[0], from[1]), a.along(to[0], to[1])
	const stepM = 5.0
	for d := stepM/2 + stepM*math.Floor(min(0, u, v0)/stepM); d < max(a.length, u, v0); d += stepM {
		lo1, hi1, ok1 := a.edges(p, d)
		lo2, hi2, ok2 := a.edges(q, d)
		if ok1 || ok2 {
			left.all += stepM
		}
		switch {
		case slices.ContainsFunc(paused, func(x [2]float64) bool { return d > x[0] && d < x[1] }):
			left.paused += stepM
		case ok1 != ok2:
			left.one += stepM
		case ok1 && d > 0 && d < a.length:
			all = append(all, place{hi1 - lo1, hi2 - lo2, min(hi1, hi2) - max(lo1, lo2)})
			width1, width2 = append(width1, hi1-lo1), append(width2, hi2-lo2)
		}
	}
	usual1, usual2 := quantile(width1, 0.5), quantile(width2, 0.5)
	var v []float64
	for _, x := range all { // where half the swath is missing, points pause: that has a check of its own
		if x.width1 > usual1/2 && x.width2 > usual2/2 {
			v = append(v, 100*x.both/min(x.width1, x.width2))
		} else {
			left.half += stepM
		}
	}
	if len(v) < 3 {
		return nan, nan, left
	}
	return quantile(v, 0.05), min(usual1, usual2), left
}

// pauseReachM is how far beside a pause of points scan lines cut the outline of a swath askew.
const pauseReachM = 10.0

// pausesAlong returns the stretches of an axis beside which a strip had pauses
// of points: its swath is not known there, and the pause has a check of its own.
func (r *runner) pausesAlong(a axis, ax []axis, k int) (out [][2]float64) {
	s := &r.shots[k]
	for _, g := range s.Gaps {
		if !ax[k].ok || g.EndS-g.StartS <= r.lim.TimeGapS {
			continue
		}
		p, q := ax[k].at(s.alongAt(ax[k], g.StartS)), ax[k].at(s.alongAt(ax[k], g.EndS))
		u, v := a.along(p[0], p[1]), a.along(q[0], q[1])
		out = append(out, [2]float64{min(u, v) - pauseReachM, max(u, v) + pauseReachM})
	}
	return out
}

// sidelapChecks judges overlap of neighbours, opposed and crossing strips.
func (r *runner) sidelapChecks() {
	ax := make([]axis, len(r.shots))
	for i := range ax {
		ax[i] = axisOf(&r.shots[i])
	}
	pairs := r.neighbours(ax)
	r.sidelapOf(ax, pairs)
	r.opposed(ax, pairs)
	r.crossing(ax)
}

func (r *runner) opposed(ax []axis, pairs []neighbour) {
	c := Check{ID: "opposed", Title: "neighbours flown against each other", Unit: "pairs", Limit: 1, Sense: AtLeast, Basis: "survey description with opposing lines"}
	if len(pairs) == 0 {
		r.missing(c.ID, c.Title, false, "no two strips side by side")
		return
	}
	for _, p := range pairs {
		if p.opposed {
			c.Value++
		}
	}
	c.Result = result(c.Value >= 1, Caution)
	c.Note = fmt.Sprintf("%.0f of %d pairs", c.Value, len(pairs))
	if c.Result != Go {
		c.Note += ": a boresight error in roll or pitch cannot be told from offsets"
	}
	r.add(c)
}

func (r *runner) crossing(ax []axis) {
	c := Check{ID: "cross_strip", Title: "a strip across others", Unit: "strips", Limit: 3, Sense: AtLeast, Basis: "slides on mapping projects: cross lines each mission; number: " + proposal}
	n := 0
	for i := range ax {
		if !ax[i].ok {
			continue
		}
		n++
		k := 0.0
		for j := range ax {
			if j != i && ax[j].ok && math.Abs(ax[i].s*ax[j].s+ax[i].c*ax[j].c) < math.Cos(45/deg) && meet(ax[i], ax[j], crossSlackM) {
				k++
			}
		}
		if k > c.Value {
			c.Value, c.Strips = k, []string{r.shots[i].ID}
		}
	}
	if n < 2 {
		r.missing(c.ID, c.Title, false, "fewer than two strips")
		return
	}
	c.Limit = min(3, float64(n-1))
	c.Result = result(c.Value >= c.Limit, Caution)
	c.Note = fmt.Sprintf("%s crossed by one", counted(int(c.Value), "strip is", "strips are"))
	if c.Result == Go {
		c.Note = fmt.Sprintf("strip %s crosses %s", c.Strips[0], counted(int(c.Value), "other", "others"))
	} else {
		c.Strips = nil
	}
	r.add(c)
}

// crossSlackM beyond the ends of strips still counts as crossing: swaths are as wide.
const crossSlackM = 30.0

// meet reports whether two lines cut each other between their ends, and slackM beyond.
func meet(a, b axis, slackM float64) bool {
	den := a.s*b.c - a.c*b.s
	if math.Abs(den) < 1e-9 {
		return false
	}
	de, dn := b.e0-a.e0, b.n0-a.n0
	u, v := (de*b.c-dn*b.s)/den, (de*a.c-dn*a.s)/den
	return u > -slackM && u < a.length+slackM && v > -slackM && v < b.length+slackM
}
