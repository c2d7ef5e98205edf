package fieldcheck

import (
	"fmt"
	"math"
	"strings"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"

	"sidelap/trajectory"
)

// flownStrips compares the strips that the motion shows with those of the cloud.
func (r *runner) flownStrips() {
	c := Check{ID: "strips_in_cloud", Title: "flown strips in the cloud", Unit: "strips missing or short", Limit: 0, Sense: AtMost, Basis: practice + "; short from 2 s, refly from 4 s where ground stays open or a fifth is lost: " + proposal}
	if r.in.Path == nil || len(r.in.Strips) == 0 {
		r.missing(c.ID, c.Title, false, "it needs a path and a cloud with strips")
		return
	}
	m, err := trajectory.FindEvents(r.in.Path, trajectory.MotionOptions{})
	if err != nil {
		r.missing(c.ID, c.Title, false, "%v", err)
		return
	}
	var notes []string
	matched, others := 0, 0
	var lost []trajectory.Event
	for _, e := range m.Of(trajectory.EventStrip) {
		k, in := r.bestMatch(e)
		switch {
		case in > 0.15*e.DurationS():
			s := r.shots[k]
			matched++
			r.matches = append(r.matches, match{shot: k, event: e, head: max(0, s.StartS-e.StartS), tail: max(0, e.EndS-s.EndS)})
		case e.DurationS() >= 5 && (r.likeOthers(e) || r.acrossOthers(e)):
			lost = append(lost, e)
		default:
			others++
		}
	}
	c.Result = Go
	r.lostStrips(&c, lost, &notes)
	r.cutStrips(&c, &notes)
	r.showLost()
	c.Value = float64(len(c.Strips))
	c.Note = strings.Join(notes, "; ")
	if c.Result == Go {
		c.Note = "with points: " + counted(matched, "strip that the motion shows", "strips that the motion shows")
	}
	if matched == 0 && len(lost) == 0 {
		c.Value, c.Limit, c.Result, c.Note = nan, nan, NotJudged, "the path shows no strip while the cloud has points: it is of another time, or too short"
	}
	if others > 0 {
		c.Note += fmt.Sprintf("; %s without points, taken for no strip", counted(others, "more straight stretch", "more straight stretches"))
	}
	r.add(c)
}

// lostStrips names the strips without a point and lists them.
func (r *runner) lostStrips(c *Check, lost []trajectory.Event, notes *[]string) {
	for i, id := range r.lostNames(lost) {
		e := lost[i]
		how := ""
		if !r.likeOthers(e) {
			how = " across the others"
		}
		c.Result = Refly
		c.Strips = append(c.Strips, id)
		*notes = append(*notes, fmt.Sprintf("flown %s to %s%s, %s, no points: is a file missing? if not, the scanner was off", r.clock(e.StartS), r.clock(e.EndS), how, id))
		r.want(id, e.StartS, e.EndS, "flown"+how+", and no points in the cloud", false)
		r.gone = append(r.gone, gone{id, e})
		if o, ok := r.in.Path.At((e.StartS + e.EndS) / 2); ok {
			r.lost = append(r.lost, orb.Point{o.EM, o.NM})
		}
	}
}

// match is a strip of the cloud beside the stretch of the path that it was flown on.
type match struct {
	shot       int
	event      trajectory.Event
	head, tail float64 // seconds flown before and after its points
}

// gone is a stretch of the path that was flown as a strip and has no points.
type gone struct {
	id    string
	event trajectory.Event
}

// usualLead is how many seconds strips are flown, as a rule, before and after
// their points: the medians of all.
func (r *runner) usualLead() (head, tail float64) {
	var h, t []float64
	for _, x := range r.matches {
		h, t = append(h, x.head), append(t, x.tail)
	}
	if len(h) < 3 {
		h = append(h, t...)
		t = h
	}
	if len(h) == 0 {
		return 0, 0
	}
	return quantile(h, 0.5), quantile(t, 0.5)
}

// Seconds of a strip without points, beyond the usual lead, at its start or end.
const (
	shortS      = 2.0 // somebody should look
	shortReflyS = 4.0 // a repeat is advised, where others leave ground open
	shortShare  = 0.2 // of the strip: a repeat is advised whatever others saw
)

