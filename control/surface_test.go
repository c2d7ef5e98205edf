package control

import (
	"math"
	"math/rand/v2"
	"reflect"
	"testing"

	"sidelap/las"
)

// cloud makes chunks of points over a surface: stored integers of a millimetre.
type cloud struct {
	x, y, z []float64
	class   []uint8
	ret     []uint8
	of      []uint8
	source  []uint16
	time    []float64
}

func (c *cloud) add(x, y, z float64, class uint8, source uint16) {
	c.x, c.y, c.z = append(c.x, x), append(c.y, y), append(c.z, z)
	c.class, c.source = append(c.class, class), append(c.source, source)
	c.ret, c.of = append(c.ret, 1), append(c.of, 1)
	c.time = append(c.time, float64(len(c.x))/1000)
}

// chunks splits the cloud into chunks of n points in the order given.
func (c *cloud) chunks(order []int, n int, f *las.Frame) []*las.Chunk {
	var out []*las.Chunk
	for len(order) > 0 {
		k := min(n, len(order))
		ch := &las.Chunk{Frame: f, N: k}
		for _, i := range order[:k] {
			stored := func(v float64, axis int, unit float64) int32 {
				return int32(math.Round((v/unit - f.Offset[axis]) / f.Scale[axis]))
			}
			ch.X = append(ch.X, stored(c.x[i], 0, f.HorizontalM))
			ch.Y = append(ch.Y, stored(c.y[i], 1, f.HorizontalM))
			ch.Z = append(ch.Z, stored(c.z[i], 2, f.VerticalM))
			ch.Class = append(ch.Class, c.class[i])
			ch.ReturnNumber, ch.NumReturns = append(ch.ReturnNumber, c.ret[i]), append(ch.NumReturns, c.of[i])
			ch.Source = append(ch.Source, c.source[i])
			ch.GPSTime = append(ch.GPSTime, c.time[i])
			ch.Flags, ch.Intensity = append(ch.Flags, 0), append(ch.Intensity, 100)
		}
		out = append(out, ch)
		order = order[k:]
	}
	return out
}

func metreFrame() *las.Frame {
	return &las.Frame{Scale: [3]float64{0.001, 0.001, 0.001}, Offset: [3]float64{500000, 4000000, 0}, HorizontalM: 1, VerticalM: 1}
}

func footFrame() *las.Frame {
	return &las.Frame{Scale: [3]float64{0.001, 0.001, 0.001}, Offset: [3]float64{1640419, 13123359, 0}, HorizontalM: 1200.0 / 3937, VerticalM: 0.3048}
}

const site0E, site0N = 500100.0, 4000200.0

// flat makes a plane of the density on a square of side 2 half about a place.
func (c *cloud) flat(rng *rand.Rand, e, n, half, density, noise float64, height func(x, y float64) float64) {
	for range int(4 * half * half * density) {
		x, y := half*(2*rng.Float64()-1), half*(2*rng.Float64()-1)
		c.add(e+x, n+y, height(x, y)+noise*rng.NormFloat64(), 2, uint16(1+rng.IntN(2)))
	}
}

func inOrder(n int) []int {
	o := make([]int, n)
	for i := range o {
		o[i] = i
	}
	return o
}

func collect(points []Point, radius float64, chunks []*las.Chunk) *Collector {
	c := NewCollector(points, radius)
	for _, ch := range chunks {
		c.Add(ch, 0)
	}
	return c
}

// On a plane without noise the surface is exact to the stored millimetre, in metres and in feet.
func TestSurfaceOfPlane(t *testing.T) {
	for name, f := range map[string]*las.Frame{"metres": metreFrame(), "feet": footFrame()} {
		rng := rand.New(rand.NewPCG(5, 6))
		var cl cloud
		cl.flat(rng, site0E, site0N, 6, 20, 0, func(x, y float64) float64 { return 50 + 0.06*x - 0.03*y })
		p := []Point{{ID: "a", EM: site0E, NM: site0N, ZM: 49.9, Use: UseCheck}, {ID: "b", EM: site0E + 1.5, NM: site0N - 1, ZM: 50.12, Use: UseCheck}}
		cmp := collect(p, 3, cl.chunks(inOrder(len(cl.x)), 1000, f)).Evaluate(DefaultEvaluateOptions())
		near(t, name+": dz of a", cmp.Points[0].DzM, 0.1, 0.0015)
		near(t, name+": dz of b", cmp.Points[1].DzM, 0, 0.0015)
		near(t, name+": plane", cmp.Points[0].PlaneZM, 50, 0.001)
		near(t, name+": slope", cmp.Points[0].SlopePct, 100*math.Hypot(0.06, 0.03), 0.1)
		near(t, name+": gradient east", cmp.Points[0].GradE, 0.06, 0.001)
		if cmp.NUsed != 2 || cmp.NVA == nil || cmp.NVA.N != 2 || !cmp.Classified {
			t.Errorf("%s: %+v", name, cmp)
		}
	}
}

