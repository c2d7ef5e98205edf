package fieldcheck

import (
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"sidelap/trajectory"
)

// area is the ground of the strips of fly, less a rim.
func area(n1 float64) *Plan {
	return &Plan{Area: orb.MultiPolygon{{{{e0 + 30, n0 + 170}, {e0 + 200, n0 + 170}, {e0 + 200, n1}, {e0 + 30, n1}, {e0 + 30, n0 + 170}}}}}
}

// cutHead loses the first seconds of the points of a strip.
func cutHead(in *Input, k int, s, half float64) {
	x := &in.Strips[k]
	x.StartS += s
	a, _ := in.Path.At(x.StartS)
	b, _ := in.Path.At(x.EndS)
	x.Swath = band(a.EM, a.NM, b.EM, b.NM, half)
	in.Coverage = cover(in.Strips)
}

// Known truth: the start of strip 3 is lost. The seconds decide, with what its neighbours saw: at a half width of
// 32 m they leave 16 m open, at 45 m nothing. The list holds the lost start of strip 3, and no strip that was whole.
func TestLostStartOfAStrip(t *testing.T) {
	for _, c := range []struct {
		name       string
		half, lost float64
		plan       bool
		want       Result
	}{
		{"a second", 32, 1, false, Go}, {"three seconds", 32, 3, false, Caution}, {"six seconds", 32, 6, false, Refly},
		{"nine seconds in an area", 32, 9, true, Refly}, {"six seconds that neighbours saw", 45, 6, false, Caution},
	} {
		t.Run(c.name, func(t *testing.T) {
			in := fly(t, script{halfWidth: c.half}, 3)
			if c.plan {
				in.Plan = area(n0 + 440)
			}
			start := in.Strips[2].StartS
			cutHead(&in, 2, c.lost, c.half)
			r := mustRun(t, in)
			k := r.Check("strips_in_cloud")
			if k.Result != c.want || (c.want == Go) != (len(k.Strips) == 0) {
				dump(t, r)
				t.Fatalf("%+v, want %s", k, c.want)
			}
			if c.want != Refly {
				if len(r.Refly) != 0 {
					t.Errorf("a list: %+v", r.Refly)
				}
				return
			}
			if len(r.Refly) != 1 || r.Refly[0].Strip != "3" || r.Refly[0].StartS > start || r.Refly[0].EndS < start+c.lost {
				dump(t, r)
				t.Errorf("list %+v, want strip 3 from %.0f to %.0f s", r.Refly, start, start+c.lost)
			}
			if h := r.Check("holes"); c.plan && (h.Result != Refly || len(h.Strips) != 1 || h.Strips[0] != "3" || !strings.Contains(h.Note, "strip 3 was flown over it without points")) {
				t.Errorf("%+v", h)
			}
		})
	}
}

// Known truth: three seconds of strip 3 are lost. What others saw of the ground there is said only where it is known: the
// swath of the strip and a raster of the cloud, whose numbers hold.
func TestLostStartOverUnknownGround(t *testing.T) {
	const says = "without a return"
	for name, c := range map[string]struct {
		edit func(in *Input)
		want bool
	}{
		"known":              {func(*Input) {}, true},
		"no swath":           {func(in *Input) { in.Strips[2].Swath = nil }, false},
		"no raster":          {func(in *Input) { in.Coverage = nil }, false},
		"a raster cut short": {func(in *Input) { in.Coverage.First = in.Coverage.First[:100] }, false},
	} {
		in := fly(t, script{halfWidth: 45}, 3)
		cutHead(&in, 2, 3, 45)
		c.edit(&in)
		if k := mustRun(t, in).Check("strips_in_cloud"); k.Result != Caution || strings.Contains(k.Note, says) != c.want {
			t.Errorf("%s: %s, %s", name, k.Result, k.Note)
		}
	}
}

