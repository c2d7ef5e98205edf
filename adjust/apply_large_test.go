package adjust

import (
	"context"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"testing"
	"time"

	"sidelap/las"
	"sidelap/trajectory/simulate"
)

// TestLargeFile corrects a file of SIDELAP_POINTS million points, the strips of a flight over and over, and reports pace and memory. The memory that
// the program holds must not grow with the points.
func TestLargeFile(t *testing.T) {
	millions, err := strconv.Atoi(os.Getenv("SIDELAP_POINTS"))
	if err != nil || millions < 1 {
		t.Skip("SIDELAP_POINTS is not set")
	}
	s := simulate.DefaultScenario()
	f := flyCloud(t, s, 1)
	dir := t.TempDir()
	names, err := f.flight.WriteCloud(dir, simulate.CloudOptions{OneFile: true})
	if err != nil {
		t.Fatal(err)
	}
	one, err := las.Open(names[0])
	if err != nil {
		t.Fatal(err)
	}
	defer one.Close()
	large := filepath.Join(dir, "large.las")
	w, err := las.Create(large, las.OptionsFrom(one))
	if err != nil {
		t.Fatal(err)
	}
	for w.Points() < int64(millions)*1_000_000 {
		for c, err := range one.Chunks(context.Background(), las.ColRecord, 1) {
			if err == nil {
				err = w.WriteRecords(c.Record)
			}
			if err != nil {
				t.Fatal(err)
			}
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	in, err := las.Open(large)
	if err != nil {
		t.Fatal(err)
	}
	defer in.Close()
	d := &Correction{Version: CorrectionVersion, UsesPath: true, BoresightRollRad: 7e-4, BoresightPitchRad: 9e-4, BoresightHeadingRad: 2e-3, Strips: NewStripCorrections(f.survey)}
	runtime.GC()
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	start := time.Now()
	a, err := ApplyFile(context.Background(), in, 0, filepath.Join(dir, "moved.las"), d, f.path, ApplyOptions{})
	if err != nil {
		t.Fatal(err)
	}
	took := time.Since(start)
	runtime.ReadMemStats(&after)
	t.Logf("%d points in %.1f s: %.2f M points/s; heap in use %d MB before, memory from the system %d MB after; %d exceptions (%.2f %%)", a.Counts.Points, took.Seconds(),
		float64(a.Counts.Points)/1e6/took.Seconds(), before.HeapInuse>>20, after.Sys>>20, a.Exceptions, 100*float64(a.Exceptions)/float64(a.Counts.Points))
	if grown := int64(after.Sys) - int64(before.Sys); grown > 400<<20 {
		t.Errorf("%d MB more than before the file was opened", grown>>20)
	}
}