// The stated standard deviation of the surface covers the error: over 400 sites the normalised
// error of the triangle's height has a standard deviation near one.
func TestSurfaceSigma(t *testing.T) {
	rng := rand.New(rand.NewPCG(7, 8))
	var normal, plane []float64
	for range 400 {
		var cl cloud
		cl.flat(rng, site0E, site0N, 2, 30, 0.02, func(x, y float64) float64 { return 10 + 0.02*x })
		cmp := collect([]Point{{EM: site0E, NM: site0N, ZM: 10}}, 2, cl.chunks(inOrder(len(cl.x)), 4096, metreFrame())).Evaluate(DefaultEvaluateOptions())
		normal = append(normal, cmp.Points[0].DzM/cmp.Points[0].SigmaM)
		plane = append(plane, cmp.Points[0].PlaneZM-10)
	}
	a := must(t, normal)
	if math.Abs(a.MeanM) > 0.2 || *a.StdM < 0.85 || *a.StdM > 1.2 {
		t.Errorf("normalised error of the surface: mean %.2f, std %.2f, want 0 and 1", a.MeanM, *a.StdM)
	}
	if b := must(t, plane); b.RMSEM > 0.006 {
		t.Errorf("plane through some 20 returns of 2 cm noise: RMSE %.4f m, want about 0.0045", b.RMSEM)
	}
}

func TestReasonsAndFlags(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 10))
	var cl cloud
	zero := func(x, y float64) float64 { return 0 }
	cl.flat(rng, site0E, site0N, 4, 30, 0.01, zero)                                              // 0 good
	cl.flat(rng, site0E+100, site0N, 4, 30, 0.01, func(x, y float64) float64 { return 0.2 * x }) // 1 steep
	cl.flat(rng, site0E+200, site0N, 4, 30, 0.01, func(x, y float64) float64 {                   // 2 kerb 0.3 m away
		if x > 0.3 {
			return 0.15
		}
		return 0
	})
	for range 400 { // 3 on the edge of the cloud: returns on one side
		cl.add(site0E+300+0.2+3*rng.Float64(), site0N+4*rng.Float64()-2, 0, 2, 1)
	}
	cl.add(site0E+400, site0N+1, 0, 2, 1) // 4 one return
	for range 600 {                       // 5 a ring: enclosed, but a gap of 2.4 m
		a, r := 2*math.Pi*rng.Float64(), 2.4+rng.Float64()
		cl.add(site0E+500+r*math.Cos(a), site0N+r*math.Sin(a), 0, 2, 1)
	}
	cl.flat(rng, site0E+600, site0N, 4, 30, 0.01, zero) // 6 vegetation over ground
	for range 2000 {
		cl.add(site0E+600+8*rng.Float64()-4, site0N+8*rng.Float64()-4, 0.8*rng.Float64(), 3, 1)
	}
	points := make([]Point, 11)
	for i := range points {
		points[i] = Point{ID: string(rune('a' + i)), EM: site0E + 100*float64(i), NM: site0N, Use: UseCheck}
	}
	points[7] = points[0] // the same shot under another name
	points[7].ID = "copy"
	points[8].EM, points[8].ZM = site0E+1, math.NaN()
	points[9].EM, points[9].NM, points[9].Use = site0E-1, site0N+1, UseControl
	points[10].EM = site0E + 5000 // outside
	cmp := collect(points, 4, cl.chunks(inOrder(len(cl.x)), 4096, metreFrame())).Evaluate(DefaultEvaluateOptions())
	want := []Reason{ReasonNone, ReasonNone, ReasonNone, ReasonNotEnclosed, ReasonFew, ReasonVoid, ReasonNone, ReasonDuplicate, ReasonNoHeight, ReasonControl, ReasonOutside}
	for i, w := range want {
		p := &cmp.Points[i]
		if p.Reason != w || p.Used != (w == ReasonNone) {
			t.Errorf("point %d: %q (%s), used %v; want %q", i, p.Reason, p.Detail, p.Used, w)
		}
		if p.Used != !math.IsNaN(p.DzM) && w != ReasonDuplicate && w != ReasonControl {
			t.Errorf("point %d: used %v with dz %g", i, p.Used, p.DzM)
		}
	}
	for _, c := range []struct {
		i    int
		f    Flag
		want bool
	}{{0, FlagSteep, false}, {1, FlagSteep, true}, {0, FlagStep, false}, {1, FlagStep, false}, {2, FlagStep, true}, {0, FlagRough, false}, {6, FlagRough, true}, {6, FlagStep, false}, {0, FlagSparse, false}} {
		if got := cmp.Points[c.i].Has(c.f); got != c.want {
			t.Errorf("point %d: flag %s is %v, want %v (%+v)", c.i, c.f, got, c.want, cmp.Points[c.i].Flags)
		}
	}
	near(t, "height of the kerb", cmp.Points[2].StepM, 0.15, 0.02)
	if cmp.NRead != 11 || cmp.NUsed != 4 || cmp.NExcluded != 7 {
		t.Errorf("read %d, used %d, excluded %d; want 11, 4, 7", cmp.NRead, cmp.NUsed, cmp.NExcluded)
	}
}

