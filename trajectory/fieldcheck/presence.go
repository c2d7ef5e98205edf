package fieldcheck

import (
	"fmt"
	"math"
	"strings"

	"github.com/paulmach/orb"

	"sidelap/trajectory"
)

// presenceChecks looks for strips that should be there: planned lines that no
// strip follows, and strips flown that the cloud does not hold.
func (r *runner) presenceChecks() {
	r.plannedLines()
	r.flownStrips()
}

// plannedLines compares the lines of the plan with the strips.
func (r *runner) plannedLines() {
	c := Check{ID: "planned_lines", Title: "planned lines flown", Unit: "lines missing", Limit: 0, Sense: AtMost, Basis: practice}
	if r.in.Plan == nil || len(r.in.Plan.Lines) == 0 {
		r.missing(c.ID, c.Title, false, "no planned lines given")
		return
	}
	if len(r.shots) == 0 {
		r.missing(c.ID, c.Title, false, "no strip found")
		return
	}
	spacing := lineSpacing(r.in.Plan.Lines)
	for _, l := range r.in.Plan.Lines {
		share := r.followed(l.Line, max(5, 0.4*spacing))
		if share >= 0.95 {
			continue
		}
		c.Value++
		c.Strips = append(c.Strips, l.ID)
		c.Result = Refly
		reason := "planned and not flown"
		if share > 0.02 {
			reason = fmt.Sprintf("planned and flown to %.0f %%", 100*share)
		}
		r.rep.Refly = append(r.rep.Refly, Item{Strip: l.ID, Reasons: []string{reason}, Line: l.Line, Planned: true})
		r.lost = append(r.lost, mid(l.Line))
	}
	if c.Result == "" {
		c.Result, c.Note = Go, "flown: "+counted(len(r.in.Plan.Lines), "planned line", "planned lines")
	} else {
		c.Note = fmt.Sprintf("not flown, or not to the end: %s of the plan", names(c.Strips))
	}
	r.add(c)
}

// followed returns the share of a planned line that lies within tol of a strip.
func (r *runner) followed(l orb.LineString, tol float64) float64 {
	n, hit := 0, 0
	for i := 1; i < len(l); i++ {
		d := math.Hypot(l[i][0]-l[i-1][0], l[i][1]-l[i-1][1])
		k := max(1, int(d/5))
		for j := range k {
			u := (float64(j) + 0.5) / float64(k)
			e, m := l[i-1][0]+u*(l[i][0]-l[i-1][0]), l[i-1][1]+u*(l[i][1]-l[i-1][1])
			n++
			if r.near(e, m, tol) {
				hit++
			}
		}
	}
	if n == 0 {
		return 1
	}
	return float64(hit) / float64(n)
}

func (r *runner) near(e, n, tol float64) bool {
	for i := range r.shots {
		if len(r.shots[i].poses) == 0 {
			if a := axisOf(&r.shots[i]); a.ok {
				if u := a.along(e, n); u > -tol && u < a.length+tol && math.Abs(a.across(e, n)) < tol {
					return true
				}
			}
			continue
		}
		for _, o := range r.shots[i].poses {
			if math.Abs(o.EM-e) < tol && math.Abs(o.NM-n) < tol && math.Hypot(o.EM-e, o.NM-n) < tol {
				return true
			}
		}
	}
	return false
}

// lineSpacing is the median distance of the middles of neighbouring lines.
func lineSpacing(lines []PlannedLine) float64 {
	var v []float64
	for i, l := range lines {
		best := math.Inf(1)
		for j, m := range lines {
			if i == j || len(l.Line) < 2 || len(m.Line) < 2 {
				continue
			}
			best = min(best, math.Hypot(mid(l.Line)[0]-mid(m.Line)[0], mid(l.Line)[1]-mid(m.Line)[1]))
		}
		if !math.IsInf(best, 1) {
			v = append(v, best)
		}
	}
	if len(v) == 0 {
		return 20
	}
	return quantile(v, 0.5)
}

