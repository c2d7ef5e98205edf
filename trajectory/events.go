package trajectory

import (
	"fmt"
	"math"
	"sort"
)

// EventKind is a kind of motion.
type EventKind string

// The kinds of motion of a flight, in the order of a good one.
const (
	EventStill       EventKind = "still on the ground"
	EventTakeOff     EventKind = "take-off"
	EventStraightRun EventKind = "straight run"
	EventFigureEight EventKind = "figure-eight"
	EventStrip       EventKind = "strip"
	EventTurn        EventKind = "turn"
	EventHover       EventKind = "hover"
	EventTransit     EventKind = "transit"
	EventLanding     EventKind = "landing"
	EventGap         EventKind = "gap in the path"
)

// Event is one stretch of one kind of motion. Figures that a kind does not have are zero.
type Event struct {
	Kind         EventKind
	StartS, EndS float64
	LengthM      float64 // distance flown, horizontal
	SpeedMPS     float64 // median, horizontal
	CourseRad    float64 // from grid north: strips and runs
	HeightM      float64 // median height
	LeftRad      float64 // sum of all turning to the left, positive
	RightRad     float64
	Eights       int // figure-eights in it
	Strip        int // index into MotionOptions.Strips, or count from 0 when found by motion; -1 else
}

// DurationS returns the length in seconds.
func (e Event) DurationS() float64 { return e.EndS - e.StartS }

func (e Event) String() string {
	s := fmt.Sprintf("%.1f to %.1f s  %s, %.0f s", e.StartS, e.EndS, e.Kind, e.DurationS())
	switch e.Kind {
	case EventStrip, EventStraightRun:
		s += fmt.Sprintf(", %.0f m at %.1f m/s, course %.0f°", e.LengthM, e.SpeedMPS, Wrap2Pi(e.CourseRad)*toDeg)
	case EventFigureEight:
		s += fmt.Sprintf(", %d, left %.0f°, right %.0f°", e.Eights, e.LeftRad*toDeg, e.RightRad*toDeg)
	}
	return s
}

// Air is one stay in the air.
type Air struct{ TakeOffS, LandingS float64 }

// Motion is what the pilot did.
//
// Events follow one another and cover the recording. A recording that begins
// or ends in the air has no still before or after: StartsOnGround, EndsOnGround.
type Motion struct {
	StartS, EndS                 float64 // the recording
	StartsOnGround, EndsOnGround bool
	Events                       []Event
	Air                          []Air
	StripsFrom                   string // "cloud" or "motion"
}

// Of returns the events of a kind.
func (m *Motion) Of(k EventKind) []Event {
	var out []Event
	for _, e := range m.Events {
		if e.Kind == k {
			out = append(out, e)
		}
	}
	return out
}

// StillBeforeS and StillAfterS return how long the aircraft stood on the ground
// before the first take-off and after the last landing, while recording.
func (m *Motion) StillBeforeS() float64 {
	if len(m.Events) == 0 || m.Events[0].Kind != EventStill {
		return 0
	}
	return m.Events[0].DurationS()
}

// StillAfterS is described at StillBeforeS.
func (m *Motion) StillAfterS() float64 {
	if n := len(m.Events); n > 0 && m.Events[n-1].Kind == EventStill {
		return m.Events[n-1].DurationS()
	}
	return 0
}

// MotionOptions are the thresholds of FindEvents. The zero value takes the
// defaults, which are common practice for multirotors.
type MotionOptions struct {
	Strips         []Interval // strips of the cloud in the path's time; nil = find them by motion
	StillMPS       float64    // slower is still; default 0.10 over two seconds
	RunMPS         float64    // a straight run is faster; default 5
	RunS           float64    // and lasts at least; default 6
	StripMinS      float64    // strips found by motion last at least; default 5
	LobeRad        float64    // turning that makes half a figure-eight; default 240 degrees
	GroundClimbM   float64    // the aircraft has flown if it rose by; default 3
	MaxTurnRateRad float64    // straight flight turns less, rad/s; default 4 degrees
}

func (o MotionOptions) withDefaults() MotionOptions {
	set := func(v *float64, d float64) {
		if *v == 0 {
			*v = d
		}
	}
	set(&o.StillMPS, 0.10)
	set(&o.RunMPS, 5)
	set(&o.RunS, 6)
	set(&o.StripMinS, 5)
	set(&o.LobeRad, 240*math.Pi/180)
	set(&o.GroundClimbM, 3)
	set(&o.MaxTurnRateRad, 4*math.Pi/180)
	return o
}