// Unclassified clouds use last returns, and say so.
func TestLastReturns(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 12))
	var cl cloud
	cl.flat(rng, site0E, site0N, 3, 20, 0, func(x, y float64) float64 { return 5 })
	for i := range cl.class {
		cl.class[i] = 1
		if i%2 == 0 { // first of two, in a tree
			cl.ret[i], cl.of[i], cl.z[i] = 1, 2, 9
		}
	}
	cmp := collect([]Point{{EM: site0E, NM: site0N, ZM: 5}}, 2, cl.chunks(inOrder(len(cl.x)), 500, metreFrame())).Evaluate(DefaultEvaluateOptions())
	near(t, "dz on last returns", cmp.Points[0].DzM, 0, 0.001)
	if cmp.Classified || cmp.Surface != "TIN of last returns" || len(cmp.Warnings) == 0 {
		t.Errorf("surface %q, warnings %v", cmp.Surface, cmp.Warnings)
	}
}

// The same returns are kept for any order, split and number of collectors, also beyond the bound.
func TestCollectorOrder(t *testing.T) {
	rng := rand.New(rand.NewPCG(13, 14))
	var cl cloud
	points := []Point{{ID: "a", EM: site0E, NM: site0N}, {ID: "b", EM: site0E + 1, NM: site0N}, {ID: "c", EM: site0E + 50, NM: site0N + 20}}
	cl.flat(rng, site0E, site0N, 40, 10, 0.02, func(x, y float64) float64 { return 5 })
	for range 500 { // exact copies
		i := rng.IntN(len(cl.x))
		cl.add(cl.x[i], cl.y[i], cl.z[i], cl.class[i], cl.source[i])
		cl.time[len(cl.time)-1] = cl.time[i]
	}
	kept := func(order []int, workers, size int) ([][]Return, []int64) {
		cs := make([]*Collector, workers)
		for i := range cs {
			cs[i] = NewCollector(points, 2.5)
			cs[i].SetKeep(60)
		}
		for i, ch := range cl.chunks(order, size, metreFrame()) {
			cs[i%workers].Add(ch, 0)
		}
		for len(cs) > 1 {
			cs[0].Merge(cs[len(cs)-1])
			cs = cs[:len(cs)-1]
		}
		var out [][]Return
		var drop []int64
		for i := range points {
			r, d := cs[0].Returns(i)
			out, drop = append(out, r), append(drop, d)
		}
		return out, drop
	}
	want, wantDrop := kept(inOrder(len(cl.x)), 1, len(cl.x))
	if len(want[0]) != 60 || wantDrop[0] == 0 {
		t.Fatalf("kept %d, dropped %d: the bound is not tested", len(want[0]), wantDrop[0])
	}
	for trial := range 6 {
		got, drop := kept(rng.Perm(len(cl.x)), 1+trial, 100+300*trial)
		if !reflect.DeepEqual(got, want) || !reflect.DeepEqual(drop, wantDrop) {
			t.Fatalf("trial %d: other returns kept, or %v dropped, want %v", trial, drop, wantDrop)
		}
	}
}

// The collector finds exactly the returns of a search without an index, at the border of the
// stored integers too.
func TestCollectorAgainstBruteForce(t *testing.T) {
	rng := rand.New(rand.NewPCG(15, 16))
	f := &las.Frame{Scale: [3]float64{0.001, 0.001, 0.001}, Offset: [3]float64{0, 0, 0}, HorizontalM: 1, VerticalM: 1}
	var points []Point
	for _, e := range []float64{-2147483, -2147480, 0, 5, 2147483, 9e6} {
		points = append(points, Point{EM: e, NM: -e / 2})
	}
	var cl cloud
	for range 30000 {
		p := points[rng.IntN(len(points)-1)]
		e := max(min(p.EM+8*rng.NormFloat64(), 2147483.6), -2147483.6)
		cl.add(e, p.NM+8*rng.NormFloat64(), 0, 2, 1)
	}
	c := collect(points, 3, cl.chunks(inOrder(len(cl.x)), 8192, f))
	for i, p := range points {
		want := 0
		for k := range cl.x {
			x, y := math.Round(cl.x[k]*1000)*0.001, math.Round(cl.y[k]*1000)*0.001
			if (x-p.EM)*(x-p.EM)+(y-p.NM)*(y-p.NM) <= 9 {
				want++
			}
		}
		if r, _ := c.Returns(i); len(r) != want || i < 5 && want == 0 {
			t.Errorf("point %d: %d returns, want %d", i, len(r), want)
		}
	}
}