// Known truth: the path ends before the first strip. It tells of no strip, and nothing is go.
func TestPathWithoutStrips(t *testing.T) {
	in := fly(t, script{}, 3)
	p := in.Path
	n := 0
	for n < len(p.TimeS) && p.TimeS[n] < in.Strips[0].StartS-30 {
		n++
	}
	p.TimeS, p.EM, p.NM, p.HM = p.TimeS[:n], p.EM[:n], p.NM[:n], p.HM[:n]
	p.RollRad, p.PitchRad, p.HeadingRad = p.RollRad[:n], p.PitchRad[:n], p.HeadingRad[:n]
	if k := mustRun(t, in).Check("strips_in_cloud"); k.Result != NotJudged || !strings.Contains(k.Note, "shows no strip") {
		t.Errorf("%s, %s", k.Result, k.Note)
	}
}

// What is known of some strips is no answer for all: pauses of the others are not judged, a fault that was found stays.
func TestPausesOfSomeStripsOnly(t *testing.T) {
	for name, c := range map[string]struct {
		s    script
		want Result
	}{"none found": {script{}, NotJudged}, "one found": {script{gaps: gapsOfStrip3}, Refly}} {
		in := fly(t, c.s, 2)
		in.Strips[1].GapsKnown = false
		r := mustRun(t, in)
		if k := r.Check("time_gaps"); k.Result != c.want || r.Verdict != c.want || !strings.Contains(k.Note, "not known of strip 2") {
			t.Errorf("%s: %s, verdict %s: %s", name, k.Result, r.Verdict, k.Note)
		}
	}
}

// Known truth: the cross strip was flown and has no points.
func TestLostCrossStrip(t *testing.T) {
	r := mustRun(t, fly(t, script{cloudSkip: map[int]bool{6: true}}, 3))
	c := r.Check("strips_in_cloud")
	if c.Result != Refly || len(c.Strips) != 1 || len(r.Refly) != 1 || !strings.Contains(c.Note, "across the others") {
		dump(t, r)
		t.Fatalf("%+v", c)
	}
	if n := len(r.Motion.Of(trajectory.EventStrip)); n != 6 {
		t.Errorf("%d strips in the events, 6 were flown", n)
	}
}

// Known truth: the area reaches 110 m beyond the flight. No strip would mend that.
func TestHoleOutsideAllSwaths(t *testing.T) {
	in := fly(t, script{}, 2)
	in.Coverage.Rows += 200 // a raster that reaches as far
	in.Coverage.First = append(in.Coverage.First, make([]uint32, 200*in.Coverage.Cols)...)
	in.Plan = area(n0 + 570)
	r := mustRun(t, in)
	if c := r.Check("holes"); c.Result != Refly || len(c.Strips) != 0 || len(r.Refly) != 0 || !strings.Contains(c.Note, "outside all swaths") {
		dump(t, r)
		t.Errorf("%+v", c)
	}
}

// Known truth: planned line L3 reaches 300 m beyond what was flown of it. A hole in what was flown is not mended by it;
// one beyond is.
func TestHoleBesideALineFlownInPart(t *testing.T) {
	for name, c := range map[string]struct {
		top    float64 // of the area
		punch  bool
		strips []string
		says   string
	}{
		"where it was flown": {440, true, []string{"3"}, "seen by strip 3 alone"},
		"beyond":             {570, false, []string{"L3"}, "planned line L3, not flown there, would cover it"},
	} {
		in := fly(t, script{halfWidth: 22}, 2)
		in.Coverage.Rows += 200
		in.Coverage.First = append(in.Coverage.First, make([]uint32, 200*in.Coverage.Cols)...)
		in.Plan = &Plan{Area: orb.MultiPolygon{{{{e0 + 105, n0 + 170}, {e0 + 135, n0 + 170}, {e0 + 135, n0 + c.top}, {e0 + 105, n0 + c.top}, {e0 + 105, n0 + 170}}}}}
		for k := 1; k <= 5; k++ {
			e, n1 := e0+40*float64(k), n0+450.0
			if k == 3 {
				n1 = n0 + 750
			}
			in.Plan.Lines = append(in.Plan.Lines, PlannedLine{ID: "L" + string(rune('0'+k)), Line: orb.LineString{{e, n0 + 150}, {e, n1}}})
		}
		if c.punch {
			punch(in.Coverage, e0+120, n0+230, 6)
		}
		r := mustRun(t, in)
		h := r.Check("holes")
		if h.Result != Refly || !slices.Equal(h.Strips, c.strips) || !strings.Contains(h.Note, c.says) || strings.Contains(h.Note, "would cover") != (c.strips[0] == "L3") {
			dump(t, r)
			t.Errorf("%s: %+v", name, h)
		}
	}
}

