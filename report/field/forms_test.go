package field

import (
	"context"
	"errors"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"sidelap/las"
	"sidelap/report/assess"
	"sidelap/trajectory/fieldcheck"
	"sidelap/trajectory/simulate"
)

// Known truth from simulation: one and the same good flight in the forms that clouds and paths come in is a good
// flight in all of them, with the same strips.
func TestFormsOfAGoodFlight(t *testing.T) {
	raw := func(s *simulate.Scenario) { // one recording, turns and all, no source IDs
		s.Label.SourceIDs, s.Plan.ExtendRecordingPast = simulate.SourceZero, true
	}
	for _, c := range []struct {
		name   string
		change func(*simulate.Scenario)
		cloud  simulate.CloudOptions
		o      func(dir string, o *Options, f *simulate.Flight)
		long   bool
	}{
		{"LAS", nil, simulate.CloudOptions{}, nil, false},
		{"survey feet, compressed", nil, simulate.CloudOptions{Units: simulate.Units{HorizontalM: simulate.USSurveyFootM, VerticalM: simulate.USSurveyFootM}, Compressed: true}, nil, false},
		{"seconds of the week", func(s *simulate.Scenario) { s.Label.Time = simulate.TimeWeek }, simulate.CloudOptions{}, nil, false},
		{"one raw file", raw, simulate.CloudOptions{OneFile: true}, nil, false},
		{"no coordinate system", nil, simulate.CloudOptions{NoCRS: true}, nil, true},
		{"tiles", nil, simulate.CloudOptions{TileM: 60}, nil, true},
		{"old point format", nil, simulate.CloudOptions{Format: 1}, nil, true},
		{"path as text", nil, simulate.CloudOptions{}, func(dir string, o *Options, f *simulate.Flight) {
			o.Trajectory = filepath.Join(dir, "path.txt")
			if err := f.WriteTrajectoryText(o.Trajectory, 4); err != nil {
				t.Fatal(err)
			}
		}, true},
		{"unclassified", func(s *simulate.Scenario) { s.Label.Unclassified = true }, simulate.CloudOptions{}, nil, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			if c.long && os.Getenv("SIDELAP_LONG") == "" {
				t.Skip("set SIDELAP_LONG=1")
			}
			s := small(7)
			if c.change != nil {
				c.change(&s)
			}
			dir, o, f := lay(t, s, c.cloud)
			if c.o != nil {
				c.o(dir, &o, f)
			}
			r := check(t, o)
			if r.Verdict != fieldcheck.Go {
				t.Errorf("verdict %s", r.Verdict)
			}
			if len(r.Record.Strips) != len(f.Strips) {
				t.Errorf("%d strips, flown %d", len(r.Record.Strips), len(f.Strips))
			}
			for i, x := range r.Record.Strips {
				if i < len(f.Strips) && x.HeightAboveGroundM != nil && math.Abs(*x.HeightAboveGroundM-50) > 6 { // relief of 2.5 m and a slope
					t.Errorf("strip %s: %.1f m above ground, flown at 50", x.ID, *x.HeightAboveGroundM)
				}
			}
			if r.ClockName() != "UTC" || r.Date() != "19 May 2026" || r.Clock(0) != "08:59:42" { // power on at 09:00:00 GPS time
				t.Errorf("recording began %s %s %s", r.Date(), r.Clock(0), r.ClockName())
			}
			if t.Failed() {
				tell(t, r)
			}
		})
	}
}

// The figures of a strip against the simulator's own: sidelap of neighbours 30 m apart flown at 50 m over a fan
// of 70 degrees is 1 - 30 / (2 * 50 * tan 35°) = 57 % on level ground; the 5th percentile on this one is lower.
func TestSidelapOfTheSimulator(t *testing.T) {
	s := small(7)
	s.Motion = simulate.Motion{}
	s.Terrain.ReliefM, s.Terrain.SlopeE, s.Terrain.SlopeN, s.Terrain.Houses, s.Terrain.Woods, s.Terrain.ScatteredTrees = 0, 0, 0, 0, 0, 0
	_, o, _ := lay(t, s, simulate.CloudOptions{})
	r := check(t, o)
	want := 100 * (1 - 30/(100*math.Tan(35*math.Pi/180)))
	if c := r.Check("sidelap"); math.Abs(c.Value-want) > 2 {
		t.Errorf("sidelap %.1f %%, by the geometry %.1f %%", c.Value, want)
	}
	if c := r.Check("height_steady"); c.Value > 6 {
		t.Errorf("height changes by %.1f %% over a plane", c.Value)
	}
}

