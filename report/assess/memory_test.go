package assess

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"testing"

	"sidelap/overlap"
	"sidelap/report"
	"sidelap/trajectory/simulate"
)

// TestSameBytesFromFiles is a property: results.json has the same bytes with sums in memory and in temporary files, and no
// such file is left, neither after a run nor after one that was interrupted.
func TestSameBytesFromFiles(t *testing.T) {
	s := simulate.SmallScenario()
	s.Faults.BoresightRollDeg = 0.05
	_, o := survey(t, s, simulate.CloudOptions{})
	tmp := t.TempDir()
	t.Setenv("TMPDIR", tmp)
	t.Setenv("TMP", tmp)
	o.SkipCauses, o.CellM, o.Workers = true, 0.25, 2
	run := func(ctx context.Context, bytes int64) ([]byte, error) {
		o.sumsBytes = bytes
		rec, _, err := Run(ctx, o)
		if err != nil {
			return nil, err
		}
		return report.Marshal(rec)
	}
	want, err := run(context.Background(), 0)
	if err != nil {
		t.Fatal(err)
	}
	spilled := false
	wroteSums = func(a *overlap.Accumulator) { spilled = spilled || a.Spilled() > 0 }
	defer func() { wroteSums = nil }()
	for _, budget := range []int64{1, 4 << 20} {
		spilled = false
		got, err := run(context.Background(), budget)
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(got, want) {
			t.Errorf("budget %d: %s", budget, firstDifference(want, got))
		}
		if !spilled {
			t.Errorf("budget %d: nothing went to files: the test tests nothing", budget)
		}
		noneLeft(t, tmp)
	}
	ctx, cancel := context.WithCancel(context.Background())
	o.Progress = func(p Progress) {
		if p.Done > 3*p.Total/4 && p.Total > 0 {
			cancel()
		}
	}
	if _, err := run(ctx, 1); err == nil {
		t.Error("interrupted: no error")
	}
	noneLeft(t, tmp)
}

func noneLeft(t *testing.T, dir string) {
	t.Helper()
	left, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range left {
		t.Errorf("%s is left in the folder for temporary files", e.Name())
	}
}

// Where sums cannot be written the run ends with an error that says what to do, and at once.
func TestNoRoomForSums(t *testing.T) {
	_, o := survey(t, simulate.SmallScenario(), simulate.CloudOptions{})
	none := filepath.Join(t.TempDir(), "none")
	t.Setenv("TMPDIR", none)
	t.Setenv("TMP", none)
	o.sumsBytes, o.CellM = 1, 0.25
	var done, total int64
	o.Progress = func(p Progress) { done, total = max(done, p.Done), max(total, p.Total) }
	if _, _, err := Run(context.Background(), o); err == nil || !bytes.Contains([]byte(err.Error()), []byte("allow more memory")) {
		t.Errorf("no folder for temporary files: %v", err)
	}
	if total > 0 && done == total {
		t.Error("read to the end in spite of it")
	}
}
