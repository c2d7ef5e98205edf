package fieldcheck

import (
	"fmt"
	"math"
	"sort"

	"sidelap/trajectory"
)

const deg = 180 / math.Pi

// measure is one figure of every strip, judged together.
type measure struct {
	id, title, unit string
	limit           float64
	basis           string
	need            string // what is missing when no strip has the figure
	of              func(s *shot) (float64, bool)
	text            string // "speed changes by %.0f %%"
}

// stripChecks judges every strip by its path.
func (r *runner) stripChecks() {
	plan := r.in.Plan
	deviation := func(value, planned float64) float64 { return 100 * math.Abs(value-planned) / planned }
	for _, m := range []measure{
		{"bank_strips", "bank on strips", "deg", r.lim.BankStripDeg, proposal, "the path has no attitude", r.bank, "%.1f°"},
		{"crab", "crab on strips", "deg", r.lim.CrabDeg, proposal + "; on a list of don'ts", "the path has no attitude", r.crab, "heading %.1f° from the course"},
		{"speed_steady", "speed steady in strips", "%", r.lim.SpeedSpreadPct, proposal, "no path given", speedSpread, "it changes by %.0f %%"},
		{"speed_plan", "speed against the plan", "%", r.lim.SpeedPlanPct, proposal, "no planned speed given", func(s *shot) (float64, bool) {
			v, ok := medianSpeed(s)
			if plan == nil || plan.SpeedMPS <= 0 || !ok {
				return 0, false
			}
			return deviation(v, plan.SpeedMPS), true
		}, "%.0f %% from the plan"},
		{"height_steady", "height steady in strips", "%", r.lim.HeightSpreadPct, proposal + ": above ground, or level", "no height above ground known", r.heightSpread, "it changes by %.0f %%"},
		{"height_plan", "height against the plan", "%", r.lim.HeightPlanPct, proposal, "no planned height given, or no height above ground known", func(s *shot) (float64, bool) {
			if plan == nil || plan.HeightM <= 0 || s.HeightAboveGroundM <= 0 {
				return 0, false
			}
			v := deviation(s.HeightAboveGroundM, plan.HeightM)
			if h, ok := r.aboveTakeOff(s); ok { // as many plans count
				v = min(v, deviation(h, plan.HeightM))
			}
			return v, true
		}, "%.0f %% from the plan"},
		{"height_alike", "height of strips alike", "%", r.lim.HeightAlikePct, proposal, "no height above ground known, or a height is planned", func(s *shot) (float64, bool) {
			if plan != nil && plan.HeightM > 0 {
				return 0, false
			}
			return r.heightApart(s)
		}, "%.0f %% from any other"},
		{"long_strip", "longest time without a turn", "s", r.lim.LongStripS, "manual of an airborne mapping system: 15 min", "no strip found", func(s *shot) (float64, bool) {
			return s.EndS - s.StartS, s.EndS > s.StartS
		}, "%.0f s"},
	} {
		r.judge(m)
	}
	r.sigmas()
	r.fixed()
	r.pathGaps()
}

// judge adds the check of one measure: the worst strip decides, all beyond the limit are named.
func (r *runner) judge(m measure) {
	c := Check{ID: m.id, Title: m.title, Unit: m.unit, Limit: m.limit, Sense: AtMost, Basis: m.basis}
	worst, n := "", 0
	for i := range r.shots {
		v, ok := m.of(&r.shots[i])
		if !ok || math.IsNaN(v) {
			continue
		}
		if n++; v > c.Value || worst == "" {
			c.Value, worst = v, r.shots[i].ID
		}
		if v > m.limit {
			c.Strips = append(c.Strips, r.shots[i].ID)
		}
	}
	if n == 0 {
		need := m.need
		if len(r.shots) == 0 {
			need = "no strip found"
		}
		r.missing(m.id, m.title, false, "%s", need)
		return
	}
	c.Result = result(len(c.Strips) == 0, Caution)
	c.Note = fmt.Sprintf("strip %s: "+m.text, worst, c.Value)
	if len(c.Strips) > 1 {
		c.Note += "; beyond the limit: " + names(c.Strips)
	}
	if n < len(r.shots) {
		c.Note += fmt.Sprintf(" (known for %d of %d strips)", n, len(r.shots))
	}
	r.add(c)
}

