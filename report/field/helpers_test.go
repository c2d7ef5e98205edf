package field

import (
	"context"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"sidelap/trajectory/fieldcheck"
	"sidelap/trajectory/simulate"
)

// small is a survey of four opposed strips and a cross strip, about 100 000 points.
func small(seed uint64) simulate.Scenario {
	s := simulate.SmallScenario()
	s.Seed = seed
	s.Plan.Strips, s.Plan.StripLengthM, s.Plan.SpacingM = 4, 110, 30
	s.Plan.StillBeforeS, s.Plan.StillAfterS = 45, 45
	s.Scanner.PulseRateHz, s.Scanner.LineRateHz = 8000, 25
	s.Base.LeadS, s.Base.TrailS = 600, 600
	return s
}

// lay writes a survey folder and returns the options that check all of it.
func lay(t testing.TB, s simulate.Scenario, co simulate.CloudOptions) (string, Options, *simulate.Flight) {
	t.Helper()
	dir := t.TempDir()
	f, err := simulate.WriteSurvey(dir, s, co)
	if err != nil {
		t.Fatal(err)
	}
	o := DefaultOptions()
	o.Inputs = []string{filepath.Join(dir, simulate.DemoCloud)}
	o.Trajectory = filepath.Join(dir, simulate.DemoPath)
	o.Base = []string{filepath.Join(dir, simulate.DemoBaseLog)}
	o.Plan = filepath.Join(dir, simulate.DemoArea)
	o.Program, o.CommandLine = "test", []string{"sidelap", "field"}
	o.Now = time.Date(2026, 5, 19, 9, 30, 0, 0, time.UTC) // on the site, after the flight
	return dir, o, f
}

func check(t testing.TB, o Options) *Report {
	t.Helper()
	r, err := Run(context.Background(), o)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// tell logs what was not good.
func tell(t testing.TB, r *Report) {
	t.Helper()
	for _, c := range r.Checks {
		if c.Result != fieldcheck.Go {
			t.Logf("%-16s %-10s %8.2f %-8s %v %s", c.ID, c.Result, c.Value, c.Unit, c.Strips, c.Note)
		}
	}
	for _, it := range r.Refly {
		t.Logf("again: %s %.1f..%.1f %v (%.1f min)", it.Title(), it.StartS, it.EndS, it.Reasons, it.Minutes)
	}
	for _, w := range r.Record.Warnings {
		t.Log("note: " + w)
	}
}

// bad is one report with a long list, made once: strip 102 pauses, strip 103 is flown off its line.
var bad = sync.OnceValues(func() (*Report, error) {
	dir, err := os.MkdirTemp("", "field")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	s := small(7)
	s.Plan.StripOffsetsM = []float64{0, 0, 0.9 * s.Plan.SpacingM}
	s.Plan.StillBeforeS = 6
	s.Faults.Strips = []simulate.StripFault{{Strip: 2, Gaps: []simulate.Gap{{StartS: 4, DurationS: 3}}}}
	if _, err := simulate.WriteSurvey(dir, s, simulate.CloudOptions{}); err != nil {
		return nil, err
	}
	o := DefaultOptions()
	o.Inputs = []string{filepath.Join(dir, simulate.DemoCloud)}
	o.Trajectory = filepath.Join(dir, simulate.DemoPath)
	o.Base = []string{filepath.Join(dir, simulate.DemoBaseLog)}
	o.Plan, o.CheckPoints = filepath.Join(dir, simulate.DemoArea), filepath.Join(dir, simulate.DemoCheckPoints)
	o.SpeedMPS, o.HeightM, o.DensityPerM2, o.StorageFreeBytes, o.PlannedMinutes = 8, 50, 5, 12e9, 20
	o.Program, o.CommandLine = "test", []string{"sidelap", "field", "<script>alert(1)</script>"}
	return Run(context.Background(), o)
})

func badReport(t testing.TB) *Report {
	t.Helper()
	r, err := bad()
	if err != nil {
		t.Fatal(err)
	}
	return r
}
