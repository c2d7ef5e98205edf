package fieldcheck

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"sidelap/trajectory"
)

func mustRun(t testing.TB, in Input) *Report {
	t.Helper()
	r, err := Run(in, DefaultLimits())
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func dump(t testing.TB, r *Report) {
	t.Helper()
	for _, c := range r.Checks {
		t.Logf("%-18s %-10s %8.2f %-14s %v  %s", c.ID, c.Result, c.Value, c.Unit, c.Strips, c.Note)
	}
	for _, i := range r.Refly {
		t.Logf("refly %s: %s", i.Title(), strings.Join(i.Reasons, "; "))
	}
	if r.Motion != nil && testing.Verbose() {
		for _, e := range r.Motion.Events {
			t.Log(e)
		}
	}
}

// Known truth: a flight as the trade advises, with everything given.
func TestGoodFlightGetsGo(t *testing.T) {
	for seed := uint64(1); seed <= 5; seed++ {
		r := mustRun(t, fly(t, script{}, seed))
		if r.Verdict != Go || len(r.Refly) != 0 {
			dump(t, r)
			t.Fatalf("seed %d: verdict %s, %d items: a good flight must get go; %q", seed, r.Verdict, len(r.Refly), r.Reasons)
		}
		for _, id := range []string{"base_covers", "still_before", "still_after", "eights_before", "sidelap", "holes", "time_gaps", "strips_in_cloud", "cross_strip", "opposed", "baseline"} {
			if c := r.Check(id); c == nil || c.Result != Go {
				t.Errorf("seed %d: %s is %+v", seed, id, c)
			}
		}
	}
}

// Known truth: one fault each, the verdict and the strips that must be named.
func TestFaults(t *testing.T) {
	for _, c := range []struct {
		name    string
		s       script
		edit    func(in *Input)
		check   string
		verdict Result
		strips  []string // of the check; nil = not looked at
		refly   []string // strips on the list
	}{
		{name: "short still before", s: script{stillBefore: 8}, check: "still_before", verdict: Caution},
		{name: "short still after", s: script{stillAfter: 10}, check: "still_after", verdict: Caution},
		{name: "no figure-eight", s: script{noEights: true}, check: "eights_before", verdict: Caution, strips: []string{"1"}},
		{name: "no manoeuvre at all", s: script{noEights: true, noRun: true}, check: "eights_before", verdict: Refly, strips: []string{"1"}, refly: []string{"1"}},
		{name: "no manoeuvre at the end", s: script{noReturn: true}, check: "manoeuvre_after", verdict: Caution, strips: []string{"6"}},
		{name: "base late", s: script{baseStart: 190}, check: "base_covers", verdict: Refly, strips: []string{"1"}, refly: []string{"1"}},
		{name: "base starts during the still", s: script{baseStart: 20}, check: "base_covers", verdict: Caution, strips: []string{}},
		{name: "base ends early", s: script{baseEnd: 240}, check: "base_covers", verdict: Refly, strips: []string{"6"}, refly: []string{"6"}},
		{name: "base 30 s", s: script{baseStep: 30}, check: "base_interval", verdict: Refly, strips: []string{"1", "2", "3", "4", "5", "6"}, refly: []string{"1", "2", "3", "4", "5", "6"}},
		{name: "base 2 s", s: script{baseStep: 2}, check: "base_interval", verdict: Caution},
		{name: "gap in a strip", s: script{gaps: map[int][]trajectory.Interval{3: {{StartS: 20, EndS: 24}}}}, check: "time_gaps", verdict: Refly, strips: []string{"3"}, refly: []string{"3"}},
		{name: "short gap in a strip", s: script{gaps: map[int][]trajectory.Interval{3: {{StartS: 20, EndS: 21}}}}, check: "time_gaps", verdict: Caution, strips: []string{"3"}},
		{name: "strip not flown", s: script{skip: map[int]bool{3: true}}, check: "sidelap", verdict: Refly, strips: []string{"2", "4"}},
		{name: "strip without points", s: script{cloudSkip: map[int]bool{4: true}}, check: "strips_in_cloud", verdict: Refly, strips: []string{"between 3 and 5"}},
		{name: "speed change", s: script{speeds: map[int]float64{2: 9}}, check: "speed_steady", verdict: Caution, strips: []string{"2"}},
		{name: "low sidelap", s: script{halfWidth: 26}, check: "sidelap", verdict: Caution},
		{name: "strip off its line", s: script{shift: map[int]float64{3: 18}}, check: "sidelap", verdict: Refly, refly: []string{"3"}},
		{name: "hole", edit: func(in *Input) { punch(in.Coverage, e0+160, n0+345, 6) }, check: "holes", verdict: Refly, strips: []string{"4"}, refly: []string{"4"}},
		{name: "small hole", edit: func(in *Input) { punch(in.Coverage, e0+160, n0+345, 2.6) }, check: "holes", verdict: Caution, strips: []string{"4"}},
		{name: "no cross strip", s: script{noCross: true}, check: "cross_strip", verdict: Caution},
		{name: "file cut short", edit: func(in *Input) {
			in.Files = []FileState{{Path: "a/strip_2.laz", Claimed: 1000, Present: 800, Strips: []string{"2"}}}
		}, check: "files_whole", verdict: Refly, strips: []string{"2"}, refly: []string{"2"}},
		{name: "storage short", edit: func(in *Input) { in.Storage = &Storage{FreeBytes: 10e9, BytesPerS: 10e6, PlannedS: 900} }, check: "storage", verdict: Caution},
		{name: "check point outside", edit: func(in *Input) { in.Points = []PointSeen{{ID: "K7"}, {ID: "K8", Inside: true, Returns: 40, Strips: 2}} }, check: "check_points", verdict: Caution},
		{name: "ellipsoid against geoid", edit: func(in *Input) { in.Heights = &HeightLook{HasStand: true, PathOnGroundM: 448.4, CloudAtStandM: 400} }, check: "height_on_ground", verdict: Caution},
		{name: "antenna height left out", edit: func(in *Input) {
			in.Heights = &HeightLook{HasMark: true, MarkHeightM: 400, CloudAtMarkM: 401.55, AntennaHeightM: 1.55}
		}, check: "base_mark", verdict: Caution},
		{name: "base far away", edit: func(in *Input) {
			for i := range in.Path.EM {
				in.Path.EM[i] += 30_000
			}
		}, check: "baseline", verdict: Refly},
		{name: "base of another day", edit: func(in *Input) { in.HasOffset, in.GPSOffsetS = true, week+3*86400 }, check: "base_covers", verdict: Refly},
	} {
		t.Run(c.name, func(t *testing.T) {
			in := fly(t, c.s, 3)
			if c.edit != nil {
				c.edit(&in)
			}
			r := mustRun(t, in)
			k := r.Check(c.check)
			if k == nil || k.Result != c.verdict {
				dump(t, r)
				t.Fatalf("check %s: %+v, want %s", c.check, k, c.verdict)
			}
			if r.Verdict == Go || c.verdict == Refly && r.Verdict != Refly {
				t.Errorf("verdict %s with %s of %s", r.Verdict, c.check, c.verdict)
			}
			if c.strips != nil && !slices.Equal(k.Strips, c.strips) && !(len(k.Strips) == 0 && len(c.strips) == 0) {
				t.Errorf("check %s names strips %v, want %v (%s)", c.check, k.Strips, c.strips, k.Note)
			}
			var list []string
			for _, i := range r.Refly {
				list = append(list, i.Strip)
				if i.Minutes <= 0 || len(i.Reasons) == 0 {
					t.Errorf("item without time or reason: %+v", i)
				}
			}
			if c.refly != nil && !slices.Equal(list, c.refly) {
				dump(t, r)
				t.Errorf("list %v, want %v", list, c.refly)
			}
			if c.verdict == Caution && r.Verdict == Caution && len(list) != 0 {
				t.Errorf("a caution with a list: %v", list)
			}
			if k.Note == "" || k.Basis == "" {
				t.Errorf("check %s without a note or a basis: %+v", c.check, k)
			}
		})
	}
}

func punch(c *Coverage, e, n, radius float64) {
	for k := range c.First {
		x, y := c.centre(k)
		if math.Hypot(x-e, y-n) < radius {
			c.First[k] = 0
		}
	}
}

// What is missing is not judged, and the verdict is then never go.
func TestMissingInputsAreNotJudged(t *testing.T) {
	for _, c := range []struct {
		name    string
		edit    func(in *Input)
		checks  []string
		verdict Result
	}{
		{"nothing", func(in *Input) { *in = Input{} }, []string{"base_covers", "still_before", "eights_before", "sidelap", "holes", "time_gaps", "coverage", "storage", "check_points"}, NotJudged},
		{"no base", func(in *Input) { in.Base = nil }, []string{"base_covers", "base_interval"}, NotJudged},
		{"no path", func(in *Input) { in.Path = nil }, []string{"still_before", "eights_before", "crab", "speed_steady"}, NotJudged},
		{"no cloud", func(in *Input) { in.Strips, in.Coverage = nil, nil }, []string{"holes", "sidelap", "time_gaps", "density"}, NotJudged},
		{"no base on purpose", func(in *Input) { in.Base, in.NoBase = nil, true }, []string{"base_covers"}, Go},
	} {
		t.Run(c.name, func(t *testing.T) {
			in := fly(t, script{}, 1)
			c.edit(&in)
			r := mustRun(t, in)
			for _, id := range c.checks {
				if k := r.Check(id); k == nil || k.Result != NotJudged || k.Note == "" {
					t.Errorf("%s: %+v, want not judged with the reason", id, k)
				}
			}
			if r.Verdict != c.verdict {
				dump(t, r)
				t.Errorf("verdict %s, want %s", r.Verdict, c.verdict)
			}
			for _, k := range r.Checks {
				if k.Result == "" {
					t.Errorf("check %s without a result", k.ID)
				}
			}
		})
	}
}

// The checks are the same ones whatever is given: a reader can compare two reports.
func TestSameChecksForEveryInput(t *testing.T) {
	ids := func(in Input) (out []string) {
		for _, c := range mustRun(t, in).Checks {
			out = append(out, c.ID)
		}
		return out
	}
	full, none := ids(fly(t, script{}, 1)), ids(Input{})
	if !slices.Equal(full, none) {
		t.Errorf("with everything %v\nwith nothing %v", full, none)
	}
	seen := map[string]bool{}
	for _, id := range full {
		if seen[id] {
			t.Errorf("check %s twice", id)
		}
		seen[id] = true
	}
}

func TestPlannedLineMissing(t *testing.T) {
	in := fly(t, script{skip: map[int]bool{3: true}}, 2)
	in.Plan = &Plan{SpeedMPS: 6, HeightM: 80}
	for k := 1; k <= 5; k++ {
		e := e0 + 40*float64(k)
		in.Plan.Lines = append(in.Plan.Lines, PlannedLine{ID: fmt.Sprintf("L%d", k), Line: orb.LineString{{e, n0 + 150}, {e, n0 + 450}}})
	}
	r := mustRun(t, in)
	if c := r.Check("planned_lines"); c.Result != Refly || !slices.Equal(c.Strips, []string{"L3"}) {
		t.Errorf("%+v, want L3 missing", c)
	}
	found := false
	for _, i := range r.Refly {
		if i.Planned {
			found = true
			if i.Strip != "L3" || math.Abs(i.LengthM-300) > 1e-6 || math.Abs(i.Minutes-(300.0/6/60+0.5)) > 0.05 {
				t.Errorf("%+v: want L3, 300 m, %.1f minutes", i, 300.0/6/60+0.5)
			}
		}
	}
	if !found {
		t.Error("the planned line is not on the list")
	}
}

func TestAreaAgainstCloud(t *testing.T) {
	in := fly(t, script{}, 2)
	square := func(n1 float64) orb.MultiPolygon {
		return orb.MultiPolygon{{{{e0 + 30, n0 + 170}, {e0 + 200, n0 + 170}, {e0 + 200, n1}, {e0 + 30, n1}, {e0 + 30, n0 + 170}}}}
	}
	in.Plan = &Plan{Area: square(n0 + 440)}
	if c := mustRun(t, in).Check("coverage"); c.Result != Go || c.Value != 100 {
		t.Errorf("an area inside the cloud: %+v", c)
	}
	in.Plan = &Plan{Area: square(n0 + 570)} // 110 m beyond the strips' end, 27 % of the area
	c := mustRun(t, in).Check("coverage")
	if c.Result != Refly || math.Abs(c.Value-100*295.0/400) > 5 {
		t.Errorf("an area beyond the cloud: %+v", c)
	}
}

// An area that holds nothing but water has no cell to judge; what only looks like water is a caution, as everywhere.
func TestCoverageOfNothingButWater(t *testing.T) {
	for _, c := range []struct {
		wet  wet
		want Result
	}{{wetKnown, NotJudged}, {wetPerhaps, Caution}, {wetNot, Refly}} {
		cov := &Coverage{CellM: 1, Cols: 4, Rows: 1, First: make([]uint32, 4)}
		r := &runner{in: Input{Plan: &Plan{}}, lim: DefaultLimits(), rep: &Report{}, wet: wetness{c.wet, c.wet, c.wet, wetNot}}
		r.covered(cov, []bool{true, true, true, false}, 0)
		if k := r.rep.Check("coverage"); k.Result != c.want || k.Result == Caution && !strings.Contains(k.Note, "all of it looks like water") {
			t.Errorf("%v: %+v", c.wet, k)
		}
	}
}

func TestWaterIsApart(t *testing.T) {
	in := fly(t, script{}, 2)
	punch(in.Coverage, e0+120, n0+300, 8)
	in.Coverage.Water = make([]bool, len(in.Coverage.First))
	for k := range in.Coverage.Water {
		e, n := in.Coverage.centre(k)
		in.Coverage.Water[k] = math.Hypot(e-e0-120, n-n0-300) < 9
	}
	if r := mustRun(t, in); r.Check("holes").Result != Go {
		t.Errorf("water counts as a hole: %+v", r.Check("holes"))
	}
}

func TestSidelapFromScanAnglesAndPathAlone(t *testing.T) {
	in := fly(t, script{}, 2)
	for i := range in.Strips {
		in.Strips[i].Swath, in.Strips[i].SpanRad = nil, 2*math.Atan(32.0/80)
	}
	c := mustRun(t, in).Check("sidelap")
	// Closed form: swaths 64 m wide, 40 m apart, overlap by 24 m.
	if c.Result != Go || math.Abs(c.Value-100*24.0/64) > 1 {
		t.Errorf("%+v, want %.1f %%", c, 100*24.0/64)
	}
}

// From the path and the scanner's field of view alone: strips by motion,
// height above the place of take-off (80 m in the script).
func TestPathAloneJudgesSidelap(t *testing.T) {
	in := fly(t, script{}, 2)
	in.Strips, in.Coverage, in.ScanSpanRad = nil, nil, 2*math.Atan(32.0/80)
	r := mustRun(t, in)
	if c := r.Check("sidelap"); c.Result != Go || math.Abs(c.Value-100*24.0/64) > 1.5 {
		t.Errorf("%+v, want about %.1f %%", c, 100*24.0/64)
	}
	if r.Verdict != NotJudged {
		t.Errorf("verdict %s without a cloud, want not judged; %q", r.Verdict, r.Reasons)
	}
}

func TestReflyOutputs(t *testing.T) {
	in := fly(t, script{gaps: map[int][]trajectory.Interval{3: {{StartS: 20, EndS: 24}}}}, 2)
	r := mustRun(t, in)
	if len(r.Refly) != 1 || !r.Refly[0].Part {
		t.Fatalf("%+v", r.Refly)
	}
	// The stretch repeats the old path: 10 s lead, 4 s gap, 10 s tail at 6 m/s.
	if l := r.Refly[0].LengthM; math.Abs(l-24*6) > 3 {
		t.Errorf("stretch of %.1f m, want %.0f", l, 24*6.0)
	}
	if r.ReflyMinutes < 6 || r.ReflyMinutes > 10 {
		t.Errorf("%.1f minutes", r.ReflyMinutes)
	}
	b, err := r.GeoJSON()
	if err != nil {
		t.Fatal(err)
	}
	var g struct {
		Type     string
		Features []struct {
			Geometry   struct{ Coordinates [][2]float64 }
			Properties map[string]any
		}
	}
	if err := json.Unmarshal(b, &g); err != nil || g.Type != "FeatureCollection" || len(g.Features) != 1 {
		t.Fatalf("%v: %s", err, b)
	}
	lon, lat := g.Features[0].Geometry.Coordinates[0][0], g.Features[0].Geometry.Coordinates[0][1]
	e, n, _ := grid{}.Forward(lat/deg, lon/deg)
	if p := r.Refly[0].Line[0]; math.Hypot(e-p[0], n-p[1]) > 0.02 {
		t.Errorf("the line begins %.3f m from the path", math.Hypot(e-p[0], n-p[1]))
	}
	if g.Features[0].Properties["strip"] != "3" || !strings.Contains(fmt.Sprint(g.Features[0].Properties["reason"]), "no points for 4.0 s") {
		t.Errorf("properties %v", g.Features[0].Properties)
	}
	var k bytes.Buffer
	if err := r.WriteKML(&k); err != nil {
		t.Fatal(err)
	}
	var any struct{ XMLName xml.Name }
	if err := xml.Unmarshal(k.Bytes(), &any); err != nil || any.XMLName.Local != "kml" || !strings.Contains(k.String(), "pilot in command") {
		t.Errorf("KML: %v\n%s", err, k.String())
	}
	// The written KML reads back as planned lines: the same tablet file serves as a plan.
	p := &Plan{}
	if err := p.readKML(k.Bytes()); err != nil || len(p.Lines) != 1 || math.Abs(p.Lines[0].Line[0][0]-lon) > 1e-7 {
		t.Errorf("way back: %v, %+v", err, p.Lines)
	}
	in.Grid = nil
	if _, err := mustRun(t, in).GeoJSON(); err == nil {
		t.Error("degrees without a coordinate system")
	}
}

func TestSigmasAreJudged(t *testing.T) {
	in := fly(t, script{}, 2)
	n := len(in.Path.TimeS)
	fill := func(v float64) []float64 {
		s := make([]float64, n)
		for i := range s {
			s[i] = v
		}
		return s
	}
	in.Path.Sigma = &trajectory.PathSigma{EastM: fill(0.008), NorthM: fill(0.008), UpM: fill(0.015), HeadingRad: fill(0.05 / deg)}
	if c := mustRun(t, in).Check("solution"); c.Result != Go {
		t.Errorf("%+v", c)
	}
	for i, x := range in.Path.TimeS {
		if x > in.Strips[1].StartS && x < in.Strips[1].EndS {
			in.Path.Sigma.UpM[i] = 0.3
		}
	}
	if c := mustRun(t, in).Check("solution"); c.Result != Caution || !slices.Equal(c.Strips, []string{"2"}) || math.Abs(c.Value-6) > 0.01 {
		t.Errorf("%+v, want strip 2 at 6 times the limit", c)
	}
}

func TestShareOfFixedSolutions(t *testing.T) {
	in := fly(t, script{}, 2)
	in.FixedValue = 1
	in.Track = &trajectory.Track{Quality: make([]float64, len(in.Path.TimeS))}
	for i, x := range in.Path.TimeS {
		in.Track.Quality[i] = 1
		if x > in.Strips[3].StartS && x < in.Strips[3].StartS+5 {
			in.Track.Quality[i] = 2
		}
	}
	if c := mustRun(t, in).Check("fixed"); c.Result != Caution || !slices.Equal(c.Strips, []string{"4"}) || math.Abs(c.Value-90) > 2 {
		t.Errorf("%+v, want strip 4 with some 90 %%", c)
	}
}

func TestLimitsAreChecked(t *testing.T) {
	if _, err := Run(Input{}, Limits{}); err == nil || !strings.Contains(err.Error(), "DefaultLimits") {
		t.Errorf("zero limits: %v", err)
	}
	l := DefaultLimits()
	l.StillS = 60
	r, err := Run(fly(t, script{}, 1), l)
	if err != nil || r.Check("still_before").Result != Caution {
		t.Errorf("a still of 45 s against 60: %v, %+v", err, r.Check("still_before"))
	}
}

// Every check has its row in the documentation.
func TestChecksAreDocumented(t *testing.T) {
	b, err := os.ReadFile(filepath.Join("..", "..", "docs", "field-checks.md"))
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range mustRun(t, Input{}).Checks {
		if !bytes.Contains(b, []byte("`"+c.ID+"`")) {
			t.Errorf("docs/field-checks.md has no row for %s", c.ID)
		}
		if c.Required && !bytes.Contains(b, []byte("`"+c.ID+"`, ")) && !bytes.Contains(b, []byte(", `"+c.ID+"`")) {
			t.Errorf("docs/field-checks.md does not list %s as required", c.ID)
		}
	}
}