// inner returns the poses of a strip without its first and last two seconds,
// where the aircraft still turns.
func (s *shot) inner() []trajectory.Pose {
	p := s.poses
	if len(p) > 40 {
		return p[10 : len(p)-10]
	}
	return p
}

func (r *runner) bank(s *shot) (float64, bool) {
	var v []float64
	for _, o := range s.inner() {
		if o.HasAttitude {
			v = append(v, math.Abs(o.RollRad)*deg)
		}
	}
	return quantile(v, 0.99), len(v) > 0
}

func (r *runner) crab(s *shot) (float64, bool) {
	var sx, sy float64
	n := 0
	for _, o := range s.inner() {
		if o.HasAttitude && o.SpeedMPS > 1 {
			a, b := math.Sincos(o.HeadingRad - course(s.inner(), o))
			sx, sy, n = sx+a, sy+b, n+1
		}
	}
	return math.Abs(math.Atan2(sx, sy)) * deg, n > 0
}

// course is that of the whole strip: single velocities are noisy.
func course(p []trajectory.Pose, o trajectory.Pose) float64 {
	a, b := p[0], p[len(p)-1]
	if math.Hypot(b.EM-a.EM, b.NM-a.NM) < 1 {
		return o.CourseRad
	}
	return math.Atan2(b.EM-a.EM, b.NM-a.NM)
}

// speeds returns speeds over two seconds, so that noise of positions cancels.
func (s *shot) speeds() []float64 {
	p := s.inner()
	var v []float64
	const k = 5 // one second either side
	for i := k; i+k < len(p); i++ {
		if dt := p[i+k].TimeS - p[i-k].TimeS; dt > 0 && dt < 4 {
			v = append(v, math.Hypot(p[i+k].EM-p[i-k].EM, p[i+k].NM-p[i-k].NM)/dt)
		}
	}
	return v
}

func medianSpeed(s *shot) (float64, bool) {
	v := s.speeds()
	return quantile(v, 0.5), len(v) > 0
}

func speedSpread(s *shot) (float64, bool) {
	v := s.speeds()
	if len(v) < 5 {
		return 0, false
	}
	m := quantile(v, 0.5)
	return 100 * (quantile(v, 1) - quantile(v, 0)) / m, m > 0.5
}

// quantile returns the q-quantile of v, linear between order statistics.
func quantile(v []float64, q float64) float64 {
	if len(v) == 0 {
		return nan
	}
	s := append([]float64(nil), v...)
	sort.Float64s(s)
	x := q * float64(len(s)-1)
	i := min(int(x), len(s)-1)
	j := min(i+1, len(s)-1)
	return s[i] + (x-float64(i))*(s[j]-s[i])
}

// sigmas judges the accuracy that the path states of itself on the strips.
func (r *runner) sigmas() {
	c := Check{ID: "solution", Title: "stated accuracy of the path on strips", Unit: "x limit", Limit: 1, Sense: AtMost,
		Basis: fmt.Sprintf("%s: horizontal %g m, height %g m, roll and pitch %g°, heading %g°", proposal, r.lim.SigmaHorizontalM, r.lim.SigmaHeightM, r.lim.SigmaLevelDeg, r.lim.SigmaHeadingDeg)}
	p := r.in.Path
	if p == nil || p.Sigma == nil || len(r.shots) == 0 {
		r.missing(c.ID, c.Title, false, "the path states no accuracy")
		return
	}
	type part struct {
		name, unit string
		value      float64
		limit      float64
	}
	var worst part
	ratio := 0.0
	for _, s := range r.shots {
		var sum [5][]float64
		for t := s.StartS; t <= s.EndS; t++ {
			if g, ok := p.SigmaAt(t); ok {
				for k, v := range []float64{math.Hypot(g.EastM, g.NorthM), g.UpM, g.RollRad * deg, g.PitchRad * deg, g.HeadingRad * deg} {
					if !math.IsNaN(v) {
						sum[k] = append(sum[k], v)
					}
				}
			}
		}
		over := false
		for k, d := range []part{{"horizontal", " m", 0, r.lim.SigmaHorizontalM}, {"height", " m", 0, r.lim.SigmaHeightM}, {"roll", "°", 0, r.lim.SigmaLevelDeg}, {"pitch", "°", 0, r.lim.SigmaLevelDeg}, {"heading", "°", 0, r.lim.SigmaHeadingDeg}} {
			if len(sum[k]) == 0 {
				continue
			}
			d.value = quantile(sum[k], 0.95)
			if x := d.value / d.limit; x > ratio {
				ratio, worst = x, d
			}
			over = over || d.value > d.limit
		}
		if over {
			c.Strips = append(c.Strips, s.ID)
		}
	}
	if ratio == 0 {
		r.missing(c.ID, c.Title, false, "the path states no accuracy on the strips")
		return
	}
	c.Value = ratio
	c.Result = result(len(c.Strips) == 0, Caution)
	c.Note = fmt.Sprintf("worst: %s %.3f%s, limit %g%s", worst.name, worst.value, worst.unit, worst.limit, worst.unit)
	if len(c.Strips) > 0 {
		c.Note += "; " + names(c.Strips) + ". A real-time path says less than the processed one"
	}
	r.add(c)
}