func mid(l orb.LineString) orb.Point {
	a, b := l[0], l[len(l)-1]
	return orb.Point{(a[0] + b[0]) / 2, (a[1] + b[1]) / 2}
}

// flownStrips compares the strips that the motion shows with those of the cloud.
func (r *runner) flownStrips() {
	c := Check{ID: "strips_in_cloud", Title: "flown strips in the cloud", Unit: "strips missing or short", Limit: 0, Sense: AtMost, Basis: practice}
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
	flown := m.Of(trajectory.EventStrip)
	var short []cutStrip
	var lost []trajectory.Event
	for _, e := range flown {
		k, in := r.bestMatch(e)
		if in > 0.15*e.DurationS() {
			s := r.shots[k]
			short = append(short, cutStrip{k, e, max(0, s.StartS-e.StartS), max(0, e.EndS-s.EndS)})
			continue
		}
		if e.DurationS() < 5 || !r.likeOthers(e) {
			continue
		}
		lost = append(lost, e)
	}
	for i, id := range r.lostNames(lost) {
		e := lost[i]
		c.Strips = append(c.Strips, id)
		notes = append(notes, fmt.Sprintf("flown %s to %s, %s, no points: is a file missing? if not, the scanner was off", r.clock(e.StartS), r.clock(e.EndS), id))
		r.want(id, e.StartS, e.EndS, "flown, and no points in the cloud", false)
		if o, ok := r.in.Path.At((e.StartS + e.EndS) / 2); ok {
			r.lost = append(r.lost, orb.Point{o.EM, o.NM})
		}
	}
	r.spans = map[string]trajectory.Interval{}
	for _, x := range cutOff(short) {
		s := r.shots[x.shot]
		r.spans[s.ID] = trajectory.Interval{StartS: min(s.StartS, x.event.StartS), EndS: max(s.EndS, x.event.EndS)}
		c.Strips = append(c.Strips, s.ID)
		where, a, b := "ends early", s.EndS, x.event.EndS
		if x.head > x.tail {
			where, a, b = "begins late", x.event.StartS, s.StartS
		}
		notes = append(notes, fmt.Sprintf("strip %s %s: %.0f s of it were flown and have no points", s.ID, where, b-a))
		r.want(s.ID, max(x.event.StartS, a-r.lim.LeadS), min(x.event.EndS, b+r.lim.LeadS), fmt.Sprintf("it %s by %.0f s", where, b-a), true)
	}
	c.Value = float64(len(c.Strips))
	c.Result = result(len(c.Strips) == 0, Refly)
	c.Note = strings.Join(notes, "; ")
	if c.Result == Go {
		c.Note = "with points: all of " + counted(len(flown), "strip that the motion shows", "strips that the motion shows")
	}
	r.add(c)
}

// cutStrip is a strip of the cloud beside the stretch of the path that it was flown on.
type cutStrip struct {
	shot       int
	event      trajectory.Event
	head, tail float64 // seconds flown before and after its points
}

// cutOff returns the strips whose points stop well before the flight did. Every
// strip is flown somewhat longer than it is recorded: the median of all is taken off.
func cutOff(all []cutStrip) []cutStrip {
	var lead []float64
	for _, x := range all {
		lead = append(lead, x.head, x.tail)
	}
	usual := quantile(lead, 0.5)
	var out []cutStrip
	for _, x := range all {
		if max(x.head, x.tail)-usual > max(4, 0.2*x.event.DurationS()) {
			out = append(out, x)
		}
	}
	return out
}

// bestMatch returns the strip with the most seconds in e.
func (r *runner) bestMatch(e trajectory.Event) (k int, in float64) {
	for i, s := range r.shots {
		if x := min(e.EndS, s.EndS) - max(e.StartS, s.StartS); x > in {
			k, in = i, x
		}
	}
	return k, in
}

