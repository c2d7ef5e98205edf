package simulate

import "math"

// router builds the legs of a flight one after the other.
type router struct {
	s    *Scenario
	at   place // now
	z    float64
	legs []leg
}

func (r *router) hold(durS float64, ev Event, ground bool) {
	if durS > 0 {
		r.legs = append(r.legs, leg{durS: durS, z: r.z, event: ev, ground: ground})
	}
}

// climb hovers until the height is reached.
func (r *router) climb(z float64, ev Event) {
	d := math.Abs(z - r.z)
	r.z = z
	if d > 0.5 {
		r.legs = append(r.legs, leg{durS: d/r.s.Plan.ClimbMPS + 4, z: z, event: ev})
	}
}

func (r *router) fly(a arc, speed float64, ev Event, strip int) {
	r.legs = append(r.legs, leg{arc: a, speed: speed, z: r.z, event: ev, strip: strip})
	r.at = r.at.along(a.lenM, a.curv)
}

func (r *router) to(q place, speed float64, ev Event) {
	for _, a := range dubins(r.at, q, r.s.Plan.TurnRadiusM) {
		r.fly(a, speed, ev, 0)
	}
	r.at = q
}

// eights flies n figure-eights: a full circle to the left, one to the right, and again.
func (r *router) eights(n int) {
	p := &r.s.Plan
	l := 2 * math.Pi * p.FigureEightRadiusM
	for range n {
		r.fly(arc{l, -1 / p.FigureEightRadiusM}, p.TurnSpeedMPS, EventFigureEight, 0)
		r.fly(arc{l, 1 / p.FigureEightRadiusM}, p.TurnSpeedMPS, EventFigureEight, 0)
	}
}

// route returns the place of power-on and the legs of the whole recording. homeZ is the
// height of the reference point when landed.
func (s *Scenario) route(strips []Strip, homeZ float64) (place, []leg) {
	p := &s.Plan
	home := s.home(strips)
	r := &router{s: s, at: home, z: homeZ}
	r.hold(p.StillBeforeS, EventStill, true)
	first := s.Site.GroundM + p.HeightM
	if len(strips) > 0 {
		first = s.Site.GroundM + strips[0].HeightM
	}
	r.climb(first, EventTakeOff)
	if p.StraightRunM > 0 {
		r.fly(arc{lenM: p.StraightRunM}, p.StraightRunMPS, EventStraightRun, 0)
		r.fly(arc{lenM: 15}, p.TurnSpeedMPS, EventTransit, 0)
	}
	r.eights(p.FigureEightsBefore)
	for i := range strips {
		st := &strips[i]
		start := place{st.FromEM, st.FromNM, st.HeadingRad}
		lead := start.along(-s.leadM(st), 0)
		if i == 0 {
			r.hold(p.HoldBeforeStripsS, EventHover, false)
		}
		if st.Kind == KindSecond && strips[i-1].Kind != KindSecond && p.LandBetweenBlocksS > 0 {
			r.to(home, p.TurnSpeedMPS, EventTransit)
			r.climb(homeZ, EventLanding)
			r.hold(p.LandBetweenBlocksS, EventStill, true)
		}
		r.climb(s.Site.GroundM+st.HeightM, EventHover)
		ev := EventTurn
		if i == 0 {
			ev = EventTransit
		}
		r.to(lead, p.TurnSpeedMPS, ev)
		r.fly(arc{lenM: s.leadM(st)}, st.SpeedMPS, ev, 0)
		r.flyStrip(st)
		r.fly(arc{lenM: p.LeadM}, st.SpeedMPS, EventTurn, 0)
	}
	r.eights(p.FigureEightsAfter)
	r.to(home, p.TurnSpeedMPS, EventTransit)
	r.climb(homeZ, EventLanding)
	r.hold(p.StillAfterS, EventStill, true)
	return home, r.legs
}

// leadM is long enough to reach the strip's speed from a standstill.
func (s *Scenario) leadM(st *Strip) float64 {
	need := st.SpeedMPS*st.SpeedMPS/(2*s.Plan.AccelMPS2) + st.SpeedMPS
	return math.Max(s.Plan.LeadM, need)
}

func (r *router) flyStrip(st *Strip) {
	p := &r.s.Plan
	l := math.Hypot(st.ToEM-st.FromEM, st.ToNM-st.FromNM)
	if p.SpeedChangeStrip == st.Number && p.SpeedChangeFactor != 1 {
		for k := range 3 {
			v := st.SpeedMPS
			if k == 1 {
				v *= p.SpeedChangeFactor
			}
			r.fly(arc{lenM: l / 3}, v, EventStrip, st.Number)
		}
		return
	}
	r.fly(arc{lenM: l}, st.SpeedMPS, EventStrip, st.Number)
}

// home is where the aircraft stands, heading along the block.
func (s *Scenario) home(strips []Strip) place {
	a := s.Plan.HeadingDeg * math.Pi / 180
	b := box{sin: math.Sin(a), cos: math.Cos(a)}
	f, right := -s.Plan.StripLengthM/2, -float64(max(s.Plan.Strips, 1)-1)/2*s.Plan.SpacingM
	e, n := b.toMap(f+s.Plan.HomeAheadM, right+s.Plan.HomeRightM)
	return place{s.Site.CentreEM + e, s.Site.CentreNM + n, a}
}
