package fieldcheck

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"sidelap/trajectory"
)

// ground gives a coverage the heights of a plane that rises to the east, where it has returns.
func ground(c *Coverage, slope float64) {
	c.LowM = make([]float32, len(c.First))
	for k := range c.LowM {
		e, _ := c.centre(k)
		c.LowM[k] = float32(math.NaN())
		if c.First[k] > 0 {
			c.LowM[k] = float32(400 + slope*(e-c.EM))
		}
	}
}

// Known truth: what a pond leaves in a cloud without classes is never a reason to fly again, and never go unless
// somebody says that it is water; what a pond cannot be is judged as a hole.
func TestWaterWithoutClasses(t *testing.T) {
	circle := func(e, n, r float64) orb.Polygon {
		var ring orb.Ring
		for a := 0.0; a < 6.28; a += 0.2 {
			ring = append(ring, orb.Point{e + r*math.Cos(a), n + r*math.Sin(a)})
		}
		return orb.Polygon{append(ring, ring[0])}
	}
	area := func(in *Input) {
		in.Plan = &Plan{Area: orb.MultiPolygon{{{{e0 + 30, n0 + 170}, {e0 + 200, n0 + 170}, {e0 + 200, n0 + 440}, {e0 + 30, n0 + 440}, {e0 + 30, n0 + 170}}}}}
	}
	sparkle := func(in *Input) { // mirror-like: a third of the cells of the pond has a return after all
		r := rand.New(rand.NewPCG(1, 2))
		for k := range in.Coverage.First {
			if e, n := in.Coverage.centre(k); math.Hypot(e-e0-140, n-n0-300) < 9 && r.Float64() < 0.3 {
				in.Coverage.First[k] = 1
			}
		}
		ground(in.Coverage, 0)
	}
	for name, c := range map[string]struct {
		e, slope        float64 // middle of the hole from e0, rise of the ground
		edit            func(in *Input)
		holes, coverage Result
	}{
		"level shore":                   {140, 0, nil, Caution, NotJudged},
		"level shore, area":             {140, 0, area, Caution, Caution},
		"level shore, sparkling":        {140, 0, func(in *Input) { area(in); sparkle(in) }, Caution, Go}, // 193 m² of 4.6 ha are within the share that may be missing
		"level shore, crew sees it":     {140, 0, func(in *Input) { area(in); in.WaterSeen = true }, Go, Go},
		"sparkling, crew sees it":       {140, 0, func(in *Input) { area(in); sparkle(in); in.WaterSeen = true }, Go, Go},
		"outline":                       {140, 0.1, func(in *Input) { area(in); in.Water = orb.MultiPolygon{circle(e0+140, n0+300, 11)} }, Go, Go},
		"ground rises under it":         {140, 0.1, area, Caution, Refly}, // 254 m² of 4.6 ha are more than the half per cent that may lack
		"rises, though the crew sees":   {140, 0.1, func(in *Input) { in.WaterSeen = true }, Caution, NotJudged},
		"one strip only looked there":   {120, 0, func(in *Input) { in.WaterSeen = true }, Refly, NotJudged},
		"heights are not known":         {140, 0, func(in *Input) { in.Coverage.LowM = nil }, Caution, NotJudged},
		"no hole, a shore of no matter": {-500, 0, area, Go, Go},
	} {
		t.Run(name, func(t *testing.T) {
			in := fly(t, script{}, 2)
			if c.e == 120 { // the middle of strip 3; its neighbours reach to 8 m from there
				in.Strips = slices.DeleteFunc(in.Strips, func(s Strip) bool { return s.ID == "6" })
				punch(in.Coverage, e0+120, n0+300, 6)
			} else {
				punch(in.Coverage, e0+c.e, n0+300, 9)
			}
			ground(in.Coverage, c.slope)
			if c.edit != nil {
				c.edit(&in)
			}
			r := mustRun(t, in)
			if h, v := r.Check("holes"), r.Check("coverage"); h.Result != c.holes || v.Result != c.coverage {
				t.Errorf("holes %s (%s), coverage %s (%s)", h.Result, h.Note, v.Result, v.Note)
			}
		})
	}
}