// pathGaps judges whether the path covers the strips.
func (r *runner) pathGaps() {
	c := Check{ID: "path_gaps", Title: "path covers the strips", Unit: "s", Limit: r.lim.PathGapS, Sense: AtMost, Basis: proposal}
	if r.in.Path == nil || len(r.shots) == 0 {
		r.missing(c.ID, c.Title, false, "it needs a path and strips")
		return
	}
	c.Result = Go
	for _, s := range r.shots {
		if s.gapped > c.Value {
			c.Value = s.gapped
		}
		if s.gapped > r.lim.PathGapS {
			c.Result = Refly
			c.Strips = append(c.Strips, s.ID)
			why := fmt.Sprintf("the path lacks %.1f s", s.gapped)
			if ask := r.wholePath(); ask != "" && (s.StartS < r.motion.StartS || s.EndS > r.motion.EndS) {
				why = firstAsk(ask, why)
			}
			r.want(s.ID, s.StartS, s.EndS, why, false)
		}
	}
	c.Note = "without a gap"
	if c.Value > 0 {
		c.Note = fmt.Sprintf("up to %.1f s of a strip lie outside the path or in its gaps", c.Value)
	}
	if ask := r.wholePath(); ask != "" {
		c.Note = ask + "; " + c.Note
	}
	r.add(c)
}

// fixed judges the share of epochs with a fixed solution, where the path file
// has a column of quality and it is known which value means fixed.
func (r *runner) fixed() {
	c := Check{ID: "fixed", Title: "fixed solution on strips", Value: 100, Unit: "%", Limit: r.lim.FixedPct, Sense: AtLeast, Basis: proposal}
	tr, p := r.in.Track, r.in.Path
	if tr == nil || p == nil || r.in.FixedValue == 0 || len(tr.Quality) != len(p.TimeS) {
		r.missing(c.ID, c.Title, false, "no column of solution quality, or its value for fixed is not known")
		return
	}
	n := 0
	for _, s := range r.shots {
		all, good := 0.0, 0.0
		for i := sort.SearchFloat64s(p.TimeS, s.StartS); i < len(p.TimeS) && p.TimeS[i] <= s.EndS; i++ {
			all++
			if tr.Quality[i] == r.in.FixedValue {
				good++
			}
		}
		if all == 0 {
			continue
		}
		n++
		share := 100 * good / all
		c.Value = min(c.Value, share)
		if share < r.lim.FixedPct {
			c.Strips = append(c.Strips, s.ID)
		}
	}
	if n == 0 {
		r.missing(c.ID, c.Title, false, "no strip on the path")
		return
	}
	c.Result = result(len(c.Strips) == 0, Caution)
	c.Note = fmt.Sprintf("at least %.1f %% of the epochs of a strip", c.Value)
	if len(c.Strips) > 0 {
		c.Note += "; below the limit: " + names(c.Strips)
	}
	r.add(c)
}