// A damaged header's frame without finite numbers finds nothing, and costs nothing.
func TestBrokenFrame(t *testing.T) {
	var cl cloud
	cl.add(site0E, site0N, 1, 2, 1)
	ch := cl.chunks(inOrder(1), 1, metreFrame())[0]
	c := NewCollector([]Point{{EM: site0E, NM: site0N}}, 1)
	for _, f := range []las.Frame{{}, {Scale: [3]float64{math.NaN(), 1, 1}, HorizontalM: 1, VerticalM: 1}, {Scale: [3]float64{1, 1, 1}, Offset: [3]float64{math.Inf(1), 0, 0}, HorizontalM: 1, VerticalM: 1}} {
		ch.Frame = &f
		c.Add(ch, 0)
	}
	if r, _ := c.Returns(0); len(r) != 0 || len(c.frames) != 0 {
		t.Errorf("%d returns, %d frames", len(r), len(c.frames))
	}
}

func TestWithheldAndNoise(t *testing.T) {
	var cl cloud
	cl.add(site0E, site0N, 1, 7, 1)
	cl.add(site0E, site0N, 1, 18, 1)
	cl.add(site0E, site0N, 1, 2, 1)
	cl.add(site0E+0.1, site0N, 1, 2, 1)
	ch := cl.chunks(inOrder(4), 4, metreFrame())
	ch[0].Flags[2] = las.FlagWithheld
	if r, _ := collect([]Point{{EM: site0E, NM: site0N}}, 1, ch).Returns(0); len(r) != 1 {
		t.Errorf("%d returns kept, want the one that is neither noise nor withheld", len(r))
	}
}

// BenchmarkCollector runs a million points past 100 check points on 1 km2; one in 400 is in reach.
//
//	go test -run '^$' -bench Collector ./control
func BenchmarkCollector(b *testing.B) {
	rng := rand.New(rand.NewPCG(17, 18))
	var points []Point
	for range 100 {
		points = append(points, Point{EM: 500000 + 1000*rng.Float64(), NM: 4000000 + 1000*rng.Float64()})
	}
	var cl cloud
	for i := range 1 << 20 {
		line := float64(i / 2000)
		cl.add(500000+float64(i%2000)/2+rng.Float64(), 4000000+2*line+rng.Float64(), 0, 2, 1)
	}
	chunks := cl.chunks(inOrder(len(cl.x)), las.MaxChunk, metreFrame())
	n := 0
	for b.Loop() {
		c := NewCollector(points, 3)
		for _, ch := range chunks {
			c.Add(ch, 0)
			n += ch.N
		}
	}
	b.ReportMetric(float64(n)/b.Elapsed().Seconds(), "points/s")
}

// A surveyed point that lies exactly on a return of a regular grid, or on a line between returns, has a surface: lists
// and clouds of whole millimetres meet so. Closed form: a plane.
func TestPointOnGridOfReturns(t *testing.T) {
	for _, at := range [][2]float64{{658528.361, 7167002.098}, {634676, 485344}, {637194.845, 219378.379}, {500000, 5e6}} {
		for _, off := range [][2]float64{{0, 0}, {0.05, 0}, {0, 0.05}, {0.05, 0.05}, {0.02, 0.01}, {0.04, 0.02}} {
			c := NewCollector([]Point{{ID: "1", EM: at[0] + off[0], NM: at[1] + off[1], ZM: 10, Cover: CoverOpen}}, 1.5)
			fr := &las.Frame{Scale: [3]float64{0.001, 0.001, 0.001}, Offset: [3]float64{math.Round(at[0]), math.Round(at[1]), 0}, HorizontalM: 1, VerticalM: 1}
			ch := &las.Chunk{Frame: fr}
			for i := range 61 {
				for k := range 61 {
					ch.X = append(ch.X, int32(math.Round((at[0]-3+0.1*float64(i)-fr.Offset[0])*1000)))
					ch.Y = append(ch.Y, int32(math.Round((at[1]-3+0.1*float64(k)-fr.Offset[1])*1000)))
					ch.Z, ch.N = append(ch.Z, int32(10020)), ch.N+1
				}
			}
			c.Add(ch, 0)
			p := c.Evaluate(DefaultEvaluateOptions()).Points[0]
			if !p.Used || math.Abs(p.DzM-0.02) > 1e-9 || p.EdgeM > 0.15 {
				t.Errorf("%v %v: used %v (%s), dz %.6f, edge %.3f", at, off, p.Used, p.Reason, p.DzM, p.EdgeM)
			}
		}
	}
}
