package recover

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"sidelap/las"
	"sidelap/trajectory"
	"sidelap/trajectory/simulate"
)

// point is one point with the columns that Add reads.
type point struct {
	x, y, z int32
	no, of  uint8
	channel uint8
	angle   int16
	source  uint16
	timeS   float64
}

func points(t *testing.T, f *simulate.Flight) ([]point, *las.Frame) {
	t.Helper()
	var out []point
	var frame *las.Frame
	for c := range f.Chunks() {
		frame = c.Frame
		for i := range c.N {
			out = append(out, point{c.X[i], c.Y[i], c.Z[i], c.ReturnNumber[i], c.NumReturns[i], c.Channel[i], c.ScanAngle[i], c.Source[i], c.GPSTime[i]})
		}
	}
	return out, frame
}

func chunkOf(p []point, frame *las.Frame) *las.Chunk {
	c := &las.Chunk{Frame: frame, N: len(p)}
	for _, q := range p {
		c.X, c.Y, c.Z = append(c.X, q.x), append(c.Y, q.y), append(c.Z, q.z)
		c.ReturnNumber, c.NumReturns = append(c.ReturnNumber, q.no), append(c.NumReturns, q.of)
		c.Channel, c.ScanAngle, c.Source, c.GPSTime = append(c.Channel, q.channel), append(c.ScanAngle, q.angle), append(c.Source, q.source), append(c.GPSTime, q.timeS)
	}
	return c
}

func samePath(a, b *trajectory.Path) bool {
	return slices.Equal(a.TimeS, b.TimeS) && slices.Equal(a.EM, b.EM) && slices.Equal(a.NM, b.NM) && slices.Equal(a.HM, b.HM) &&
		slices.Equal(a.HeadingRad, b.HeadingRad) && slices.Equal(a.Sigma.UpM, b.Sigma.UpM)
}

// TestAnySplitGivesTheSamePath: chunks of any size, in any order, spread over any
// number of collectors, merged in any order.
func TestAnySplitGivesTheSamePath(t *testing.T) {
	s := simulate.SmallScenario()
	s.Plan.Strips, s.Plan.CrossStrips = 2, 0
	all, frame := points(t, fly(t, s))
	whole := collector(t)
	for c := range slices.Chunk(all, las.MaxChunk) {
		whole.Add(chunkOf(c, frame), 0)
	}
	want := whole.Recover().Path
	if want == nil {
		t.Fatal("no path")
	}
	for _, size := range []int{1, 17, 1000, 5000} {
		rng := rand.New(rand.NewPCG(1, uint64(size)))
		chunks := slices.Collect(slices.Chunk(all, size))
		rng.Shuffle(len(chunks), func(i, j int) { chunks[i], chunks[j] = chunks[j], chunks[i] })
		parts := []*Collector{collector(t), collector(t), collector(t)}
		for _, c := range chunks {
			parts[rng.IntN(3)].Add(chunkOf(c, frame), 0)
		}
		parts[2].Merge(parts[0])
		parts[2].Merge(parts[1])
		if got := parts[2].Recover().Path; got == nil || !samePath(got, want) {
			t.Errorf("chunks of %d, three collectors: another path", size)
		}
	}
	first := whole.Recover().Path
	if !samePath(first, want) {
		t.Error("Recover changed the collector")
	}
}

// TestReturnsStoredApart: points shuffled as an octree file stores them. The rays
// are those of the fair sample; the path stays within a metre.
func TestReturnsStoredApart(t *testing.T) {
	s := simulate.SmallScenario()
	f := fly(t, s)
	all, frame := points(t, f)
	rng := rand.New(rand.NewPCG(2, 3))
	rng.Shuffle(len(all), func(i, j int) { all[i], all[j] = all[j], all[i] })
	c := collector(t)
	for p := range slices.Chunk(all, las.MaxChunk) {
		c.Add(chunkOf(p, frame), 0)
	}
	r := c.Recover()
	if r.Path == nil {
		t.Fatal(r.Notes)
	}
	if e := against(r.Path, f); !(e.rms(e.along) < 3 && e.rms(e.across) < 0.2 && e.rms(e.up) < 0.2) || e.shareBeyond(3) > 0.05 {
		t.Errorf("level %s, RMS along %.2f across %.2f up %.2f m, %.1f %% beyond 3 sigma", r.Level, e.rms(e.along), e.rms(e.across), e.rms(e.up), 100*e.shareBeyond(3))
	}
}

