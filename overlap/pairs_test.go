package overlap_test

import (
	"math"
	"testing"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"
	"sidelap/overlap"
)

// hills is a surface with slopes in all directions up to 17 deg.
func hills(e, n float64) float64 {
	return 100 + 3*math.Sin((e-400000)/10) + 3*math.Cos((n-5600000)/10)
}

// Two passes of known overlap, one of them shifted: every figure of the pair
// against the truth.
func TestPairTruth(t *testing.T) {
	const half, d, noise = 35.0103767, 30.0, 0.015 // 50 m, 70 deg
	shift := [3]float64{0.06, -0.04, 0.05}
	s := newScene()
	l := line{id: 1, startS: 1000, e: 400000, n: 5600000, headingDeg: 20, speed: 6, lengthM: 150, heightM: 50, fanDeg: 70,
		density: 25, noiseM: noise, surface: hills, jitter: rng(21)}
	s.fly(l)
	l.id, l.startS, l.offsetM, l.shiftE, l.shiftN = 2, 1060, shift[2], shift[0], shift[1]
	l.e, l.n = 400000+d*math.Cos(20*math.Pi/180), 5600000-d*math.Sin(20*math.Pi/180)
	s.fly(l)
	sv := mustSurvey(t, sum(t, overlap.DefaultOptions(), s.out))
	o := overlap.DefaultPairOptions()
	o.LimitM = 0.05
	pairs := sv.Pairs(o)
	if len(pairs) != 1 {
		t.Fatalf("%d pairs", len(pairs))
	}
	p := pairs[0]
	area := (2*half - d) * 150
	// Cells that the edge cuts count whole: half a cell more all around.
	near(t, "pair", "overlap", p.OverlapM2, area+0.5*2*(2*half-d+150), 0.01*area)
	near(t, "pair", "sidelap", p.SidelapPct, 100*(2*half-d)/(2*half), 2)
	near(t, "pair", "angle", p.AngleRad, 0, 0.02)
	for _, c := range []struct {
		what             string
		got, want, sigma float64
		ok               bool
	}{
		{"E", p.Shift.EM, shift[0], p.Shift.SigmaEM, p.Shift.EDeterminable},
		{"N", p.Shift.NM, shift[1], p.Shift.SigmaNM, p.Shift.NDeterminable},
		{"U", p.Shift.UM, shift[2], p.Shift.SigmaUM, p.Shift.UDeterminable},
	} {
		if !c.ok || c.sigma > 0.005 || math.Abs(c.got-c.want) > 3.5*c.sigma {
			t.Errorf("shift %s = %.4f ± %.4f, want %.3f (determinable %v)", c.what, c.got, c.sigma, c.want, c.ok)
		}
	}
	if len(p.Regions) != 1 || len(p.Regions[0].Rings) < 1 {
		t.Fatalf("%d regions", len(p.Regions))
	}
	// The outline's area by a general library is that of the cells, small holes apart.
	var poly orb.Polygon
	for _, r := range p.Regions[0].Rings {
		var ring orb.Ring
		for _, q := range r {
			ring = append(ring, orb.Point{q[0] - 400000, q[1] - 5600000})
		}
		if !ring.Closed() {
			t.Error("a ring is open")
		}
		poly = append(poly, ring)
	}
	got := planar.Area(poly)
	near(t, "pair", "area of the outline by orb", got, p.Regions[0].AreaM2, 0.01*area)

	// Separation cell by cell, scaled by its sigma, is standard normal once the
	// true difference at the place is taken off.
	var sum2, n float64
	for _, c := range p.Cells {
		if c.Flag&^overlap.Steep != 0 {
			continue
		}
		truth := shift[2] + hills(c.EM-shift[0], c.NM-shift[1]) - hills(c.EM, c.NM)
		u := (c.DzM - truth) / c.SigmaM
		sum2 += u * u
		n++
	}
	if ratio := math.Sqrt(sum2 / n); ratio < 0.9 || ratio > 1.25 || n < 3000 {
		t.Errorf("dz scatters %.3f of its sigma over %.0f cells, want about 1", ratio, n)
	}
}