// cutStrips finds the strips whose points begin late or stop early, over the
// block. Whether a repeat is advised is for the seconds and for what other strips
// saw of the ground.
func (r *runner) cutStrips(c *Check, notes *[]string) {
	head, tail := r.usualLead()
	r.spans = map[string]trajectory.Interval{}
	for i := range r.matches {
		x := &r.matches[i]
		s := r.shots[x.shot]
		for _, end := range []struct {
			where        string
			lostS, usual float64
			a, b         float64
		}{{"begins late", x.head - head, head, x.event.StartS + head, s.StartS}, {"ends early", x.tail - tail, tail, s.EndS, x.event.EndS - tail}} {
			if end.lostS < shortS {
				continue
			}
			f := r.underStretch(x.shot, end.a, end.b)
			large := end.lostS > max(shortReflyS, shortShare*x.event.DurationS())
			if f.waterShare >= 0.8 || !large && f.blockS < shortS {
				continue
			}
			note := fmt.Sprintf("strip %s %s: %.0f s of it were flown and have no points", s.ID, end.where, end.lostS)
			c.Strips = append(c.Strips, s.ID)
			switch {
			case large || f.blockS > shortReflyS && f.openM2 >= r.lim.HoleReflyM2:
				c.Result = Refly
				r.spans[s.ID] = trajectory.Interval{StartS: min(s.StartS, x.event.StartS), EndS: max(s.EndS, x.event.EndS)}
				r.want(s.ID, max(x.event.StartS, end.a-r.lim.LeadS), min(x.event.EndS, end.b+r.lim.LeadS), fmt.Sprintf("it %s by %.0f s", end.where, end.lostS), true)
			default:
				if f.openM2 < r.lim.HoleReflyM2 {
					note += fmt.Sprintf(", under %g m² of the ground there are without a return", r.lim.HoleReflyM2)
				}
				if c.Result == Go {
					c.Result = Caution
				}
			}
			*notes = append(*notes, note)
		}
	}
	c.Strips = unique(c.Strips)
}

// footprint is what lies under a stretch of a strip.
type footprint struct {
	blockS     float64 // seconds of it over the block: beside other strips, or in their swaths
	openM2     float64 // ground of the area, or of the block, in its swath without any return; +Inf = not known
	waterShare float64 // of its ground without a return and in the water
}

// underStretch looks at the ground that a strip would have seen from a to b.
func (r *runner) underStretch(shot int, a, b float64) (f footprint) {
	l := r.laneOf(shot)
	step := 1.0
	c := r.in.Coverage
	known := usable(c) && l.ax.ok // else nobody can tell what others saw of the ground
	if known {
		step = c.CellM
	}
	cells, wetCells := map[[2]int]bool{}, 0.0
	all := 0.0
	cur := r.in.Path.NewCursor()
	last := orb.Point{math.Inf(1), 0}
	const dt = 0.1
	for t := a; t < b; t += dt {
		o, ok := cur.At(t)
		if !ok {
			continue
		}
		block := r.overBlock(shot, o.EM, o.NM)
		if block {
			f.blockS += dt
		}
		if !known || math.Hypot(o.EM-last[0], o.NM-last[1]) < step/2 {
			continue
		}
		last = orb.Point{o.EM, o.NM}
		u := l.ax.along(o.EM, o.NM)
		for w := l.lo + step; w < l.hi-step; w += step {
			p := orb.Point{l.ax.at(u)[0] + w*l.ax.c, l.ax.at(u)[1] - w*l.ax.s}
			col, row := int(math.Floor((p[0]-c.EM)/step)), int(math.Floor((p[1]-c.NM)/step))
			if cells[[2]int{col, row}] {
				continue
			}
			cells[[2]int{col, row}] = true
			k := row*c.Cols + col
			if col < 0 || row < 0 || col >= c.Cols || row >= c.Rows {
				k = -1
			}
			all++
			switch {
			case k >= 0 && c.First[k] > 0:
			case k >= 0 && r.wet.of(k) != wetNot:
				wetCells++
			case r.inside == nil && block, r.inside != nil && (k >= 0 && r.inside[k] || k < 0 && planar.MultiPolygonContains(r.in.Plan.Area, p)):
				f.openM2 += step * step
			}
		}
	}
	f.waterShare = wetCells / max(1, all)
	if !known {
		f.openM2 = math.Inf(1)
	}
	return f
}

// overBlock reports whether a place lies between the ends of a parallel strip
// near it, or in the swath of any other.
func (r *runner) overBlock(shot int, e, n float64) bool {
	own := axisOf(&r.shots[shot])
	for i := range r.shots {
		if i == shot {
			continue
		}
		a := axisOf(&r.shots[i])
		if !a.ok || !own.ok {
			continue
		}
		if u := a.along(e, n); u < 0 || u > a.length {
			continue
		}
		half := 30.0
		if lo, hi, ok := a.band(r.shots[i].Swath); ok {
			half = (hi - lo) / 2
		}
		parallel := math.Abs(a.s*own.s+a.c*own.c) > parallelCos
		if w := math.Abs(a.across(e, n)); w < half || parallel && w < 3*half {
			return true
		}
	}
	return false
}

// showLost makes strips of the stretches without points in the motion that the report shows.
func (r *runner) showLost() {
	if len(r.gone) == 0 || r.motion == nil {
		return
	}
	var iv []trajectory.Interval
	head, tail := r.usualLead()
	for _, s := range r.shots {
		iv = append(iv, trajectory.Interval{StartS: s.StartS, EndS: s.EndS})
	}
	for _, g := range r.gone {
		iv = append(iv, trajectory.Interval{StartS: g.event.StartS + min(head, 5), EndS: g.event.EndS - min(tail, 5)})
	}
	if m, err := trajectory.FindEvents(r.in.Path, trajectory.MotionOptions{Strips: iv, RunMPS: r.lim.RunMPS, RunS: r.lim.RunS}); err == nil {
		r.rep.Motion = m
	}
}
