package field

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"sidelap/las/crs"
	"sidelap/trajectory"
	"sidelap/trajectory/fieldcheck"
	"sidelap/trajectory/geodesy"
	"sidelap/trajectory/rinex"
	"sidelap/trajectory/simulate"
)

// A base log in two files in a row covers what one of them does not.
func TestBaseInTwoFiles(t *testing.T) {
	dir, o, _ := lay(t, small(7), simulate.CloudOptions{})
	o.Inputs = nil
	b, err := os.ReadFile(o.Base[0])
	if err != nil {
		t.Fatal(err)
	}
	head, body, _ := strings.Cut(string(b), "END OF HEADER")
	head += "END OF HEADER\n"
	half := strings.Index(body[len(body)/2:], "\n>") + len(body)/2 + 1
	one, two := filepath.Join(dir, "one.26o"), filepath.Join(dir, "two.26o")
	first := body[strings.Index(body, ">"):half]
	for path, text := range map[string]string{one: head + first, two: head + body[half:]} {
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	o.Base = []string{two, one}
	if c := check(t, o).Check("base_covers"); c.Result != fieldcheck.Go {
		t.Errorf("two files: %+v", c)
	}
	o.Base = []string{one}
	if c := check(t, o).Check("base_covers"); c.Result != fieldcheck.Refly {
		t.Errorf("one file: %+v", c)
	}
}

// A plan in another grid comes into ours; one that names none is in the unit of the cloud.
func TestPlanInAnotherGrid(t *testing.T) {
	load := func(code int) *grid {
		k, err := crs.FromEPSG(code)
		if err != nil {
			t.Fatal(err)
		}
		p, err := geodesy.New(k.Projection)
		if err != nil {
			t.Fatal(err)
		}
		return &grid{crs: k, proj: p}
	}
	ours, theirs := load(32633), load(32632)
	lat, lon := 50.185/toDeg, 12.975/toDeg
	e, n, err := theirs.proj.Forward(lat, lon)
	if err != nil {
		t.Fatal(err)
	}
	want := orb.Point{}
	if want[0], want[1], err = ours.proj.Forward(lat, lon); err != nil {
		t.Fatal(err)
	}
	p := &fieldcheck.Plan{EPSG: 32632, Lines: []fieldcheck.PlannedLine{{ID: "1", Line: orb.LineString{{e, n}}}}}
	if err := placePlan(p, ours, 1); err != nil {
		t.Fatal(err)
	}
	if got := p.Lines[0].Line[0]; math.Hypot(got[0]-want[0], got[1]-want[1]) > 1e-3 {
		t.Errorf("%v, want %v", got, want)
	}
	p = &fieldcheck.Plan{Area: orb.MultiPolygon{{{{100, 200}, {300, 200}, {300, 400}, {100, 200}}}}}
	if err := placePlan(p, ours, 0.3048); err != nil || math.Abs(p.Area[0][0][1][0]-91.44) > 1e-9 {
		t.Errorf("%v, %v", p.Area, err)
	}
}

// The UTM zone of a path: zones are six degrees wide and begin at 180 west. Source: EPSG codes 326zz and 327zz.
func TestUTMZone(t *testing.T) {
	for _, c := range []struct {
		lat, lon float64
		want     int
	}{{50.2, 12.97, 32633}, {-21, 55.5, 32740}, {45, -179.9, 32601}, {45, 179.9, 32660}, {-1, -180, 32701}, {10, 180, 32601}, {0.1, 0, 32631}} {
		tr := &trajectory.Track{LatRad: []float64{c.lat / toDeg}, LonRad: []float64{c.lon / toDeg}}
		if got := utmCode(tr); got != c.want {
			t.Errorf("%g, %g: %d, want %d", c.lat, c.lon, got, c.want)
		}
	}
}

// The clock of a recording without a cloud: 2026-05-19 09:00:00 GPS time is second 205200 of week 2419; GPS was 18 s
// ahead of UTC. Source: IS-GPS-200 for the week; leap seconds: IERS Bulletin C.
func TestClock(t *testing.T) {
	const gps = 2419*604800 + 205200.0
	log := &rinex.Log{Epochs: []rinex.Epoch{{GPSS: gps - 900}, {GPSS: gps + 1500}}}
	for name, c := range map[string]struct {
		tr   trajectory.Track
		log  *rinex.Log
		want string
	}{
		"week, base":     {trajectory.Track{TimeKind: trajectory.WeekSeconds, TimeS: []float64{205200, 205800}}, log, "08:59:42 UTC"},
		"week":           {trajectory.Track{TimeKind: trajectory.WeekSeconds, TimeS: []float64{205200, 205800}}, nil, "09:00:00 by the GPS clock"},
		"week, UTC":      {trajectory.Track{TimeKind: trajectory.WeekSeconds, TimeIsUTC: true, TimeS: []float64{205182, 205782}}, log, "08:59:42 UTC"},
		"adjusted":       {trajectory.Track{TimeKind: trajectory.AdjustedGPS, TimeS: []float64{gps - 1e9, gps - 1e9 + 600}}, nil, "08:59:42 UTC"},
		"Unix":           {trajectory.Track{TimeKind: trajectory.UnixSeconds, TimeS: []float64{gps + 315964800 - 18, gps + 315964800 + 582}}, nil, "08:59:42 UTC"},
		"day, base":      {trajectory.Track{TimeKind: trajectory.DaySeconds, TimeS: []float64{32400, 33000}}, log, "08:59:42 UTC"},
		"without a hint": {trajectory.Track{TimeKind: trajectory.TimeUnknown, TimeS: []float64{-50, 600}}, nil, "0:00 after the start"},
	} {
		r := &Report{EpochS: c.tr.TimeS[0], clock: settleClock(nil, &c.tr, 0, c.log, c.tr.TimeS[0], c.tr.TimeS[1])}
		if got := r.Clock(0) + " " + r.ClockName(); got != c.want {
			t.Errorf("%s: %s, want %s", name, got, c.want)
		}
	}
}

// Many strips with one reason share a row.
func TestList(t *testing.T) {
	all := &fieldcheck.Report{}
	for _, id := range []string{"1", "2", "3", "4", "5"} {
		all.Refly = append(all.Refly, fieldcheck.Item{Strip: id, Minutes: 1, LengthM: 100, Reasons: []string{"the base logged every 30 s"}})
	}
	all.Refly[2].Reasons = []string{"another"}
	rows := (&Report{Report: all, strips: 5}).rows()
	if len(rows) != 2 || rows[0].Title != "strips 1, 2, 4 and 5" || rows[1].Title != "strip 3" || rows[0].Place != "400 m, 4.0 min" {
		t.Errorf("%+v", rows)
	}
	all.Refly[2].Reasons = all.Refly[0].Reasons
	if rows := (&Report{Report: all, strips: 5}).rows(); len(rows) != 1 || rows[0].Title != "all 5 strips, 1 to 5" {
		t.Errorf("%+v", rows)
	}
}

// Figures for people: three digits, whole numbers whole.
func TestNumber(t *testing.T) {
	for v, want := range map[float64]string{0: "0", 600: "600", 1234.6: "1235", 98.37: "98.4", 3.0049: "3", 0.0231: "0.0231", 0.6: "0.6", -90: "-90", 0.00001: "0", 9.996: "10"} {
		if got := number(v); got != want {
			t.Errorf("%g: %s, want %s", v, got, want)
		}
	}
}