// Swapping the times of the strips swaps A and B: dz and the shift change sign.
func TestPairSign(t *testing.T) {
	build := func(first, second uint16) *overlap.Pair {
		s := newScene()
		l := line{startS: 1000, e: 400000, n: 5600000, speed: 6, lengthM: 80, heightM: 50, fanDeg: 70, density: 15, noiseM: 0.01, surface: hills}
		for _, x := range []struct {
			id  uint16
			off float64
		}{{1, 0}, {2, 0.04}} {
			l.id, l.offsetM, l.jitter = x.id, x.off, rng(uint64(x.id))
			l.startS = 1000
			if x.id == second {
				l.startS = 2000
			}
			s.fly(l)
		}
		_ = first
		return &mustSurvey(t, sum(t, overlap.DefaultOptions(), s.out)).Pairs(overlap.DefaultPairOptions())[0]
	}
	p, q := build(1, 2), build(2, 1)
	if p.IDA != "1" || q.IDA != "2" {
		t.Errorf("A is %s and %s, want the earlier strip", p.IDA, q.IDA)
	}
	near(t, "sign", "median", p.Used.MedianM, -q.Used.MedianM, 1e-12)
	near(t, "sign", "median", p.Used.MedianM, 0.04, 0.001)
	for i := range p.Cells {
		a, b := p.Cells[i], q.Cells[i]
		if a.Flag != b.Flag || math.Abs(a.DzM+b.DzM) > 1e-12 || math.Abs(a.EM-b.EM) > 1e-9 {
			t.Fatalf("cell %d: %+v and %+v", i, a, b)
		}
	}
}

// What should be flagged is, and for the right reason; a misalignment never is.
func TestFlags(t *testing.T) {
	s := newScene()
	surface := func(e, n float64) float64 {
		switch x := n - 5600000; {
		case x < 20:
			return 100
		case x < 40:
			return 100 + (x-20)*math.Tan(15*math.Pi/180) // steep
		}
		return 100 + 20*math.Tan(15*math.Pi/180)
	}
	r := rng(23)
	l := line{id: 1, startS: 1000, e: 400000, n: 5600000, speed: 6, lengthM: 80, heightM: 30, fanDeg: 60, density: 20, noiseM: 0.01, surface: surface, jitter: r}
	s.fly(l)
	l.id, l.startS, l.offsetM = 2, 1100, 0.5 // half a metre off: all of it must stay
	l.surface = func(e, n float64) float64 {
		z := surface(e, n)
		if math.Abs(e-400005) < 1 && math.Abs(n-5600010) < 1 {
			z += 1.5 // a car
		}
		if n > 5600060 {
			z += 0.4 * r.Float64() // a hedge
		}
		return z
	}
	s.fly(l)
	o := overlap.DefaultPairOptions()
	p := mustSurvey(t, sum(t, overlap.DefaultOptions(), s.out)).Pairs(o)[0]
	count := map[string]int{}
	for _, c := range p.Cells {
		x, y := c.NM-5600000, math.Hypot(c.EM-400005, c.NM-5600010)
		where := ""
		switch {
		case y < 0.8:
			where = "car"
		case y < 3:
			continue
		case x > 1 && x < 18.5 || x > 41.5 && x < 58.5:
			where = "flat"
		case x > 21.5 && x < 38.5:
			where = "slope"
		case x > 61.5 && x < 79:
			where = "hedge"
		default:
			continue
		}
		if math.Abs(c.EM-400000) > 15 {
			continue
		}
		count[where]++
		switch {
		case where == "flat" && c.Flag&^overlap.Thin != 0, where == "slope" && c.Flag&^overlap.Thin != overlap.Steep,
			where == "hedge" && c.Flag&overlap.Rough == 0, where == "car" && c.Flag == 0:
			count[where+" wrong"]++
		}
	}
	for _, w := range []string{"flat", "slope", "hedge", "car"} {
		if count[w] == 0 || count[w+" wrong"] > count[w]/100 {
			t.Errorf("%s: %d of %d cells flagged wrongly", w, count[w+" wrong"], count[w])
		}
	}
	sv := mustSurvey(t, sum(t, overlap.DefaultOptions(), s.out))
	if e := sv.Exceeding(&p, 0.3); len(e) != 2 || len(sv.Exceeding(&p, 0.9)) != 0 { // flat below, flat above the slope
		t.Errorf("%d parts beyond 0.3 m, want 2", len(e))
	}
	near(t, "flags", "median", p.Used.MedianM, 0.5, 0.002)
	near(t, "flags", "max", p.Used.MaxAbsM, 0.5, 0.06)
	if overlap.CellFlag(0).String() != "used" || (overlap.Steep|overlap.Thin).String() != "steep+thin" {
		t.Error("names of flags")
	}
}