// A thin cloud on a level yard has empty cells everywhere: that is no water.
func TestThinCloudIsNoWater(t *testing.T) {
	in := fly(t, script{}, 2)
	in.WaterSeen = true
	rnd := rand.New(rand.NewPCG(3, 4))
	for k := range in.Coverage.First {
		if rnd.Float64() < 0.15 {
			in.Coverage.First[k] = 0
		}
	}
	ground(in.Coverage, 0)
	r := &runner{in: in, lim: DefaultLimits(), rep: &Report{}}
	r.prepare()
	n := 0
	for _, w := range r.findWater(in.Coverage, nil) {
		if w != wetNot {
			n++
		}
	}
	if n > 20 {
		t.Errorf("%d cells are taken for water", n)
	}
}

// An empty pond whose shore gave water returns is water; a hole in a meadow is not; the outside is not.
func TestShoreOfClassWater(t *testing.T) {
	c := &Coverage{CellM: 1, Cols: 20, Rows: 10, First: make([]uint32, 200), Water: make([]bool, 200)}
	for r := 1; r < 9; r++ {
		for k := 1; k < 19; k++ {
			c.First[r*20+k] = 5
		}
	}
	hole := func(c0 int, wet bool) {
		for r := 3; r < 6; r++ {
			for k := c0; k < c0+3; k++ {
				c.First[r*20+k] = 0
			}
		}
		for r := 2; r < 7; r++ {
			for k := c0 - 1; k < c0+4; k++ {
				c.Water[r*20+k] = wet && c.First[r*20+k] > 0
			}
		}
	}
	hole(3, true)
	hole(12, false)
	r := &runner{lim: DefaultLimits()}
	w := r.findWater(c, nil)
	if w.of(4*20+4) != wetKnown || w.of(4*20+13) != wetNot || w.of(0) != wetNot {
		t.Errorf("pond %v, hole %v, outside %v", w.of(4*20+4), w.of(4*20+13), w.of(0))
	}
}

// A pause while the whole swath lies over water is no pause; over land it is.
func TestPauseOverWater(t *testing.T) {
	for name, c := range map[string]struct {
		lake, seen bool
		want       Result
	}{
		"land": {false, true, Refly}, "lake": {true, false, Caution}, "lake, crew sees it": {true, true, Go},
	} {
		in := fly(t, script{gaps: map[int][]trajectory.Interval{3: {{StartS: 20, EndS: 24}}}}, 2)
		// At 6 m/s the pause is 24 m of strip 3, from 120 m of its way on.
		if c.lake {
			for k := range in.Coverage.First {
				if e, n := in.Coverage.centre(k); math.Abs(e-e0-120) < 70 && n > n0+262 && n < n0+302 {
					in.Coverage.First[k] = 0
				}
			}
		}
		ground(in.Coverage, 0)
		in.WaterSeen = c.seen
		r := mustRun(t, in)
		if k := r.Check("time_gaps"); k.Result != c.want {
			t.Errorf("%s: %s, %s", name, k.Result, k.Note)
		}
	}
}

// What is asked for decides; without it, what a repeat would mend.
func TestSidelapRule(t *testing.T) {
	for name, c := range map[string]struct {
		s      script
		asked  float64
		refly  float64
		result Result
		says   string
		list   []string
	}{
		"all lines too wide":        {script{halfWidth: 26}, 0, 0, Caution, "the same lines again", nil},
		"too wide for the contract": {script{halfWidth: 26}, 30, 0, Refly, "lines in between are needed", []string{}},
		"contract kept":             {script{halfWidth: 26}, 20, 0, Go, "", nil},
		"within what is measured":   {script{halfWidth: 28.2}, 30, 0, Caution, "short by less than a cell", nil},                              // 40 m apart on 56.4: 29.1 %; a cell is 1.8 %
		"off line by what can err":  {script{halfWidth: 32, shift: map[int]float64{3: 5.2}}, 0, 0, Caution, "short by less than a cell", nil}, // 45.2 m apart on 64: 29.4 %; on its line 37.5 %
		"over the crew's number":    {script{halfWidth: 32, shift: map[int]float64{3: 18}}, 0, 5, Caution, "", []string{}},
		"strip to the east":         {script{shift: map[int]float64{3: 18}}, 0, 0, Refly, "", []string{"3"}},
		"strip to the west":         {script{shift: map[int]float64{3: -18}}, 0, 0, Refly, "", []string{"3"}},
		"last strip off its line":   {script{shift: map[int]float64{5: 18}}, 0, 0, Refly, "", []string{"5"}},
		"first strip off its line":  {script{shift: map[int]float64{1: -18}}, 0, 0, Refly, "", []string{"1"}},
		"number of the crew":        {script{halfWidth: 26}, 0, 25, Refly, "lines in between are needed", []string{}},
		"off line, crew's number":   {script{shift: map[int]float64{3: 18}}, 0, 25, Refly, "", []string{"3"}},
		"open ground":               {script{halfWidth: 18}, 0, 0, Refly, "open ground", []string{}},
	} {
		in := fly(t, c.s, 3)
		l := DefaultLimits()
		if c.asked > 0 {
			l.SidelapPct, l.SidelapAsked = c.asked, true
		}
		l.SidelapReflyPct = c.refly
		r, err := Run(in, l)
		if err != nil {
			t.Fatal(err)
		}
		var list []string
		for _, it := range r.Refly {
			list = append(list, it.Strip)
		}
		slices.Sort(list)
		k := r.Check("sidelap")
		if strings.Contains(k.Note, "same lines again") != strings.Contains(c.says, "same lines") && c.says != "lines in between are needed" && c.says != "open ground" {
			t.Errorf("%s: %s", name, k.Note)
		}
		if k.Result != c.result || !strings.Contains(k.Note, c.says) || c.list != nil && len(list) != len(c.list) || len(c.list) == 1 && !slices.Equal(list, c.list) {
			t.Errorf("%s: %s, %s, list %v", name, k.Result, k.Note, list)
		}
	}
}