// Files that are cut short or broken are named, read as far as sound, and no reason to stop.
func TestDamagedFilesAreAFinding(t *testing.T) {
	_, o, _ := lay(t, small(7), simulate.CloudOptions{Compressed: true})
	files, err := assess.Expand(o.Inputs)
	if err != nil || len(files) < 4 {
		t.Fatal(files, err)
	}
	size := func(p string) int64 {
		st, err := os.Stat(p)
		if err != nil {
			t.Fatal(err)
		}
		return st.Size()
	}
	if err := os.Truncate(files[1], size(files[1])*6/10); err != nil {
		t.Fatal(err)
	}
	if err := os.Truncate(files[3], 100); err != nil {
		t.Fatal(err)
	}
	r := check(t, o)
	c := r.Check("files_whole")
	if r.Verdict != fieldcheck.Refly || c.Result != fieldcheck.Refly || c.Value != 2 {
		t.Errorf("verdict %s, %+v", r.Verdict, c)
	}
	for _, p := range []string{files[1], files[3]} {
		if !strings.Contains(c.Note, filepath.Base(p)) {
			t.Errorf("%s is not named in %q", filepath.Base(p), c.Note)
		}
	}
	if len(r.Record.Inputs) != len(files) {
		t.Errorf("%d inputs in the record of %d", len(r.Record.Inputs), len(files))
	}
	if r.Record.Inputs[0].Points == 0 || r.Record.Inputs[3].Points != 0 {
		t.Errorf("points by file: %+v", r.Record.Inputs)
	}
}

// A LAS file whose recorder lost power: no count in the header, all points there.
func TestUnclosedHeader(t *testing.T) {
	_, o, _ := lay(t, small(7), simulate.CloudOptions{})
	files, err := assess.Expand(o.Inputs)
	if err != nil {
		t.Fatal(err)
	}
	f, err := os.OpenFile(files[0], os.O_RDWR, 0)
	if err != nil {
		t.Fatal(err)
	}
	f.WriteAt(make([]byte, 4), 107) // legacy count
	f.WriteAt(make([]byte, 8), 247) // count of LAS 1.4
	f.Close()
	l, err := las.Open(files[0])
	if err != nil {
		t.Fatal(err)
	}
	points := l.Header().Points
	l.Close()
	r := check(t, o)
	c := r.Check("files_whole")
	if c.Result != fieldcheck.Refly || !strings.Contains(c.Note, "header says no points") || r.Record.Inputs[0].Points != points || points == 0 {
		t.Errorf("%+v, %d points of %d", c, r.Record.Inputs[0].Points, points)
	}
}

// Missing inputs are not judged, whatever else is good.
func TestMissingInputs(t *testing.T) {
	_, all, _ := lay(t, small(7), simulate.CloudOptions{})
	for name, take := range map[string]func(*Options){
		"no base":    func(o *Options) { o.Base = nil },
		"no path":    func(o *Options) { o.Trajectory = "" },
		"no cloud":   func(o *Options) { o.Inputs = nil },
		"headers":    func(o *Options) { o.HeadersOnly = true },
		"path alone": func(o *Options) { o.Inputs, o.Base, o.Plan = nil, nil, "" },
	} {
		o := all
		take(&o)
		r := check(t, o)
		if r.Verdict != fieldcheck.NotJudged || r.Complete() || len(r.Missing) == 0 {
			t.Errorf("%s: verdict %s, missing %v", name, r.Verdict, r.Missing)
			tell(t, r)
		}
	}
	o := all
	o.Base, o.NoBase = nil, true
	if r := check(t, o); r.Verdict != fieldcheck.Go {
		t.Errorf("on a correction service: %s", r.Verdict)
		tell(t, r)
	}
	o = all
	o.Inputs, o.FieldOfViewDeg = nil, 70
	if c := check(t, o).Check("sidelap"); c.Result != fieldcheck.Go || math.Abs(c.Value-57) > 8 {
		t.Errorf("sidelap from the path and the field of view: %+v", c)
	}
}

func TestRefusals(t *testing.T) {
	dir, all, _ := lay(t, small(7), simulate.CloudOptions{})
	geographic := filepath.Join(dir, "other.sbet")
	s := small(7)
	s.Site.CentreNM -= 40_000
	f, err := simulate.Fly(s)
	if err != nil {
		t.Fatal(err)
	}
	if err := f.WriteTrajectory(geographic); err != nil {
		t.Fatal(err)
	}
	var settings *assess.SettingsError
	var input *assess.InputError
	for _, c := range []struct {
		name string
		take func(*Options)
		as   any
		says string
	}{
		{"nothing", func(o *Options) { *o = DefaultOptions() }, &settings, "nothing to check"},
		{"both", func(o *Options) { o.NoBase = true }, &settings, "a base log is given too"},
		{"still", func(o *Options) { o.StillS = math.NaN() }, &settings, "--still"},
		{"crs", func(o *Options) { o.Inputs, o.EPSG = nil, 4326 }, &settings, "--crs"},
		{"no file", func(o *Options) { o.Inputs = []string{filepath.Join(dir, "nowhere")} }, &input, "nowhere"},
		{"another site", func(o *Options) { o.Trajectory = geographic }, &input, "km from the cloud"},
	} {
		o := all
		c.take(&o)
		_, err := Run(context.Background(), o)
		if err == nil || !errors.As(err, c.as) || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v", c.name, err)
		}
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := Run(ctx, all); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
}
