package fieldcheck

import (
	"fmt"
	"math"
	"sort"
	"strings"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/simplify"
)

// lane is the ground that a strip covers as it was flown, points or not: its
// axis, its stretch of the path and the usual reach of its swath to both sides.
type lane struct {
	id           string
	shot         int // -1 for a strip without a point, and for a planned line
	planned      bool
	ax           axis
	lo, hi       float64 // across the axis
	startS, endS float64
	u, t         []float64 // distance along the axis and time, both rising; empty for a planned line
}

// band is the usual reach of a swath to both sides of an axis.
func (a axis) band(p orb.Polygon) (lo, hi float64, ok bool) {
	var los, his []float64
	for d := 2.5; d < a.length; d += 5 {
		if l, h, ok := a.edges(p, d); ok {
			los, his = append(los, l), append(his, h)
		}
	}
	if len(los) == 0 {
		return 0, 0, false
	}
	return quantile(los, 0.5), quantile(his, 0.5), true
}

// laneOf is the lane of a strip of the cloud, as long as it was flown less the usual leads.
func (r *runner) laneOf(i int) lane {
	s := &r.shots[i]
	l := lane{id: s.ID, shot: i, ax: axisOf(s), startS: s.StartS, endS: s.EndS}
	head, tail := r.usualLead()
	for _, m := range r.matches {
		if m.shot == i {
			l.startS, l.endS = min(l.startS, m.event.StartS+head), max(l.endS, m.event.EndS-tail)
		}
	}
	if !l.ax.ok {
		return l
	}
	l.lo, l.hi, l.ax.ok = l.ax.band(s.Swath)
	r.follow(&l)
	return l
}

// follow fills the stretch of the path of a lane.
func (r *runner) follow(l *lane) {
	if r.in.Path == nil {
		l.u, l.t = []float64{0, l.ax.length}, []float64{l.startS, l.endS}
		return
	}
	c := r.in.Path.NewCursor()
	for t := l.startS; ; t = min(t+0.2, l.endS) {
		if o, ok := c.At(t); ok {
			if u := l.ax.along(o.EM, o.NM); len(l.u) == 0 || u > l.u[len(l.u)-1] {
				l.u, l.t = append(l.u, u), append(l.t, t)
			}
		}
		if t >= l.endS {
			return
		}
	}
}

// lanes returns those of all strips, of the stretches without points, and of the planned lines that are missing.
func (r *runner) lanes() []lane {
	var out []lane
	var half []float64
	for i := range r.shots {
		if l := r.laneOf(i); l.ax.ok {
			out, half = append(out, l), append(half, (l.hi-l.lo)/2)
		}
	}
	if len(half) == 0 {
		return nil
	}
	reach := quantile(half, 0.5)
	head, tail := r.usualLead()
	for _, g := range r.gone {
		l := lane{id: g.id, shot: -1, lo: -reach, hi: reach, startS: g.event.StartS + head, endS: g.event.EndS - tail}
		p0, ok0 := r.in.Path.At(l.startS)
		p1, ok1 := r.in.Path.At(l.endS)
		if l.ax = axisBetween(orb.Point{p0.EM, p0.NM}, orb.Point{p1.EM, p1.NM}); ok0 && ok1 && l.ax.ok {
			r.follow(&l)
			out = append(out, l)
		}
	}
	for _, it := range r.rep.Refly {
		if it.Planned {
			out = append(out, r.openLanes(it, reach)...)
		}
	}
	return out
}

