package simulate

import (
	"fmt"
	"io"
	"math"
)

// Cause is one fault of the flight in the words of the results record: the kinds and
// units of causes[] (docs/architecture.md), used minus true.
type Cause struct {
	Kind  string
	Strip int // number of the strip, 0 = all
	Value float64
	Unit  string
}

// Causes lists what is wrong with the processed path and geometry, empty for a clean flight.
// Random path noise, recording faults and check point blunders are not causes.
func (f *Flight) Causes() []Cause {
	ft := &f.Scenario.Faults
	var out []Cause
	add := func(kind string, strip int, v float64, unit string) {
		if v != 0 {
			out = append(out, Cause{kind, strip, v, unit})
		}
	}
	add("boresight_roll", 0, ft.BoresightRollDeg, "deg")
	add("boresight_pitch", 0, ft.BoresightPitchDeg, "deg")
	add("boresight_heading", 0, ft.BoresightHeadingDeg, "deg")
	add("scan_angle_scale", 0, ft.ScanAngleScale, "1")
	add("range_offset", 0, ft.RangeOffsetM, "m")
	add("range_scale", 0, ft.RangeScale, "1")
	add("lever_x", 0, ft.LeverXM, "m")
	add("lever_y", 0, ft.LeverYM, "m")
	add("lever_z", 0, ft.LeverZM, "m")
	add("time_offset", 0, ft.TimeOffsetS, "s")
	datum := ft.DatumHeightM
	s := &f.Scenario.Site
	if ft.GeoidNotApplied {
		datum += s.GeoidM
	}
	if ft.GeoidWrongSign {
		datum += 2 * s.GeoidM
	}
	add("datum_height", 0, datum, "m")
	add("datum_horizontal", 0, math.Hypot(ft.DatumEM, ft.DatumNM), "m")
	for _, sf := range ft.Strips {
		add("strip_height", sf.Strip, sf.HeightM, "m")
		add("strip_horizontal", sf.Strip, math.Hypot(sf.EastM, sf.NorthM), "m")
		for _, d := range []Drift{sf.DriftE, sf.DriftN, sf.DriftH} {
			if d.Shape != DriftNone {
				add("strip_drift", sf.Strip, d.Size, "m")
			}
		}
		for _, d := range []Drift{sf.Roll, sf.Pitch, sf.Heading} {
			if d.Shape != DriftNone {
				add("attitude_drift", sf.Strip, d.Size, "deg")
			}
		}
	}
	add("attitude_drift", 0, ft.HeadingUnalignedDeg, "deg")
	return out
}

// ErrorAt returns used minus true of the path at tS: E, N, H in metres, roll, pitch, heading in radians.
func (f *Flight) ErrorAt(tS float64) [6]float64 {
	u, t := f.Used.At(tS), f.True.At(tS)
	return [6]float64{u.EM - t.EM, u.NM - t.NM, u.HM - t.HM, u.RollRad - t.RollRad, u.PitchRad - t.PitchRad, u.HeadingRad - t.HeadingRad}
}

// House is a house as it stands.
type House struct {
	EM, NM          float64 // centre
	AzimuthRad      float64 // of the ridge
	LengthM, WidthM float64
	EavesM, RidgeM  float64 // heights above the geoid
	PitchRad        float64
}

// Houses returns the houses.
func (sf *Surface) Houses() []House {
	out := make([]House, len(sf.houses))
	for i := range sf.houses {
		h := &sf.houses[i]
		out[i] = House{sf.centreE + h.e, sf.centreN + h.n, math.Atan2(h.dirE, h.dirN), 2 * h.halfL, 2 * h.halfW, h.eavesM, h.ridgeM, math.Atan(h.tan)}
	}
	return out
}

// Truth is all that is known about a flight, for records and for people.
type Truth struct {
	Scenario  Scenario
	Causes    []Cause
	TrueMount Mount
	UsedMount Mount
	Strips    []Strip
	Turns     []Strip
	Houses    []House
	Points    []SurveyPoint
	Control   []SurveyPoint
	Station   Station
	PowerOnS  float64
	PowerOffS float64
	MapScale  float64
}

// Truth returns everything that is known about the flight.
func (f *Flight) Truth() Truth {
	return Truth{f.Scenario, f.Causes(), f.trueMount, f.usedMount, f.Strips, f.Turns, f.Surface.Houses(), f.Points, f.Control,
		f.Station, f.Scenario.Site.PowerOnS, f.PowerOffS(), f.mapScale}
}

// WriteText writes the truth in plain words.
func (t *Truth) WriteText(w io.Writer) error {
	p := func(format string, a ...any) { fmt.Fprintf(w, format+"\n", a...) }
	s := &t.Scenario
	p("TRUTH of an invented survey: %s, seed %d", s.Site.Name, s.Seed)
	p("")
	p("Faults in the processing (used minus true):")
	if len(t.Causes) == 0 {
		p("  none")
	}
	for _, c := range t.Causes {
		where := "all strips"
		if c.Strip > 0 {
			where = fmt.Sprintf("strip %d", t.Strips[c.Strip-1].ID)
		}
		p("  %-18s %+.4f %-4s %s", c.Kind, c.Value, c.Unit, where)
	}
	p("")
	p("Lever arm used, forward right down: %+.3f %+.3f %+.3f m", t.UsedMount.LeverM[0], t.UsedMount.LeverM[1], t.UsedMount.LeverM[2])
	p("Range noise %.3f m; slow path noise %.3f m horizontal, %.3f m vertical, %.4f deg roll and pitch, %.4f deg heading",
		s.Scanner.RangeNoiseM, s.Process.NoiseHorizontalM, s.Process.NoiseVerticalM, s.Process.NoiseRollPitchDeg, s.Process.NoiseHeadingDeg)
	p("Survey noise of check points: %.3f m horizontal, %.3f m vertical; blunders: %d", s.Survey.SigmaHM, s.Survey.SigmaVM, len(s.Survey.Blunders))
	p("")
	p("Strips (GPS seconds of week %d):", s.Site.GPSWeek)
	for _, st := range t.Strips {
		note := ""
		if st.Missing {
			note = "  lost"
		}
		p("  %d  %-13s %10.2f to %10.2f  heading %5.1f deg  %3.0f m  %4.1f m/s%s", st.ID, st.Kind, st.StartS, st.EndS,
			st.HeadingRad*180/math.Pi, st.HeightM, st.SpeedMPS, note)
	}
	p("Recording %.2f to %.2f", t.PowerOnS, t.PowerOffS)
	_, err := fmt.Fprintln(w)
	return err
}
