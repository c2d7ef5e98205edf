package trajectory_test

import (
	"math"
	"path/filepath"
	"strings"
	"testing"

	"sidelap/las/crs"
	"sidelap/trajectory"
	"sidelap/trajectory/geodesy"
	"sidelap/trajectory/simulate"
)

// projector of the site's UTM zone.
func projector(t *testing.T, f *simulate.Flight) *geodesy.Projector {
	t.Helper()
	c, err := crs.FromEPSG(32600 + f.Scenario.Site.UTMZone)
	if err != nil {
		t.Fatal(err)
	}
	p, err := geodesy.New(c.Projection)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func fly(t *testing.T, seed uint64, edit func(s *simulate.Scenario)) *simulate.Flight {
	t.Helper()
	s := simulate.SmallScenario()
	s.Seed = seed
	s.Scanner.PulseRateHz = 4000
	if edit != nil {
		edit(&s)
	}
	f, err := simulate.Fly(s)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// returns thins the cloud to what the tests of the path need.
func returns(f *simulate.Flight) (out []trajectory.Return, strips []trajectory.Interval) {
	for i := range f.Strips {
		iv := trajectory.Interval{StartS: math.Inf(1), EndS: math.Inf(-1)}
		for c := range f.StripChunks(i) {
			for k := 0; k < c.N; k++ {
				iv.StartS, iv.EndS = min(iv.StartS, c.GPSTime[k]), max(iv.EndS, c.GPSTime[k])
				if k%20 != 0 {
					continue
				}
				out = append(out, trajectory.Return{TimeS: c.GPSTime[k],
					EM: float64(c.X[k])*c.Frame.Scale[0] + c.Frame.Offset[0], NM: float64(c.Y[k])*c.Frame.Scale[1] + c.Frame.Offset[1],
					HM: float64(c.Z[k])*c.Frame.Scale[2] + c.Frame.Offset[2], AngleRad: float64(c.ScanAngle[k]) * 0.006 * math.Pi / 180})
			}
		}
		if iv.EndS > iv.StartS {
			strips = append(strips, iv)
		}
	}
	return out, strips
}

// Known truth: the simulator's SBET, written by code of its own, read back and
// projected, is the path that it used, within a millimetre and a microradian.
func TestSimulatedSBETIsTheUsedPath(t *testing.T) {
	for _, wander := range []float64{0, -1.3} {
		f := fly(t, 3, func(s *simulate.Scenario) { s.Process.WanderDeg = wander })
		name := filepath.Join(t.TempDir(), "sbet.out")
		if err := f.WriteTrajectory(name); err != nil {
			t.Fatal(err)
		}
		tr, err := trajectory.Read(name, trajectory.ReadOptions{})
		if err != nil {
			t.Fatal(err)
		}
		p, err := tr.ToPath(projector(t, f), trajectory.PathOptions{})
		if err != nil {
			t.Fatal(err)
		}
		u := f.Used
		if p.Len() != u.Len() {
			t.Fatalf("%d samples, want %d", p.Len(), u.Len())
		}
		var off float64
		for i := range u.TimeS {
			off = max(off, math.Hypot(p.EM[i]-u.EM[i], p.NM[i]-u.NM[i]))
			if d := trajectory.WrapPi(p.HeadingRad[i] - u.HeadingRad[i]); math.Abs(d) > 1e-6 {
				t.Fatalf("wander %.1f°: heading of sample %d off by %.2g rad; %q", wander, i, d, p.Notes)
			}
		}
		if off > 1e-3 {
			t.Errorf("largest distance %.2g m", off)
		}
	}
}

// Known truth: seeded faults of time and height on simulated clouds.
func TestSimulatedTimeAndHeightFaults(t *testing.T) {
	for seed := uint64(1); seed <= 3; seed++ {
		f := fly(t, seed, nil)
		rets, strips := returns(f)
		name := filepath.Join(t.TempDir(), "sbet.out")
		if err := f.WriteTrajectory(name); err != nil {
			t.Fatal(err)
		}
		proj := projector(t, f)
		for _, c := range []struct {
			addS float64
			name string
		}{{0, "seconds of the week to adjusted"}, {-18, "UTC in the path"}, {604800, ""}, {-86400, "whole days"}} {
			tr, err := trajectory.Read(name, trajectory.ReadOptions{})
			if err != nil {
				t.Fatal(err)
			}
			for i := range tr.TimeS {
				tr.TimeS[i] += c.addS
			}
			p, err := tr.ToPath(proj, trajectory.PathOptions{HeightOffsetM: -f.Scenario.Site.GeoidM})
			if err != nil {
				t.Fatal(err)
			}
			m, err := trajectory.MatchTime(tr, strips, trajectory.BeamPlaneCost(p, 0, rets), trajectory.MatchOptions{})
			if err != nil {
				t.Fatal(err)
			}
			want := f.StoredTimeS(f.Used.TimeS[0]) - tr.TimeS[0]
			if d := math.Abs(m.ShiftS - want); d > 5e-3 || !m.Sure || !strings.Contains(m.Name, c.name) {
				t.Errorf("seed %d, %+.0f s: shift off by %.4f s, %s", seed, c.addS, m.ShiftS-want, m.Text)
			}
		}
		tr, err := trajectory.Read(name, trajectory.ReadOptions{})
		if err != nil {
			t.Fatal(err)
		}
		p, err := tr.ToPath(proj, trajectory.PathOptions{ShiftS: f.StoredTimeS(f.Used.TimeS[0]) - tr.TimeS[0]})
		if err != nil {
			t.Fatal(err)
		}
		want := -f.GeoidM(f.Scenario.Site.CentreEM, f.Scenario.Site.CentreNM)
		h, ok := trajectory.EstimateHeightBase(p, rets)
		if d := math.Abs(h.OffsetM - want); !ok || !h.Fault || d > 3*h.SigmaM {
			t.Errorf("seed %d: %+v, want %.2f m", seed, h, want)
		}
		sc := f.Scenario.Scanner
		h, ok = trajectory.EstimateHeightBaseWithLever(p, [3]float64{sc.LeverXM, sc.LeverYM, sc.LeverZM}, rets)
		if d := math.Abs(h.OffsetM - want); !ok || d > max(3*h.SigmaM, 0.03) {
			t.Errorf("seed %d, lever arm known: %+v, want %.2f m", seed, h, want)
		}
	}
}

// Known truth: the simulator's own list of what was flown.
func TestSimulatedEvents(t *testing.T) {
	for _, base := range []func() simulate.Scenario{simulate.SmallScenario, simulate.DefaultScenario, simulate.DemoScenario} {
		s := base()
		f, err := simulate.Fly(s)
		if err != nil {
			t.Fatal(err)
		}
		u := f.Used
		p := &trajectory.Path{TimeS: u.TimeS, EM: u.EM, NM: u.NM, HM: u.HM, Source: s.Site.Name}
		m, err := trajectory.FindEvents(p, trajectory.MotionOptions{})
		if err != nil {
			t.Fatal(err)
		}
		if d := m.StillBeforeS() - s.Plan.StillBeforeS; math.Abs(d) > 2 {
			t.Errorf("%s: still %.1f s before, want %.1f", s.Site.Name, m.StillBeforeS(), s.Plan.StillBeforeS)
		}
		if d := m.StillAfterS() - s.Plan.StillAfterS; math.Abs(d) > 3 { // the last slow centimetres of the descent stand still too
			t.Errorf("%s: still %.1f s after, want %.1f", s.Site.Name, m.StillAfterS(), s.Plan.StillAfterS)
		}
		n := 0
		for _, st := range f.Strips {
			for _, e := range m.Of(trajectory.EventStrip) {
				if min(e.EndS, st.EndS)-max(e.StartS, st.StartS) > 0.8*(st.EndS-st.StartS) {
					n++
					break
				}
			}
		}
		if n != len(f.Strips) {
			t.Errorf("%s: %d of %d strips found by motion", s.Site.Name, n, len(f.Strips))
		}
		before, after := 0, 0
		for _, e := range m.Of(trajectory.EventFigureEight) {
			if e.EndS < f.Strips[0].StartS {
				before += e.Eights
			} else {
				after += e.Eights
			}
		}
		if before != s.Plan.FigureEightsBefore || after != s.Plan.FigureEightsAfter {
			t.Errorf("%s: %d and %d figure-eights, want %d and %d", s.Site.Name, before, after, s.Plan.FigureEightsBefore, s.Plan.FigureEightsAfter)
		}
	}
}