// TestMemoryIsBounded: a bin keeps no more than the options say.
func TestMemoryIsBounded(t *testing.T) {
	c := collector(t)
	for _, ch := range fan(0, 4, true) {
		c.Add(ch, 0)
	}
	o := DefaultOptions()
	for k, b := range c.bins {
		rays := 0
		for s := range b.widest {
			rays += len(b.widest[s])
		}
		if len(b.sample) > o.PulsesPerBin || rays > sectors*o.RaysPerSector {
			t.Errorf("bin %v keeps %d pulses and %d rays", k, len(b.sample), rays)
		}
	}
	if n := len(c.edge); n > 8 {
		t.Errorf("%d pulses at the borders of 4 chunks", n)
	}
}

// TestBadPoints: times absent, zero, infinite, not a number, far off; return numbers
// of zero; one time for all points. Never a panic, never a path out of nothing.
func TestBadPoints(t *testing.T) {
	frame := &las.Frame{Scale: [3]float64{0.01, 0.01, 0.01}, HorizontalM: 1, VerticalM: 1}
	build := func(n int, f func(i int) point) *las.Chunk {
		p := make([]point, n)
		for i := range p {
			p[i] = f(i)
		}
		return chunkOf(p, frame)
	}
	odd := []float64{0, math.NaN(), math.Inf(1), math.Inf(-1), 1e300, -1e300, math.Copysign(0, -1)}
	for name, ch := range map[string]*las.Chunk{
		"odd times":       build(1000, func(i int) point { return point{timeS: odd[i%len(odd)], no: 1, of: 1, x: int32(i)} }),
		"one time":        build(5000, func(i int) point { return point{timeS: 77, no: 1, of: 1, x: int32(i), angle: int16(i)} }),
		"one time, pairs": build(5000, func(i int) point { return point{timeS: 77, no: uint8(i % 3), of: 2, x: int32(i), z: int32(-i)} }),
		"return 0 of 0":   build(5000, func(i int) point { return point{timeS: float64(i) / 100, x: int32(i)} }),
		"one place":       build(8000, func(i int) point { return point{timeS: float64(i) / 1000, no: 1, of: 1, angle: int16(i%8000) - 4000} }),
		"extreme": build(8000, func(i int) point {
			return point{timeS: float64(i) / 1000, no: 1, of: 1, angle: math.MinInt16 + int16(i), x: math.MaxInt32, y: math.MinInt32}
		}),
		"empty":      build(0, nil),
		"no columns": {Frame: frame, N: 3, X: make([]int32, 3), Y: make([]int32, 3), Z: make([]int32, 3)},
	} {
		c := collector(t)
		c.Add(ch, 0)
		r := c.Recover()
		if r.Path != nil {
			t.Errorf("%s: a path: %+v", name, r.Legs)
		}
		if r.Level != LevelNone && r.Level != LevelNadir {
			t.Errorf("%s: level %s", name, r.Level)
		}
	}
	if _, err := NewCollector(Options{}); err == nil {
		t.Error("zero options accepted")
	}
}

// TestSeveralFlightsShareTimes: two flights a week apart in week seconds, kilometres
// from each other.
func TestSeveralFlightsShareTimes(t *testing.T) {
	c := collector(t)
	for _, ch := range fan(0.3, 6, true) {
		c.Add(ch, 0)
	}
	for _, ch := range fan(2, 5, true) {
		other := *ch
		frame := *ch.Frame
		frame.Offset[0] += 9000
		other.Frame = &frame
		other.Source = make([]uint16, ch.N)
		c.Add(&other, 1)
	}
	r := c.Recover()
	if len(r.Notes) == 0 || r.Path == nil {
		t.Fatalf("%+v", r)
	}
	for i := range r.Path.TimeS {
		if math.Abs(r.Path.EM[i]-500300) > 200 {
			t.Fatalf("path at %.0f m", r.Path.EM[i])
		}
	}
}

func BenchmarkAdd(b *testing.B) {
	c := collector(b)
	chunks := fan(0.3, 20, false)
	n := 0
	b.ReportAllocs()
	for b.Loop() {
		for _, ch := range chunks {
			c.Add(ch, 0)
			n += ch.N
		}
	}
	b.ReportMetric(float64(n)/b.Elapsed().Seconds(), "points/s")
}

func BenchmarkRecover(b *testing.B) {
	for _, seconds := range []float64{60, 600} {
		b.Run(map[bool]string{true: "flight=10min", false: "flight=1min"}[seconds > 100], func(b *testing.B) {
			c := collector(b)
			for _, ch := range fan(0.3, seconds, true) {
				c.Add(ch, 0)
			}
			for b.Loop() {
				if c.Recover().Path == nil {
					b.Fatal("no path")
				}
			}
		})
	}
}
