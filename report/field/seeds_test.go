package field

import (
	"fmt"
	"os"
	"strings"
	"testing"

	"sidelap/trajectory/fieldcheck"
	"sidelap/trajectory/simulate"
)

// goodFlights are flights without a fault, as different as they are flown.
var goodFlights = []struct {
	name   string
	change func(*simulate.Scenario)
	o      func(*Options)
	short  bool              // in every run
	want   fieldcheck.Result // the one answer that is right; "" = go
}{
	{name: "as planned", change: func(*simulate.Scenario) {}},
	{name: "level over relief", change: func(s *simulate.Scenario) { s.Terrain.ReliefM, s.Terrain.WavelengthM = 6, 150 }, short: true},
	{name: "following terrain", change: func(s *simulate.Scenario) {
		s.Plan.FollowTerrain, s.Terrain.ReliefM, s.Terrain.WavelengthM = true, 4, 150 // smoothed: of 6 m a quarter of the height above ground would be left
	}},
	{name: "on a slope", change: func(s *simulate.Scenario) { s.Terrain.SlopeE, s.Terrain.SlopeN = 0.08, -0.06 }},
	{name: "grid flight", change: func(s *simulate.Scenario) { s.Plan.CrossStrips, s.Plan.CrossSpacingM = 4, 30 }, short: true},
	{name: "cross strips first", change: func(s *simulate.Scenario) { s.Plan.CrossStripsFirst = true }},
	{name: "with a transit", change: func(s *simulate.Scenario) { s.Plan.HomeAheadM, s.Plan.HomeRightM = -350, 180 }, short: true},
	{name: "two blocks", change: func(s *simulate.Scenario) { s.Plan.SecondHeightM, s.Plan.SecondStrips = 64, 4 }},
	{name: "raw", change: func(s *simulate.Scenario) { s.Label.SourceIDs, s.Plan.ExtendRecordingPast = simulate.SourceZero, true }},
	{name: "long strips", change: func(s *simulate.Scenario) { s.Plan.StripLengthM, s.Plan.SpeedMPS = 260, 9 }},
	{name: "slow", change: func(s *simulate.Scenario) { s.Plan.SpeedMPS, s.Scanner.PulseRateHz = 4, 5000 }},
	{name: "water of class 9", change: func(s *simulate.Scenario) { s.Terrain.WaterRadiusM = 14 }, short: true},
	{name: "water without classes", change: func(s *simulate.Scenario) { s.Terrain.WaterRadiusM, s.Label.Unclassified = 14, true }, short: true, want: fieldcheck.Caution},
	{name: "water without classes, seen", change: func(s *simulate.Scenario) { s.Terrain.WaterRadiusM, s.Label.Unclassified = 14, true }, o: func(o *Options) { o.WaterSeen = true }, short: true},
}

// Known truth from simulation, through files: a good flight gets go, of whichever kind, and is never told to fly again,
// not by its path alone either. SIDELAP_LONG=1 flies all kinds over eight seeds.
func TestGoodFlights(t *testing.T) {
	seeds := []uint64{21}
	long := os.Getenv("SIDELAP_LONG") != ""
	if long {
		seeds = []uint64{21, 22, 23, 24, 25, 26, 27, 28}
	}
	for _, c := range goodFlights {
		for _, seed := range seeds {
			if !long && !c.short {
				continue
			}
			t.Run(fmt.Sprintf("%s, seed %d", c.name, seed), func(t *testing.T) {
				s := small(seed)
				c.change(&s)
				_, o, _ := lay(t, s, simulate.CloudOptions{OneFile: c.name == "raw"})
				if c.o != nil {
					c.o(&o)
				}
				r := check(t, o)
				want := c.want
				if want == "" {
					want = fieldcheck.Go
				}
				if r.Verdict != want {
					t.Errorf("whole: %s, want %s", r.Verdict, want)
					tell(t, r)
				}
				if water := s.Terrain.WaterRadiusM > 0; water != strings.Contains(r.Check("holes").Note, "water") {
					t.Errorf("holes: %s", r.Check("holes").Note)
				}
				o.Inputs, o.FieldOfViewDeg = nil, 70
				if r := check(t, o); r.Verdict != fieldcheck.NotJudged {
					t.Errorf("path alone: %s", r.Verdict)
					tell(t, r)
				}
			})
		}
	}
}
