package field

import (
	"context"
	"errors"
	"path/filepath"
	"strings"
	"testing"

	"sidelap/las"
	"sidelap/report/assess"
	"sidelap/trajectory/fieldcheck"
	"sidelap/trajectory/simulate"
)

// The rate of the recorder is taken from a whole, uncompressed cloud, or as named; nothing else is a measure of it.
func TestStorage(t *testing.T) {
	s := small(7)
	s.Scanner.PulseRateHz = 20_000
	dir, o, _ := lay(t, s, simulate.CloudOptions{})
	_, packed, _ := lay(t, small(7), simulate.CloudOptions{Compressed: true})
	ask := func(o Options, rate float64) *fieldcheck.Check {
		o.StorageFreeBytes, o.PlannedMinutes, o.StorageRateMBs = 12e9, 20, rate
		return check(t, o).Check("storage")
	}
	if c := ask(o, 0); c.Result != fieldcheck.Go || !strings.Contains(c.Note, "cloud's files") {
		t.Errorf("whole cloud: %+v", c)
	}
	if c := ask(packed, 0); c.Result != fieldcheck.NotJudged || !strings.Contains(c.Note, "--storage-rate") {
		t.Errorf("compressed cloud: %+v", c)
	}
	if c := ask(packed, 5); c.Result != fieldcheck.Go || c.Value != 2 || !strings.Contains(c.Note, "as named") { // 12 GB over 1200 s of 5 MB
		t.Errorf("5 MB/s as named: %+v", c)
	}
	var settings *assess.SettingsError
	for name, change := range map[string]func(*Options){
		"free alone":    func(o *Options) { o.StorageFreeBytes = 1e9 },
		"minutes alone": func(o *Options) { o.PlannedMinutes = 20 },
		"rate alone":    func(o *Options) { o.StorageRateMBs = 5 },
	} {
		x := o
		change(&x)
		if _, err := Run(context.Background(), x); !errors.As(err, &settings) {
			t.Errorf("%s: %v", name, err)
		}
	}
	var input *assess.InputError
	o.Inputs = append(o.Inputs, filepath.Join(dir, simulate.DemoPath))
	if _, err := Run(context.Background(), o); !errors.As(err, &input) || !strings.Contains(err.Error(), "--trajectory") {
		t.Errorf("a path among the cloud: %v", err)
	}
}

// Pulses of three returns, whole and every seventh point of them.
func TestThinned(t *testing.T) {
	whole := &las.Chunk{}
	for i := range 6000 {
		whole.GPSTime, whole.ReturnNumber = append(whole.GPSTime, float64(i/3)), append(whole.ReturnNumber, uint8(1+i%3))
	}
	thin := &las.Chunk{}
	for i := 0; i < 6000; i += 7 {
		thin.GPSTime, thin.ReturnNumber = append(thin.GPSTime, whole.GPSTime[i]), append(thin.ReturnNumber, whole.ReturnNumber[i])
	}
	whole.N, thin.N = len(whole.GPSTime), len(thin.GPSTime)
	var a, b pulses
	a.add(whole)
	b.add(thin)
	if a.thinned() || !b.thinned() || a.together != a.later || b.together != 0 {
		t.Errorf("whole %+v, every seventh point %+v", a, b)
	}
}

// The flag of a missing file, a coordinate system that is not used, and what was asked for are told.
func TestTold(t *testing.T) {
	_, o, _ := lay(t, small(7), simulate.CloudOptions{})
	lost := o
	lost.Base = []string{filepath.Join(t.TempDir(), "nowhere.26o")}
	var input *assess.InputError
	if _, err := Run(context.Background(), lost); !errors.As(err, &input) || !strings.Contains(err.Error(), "--base") {
		t.Errorf("missing base log: %v", err)
	}
	o.EPSG, o.SidelapPct, o.Limits = 32610, 40, []string{"bank-strip-deg=8"}
	r := check(t, o)
	if !strings.Contains(strings.Join(r.Record.Warnings, "; "), "--crs EPSG:32610 is not used") {
		t.Errorf("notes %q", r.Record.Warnings)
	}
	if got := string(r.Record.Options.Limits); got != "bank-strip-deg=8, sidelap=40" {
		t.Errorf("recorded limits %q", got)
	}
}