// openLanes are the stretches of a planned line, leg by leg, that no strip follows:
// what was flown of it has lanes of its own.
func (r *runner) openLanes(it Item, reach float64) (out []lane) {
	tol := r.lineTol()
	legs := simplify.DouglasPeucker(tol).LineString(it.Line.Clone())
	for i := 1; i < len(legs); i++ {
		ax := axisBetween(legs[i-1], legs[i])
		if !ax.ok {
			continue
		}
		n := int(math.Ceil(ax.length / followStepM))
		step := ax.length / float64(n)
		open := -1.0 // where the stretch begins
		for k := range n + 1 {
			u := step * float64(k)
			p := ax.at(min(u+step/2, ax.length))
			switch free := k < n && !r.near(p[0], p[1], tol); {
			case free && open < 0:
				open = u
			case !free && open >= 0:
				out = append(out, lane{id: it.Strip, shot: -1, planned: true, lo: -reach, hi: reach, ax: ax, u: []float64{open, u}, t: []float64{0, 0}})
				open = -1
			}
		}
	}
	return out
}

// at returns when a lane had a place in its swath.
func (l *lane) at(e, n float64) (t float64, ok bool) {
	if w := l.ax.across(e, n); w < l.lo || w > l.hi || len(l.u) < 2 {
		return 0, false
	}
	u := l.ax.along(e, n)
	k := sort.SearchFloat64s(l.u, u)
	if k == len(l.u) || k == 0 && u < l.u[0] {
		return 0, false
	}
	return l.t[k], true
}

// recorded reports whether the cloud has points of a lane at a time.
func (r *runner) recorded(l *lane, t float64) bool {
	if l.shot < 0 {
		return false
	}
	for i := range r.shots {
		s := &r.shots[i]
		if t < s.StartS || t > s.EndS {
			continue
		}
		paused := false
		for _, g := range s.Gaps {
			paused = paused || t > g.StartS && t < g.EndS && g.EndS-g.StartS > r.lim.TimeGapS
		}
		if !paused {
			return true
		}
	}
	return false
}

// cause is what the strips as flown say of a hole.
type cause struct {
	lacking []laneShare // strips that passed over it while the cloud has no points of them
	looks   int         // strips that looked at what no such strip covers; -1 = not known
	only    *laneShare  // the one that looked, if it was one
}

// laneShare is a lane and when it passed over a hole.
type laneShare struct {
	lane   *lane
	t0, t1 float64
}

// lackShare is the share of a hole that a strip without points must cover to be named for it: proposal.
const lackShare = 0.2

// causeOf asks every lane about a sample of the cells of a hole.
func (r *runner) causeOf(h *hole, c *Coverage, lanes []lane) cause {
	if len(lanes) == 0 {
		return cause{looks: -1}
	}
	const most = 400
	var cells []orb.Point
	for i := 0; i < len(h.cells); i += max(1, len(h.cells)/most) {
		e, n := c.centre(h.cells[i])
		cells = append(cells, orb.Point{e, n})
	}
	lacks, saw := make([][]float64, len(lanes)), make([][]float64, len(lanes)) // times, NaN = not
	for j := range lanes {
		lacks[j], saw[j] = make([]float64, len(cells)), make([]float64, len(cells))
		for i, p := range cells {
			lacks[j][i], saw[j][i] = nan, nan
			if t, ok := lanes[j].at(p[0], p[1]); ok && r.recorded(&lanes[j], t) {
				saw[j][i] = t
			} else if ok {
				lacks[j][i] = t
			}
		}
	}
	var out cause
	open := make([]bool, len(cells))
	for i := range open {
		open[i] = true
	}
	for {
		best, count := -1, 0
		var share laneShare
		for j := range lanes {
			if s, n := share1(&lanes[j], lacks[j], open); n > count {
				best, count, share = j, n, s
			}
		}
		if best < 0 || float64(count) < lackShare*float64(len(cells)) {
			break
		}
		out.lacking = append(out.lacking, share)
		for i, t := range lacks[best] {
			open[i] = open[i] && t != t
		}
	}
	var looks []float64
	most1 := 0
	for i := range cells {
		if !open[i] {
			continue
		}
		n := 0.0
		for j := range lanes {
			if saw[j][i] == saw[j][i] {
				n++
			}
		}
		looks = append(looks, n)
	}
	if float64(len(looks)) < lackShare*float64(len(cells)) {
		out.looks = -1
		return out
	}
	out.looks = int(quantile(looks, 0.5))
	for j := range lanes {
		if s, n := share1(&lanes[j], saw[j], open); n > most1 && out.looks == 1 {
			most1, out.only = n, &s
		}
	}
	return out
}

