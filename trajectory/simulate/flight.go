package simulate

import (
	"fmt"
	"math"
)

// Flight is a flown scenario. It is safe for concurrent reading: any number of
// goroutines may stream strips at once.
type Flight struct {
	Scenario Scenario
	Surface  *Surface
	Strips   []Strip // in flown order
	Turns    []Strip // recorded stretches between strips, only with Plan.ExtendRecordingPast; Number 0
	True     *Path   // where the aircraft was
	Used     *Path   // where the processing says it was
	Events   []Event // part of the flight at each pose of the paths
	Points   []SurveyPoint
	Control  []SurveyPoint
	Station  Station // base station

	utm       UTM
	trueMount Mount
	usedMount Mount
	mapScale  float64
	align     []float64 // share of the initial heading uncertainty left, by pose
	targets   []disc    // painted discs, metres from the centre
}

// Fly lays out the terrain, flies the plan and surveys the check points. Points
// are computed when they are asked for. The error names the field of the scenario that cannot be.
func Fly(s Scenario) (*Flight, error) {
	if err := s.Validate(); err != nil {
		return nil, fmt.Errorf("simulate: %w", err)
	}
	f := &Flight{Scenario: s, utm: UTM{s.Site.UTMZone, s.Site.South}}
	f.Surface = newSurface(&f.Scenario, s.blockBox())
	f.Strips = s.strips()
	if n := len(f.Strips); n == 0 {
		return nil, fmt.Errorf("simulate: Plan: no strips; set Strips or CrossStrips")
	}
	for _, sf := range s.Faults.Strips {
		if sf.Strip < 1 || sf.Strip > len(f.Strips) {
			return nil, fmt.Errorf("simulate: Faults.Strips: strip %d; the plan has 1..%d", sf.Strip, len(f.Strips))
		}
	}
	m := s.fly(f.Strips, f.Surface)
	f.True, f.Events = m.path, m.events
	f.align = s.alignment(m)
	f.setMounts()
	f.Used = s.usedPath(m, f.Strips)
	f.setRecording()
	f.Station = f.station()
	f.survey()
	return f, nil
}

// setMounts fixes the true and the used geometry between path and beam.
func (f *Flight) setMounts() {
	s := &f.Scenario
	sc, ft := &s.Scanner, &s.Faults
	rad := math.Pi / 180
	f.mapScale = 1
	if s.Process.MapScale {
		lat, lon := f.utm.Inverse(s.Site.CentreEM, s.Site.CentreNM)
		h := s.Site.GroundM + s.Site.GeoidM
		f.mapScale = f.utm.PointScale(lat, lon) * earthRadiusM / (earthRadiusM + h)
	}
	f.trueMount = Mount{Vec{sc.LeverXM, sc.LeverYM, sc.LeverZM},
		sc.BoresightRollDeg * rad, sc.BoresightPitchDeg * rad, sc.BoresightHeadingDeg * rad, f.mapScale}
	f.usedMount = Mount{Vec{sc.LeverXM + ft.LeverXM, sc.LeverYM + ft.LeverYM, sc.LeverZM + ft.LeverZM},
		(sc.BoresightRollDeg + ft.BoresightRollDeg) * rad, (sc.BoresightPitchDeg + ft.BoresightPitchDeg) * rad,
		(sc.BoresightHeadingDeg + ft.BoresightHeadingDeg) * rad, f.mapScale}
}

// earthRadiusM is the mean radius R1 of the WGS 84 ellipsoid, (2a + b)/3.
const earthRadiusM = 6371008.77

// setRecording applies clipping to the strips and finds the recorded turns.
func (f *Flight) setRecording() {
	for i := range f.Strips {
		st := &f.Strips[i]
		st.RecordStartS, st.RecordES = st.StartS, st.EndS
		for _, sf := range f.Scenario.Faults.Strips {
			if sf.Strip == st.Number && (sf.KeepFrom != 0 || sf.KeepTo != 0) {
				d := st.EndS - st.StartS
				st.RecordStartS, st.RecordES = st.StartS+sf.KeepFrom*d, st.StartS+sf.KeepTo*d
			}
		}
	}
	if !f.Scenario.Plan.ExtendRecordingPast {
		return
	}
	start := -1
	for i := range f.Events {
		fly := f.Events[i] >= EventStraightRun && f.Events[i] <= EventHover
		t := f.True.TimeS[i]
		on := fly && f.stripAt(t) == 0
		if on && start < 0 {
			start = i
		}
		if start >= 0 && (!on || i == len(f.Events)-1) {
			turn := Strip{StartS: f.True.TimeS[start], EndS: f.True.TimeS[i] - 0.5/f.True.rateHz}
			turn.RecordStartS, turn.RecordES = turn.StartS, turn.EndS
			turn.ID = f.Strips[max(f.lastStripBefore(turn.StartS)-1, 0)].ID
			f.Turns = append(f.Turns, turn)
			start = -1
		}
	}
}

// stripAt returns the number of the strip being flown at tS, 0 for none.
func (f *Flight) stripAt(tS float64) int {
	for i := range f.Strips {
		if tS >= f.Strips[i].StartS && tS <= f.Strips[i].EndS {
			return f.Strips[i].Number
		}
	}
	return 0
}

func (f *Flight) lastStripBefore(tS float64) int {
	n := 0
	for i := range f.Strips {
		if f.Strips[i].StartS <= tS {
			n = f.Strips[i].Number
		}
	}
	return n
}

// TrueMount returns the true geometry between path and beam.
func (f *Flight) TrueMount() Mount { return f.trueMount }

// UsedMount returns the geometry with which the points are computed.
func (f *Flight) UsedMount() Mount { return f.usedMount }

// GeoidM returns the geoid height at map coordinates, m: ellipsoidal height = height + geoid height.
func (f *Flight) GeoidM(eM, nM float64) float64 {
	s := &f.Scenario.Site
	return s.GeoidM + s.GeoidSlopeE*(eM-s.CentreEM) + s.GeoidSlopeN*(nM-s.CentreNM)
}

// UTM returns the projection of the site.
func (f *Flight) UTM() UTM { return f.utm }

// StoredTimeS returns what the cloud stores as GPS time for an event at the true time tS (seconds of week).
func (f *Flight) StoredTimeS(tS float64) float64 {
	t := tS + f.timeShift()
	if f.Scenario.Label.Time == TimeWeek {
		return inWeek(t)
	}
	return t
}

// timeShift is stored time minus true time.
func (f *Flight) timeShift() float64 {
	return f.pathShift() + f.Scenario.Faults.TimeOffsetS + f.Scenario.Faults.TimeLabelS
}

// pathShift is the time base of the cloud minus seconds of week.
func (f *Flight) pathShift() float64 {
	if f.Scenario.Label.Time == TimeAdjusted {
		return float64(f.Scenario.Site.GPSWeek)*weekS - adjustedS
	}
	return 0
}

const (
	weekS     = 604800.0
	adjustedS = 1e9 // LAS 1.4, global encoding bit 0: adjusted standard GPS time is GPS time minus this
)
