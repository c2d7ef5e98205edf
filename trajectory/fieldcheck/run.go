package fieldcheck

import (
	"fmt"
	"math"
	"sort"
	"strings"

	"github.com/paulmach/orb"

	"sidelap/trajectory"
)

// runner holds what the checks share.
type runner struct {
	in      Input
	lim     Limits
	rep     *Report
	motion  *trajectory.Motion
	shots   []shot                         // strips as flown: of the cloud, else of the motion
	ponds   []Place                        // what looks like water
	wet     wetness                        // cells of the coverage; nil = no water
	farPlan float64                        // metres from the cloud to a plan of another site, which is then not used; 0 = it is of this site
	lost    []orb.Point                    // middles of lines that are missing and on the list
	spans   map[string]trajectory.Interval // strips whose points stop short: as far as they were flown

	matches []match // strips of the cloud and what they were flown on
	gone    []gone  // flown without a point
	inside  []bool  // cells of the coverage in the area; nil = no area
	beyond  int     // cells of the area outside the raster
}

// shot is a strip with its part of the path.
type shot struct {
	Strip
	fromCloud bool
	poses     []trajectory.Pose // five a second, empty without a path
	gapped    float64           // seconds of it that the path does not cover
}

// Run judges the input. It fails only for limits that cannot be used.
func Run(in Input, lim Limits) (*Report, error) {
	if err := lim.Validate(); err != nil {
		return nil, err
	}
	r := &runner{in: in, lim: lim, rep: &Report{grid: in.Grid}}
	r.prepare()
	r.planElsewhere()
	r.baseChecks()
	r.motionChecks()
	r.stripChecks()
	r.prepareCoverage()
	r.presenceChecks() // finds the lines that are missing, which sidelap asks for
	r.sidelapChecks()
	r.coverageChecks()
	r.cloudChecks()
	r.heightChecks()
	r.finish()
	return r.rep, nil
}

// prepare finds the motion and the strips.
func (r *runner) prepare() {
	var iv []trajectory.Interval
	for _, s := range r.in.Strips {
		iv = append(iv, trajectory.Interval{StartS: s.StartS, EndS: s.EndS})
	}
	r.motion = r.in.Motion
	if r.motion == nil && r.in.Path != nil {
		if m, err := trajectory.FindEvents(r.in.Path, trajectory.MotionOptions{Strips: iv, RunMPS: r.lim.RunMPS, RunS: r.lim.RunS}); err == nil {
			r.motion = m
		}
	}
	r.rep.Motion = r.motion
	for _, s := range r.in.Strips {
		r.shots = append(r.shots, shot{Strip: s, fromCloud: true})
	}
	if len(r.in.Strips) == 0 && r.motion != nil {
		for k, e := range r.motion.Of(trajectory.EventStrip) {
			r.shots = append(r.shots, shot{Strip: Strip{ID: fmt.Sprint(k + 1), StartS: e.StartS, EndS: e.EndS, LengthM: e.LengthM, HeadingRad: e.CourseRad}})
		}
	}
	sort.SliceStable(r.shots, func(i, j int) bool { return r.shots[i].StartS < r.shots[j].StartS })
	if r.in.Path == nil {
		return
	}
	c := r.in.Path.NewCursor()
	for i := range r.shots {
		s := &r.shots[i]
		const step = 0.2
		for t := s.StartS; t <= s.EndS; t += step {
			if o, ok := c.At(t); ok {
				s.poses = append(s.poses, o)
			} else {
				s.gapped += step
			}
		}
		if s.SpanRad == 0 {
			s.SpanRad = r.in.ScanSpanRad
		}
		if h, ok := r.aboveTakeOff(s); ok && s.HeightAboveGroundM == 0 {
			s.HeightAboveGroundM = h
		}
		if s.Swath == nil {
			s.Swath = s.swathByAngle()
		}
	}
}