// share1 counts the open cells that a lane passed, and when it did.
func share1(l *lane, times []float64, open []bool) (s laneShare, n int) {
	s = laneShare{lane: l}
	for i, t := range times {
		if t != t || !open[i] {
			continue
		}
		if n == 0 {
			s.t0, s.t1 = t, t
		}
		s.t0, s.t1 = min(s.t0, t), max(s.t1, t)
		n++
	}
	return s, n
}

// mend returns the strips that a hole names, and puts on the list what would
// mend it and is not on it.
func (r *runner) mend(h *judged, want bool, why *holeNotes) (ids []string) {
	reason := fmt.Sprintf("hole of %.0f m² at %.0f E, %.0f N", h.areaM2, h.e, h.n)
	for _, s := range h.lacking {
		if s.lane.planned {
			why.planned = append(why.planned, s.lane.id)
		} else {
			why.lacking = append(why.lacking, s.lane.id)
		}
		ids = append(ids, s.lane.id)
		if want && s.lane.shot >= 0 {
			r.wantLane(s, reason+", which it passed without points")
		}
	}
	switch {
	case len(ids) > 0:
		why.mended++
		if h.looks == 0 {
			why.partly++
		}
	case h.looks < 0:
		why.unknown++
	case h.looks == 0:
		why.outside++
	case h.looks == 1 && h.only != nil:
		ids = append(ids, h.only.lane.id)
		why.once = append(why.once, h.only.lane.id)
		if want {
			r.wantLane(*h.only, reason+", which it saw alone, without a return")
		}
	default:
		why.many++
		why.looks = max(why.looks, h.looks)
	}
	return ids
}

// wantLane lists the stretch of a strip beside a hole.
func (r *runner) wantLane(s laneShare, reason string) {
	l := s.lane
	r.want(l.id, max(l.startS, s.t0-r.lim.LeadS), min(l.endS, s.t1+r.lim.LeadS), reason, true)
}

// holeNotes gathers what explains the holes.
type holeNotes struct {
	lacking, planned, once []string
	mended, partly         int // explained by strips without points, and not as a whole
	outside, many, unknown int
	looks                  int
}

func (n *holeNotes) text(found int) string {
	var s []string
	which := func(k int, all string) string {
		if k == found {
			return all
		}
		return fmt.Sprintf("%d of them", k)
	}
	some := func(k int) string { return strings.TrimPrefix(which(k, "")+" ", " ") }
	if n.mended > 0 {
		it := plural(n.mended, "it", "them")
		if ids := unique(n.lacking); len(ids) > 0 {
			s = append(s, names(ids)+" "+plural(len(ids), "was", "were")+" flown over "+which(n.mended, it)+" without points, and would cover "+it)
		}
		if ids := unique(n.planned); len(ids) > 0 {
			s = append(s, plural(len(ids), "planned line ", "planned lines ")+strings.Join(ids, ", ")+", not flown there, would cover "+which(n.mended, it))
		}
		if n.partly > 0 {
			s = append(s, "a part is outside all swaths")
		}
	}
	if len(n.once) > 0 {
		s = append(s, some(len(n.once))+"seen by "+names(unique(n.once))+" alone, without a return")
	}
	if n.many > 0 {
		s = append(s, some(n.many)+fmt.Sprintf("seen by %d strips, none had a return: go and look; the same flight would show no more where the ground gives no return; if it was flown too low or the scanner had a fault, a flight without that would", n.looks))
	}
	if n.outside > 0 {
		s = append(s, some(n.outside)+"outside all swaths: a line is missing here, or the area is larger than what was flown")
	}
	if n.unknown > 0 {
		s = append(s, some(n.unknown)+"where it is not known which strips looked")
	}
	if len(s) == 0 {
		return ""
	}
	return "; " + strings.Join(s, "; ")
}