// What a missing line explains is not on the list twice: to fly the line mends the sidelap beside it.
func TestMissingLineExplainsSidelap(t *testing.T) {
	for name, in := range map[string]Input{
		"points lost": fly(t, script{cloudSkip: map[int]bool{3: true}}, 2),
		"not flown": func() Input {
			in := fly(t, script{skip: map[int]bool{3: true}}, 2)
			in.Plan = &Plan{Lines: []PlannedLine{}}
			for k := 1; k <= 5; k++ {
				e := e0 + 40*float64(k)
				in.Plan.Lines = append(in.Plan.Lines, PlannedLine{ID: string(rune('0' + k)), Line: orb.LineString{{e, n0 + 150}, {e, n0 + 450}}})
			}
			return in
		}(),
	} {
		r := mustRun(t, in)
		if len(r.Refly) != 1 || r.Check("sidelap").Result != Refly {
			dump(t, r)
			t.Errorf("%s: %d items", name, len(r.Refly))
		}
	}
}

// A level flight over relief and one that follows it are steady; one that does neither is not, nor one that comes near
// to the ground.
func TestHeightSteadyOverRelief(t *testing.T) {
	for name, c := range map[string]struct {
		over, level float64 // how much the height above ground, and that of the path, change, metres; 80 m are flown
		want        Result
	}{
		"level over relief": {30, 0, Go}, "follows it": {4, 30, Go}, "neither": {25, 25, Caution}, "near the ground": {45, 0, Caution},
	} {
		in := fly(t, script{}, 2)
		for i := range in.Strips {
			in.Strips[i].HeightSpreadM, in.Strips[i].HeightAboveGroundM = c.over, 80
		}
		s := in.Strips[1]
		for i, x := range in.Path.TimeS {
			if x > s.StartS && x < s.EndS {
				in.Path.HM[i] += c.level * (x - s.StartS) / (s.EndS - s.StartS)
			}
		}
		if k := mustRun(t, in).Check("height_steady"); k.Result != c.want {
			t.Errorf("%s: %s, %s", name, k.Result, k.Note)
		}
	}
}

// Numbers by name: all of them, and nothing that makes no sense.
func TestLimitsByName(t *testing.T) {
	l := DefaultLimits()
	names, values := l.LimitNames()
	for i, n := range names {
		if err := l.Set(n, values[i]+1); err != nil {
			t.Error(err)
		}
	}
	_, after := l.LimitNames()
	for i := range after {
		if after[i] != values[i]+1 {
			t.Errorf("%s is %g, want %g", names[i], after[i], values[i]+1)
		}
	}
	for _, c := range []struct {
		name string
		v    float64
	}{{"bank", 3}, {"bank-strip-deg", 0}, {"bank-strip-deg", math.NaN()}, {"base-sats", 4.5}, {"sidelap-asked", 1}, {"run-s", -1}} {
		if l.Set(c.name, c.v) == nil {
			t.Errorf("%s = %g is taken", c.name, c.v)
		}
	}
	if err := l.Set("sidelap-refly-pct", 0); err != nil {
		t.Error(err)
	}
}

var gapsOfStrip3 = map[int][]trajectory.Interval{3: {{StartS: 20, EndS: 24}}}
