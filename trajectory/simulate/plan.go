package simulate

import "math"

// Kind says what a strip is for.
type Kind int

// The kinds of strips.
const (
	KindParallel Kind = iota
	KindCross
	KindSecond // of the block at the second height
)

func (k Kind) String() string { return [...]string{"parallel", "cross", "second height"}[k] }

// Strip is one planned and flown pass.
type Strip struct {
	Number                 int // from 1, in flown order
	ID                     uint16
	Kind                   Kind
	FromEM, FromNM         float64 // planned start, map
	ToEM, ToNM             float64 // planned end, map
	HeadingRad             float64 // grid azimuth of flight
	HeightM                float64 // planned, above Site.GroundM
	SpeedMPS               float64 // planned
	StartS, EndS           float64 // true GPS seconds of week on the line
	RecordStartS, RecordES float64 // the part that was recorded (start, end), after clipping faults
	Missing                bool    // flown, but its points are lost
	PlannedLateralOffsetM  float64 // Plan.StripOffsetsM of this strip
}

// leg is a piece of the flight: a hold (durS > 0) or an arc at a speed.
type leg struct {
	arc
	durS   float64
	speed  float64
	z      float64 // height to reach, m above the geoid
	strip  int     // number of the strip, 0 = none
	event  Event
	ground bool // standing on the ground
}

// Event names a part of the flight.
type Event uint8

// The parts of a flight.
const (
	EventStill Event = iota
	EventTakeOff
	EventStraightRun
	EventFigureEight
	EventTransit
	EventStrip
	EventTurn
	EventHover
	EventLanding
)

func (e Event) String() string {
	return [...]string{"still", "take-off", "straight run", "figure-eight", "transit", "strip", "turn", "hover", "landing"}[e]
}

// blockBox returns the terrain's box for the plan.
func (s *Scenario) blockBox() box {
	p := &s.Plan
	a := p.HeadingDeg * math.Pi / 180
	b := box{sin: math.Sin(a), cos: math.Cos(a)}
	half := s.swathHalfM()
	across := float64(max(p.Strips, 1)-1)*p.SpacingM + 2*half
	b.alongM, b.acrossM = p.StripLengthM, across
	if p.CrossStrips > 0 {
		b.alongM = math.Max(b.alongM, float64(p.CrossStrips-1)*p.CrossSpacingM+2*half)
		b.acrossM = math.Max(b.acrossM, s.crossLengthM())
	}
	var off float64
	for _, o := range p.StripOffsetsM {
		off = math.Max(off, math.Abs(o))
	}
	hf := b.alongM/2 + s.Terrain.MarginM + math.Abs(p.CrossOffsetAlongM) + 6
	hr := b.acrossM/2 + s.Terrain.MarginM + off + 6
	e := hf*math.Abs(b.sin) + hr*math.Abs(b.cos)
	n := hf*math.Abs(b.cos) + hr*math.Abs(b.sin)
	b.e0, b.e1, b.n0, b.n1 = -e, e, -n, n
	b.acrossM -= half * 0.6 // objects stand where strips see them
	b.alongM *= 0.97
	return b
}

// swathHalfM returns the planned half width of the widest swath, m.
func (s *Scenario) swathHalfM() float64 {
	h := math.Max(s.Plan.HeightM, s.Plan.SecondHeightM)
	for _, x := range s.Plan.StripHeightsM {
		h = math.Max(h, x)
	}
	return (h + 3*s.Terrain.ReliefM) * math.Tan(s.Scanner.FieldOfViewDeg/2*math.Pi/180)
}

// maxBeamAngle is the largest angle of a beam from the vertical, radians.
func (s *Scenario) maxBeamAngle() float64 {
	a := s.Scanner.FieldOfViewDeg/2 + 6 + 3*s.Motion.RollRMSDeg + math.Abs(s.Motion.PitchTrimDeg)/2
	if s.Plan.ExtendRecordingPast {
		a += 12
	}
	return math.Min(a, 72) * math.Pi / 180
}

func (s *Scenario) crossLengthM() float64 {
	if s.Plan.CrossLengthM > 0 {
		return s.Plan.CrossLengthM
	}
	return float64(max(s.Plan.Strips, 1)-1)*s.Plan.SpacingM + s.Plan.HeightM*math.Tan(s.Scanner.FieldOfViewDeg/2*math.Pi/180)
}

// strips lays the strips out in flown order.
func (s *Scenario) strips() []Strip {
	p := &s.Plan
	a := p.HeadingDeg * math.Pi / 180
	b := box{sin: math.Sin(a), cos: math.Cos(a)}
	var out []Strip
	at := func(v []float64, def float64) float64 {
		if i := len(out); i < len(v) && v[i] != 0 {
			return v[i]
		}
		return def
	}
	add := func(kind Kind, f0, r0, f1, r1, height float64) {
		st := Strip{Number: len(out) + 1, Kind: kind}
		st.ID = s.Label.FirstID + uint16(len(out))
		if o := at(p.StripOffsetsM, 0); kind != KindCross {
			st.PlannedLateralOffsetM = o
			r0, r1 = r0+o, r1+o
		}
		e0, n0 := b.toMap(f0, r0)
		e1, n1 := b.toMap(f1, r1)
		st.FromEM, st.FromNM = s.Site.CentreEM+e0, s.Site.CentreNM+n0
		st.ToEM, st.ToNM = s.Site.CentreEM+e1, s.Site.CentreNM+n1
		st.HeadingRad = mod2pi(math.Atan2(e1-e0, n1-n0))
		st.HeightM, st.SpeedMPS = at(p.StripHeightsM, height), at(p.StripSpeedsMPS, p.SpeedMPS)
		for _, m := range s.Faults.Missing {
			st.Missing = st.Missing || m == st.Number
		}
		out = append(out, st)
	}
	parallel := func(n int, kind Kind, height float64) {
		for i := range n {
			k := i
			if p.StripOrderReversed {
				k = n - 1 - i
			}
			r := (float64(k) - float64(n-1)/2) * p.SpacingM
			f := p.StripLengthM / 2
			if i%2 == 1 && !p.SameDirection {
				f = -f
			}
			add(kind, -f, r, f, r, height)
		}
	}
	cross := func() {
		for i := range p.CrossStrips {
			f := (float64(i)-float64(p.CrossStrips-1)/2)*p.CrossSpacingM + p.CrossOffsetAlongM
			r := s.crossLengthM() / 2
			if i%2 == 1 {
				r = -r
			}
			add(KindCross, f, r, f, -r, p.HeightM)
		}
	}
	if p.CrossStripsFirst {
		cross()
	}
	parallel(p.Strips, KindParallel, p.HeightM)
	if !p.CrossStripsFirst {
		cross()
	}
	if p.SecondHeightM > 0 {
		parallel(p.SecondStrips, KindSecond, p.SecondHeightM)
	}
	return out
}