// lostNames names the stretches without points, each by a name of its own: where
// several lie between the same two strips, by the time too.
func (r *runner) lostNames(lost []trajectory.Event) []string {
	names, count := make([]string, len(lost)), map[string]int{}
	for i, e := range lost {
		names[i] = r.between(e)
		count[names[i]]++
	}
	for i, e := range lost {
		if count[names[i]] > 1 {
			names[i] += " at " + r.clock(e.StartS)
		}
	}
	return names
}

// clock reads a time for a person: by Input.Clock, else in seconds.
func (r *runner) clock(t float64) string {
	if r.in.Clock == nil {
		return fmt.Sprintf("%.0f s", t)
	}
	return r.in.Clock(t)
}

// between names a stretch without points by the strips before and after it.
func (r *runner) between(e trajectory.Event) string {
	before, after := "", ""
	for _, s := range r.shots {
		if s.StartS < e.StartS {
			before = s.ID
		} else if after == "" {
			after = s.ID
		}
	}
	switch {
	case before == "":
		return "before " + after
	case after == "":
		return "after " + before
	}
	return "between " + before + " and " + after
}

// beside reports whether a stretch lies among strips of its direction: along
// half of one of them, and no farther from it than two and a half times the
// distance at which neighbours are flown.
func (r *runner) beside(p0, p1 trajectory.Pose) bool {
	ax := make([]axis, len(r.shots))
	for i := range ax {
		ax[i] = axisOf(&r.shots[i])
	}
	var apart []float64
	for _, n := range r.neighbours(ax) {
		apart = append(apart, n.distance)
	}
	limit := 2.5 * quantile(apart, 0.5)
	for _, a := range ax {
		if !a.ok {
			continue
		}
		u0, u1 := a.along(p0.EM, p0.NM), a.along(p1.EM, p1.NM)
		w0, w1 := a.across(p0.EM, p0.NM), a.across(p1.EM, p1.NM)
		shared := min(a.length, max(u0, u1)) - max(0, min(u0, u1))
		if shared > 0.5*a.length && math.Abs(w0+w1)/2 <= limit && math.Abs(w1-w0) < 0.3*a.length {
			return true
		}
	}
	return false
}

// likeOthers reports whether a stretch of the path is flown as the strips of
// the cloud are: direction, speed and height. Before the first and after the
// last strip, where straight runs and transits lie, it must begin and end
// beside a strip and keep its speed too.
func (r *runner) likeOthers(e trajectory.Event) bool {
	outside := e.EndS < r.shots[0].StartS || e.StartS > r.shots[len(r.shots)-1].EndS
	speedTol, lengthTol := 0.25, 0.6
	if outside {
		speedTol, lengthTol = 0.1, 0.15
	}
	p0, ok0 := r.in.Path.At(e.StartS)
	p1, ok1 := r.in.Path.At(e.EndS)
	if !ok0 || !ok1 {
		return false
	}
	if !r.beside(p0, p1) { // along the end of the block: a transit, as a rule
		outside, speedTol, lengthTol = true, 0.1, 0.15
	}
	for i := range r.shots {
		s := &r.shots[i]
		a := axisOf(s)
		v, ok := medianSpeed(s)
		if !a.ok || !ok || len(s.poses) == 0 {
			continue
		}
		sin, cos := math.Sincos(e.CourseRad)
		if math.Abs(a.s*sin+a.c*cos) < parallelCos || math.Abs(v-e.SpeedMPS) > speedTol*v || math.Abs(s.poses[len(s.poses)/2].HM-e.HeightM) > 15 {
			continue
		}
		if math.Abs(e.LengthM-a.length) > lengthTol*a.length {
			continue
		}
		u0, u1 := a.along(p0.EM, p0.NM), a.along(p1.EM, p1.NM)
		if !outside || math.Abs(min(u0, u1)) < 0.15*a.length && math.Abs(max(u0, u1)-a.length) < 0.15*a.length {
			return true
		}
	}
	return false
}
