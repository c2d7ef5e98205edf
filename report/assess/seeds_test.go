package assess

import (
	"bytes"
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"sidelap/report"
	"sidelap/trajectory/simulate"
)

// survey writes a simulated survey and returns options that assess it.
func survey(t *testing.T, s simulate.Scenario, co simulate.CloudOptions) (*simulate.Flight, Options) {
	t.Helper()
	dir := t.TempDir()
	f, err := simulate.WriteSurvey(dir, s, co)
	if err != nil {
		t.Fatal(err)
	}
	o := DefaultOptions()
	o.Inputs = []string{filepath.Join(dir, simulate.DemoCloud)}
	o.Trajectory = filepath.Join(dir, filepath.FromSlash(simulate.DemoPath))
	o.CheckPoints = filepath.Join(dir, simulate.DemoCheckPoints)
	o.LeverM, o.LeverGiven = f.UsedMount().LeverM, true
	o.Limits = "asprs-ed1:10"
	return f, o
}

// TestSeeds is known truth: over many clean flights the check point figures agree with the survey noise that was put in
// and the bias with zero, each within its stated interval as often as the interval says; no cause is named.
func TestSeeds(t *testing.T) {
	seeds := 3
	if os.Getenv("SIDELAP_LONG") != "" {
		seeds = 20
	}
	inside, n, named := 0, 0, 0
	for seed := 1; seed <= seeds; seed++ {
		s := simulate.SmallScenario()
		s.Seed = uint64(seed)
		_, o := survey(t, s, simulate.CloudOptions{Compressed: seed%2 == 0})
		rec, _, err := Run(context.Background(), o)
		if err != nil {
			t.Fatal(err)
		}
		a := rec.Checkpoints.NVA
		if a == nil || a.N < 15 {
			t.Fatalf("seed %d: open check points %+v", seed, a)
		}
		n++
		if report.Get(a.MeanLowM) <= 0.005 && report.Get(a.MeanHighM) >= -0.005 { // grass and curvature may leave 5 mm
			inside++
		}
		if r := report.Get(a.RMSEM); r > 0.03 {
			t.Errorf("seed %d: RMSE %.3f m on a clean flight with survey noise of about 1 cm", seed, r)
		}
		if len(rec.Causes) > 0 {
			named++
		}
		if rec.Verdict.Result == report.Fail {
			t.Errorf("seed %d: a clean flight fails: %+v", seed, rec.Verdict.Criteria)
		}
	}
	if inside < n-1-n/10 {
		t.Errorf("zero bias inside the 95 %% interval in %d of %d flights", inside, n)
	}
	if named > n/10 {
		t.Errorf("a cause is named in %d of %d clean flights", named, n)
	}
}

// TestSameBytes is a property: results.json has the same bytes for any number of workers and any order of the files.
func TestSameBytes(t *testing.T) {
	s := simulate.SmallScenario()
	s.Faults.BoresightRollDeg = 0.05
	_, o := survey(t, s, simulate.CloudOptions{Compressed: true, TileM: 60})
	files, err := Expand(o.Inputs)
	if err != nil {
		t.Fatal(err)
	}
	var first []byte
	for i, workers := range []int{1, 8, 3} {
		o.Workers = workers
		o.Inputs = slices.Clone(files)
		if i == 1 {
			slices.Reverse(o.Inputs)
		}
		rec, _, err := Run(context.Background(), o)
		if err != nil {
			t.Fatal(err)
		}
		b, err := report.Marshal(rec)
		if err != nil {
			t.Fatal(err)
		}
		if first == nil {
			first = b
		} else if !bytes.Equal(b, first) {
			t.Fatalf("results differ with %d workers: %s", workers, firstDifference(first, b))
		}
	}
}

func firstDifference(a, b []byte) string {
	for i := range min(len(a), len(b)) {
		if a[i] != b[i] {
			return fmt.Sprintf("%q and %q", a[max(0, i-60):min(len(a), i+40)], b[max(0, i-60):min(len(b), i+40)])
		}
	}
	return "length"
}

// TestUnitsOfTheSameFlight writes one flight in metres, in both kinds of feet and mixed: the same metres come out.
func TestUnitsOfTheSameFlight(t *testing.T) {
	var base *report.Record
	for _, u := range []simulate.Units{simulate.Metres,
		{HorizontalM: simulate.InternationalFootM, VerticalM: simulate.InternationalFootM},
		{HorizontalM: simulate.USSurveyFootM, VerticalM: simulate.USSurveyFootM},
		{HorizontalM: 1, VerticalM: simulate.USSurveyFootM}} {
		s := simulate.SmallScenario()
		s.Faults.Strips = []simulate.StripFault{{Strip: 2, HeightM: 0.05}}
		_, o := survey(t, s, simulate.CloudOptions{Units: u})
		o.CheckPoints, o.SkipCauses = "", true
		rec, _, err := Run(context.Background(), o)
		if err != nil {
			t.Fatal(err)
		}
		if base == nil {
			base = rec
			continue
		}
		for i := range base.Pairs {
			a, b := report.Get(base.Pairs[i].MeanM), report.Get(rec.Pairs[i].MeanM)
			if math.Abs(a-b) > 0.0005 {
				t.Errorf("units %+v: pair %s/%s mean %.4f m, in metres %.4f m", u, base.Pairs[i].A, base.Pairs[i].B, b, a)
			}
		}
		if d := math.Abs(report.Get(base.Coverage.AggregateDensityPerM2)/report.Get(rec.Coverage.AggregateDensityPerM2) - 1); d > 0.01 {
			t.Errorf("units %+v: density differs by %.1f %%", u, 100*d)
		}
	}
}
