package trajectory

import (
	"math"
	"testing"

	"sidelap/trajectory/internal/motion"
)

// survey writes a whole flight as the trade advises; the truth is its script.
func survey(seed uint64, stillBefore, stillAfter float64, eights int) (*motion.Flight, []Interval) {
	f := motion.New(345600, 500_000, 5_300_000, 400, seed)
	f.WindEMPS = 2
	f.Still(stillBefore)
	f.Climb(80, 3)
	f.Line(120, 7)
	for range eights {
		f.Eight(15, 6)
	}
	e0, n0, _, _ := f.Where()
	var strips []Interval
	for k := range 5 {
		e, n, course := e0+60+float64(k)*40, n0+50, 0.0
		if k%2 == 1 {
			n, course = n+304, math.Pi
		}
		f.Goto(e, n, 8)
		f.Yaw(course)
		f.Line(300, 6)
		line := f.Marks[len(f.Marks)-1]
		strips = append(strips, Interval{line.Start, line.End})
	}
	f.Goto(e0-30, n0+200, 8) // cross strip
	f.Yaw(math.Pi / 2)
	f.Line(330, 6)
	line := f.Marks[len(f.Marks)-1]
	strips = append(strips, Interval{line.Start, line.End})
	f.Stop()
	for range eights {
		f.Eight(15, 6)
	}
	f.Goto(500_000, 5_300_000, 4)
	f.Climb(-80, 2)
	f.Still(stillAfter)
	return f, strips
}

func pathOf(f *motion.Flight) *Path {
	return &Path{TimeS: f.T, EM: f.E, NM: f.N, HM: f.H, RollRad: f.Roll, PitchRad: f.Pitch, HeadingRad: f.Head, Source: "invented"}
}

// Known truth: the script of an invented flight.
func TestFindEventsOfWholeFlight(t *testing.T) {
	for seed := uint64(1); seed <= 5; seed++ {
		f, strips := survey(seed, 45, 35, 2)
		for _, given := range []bool{false, true} {
			o := MotionOptions{}
			if given {
				o.Strips = strips
			}
			m, err := FindEvents(pathOf(f), o)
			if err != nil {
				t.Fatal(err)
			}
			if !m.StartsOnGround || !m.EndsOnGround || len(m.Air) != 1 {
				t.Errorf("seed %d: on the ground at start %v, end %v, %d flights", seed, m.StartsOnGround, m.EndsOnGround, len(m.Air))
			}
			// Starting takes half a second to be seen: ±1.5 s.
			if d := m.StillBeforeS() - 45; math.Abs(d) > 1.5 {
				t.Errorf("seed %d: still before take-off %.1f s, want 45", seed, m.StillBeforeS())
			}
			if d := m.StillAfterS() - 35; math.Abs(d) > 4 { // the hover of 2 s after the descent stands on the ground too
				t.Errorf("seed %d: still after landing %.1f s, want 35 to 38", seed, m.StillAfterS())
			}
			got := m.Of(EventStrip)
			if len(got) != len(strips) {
				for _, e := range m.Events {
					t.Log(e)
				}
				t.Fatalf("seed %d, strips given %v: %d strips, want %d", seed, given, len(got), len(strips))
			}
			for i, e := range got {
				if math.Abs(e.StartS-strips[i].StartS) > 4 || math.Abs(e.EndS-strips[i].EndS) > 4 {
					t.Errorf("seed %d: strip %d %.1f to %.1f s, want %.1f to %.1f", seed, i, e.StartS, e.EndS, strips[i].StartS, strips[i].EndS)
				}
				if math.Abs(e.SpeedMPS-6) > 0.2 {
					t.Errorf("seed %d: strip %d at %.2f m/s, want 6", seed, i, e.SpeedMPS)
				}
			}
			eights := m.Of(EventFigureEight)
			if len(eights) != 2 || eights[0].Eights != 2 || eights[1].Eights != 2 {
				t.Errorf("seed %d: figure-eights %v, want two manoeuvres of 2", seed, eights)
			}
			if r := m.Of(EventStraightRun); len(r) == 0 || r[0].StartS > strips[0].StartS {
				t.Errorf("seed %d: no straight run before the first strip: %v", seed, r)
			}
			if len(m.Of(EventTakeOff)) != 1 || len(m.Of(EventLanding)) != 1 {
				t.Errorf("seed %d: take-offs %v, landings %v", seed, m.Of(EventTakeOff), m.Of(EventLanding))
			}
			for i := 1; i < len(m.Events); i++ {
				if m.Events[i].StartS != m.Events[i-1].EndS {
					t.Errorf("seed %d: events leave %.2f to %.2f s open", seed, m.Events[i-1].EndS, m.Events[i].StartS)
				}
			}
		}
	}
}

func TestFindEventsRecordingInTheAir(t *testing.T) {
	f, _ := survey(3, 40, 40, 1)
	p := pathOf(f)
	cut := func(v []float64) []float64 { return v[100*50 : len(v)-100*50] }
	q := &Path{TimeS: cut(p.TimeS), EM: cut(p.EM), NM: cut(p.NM), HM: cut(p.HM)}
	m, err := FindEvents(q, MotionOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if m.StartsOnGround || m.EndsOnGround || m.StillBeforeS() != 0 || m.StillAfterS() != 0 {
		t.Errorf("a recording that starts and ends in the air: ground %v, %v, still %.1f, %.1f s", m.StartsOnGround, m.EndsOnGround, m.StillBeforeS(), m.StillAfterS())
	}
}

func TestFindEventsNoEight(t *testing.T) {
	f, strips := survey(2, 40, 40, 0)
	m, err := FindEvents(pathOf(f), MotionOptions{Strips: strips})
	if err != nil {
		t.Fatal(err)
	}
	if e := m.Of(EventFigureEight); len(e) != 0 {
		t.Errorf("figure-eights found in a flight without: %v", e)
	}
}

func TestFindEventsBatterySwap(t *testing.T) {
	f := motion.New(1000, 0, 0, 100, 9)
	f.Still(35)
	f.Climb(60, 3)
	f.Line(200, 6)
	f.Goto(0, 0, 5)
	f.Climb(-60, 2)
	f.Still(90)
	f.Climb(60, 3)
	f.Line(200, 6)
	f.Goto(0, 0, 5)
	f.Climb(-60, 2)
	f.Still(40)
	m, err := FindEvents(pathOf(f), MotionOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if len(m.Air) != 2 {
		t.Fatalf("%d flights, want 2: %v", len(m.Air), m.Air)
	}
	if d := m.Air[1].TakeOffS - m.Air[0].LandingS; math.Abs(d-92) > 4 {
		t.Errorf("%.1f s on the ground between the flights, want 90 to 94", d)
	}
}
