package overlap_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"sidelap/las"
	"sidelap/overlap"
)

// Chunks of any values, as damaged files hold them: no panic, and rasters stay
// bounded.
func TestAnyValue(t *testing.T) {
	odd := []float64{0, -1, 1e300, -1e300, math.NaN(), math.Inf(1), math.Inf(-1), 604800, 4e8, 1e-9}
	for seed := range uint64(40) {
		r := rand.New(rand.NewPCG(seed, 99))
		pick := func() float64 {
			if r.IntN(3) == 0 {
				return odd[r.IntN(len(odd))]
			}
			return r.NormFloat64() * math.Pow(10, 6*r.Float64()-3)
		}
		f := &las.Frame{Scale: [3]float64{0.01, 0.01, 0.01}, HorizontalM: 1, VerticalM: 0.3048}
		if r.IntN(3) == 0 {
			f.Scale[r.IntN(3)], f.Offset[r.IntN(3)] = pick(), pick()
		}
		o := overlap.DefaultOptions()
		o.CellM = []float64{0.1, 0.7, 1, 30}[r.IntN(4)]
		o.AutoCell = r.IntN(2) == 0
		a, err := overlap.NewAccumulator(o)
		if err != nil {
			t.Fatal(err)
		}
		for file := range 3 {
			a.Add(anyChunk(r, f, pick), file)
		}
		s, err := a.Survey(overlap.DefaultSurveyOptions())
		if err != nil {
			continue
		}
		pairs := s.Pairs(overlap.DefaultPairOptions())
		big, mean := s.CombinedSeparation(pairs)
		rep := s.Repeatability(overlap.DefaultRepeatabilityOptions())
		c := s.Coverage(overlap.DefaultCoverageOptions())
		for _, g := range []*overlap.Grid{big, mean, rep.Roughness, c.Density, c.Count} {
			if g != nil && len(g.Values) > 1<<25 {
				t.Errorf("seed %d: raster of %d values", seed, len(g.Values))
			}
		}
		for i := range pairs {
			s.SeparationGrid(&pairs[i])
		}
		overlap.Loops(pairs)
	}
}

func anyChunk(r *rand.Rand, f *las.Frame, pick func() float64) *las.Chunk {
	const n = 600
	spread := []int{1000, 100000, math.MaxInt32}[r.IntN(3)]
	c := &las.Chunk{Frame: f, N: n}
	for range n {
		c.X, c.Y, c.Z = append(c.X, int32(r.IntN(spread))), append(c.Y, int32(-r.IntN(spread))), append(c.Z, int32(r.IntN(2000)))
		c.ReturnNumber, c.NumReturns = append(c.ReturnNumber, uint8(r.IntN(16))), append(c.NumReturns, uint8(r.IntN(16)))
		c.Flags, c.Class = append(c.Flags, uint8(r.IntN(64))), append(c.Class, uint8(r.IntN(40)))
		c.ScanAngle, c.Source = append(c.ScanAngle, int16(r.IntN(65536)-32768)), append(c.Source, uint16(r.IntN(4)))
		c.GPSTime = append(c.GPSTime, pick())
	}
	return c
}
