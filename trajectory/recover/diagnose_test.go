package recover_test

import (
	"math"
	"testing"

	"sidelap/adjust"
	"sidelap/overlap"
	"sidelap/trajectory"
	"sidelap/trajectory/recover"
	"sidelap/trajectory/simulate"
)

// TestDiagnosisWithoutTrajectory is what a recovered path is for: a boresight fault of
// a simulated flight is found with it as with the path file, within three stated
// standard deviations of the truth, with woods (level a) and on bare ground (level b).
func TestDiagnosisWithoutTrajectory(t *testing.T) {
	const deg = math.Pi / 180
	want := map[adjust.Kind]float64{adjust.BoresightRoll: 0.04 * deg, adjust.BoresightPitch: 0.03 * deg, adjust.BoresightHeading: 0.06 * deg}
	for name, change := range map[string]func(s *simulate.Scenario){
		"woods": func(s *simulate.Scenario) {},
		"bare":  func(s *simulate.Scenario) { s.Terrain.Woods, s.Terrain.ScatteredTrees, s.Terrain.BrushPerHa = 0, 0, 0 },
	} {
		s := simulate.SmallScenario()
		s.Faults.BoresightRollDeg, s.Faults.BoresightPitchDeg, s.Faults.BoresightHeadingDeg = 0.04, 0.03, 0.06
		change(&s)
		survey, pairs, path, r := measure(t, s)
		with := adjust.Diagnose(survey, pairs, path, adjust.FromPath, adjust.DefaultOptions())
		without := adjust.Diagnose(survey, pairs, r.Path, adjust.FromRays, adjust.DefaultOptions())
		for kind, truth := range want {
			a, okA := estimate(with, kind)
			b, okB := estimate(without, kind)
			t.Logf("%s, level %s, %s: truth %.4f, with trajectory %.4f, without %.4f +- %.4f degrees", name, r.Level, kind, truth/deg, a.Estimate/deg, b.Estimate/deg, b.Sigma/deg)
			if kind == adjust.BoresightRoll && r.Level == recover.LevelAngles {
				// A rotation about a body axis that leans with the pitch: seen level, the
				// heading's share of it is roll.
				truth += want[adjust.BoresightHeading] * math.Sin(s.Motion.PitchTrimDeg*deg)
			}
			if okA && !okB {
				t.Errorf("%s: %s is named with the trajectory and not without", name, kind)
			}
			if okB && math.Abs(b.Estimate-truth) > 3*b.Sigma+0.0005*deg {
				t.Errorf("%s: %s is %.4f +- %.4f degrees, truth %.4f", name, kind, b.Estimate/deg, b.Sigma/deg, truth/deg)
			}
		}
		for _, c := range without.Causes {
			if _, made := want[c.Kind]; !made {
				t.Errorf("%s: %s is named and was not made", name, c.Kind)
			}
		}
	}
}

func estimate(d *adjust.Diagnosis, k adjust.Kind) (adjust.Cause, bool) {
	for _, c := range d.Causes {
		if c.Kind == k {
			return c, true
		}
	}
	return adjust.Cause{}, false
}

// measure flies a scenario, measures its overlaps and recovers its path, in one reading.
func measure(t *testing.T, s simulate.Scenario) (*overlap.Survey, []overlap.Pair, *trajectory.Path, *recover.Result) {
	t.Helper()
	f, err := simulate.Fly(s)
	if err != nil {
		t.Fatal(err)
	}
	o := overlap.DefaultOptions()
	o.CellM, o.Classified = 1, true
	acc, err := overlap.NewAccumulator(o)
	if err != nil {
		t.Fatal(err)
	}
	col, err := recover.NewCollector(recover.DefaultOptions())
	if err != nil {
		t.Fatal(err)
	}
	for i := range f.Strips {
		for c := range f.StripChunks(i) {
			acc.Add(c, 0)
			col.Add(c, 0)
		}
	}
	survey, err := acc.Survey(overlap.DefaultSurveyOptions())
	if err != nil {
		t.Fatal(err)
	}
	p := &trajectory.Path{TimeS: f.PathTimesS(), Source: "simulated"}
	for _, ts := range f.Used.TimeS {
		at := f.Used.At(ts)
		p.EM, p.NM, p.HM = append(p.EM, at.EM), append(p.NM, at.NM), append(p.HM, at.HM)
		p.RollRad, p.PitchRad, p.HeadingRad = append(p.RollRad, at.RollRad), append(p.PitchRad, at.PitchRad), append(p.HeadingRad, at.HeadingRad)
	}
	return survey, survey.Pairs(overlap.DefaultPairOptions()), p, col.Recover()
}