// FindEvents reads the motion of a path: positions alone are used, smoothed
// over half a second. Without MotionOptions.Strips the strips are found by
// motion, and runs, returns and transits are told from them by ChooseLines. It
// fails only for paths shorter than two seconds.
func FindEvents(p *Path, o MotionOptions) (*Motion, error) {
	o = o.withDefaults()
	g := newGrid(p)
	if len(g.t) < 10 {
		return nil, fmt.Errorf("path %s: %d samples over %.1f s are too few to tell what the pilot did", p.Source, len(p.TimeS), g.length())
	}
	if o.Strips != nil {
		m := g.motion(p, o.Strips, o)
		m.StripsFrom = "cloud"
		return m, nil
	}
	kind := make([]EventKind, len(g.t))
	g.markGround(kind, o)
	m := g.motion(p, g.stripsByMotion(kind, o), o)
	if lines := linesOf(m); len(lines) > 0 {
		m = g.motion(p, lines, o)
	}
	return m, nil
}

// motion names every sample, with the strips as given.
func (g *grid) motion(p *Path, strips []Interval, o MotionOptions) *Motion {
	n := len(g.t)
	m := &Motion{StartS: p.TimeS[0], EndS: p.TimeS[len(p.TimeS)-1], StripsFrom: "motion"}
	kind := make([]EventKind, n)
	strip := make([]int, n)
	for i := range strip {
		strip[i] = -1
	}
	g.markGround(kind, o)
	for k, s := range strips {
		for i := range g.t {
			if g.t[i] >= s.StartS && g.t[i] <= s.EndS && kind[i] != EventGap {
				kind[i], strip[i] = EventStrip, k
			}
		}
	}
	g.markEights(kind, o)
	g.markStraightRuns(kind, o)
	g.markRest(kind, o)
	m.Events = g.collect(kind, strip, m.StartS, m.EndS)
	for i := range m.Events {
		if m.Events[i].Kind == EventFigureEight {
			m.Events[i].Eights = g.countEights(m.Events[i], o)
		}
	}
	m.StartsOnGround, m.EndsOnGround = kind[0] == EventStill, kind[n-1] == EventStill
	m.Air = airOf(m.Events)
	return m
}

// airOf joins the events between stills on the ground.
func airOf(ev []Event) []Air {
	var out []Air
	open := false
	for _, e := range ev {
		if e.Kind == EventStill {
			open = false
			continue
		}
		if !open {
			out, open = append(out, Air{e.StartS, e.EndS}), true
		}
		out[len(out)-1].LandingS = e.EndS
	}
	return out
}

// collect joins neighbouring samples of one kind into events.
func (g *grid) collect(kind []EventKind, strip []int, startS, endS float64) []Event {
	var out []Event
	for a := 0; a < len(kind); {
		b := a
		for b+1 < len(kind) && kind[b+1] == kind[a] && strip[b+1] == strip[a] {
			b++
		}
		e := Event{Kind: kind[a], StartS: g.t[a], EndS: g.t[b], Strip: strip[a]}
		if b+1 < len(kind) {
			e.EndS = g.t[b+1]
		}
		var v, h []float64
		sx, sy := 0.0, 0.0
		for i := a; i <= b; i++ {
			v, h = append(v, g.v[i]), append(h, g.h[i])
			if i > a {
				e.LengthM += math.Hypot(g.e[i]-g.e[i-1], g.n[i]-g.n[i-1])
			}
			s, c := math.Sincos(g.course[i])
			sx, sy = sx+s*g.v[i], sy+c*g.v[i]
			if w := g.w[i] * g.step; g.v[i] > 0.5 {
				e.RightRad, e.LeftRad = e.RightRad+max(0, w), e.LeftRad+max(0, -w)
			}
		}
		e.SpeedMPS, e.HeightM, e.CourseRad = median(v), median(h), Wrap2Pi(math.Atan2(sx, sy))
		out = append(out, e)
		a = b + 1
	}
	if len(out) > 0 {
		out[0].StartS, out[len(out)-1].EndS = startS, endS
	}
	sort.SliceStable(out, func(i, j int) bool { return out[i].StartS < out[j].StartS })
	return out
}