// Known truth: strips 3 and 4 were flown and have no points. Each is an item of its own, with a name of its own.
func TestTwoLostStripsSideBySide(t *testing.T) {
	whole := fly(t, script{}, 3)
	in := fly(t, script{cloudSkip: map[int]bool{3: true, 4: true}}, 3)
	in.Plan = area(n0 + 440)
	r := mustRun(t, in)
	if h := r.Check("holes"); h.Result != Refly || len(r.Refly) != 2 {
		dump(t, r)
		t.Errorf("%+v with %d items: the two lost strips explain the hole", h, len(r.Refly))
	}
	c := r.Check("strips_in_cloud")
	if c.Result != Refly || len(c.Strips) != 2 || c.Strips[0] == c.Strips[1] {
		t.Fatalf("%+v, want two names", c)
	}
	for i, want := range whole.Strips[2:4] {
		found := false
		for _, it := range r.Refly {
			if it.Strip == c.Strips[i] && math.Abs(it.StartS-want.StartS) < 5 && math.Abs(it.EndS-want.EndS) < 5 && len(it.Line) > 10 {
				found = true
			}
		}
		if !found {
			dump(t, r)
			t.Fatalf("strip %s, %.0f to %.0f s, is not on the list as %q", want.ID, want.StartS, want.EndS, c.Strips[i])
		}
	}
}

// Known truth: a block flown at azimuth 45 with two lines missing, in a raster of a square kilometre. A band of
// 1000 m by 80 m at 45° is 80 m wide by closed form; by rings of four neighbours up to 1.4 times that.
func TestDiagonalBlock(t *testing.T) {
	c := &Coverage{CellM: 1, Cols: 1000, Rows: 1000, First: make([]uint32, 1_000_000)}
	inside := make([]bool, len(c.First))
	for k := range c.First {
		e, n := c.centre(k)
		inside[k] = true
		if math.Abs(e-n)/math.Sqrt2 > 40 {
			c.First[k] = 9
		}
	}
	holes := c.findHoles(inside, nil)
	if len(holes) != 1 {
		t.Fatalf("%d holes, want 1", len(holes))
	}
	if c.width(&holes[0]); holes[0].widthM < 79 || holes[0].widthM > 80*math.Sqrt2+1 {
		t.Errorf("%.0f m wide, want 80 to 113", holes[0].widthM)
	}
}

// Closed form: a hole that lies on the first and the last column, a cell wide on each, is two holes of 1 m.
func TestWidthAtTheEdgesOfTheRaster(t *testing.T) {
	c := &Coverage{CellM: 1, Cols: 8, Rows: 9, First: make([]uint32, 72)}
	inside := make([]bool, 72)
	for k := range c.First {
		inside[k] = true
		if col := k % 8; col > 0 && col < 7 {
			c.First[k] = 1
		}
	}
	holes := c.findHoles(inside, nil)
	if len(holes) != 2 {
		t.Fatalf("%d holes, want 2", len(holes))
	}
	for _, h := range holes {
		if c.width(&h); h.widthM != 1 {
			t.Errorf("%.0f m wide, want 1", h.widthM)
		}
	}
	// All of the raster is the hole: 8 columns and 9 rows are 4 rings.
	for k := range c.First {
		c.First[k] = 0
	}
	if holes = c.findHoles(inside, nil); len(holes) != 1 {
		t.Fatalf("%d holes, want 1", len(holes))
	}
	if c.width(&holes[0]); holes[0].widthM != 7 {
		t.Errorf("the whole raster is %.0f m wide, want 7", holes[0].widthM)
	}
}
