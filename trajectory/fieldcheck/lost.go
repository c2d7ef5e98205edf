package fieldcheck

import (
	"fmt"
	"math"

	"github.com/paulmach/orb"

	"sidelap/trajectory"
)

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

// acrossOthers reports whether a stretch of the path is flown across the strips
// of the cloud, over the block, at their height and speed: a cross strip, where
// no strip of the cloud has its direction. A way home is flown at another height
// or speed, or beside the block, as a rule.
func (r *runner) acrossOthers(e trajectory.Event) bool {
	p0, ok0 := r.in.Path.At(e.StartS)
	p1, ok1 := r.in.Path.At(e.EndS)
	x := axisBetween(orb.Point{p0.EM, p0.NM}, orb.Point{p1.EM, p1.NM})
	if !ok0 || !ok1 || !x.ok {
		return false
	}
	crossed, lines := 0, 0
	for i := range r.shots {
		s := &r.shots[i]
		a := axisOf(s)
		v, ok := medianSpeed(s)
		if !a.ok || !ok || len(s.poses) == 0 {
			continue
		}
		lines++
		if math.Abs(a.s*x.s+a.c*x.c) > math.Cos(45/deg) {
			continue
		}
		if math.Abs(v-e.SpeedMPS) <= 0.1*v && math.Abs(s.poses[len(s.poses)/2].HM-e.HeightM) <= 8 && meet(x, a, 0) {
			crossed++
		}
	}
	return crossed >= 2 && 2*crossed > lines
}
