package adjust

import (
	"math"
	"testing"

	"sidelap/overlap"
	"sidelap/trajectory"
	"sidelap/trajectory/recover"
	"sidelap/trajectory/simulate"
)

// flown is a simulated flight as the diagnosis sees it.
type flown struct {
	flight *simulate.Flight
	survey *overlap.Survey
	pairs  []overlap.Pair
	path   *trajectory.Path
	found  *recover.Result // the path recovered from the points
}

// fly flies a scenario and measures its overlaps, all in memory.
func fly(t testing.TB, s simulate.Scenario, cellM float64) *flown {
	t.Helper()
	f, err := simulate.Fly(s)
	if err != nil {
		t.Fatal(err)
	}
	o := overlap.DefaultOptions()
	o.CellM, o.Classified = cellM, !s.Label.Unclassified
	acc, err := overlap.NewAccumulator(o)
	if err != nil {
		t.Fatal(err)
	}
	rays, err := recover.NewCollector(recover.DefaultOptions())
	if err != nil {
		t.Fatal(err)
	}
	for i := range f.Strips {
		for c := range f.StripChunks(i) {
			acc.Add(c, 0)
			rays.Add(c, 0)
		}
	}
	survey, err := acc.Survey(overlap.DefaultSurveyOptions())
	if err != nil {
		t.Fatal(err)
	}
	u := f.Used
	p := &trajectory.Path{TimeS: f.PathTimesS(), Source: "simulated"}
	for i := range u.TimeS {
		at := u.At(u.TimeS[i])
		p.EM, p.NM, p.HM = append(p.EM, at.EM), append(p.NM, at.NM), append(p.HM, at.HM)
		p.RollRad, p.PitchRad, p.HeadingRad = append(p.RollRad, at.RollRad), append(p.PitchRad, at.PitchRad), append(p.HeadingRad, at.HeadingRad)
	}
	return &flown{f, survey, survey.Pairs(overlap.DefaultPairOptions()), p, rays.Recover()}
}

// TestBoresightRecovered is known truth: a boresight fault in flights with a cross strip, relief and roofs is named and
// found within three of its stated standard deviations, and as near as a delivery asks.
func TestBoresightRecovered(t *testing.T) {
	for seed := uint64(1); seed <= 3; seed++ {
		s := simulate.SmallScenario()
		s.Seed = seed
		s.Faults.BoresightRollDeg, s.Faults.BoresightPitchDeg, s.Faults.BoresightHeadingDeg = 0.04, 0.03, 0.06
		f := fly(t, s, 1)
		d := Diagnose(f.survey, f.pairs, f.path, FromPath, DefaultOptions())
		want := map[Kind]float64{BoresightRoll: 0.04 * deg, BoresightPitch: 0.03 * deg, BoresightHeading: 0.06 * deg}
		for _, c := range d.Causes {
			truth, ok := want[c.Kind]
			if !ok {
				t.Errorf("seed %d: %s is named and was not made", seed, c.Kind)
				continue
			}
			if math.Abs(c.Estimate-truth) > 3*c.Sigma {
				t.Errorf("seed %d: %s %s, truth %+.4f deg", seed, c.Kind, c.Kind.Amount(c.Estimate, c.Sigma), truth/deg)
			}
			if 3*d.predictedSigma(c.Kind) > wanted[c.Kind] {
				t.Errorf("seed %d: %s is predicted to %.4f deg only: this flight was made to show it", seed, c.Kind, d.predictedSigma(c.Kind)/deg)
			}
			if math.Abs(c.Estimate-truth) > wanted[c.Kind] {
				t.Errorf("seed %d: %s is off by %.4f deg, %.3f deg are asked for", seed, c.Kind, (c.Estimate-truth)/deg, wanted[c.Kind]/deg)
			}
			delete(want, c.Kind)
		}
		for k := range want {
			t.Errorf("seed %d: %s was made and is not named", seed, k)
		}
	}
}
