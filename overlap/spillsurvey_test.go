package overlap_test

import (
	"fmt"
	"testing"

	"sidelap/las"
	"sidelap/overlap"
	"sidelap/trajectory/simulate"
)

// TestSpillSurvey is a property: the survey of a flight is the same, bit for bit, with sums in files and without.
func TestSpillSurvey(t *testing.T) {
	f, err := simulate.Fly(simulate.SmallScenario())
	if err != nil {
		t.Fatal(err)
	}
	survey := func(budget int64) (string, int64) {
		o := overlap.DefaultOptions()
		o.CellM, o.AutoCell = 0.25, true
		var parts [2]*overlap.Accumulator
		for i := range parts {
			if parts[i], err = overlap.NewAccumulator(o); err != nil {
				t.Fatal(err)
			}
			parts[i].SetBudget(budget, t.TempDir())
			defer parts[i].Close()
		}
		n := 0
		for c := range f.Chunks() {
			for lo := 0; lo < c.N; lo += 1000 { // both see every place
				parts[n%2].Add(cut(c, lo, min(lo+1000, c.N)), 0)
				n++
			}
		}
		if err := parts[0].Merge(parts[1]); err != nil {
			t.Fatal(err)
		}
		spilled := parts[0].Spilled()
		s := mustSurvey(t, parts[0])
		return fmt.Sprintln(s.Options, s.Mode, s.Why, s.Notes, s.Strips, s.Counts, s.ANPSM, s.Outliers, s.RoughLimitM(), s.Pairs(overlap.DefaultPairOptions())), spilled
	}
	want, _ := survey(0)
	for _, budget := range []int64{1, 3 << 20} {
		got, spilled := survey(budget)
		if got != want {
			t.Errorf("budget %d: another survey", budget)
		}
		if spilled == 0 {
			t.Errorf("budget %d: nothing went to files: the test tests nothing", budget)
		}
	}
}

func cut(c *las.Chunk, lo, hi int) *las.Chunk {
	d := *c
	d.N = hi - lo
	d.X, d.Y, d.Z = c.X[lo:hi], c.Y[lo:hi], c.Z[lo:hi]
	d.ReturnNumber, d.NumReturns = c.ReturnNumber[lo:hi], c.NumReturns[lo:hi]
	d.Flags, d.Class = c.Flags[lo:hi], c.Class[lo:hi]
	d.ScanAngle, d.Source, d.GPSTime = c.ScanAngle[lo:hi], c.Source[lo:hi], c.GPSTime[lo:hi]
	d.Channel = nil
	return &d
}