// A tilt between two strips about the flight line shows as a trend; three strips
// with constant offsets close.
func TestTrendAndLoop(t *testing.T) {
	s := newScene()
	tilt := 0.0008
	for i := range 3 {
		e0 := 400000 + 15*float64(i)
		s.fly(line{id: uint16(i + 1), startS: 1000 + 60*float64(i), e: e0, n: 5600000, speed: 6, lengthM: 90, heightM: 40, fanDeg: 70, density: 15,
			noiseM: 0.01, offsetM: []float64{0, 0.03, -0.02}[i], jitter: rng(uint64(30 + i)),
			surface: func(e, n float64) float64 {
				if i == 1 {
					return 100 + tilt*(e-400007.5) // about the middle of the overlap with strip 1
				}
				return 100
			}})
	}
	pairs := mustSurvey(t, sum(t, overlap.DefaultOptions(), s.out)).Pairs(overlap.DefaultPairOptions())
	if len(pairs) != 3 {
		t.Fatalf("%d pairs", len(pairs))
	}
	tr := pairs[0].Trend
	if !tr.Significant || math.Abs(tr.MPerM-tilt) > 3.5*tr.SigmaMPerM || tr.SigmaMPerM > 1e-4 {
		t.Errorf("trend %.6f ± %.6f, want %.4f", tr.MPerM, tr.SigmaMPerM, tilt)
	}
	near(t, "trend", "at the centre", tr.AtCentreM, 0.03, 0.002)
	if tr := pairs[1].Trend; tr.Significant && math.Abs(tr.MPerM) > 1e-4 {
		t.Errorf("trend of two level strips %.6f ± %.6f", tr.MPerM, tr.SigmaMPerM)
	}
	loops := overlap.Loops(pairs)
	if len(loops) != 1 {
		t.Fatalf("%d loops", len(loops))
	}
	// (1,2) and (2,3) have the tilted strip 2 at different places: 15 m x tilt apart.
	want := 0 - tilt*15
	if l := loops[0]; math.Abs(l.ClosureM-want) > 4*l.SigmaM+0.001 {
		t.Errorf("closure %.4f ± %.4f, want %.4f", l.ClosureM, l.SigmaM, want)
	}
}

func TestCrossing(t *testing.T) {
	s := newScene()
	l := line{id: 1, startS: 1000, e: 400000, n: 5600000, speed: 6, lengthM: 100, heightM: 30, fanDeg: 60, density: 10, noiseM: 0.01, jitter: rng(41)}
	s.fly(l)
	l.id, l.startS, l.e, l.n, l.headingDeg = 2, 1100, 399950, 5600050, 90
	s.fly(l)
	sv := mustSurvey(t, sum(t, overlap.DefaultOptions(), s.out))
	p := sv.Pairs(overlap.DefaultPairOptions())[0]
	w := 2 * 30 * math.Tan(30*math.Pi/180)
	if !p.Crossing || !math.IsNaN(p.SidelapLowPct) {
		t.Errorf("crossing %v, low sidelap %g", p.Crossing, p.SidelapLowPct)
	}
	near(t, "crossing", "overlap", p.OverlapM2, w*w, 0.1*w*w)
	near(t, "crossing", "share", p.SidelapPct, 100*w/100, 4)
	near(t, "crossing", "angle", p.AngleRad*180/math.Pi, 90, 1)
	if rings := sv.Outline(&sv.Strips[0]); len(rings) != 1 || sv.Outline(&overlap.Strip{}) != nil {
		t.Errorf("%d rings around a strip, want 1, and none around nothing", len(rings))
	}
	g := sv.SeparationGrid(&p)
	if g.Cols*g.Rows < len(p.Cells) || !math.IsNaN(float64(g.At(-5, -5))) {
		t.Errorf("raster of %d by %d", g.Cols, g.Rows)
	}
	c := p.Cells[len(p.Cells)/2]
	for i := range p.Cells {
		if p.Cells[i].Flag == 0 {
			c = p.Cells[i]
		}
	}
	near(t, "crossing", "raster", float64(g.At(c.Col, c.Row)), c.DzM, 1e-6)
	big, mean := sv.CombinedSeparation([]overlap.Pair{p})
	near(t, "crossing", "largest", float64(big.At(c.Col, c.Row)), math.Abs(c.DzM), 1e-6)
	near(t, "crossing", "mean", float64(mean.At(c.Col, c.Row)), c.DzM, 1e-6)
}