// aboveTakeOff returns the height of a strip above the place of take-off: what
// a path alone knows of the height above ground.
func (r *runner) aboveTakeOff(s *shot) (float64, bool) {
	if r.motion == nil || !r.motion.StartsOnGround || len(s.poses) == 0 {
		return 0, false
	}
	h := s.poses[len(s.poses)/2].HM - r.motion.Events[0].HeightM
	return h, h > 1
}

// swathByAngle draws the ground under the scan angles along the path, level
// flight over flat ground; nil when angles or height are not known.
func (s *shot) swathByAngle() orb.Polygon {
	if s.SpanRad <= 0 || s.SpanRad > 2.8 || s.HeightAboveGroundM <= 0 || len(s.poses) < 10 {
		return nil
	}
	half := s.HeightAboveGroundM * math.Tan(s.SpanRad/2)
	var left, right orb.Ring
	for i := 0; i < len(s.poses); i += 5 {
		o := s.poses[i]
		a, b := s.poses[max(0, i-5)], s.poses[min(len(s.poses)-1, i+5)]
		l := math.Hypot(b.EM-a.EM, b.NM-a.NM)
		if l == 0 {
			continue
		}
		e, n := (b.NM-a.NM)/l*half, -(b.EM-a.EM)/l*half // to the right
		right = append(right, orb.Point{o.EM + e, o.NM + n})
		left = append(left, orb.Point{o.EM - e, o.NM - n})
	}
	if len(left) < 2 {
		return nil
	}
	for i := len(left) - 1; i >= 0; i-- {
		right = append(right, left[i])
	}
	return orb.Polygon{append(right, right[0])}
}

// add appends a check.
func (r *runner) add(c Check) {
	r.rep.Checks = append(r.rep.Checks, c)
}

// missing appends a check that cannot be judged.
func (r *runner) missing(id, title string, required bool, format string, args ...any) {
	r.add(Check{ID: id, Title: title, Value: nan, Limit: nan, Result: NotJudged, Required: required, Note: fmt.Sprintf(format, args...)})
}

// finish decides the verdict and completes the list.
func (r *runner) finish() {
	rep := r.rep
	rank := map[Result]int{Refly: 3, Caution: 2, NotJudged: 1, Go: 0}
	rep.Verdict = Go
	for _, c := range rep.Checks {
		res := c.Result
		if res == NotJudged && !c.Required {
			continue
		}
		if rank[res] > rank[rep.Verdict] {
			rep.Verdict = res
		}
	}
	for _, want := range []Result{Refly, Caution, NotJudged} {
		for _, c := range rep.Checks {
			if c.Result == want && (want != NotJudged || c.Required) {
				rep.Reasons = append(rep.Reasons, c.Title+": "+c.Note)
			}
		}
	}
	r.finishRefly()
}

// result returns go when good, else bad.
func result(good bool, bad Result) Result {
	if good {
		return Go
	}
	return bad
}

// names joins strip IDs for a sentence.
func names(ids []string) string {
	switch len(ids) {
	case 0:
		return "no strip"
	case 1:
		return "strip " + ids[0]
	}
	const most = 8
	if len(ids) > most {
		return fmt.Sprintf("strips %s and %d more", strings.Join(ids[:most], ", "), len(ids)-most)
	}
	return "strips " + strings.Join(ids[:len(ids)-1], ", ") + " and " + ids[len(ids)-1]
}

func unique(ids []string) []string {
	var out []string
	seen := map[string]bool{}
	for _, s := range ids {
		if !seen[s] {
			seen[s] = true
			out = append(out, s)
		}
	}
	return out
}

func capital(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

func plural(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}

func counted(n int, one, many string) string { return fmt.Sprint(n) + " " + plural(n, one, many) }

func minutes(s float64) string {
	if s < 120 {
		return fmt.Sprintf("%.0f s", s)
	}
	return fmt.Sprintf("%.1f min", s/60)
}
