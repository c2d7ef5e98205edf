package field

import (
	"os"
	"testing"

	"sidelap/trajectory/fieldcheck"
	"sidelap/trajectory/simulate"
)

// Good flights of many seeds, whole and with the path alone, are never told to fly again.
func TestGoodFlightsOfManySeeds(t *testing.T) {
	if os.Getenv("SIDELAP_LONG") == "" {
		t.Skip("set SIDELAP_LONG=1")
	}
	for seed := range uint64(8) {
		for name, change := range map[string]func(*simulate.Scenario){
			"as planned":         func(*simulate.Scenario) {},
			"cross strips first": func(s *simulate.Scenario) { s.Plan.CrossStripsFirst = true },
			"two blocks":         func(s *simulate.Scenario) { s.Plan.SecondHeightM, s.Plan.SecondStrips = 60, 2 },
			"raw":                func(s *simulate.Scenario) { s.Label.SourceIDs, s.Plan.ExtendRecordingPast = simulate.SourceZero, true },
			"following terrain":  func(s *simulate.Scenario) { s.Plan.FollowTerrain = true },
			"long strips":        func(s *simulate.Scenario) { s.Plan.StripLengthM = 260; s.Plan.SpeedMPS = 9 },
			"slow":               func(s *simulate.Scenario) { s.Plan.SpeedMPS = 4; s.Scanner.PulseRateHz = 5000 },
		} {
			s := small(seed + 20)
			change(&s)
			_, o, _ := lay(t, s, simulate.CloudOptions{OneFile: name == "raw"})
			r := check(t, o)
			if r.Verdict == fieldcheck.Refly {
				t.Errorf("seed %d, %s: %s", seed, name, r.Verdict)
				tell(t, r)
			}
			o.Inputs, o.FieldOfViewDeg = nil, 70
			if r := check(t, o); r.Verdict == fieldcheck.Refly {
				t.Errorf("seed %d, %s, path alone: %s", seed, name, r.Verdict)
				tell(t, r)
			}
		}
	}
}
