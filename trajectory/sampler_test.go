package trajectory

import (
	"math"
	"slices"
	"testing"

	"sidelap/las"
)

// TestSamplerOrder is a property: the sample is the same for any split of the points between samplers, and leaves out
// withheld points and points without time.
func TestSamplerOrder(t *testing.T) {
	const n = 1000
	frame := &las.Frame{Scale: [3]float64{1, 1, 1}, HorizontalM: 1, VerticalM: 1}
	chunk := func(first, count int) *las.Chunk {
		c := &las.Chunk{Frame: frame, First: int64(first), N: count}
		for i := first; i < first+count; i++ {
			c.X, c.Y, c.Z = append(c.X, int32(i)), append(c.Y, 0), append(c.Z, 0)
			tS, flag := float64(i), uint8(0)
			if i == 300 {
				tS = math.NaN()
			}
			if i == 400 {
				flag = las.FlagWithheld
			}
			c.GPSTime, c.Flags, c.ScanAngle = append(c.GPSTime, tS), append(c.Flags, flag), append(c.ScanAngle, int16(i))
		}
		return c
	}
	whole := NewSampler(100 * sampleReturns) // every hundredth
	whole.Add(chunk(0, n), 0)
	a, b := NewSampler(100*sampleReturns), NewSampler(100*sampleReturns)
	b.Add(chunk(650, n-650), 0)
	a.Add(chunk(137, 650-137), 0)
	b.Add(chunk(0, 137), 0)
	b.Merge(a)
	got, want := b.List(), whole.List()
	if !slices.Equal(got, want) {
		t.Fatalf("split: %v\nwhole: %v", got, want)
	}
	var times []float64
	for _, r := range want {
		times = append(times, r.TimeS)
	}
	if !slices.Equal(times, []float64{0, 100, 200, 500, 600, 700, 800, 900}) {
		t.Errorf("times %v", times)
	}
}
