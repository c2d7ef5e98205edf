package report

import (
	"math"
	"slices"
	"testing"
)

// TestTicks: round values from end to end; of ranges that cannot be counted none, and none without end. By hand.
func TestTicks(t *testing.T) {
	for _, c := range []struct {
		lo, hi   float64
		n        int
		want     []float64
		decimals int
	}{
		{-0.1, 0.1, 4, []float64{-0.1, -0.05, 0, 0.05, 0.1}, 2}, {0.9, 4.1, 3, []float64{2, 4}, 0}, {-3, 7, 2, []float64{0, 5}, 0}, {1e9, 1e9 + 4, 2, []float64{1e9, 1e9 + 2, 1e9 + 4}, 0},
		{-1e308, 1e308, 5, nil, 0}, {-math.MaxFloat64, 0, 5, []float64{-math.MaxFloat64, -4 * (math.MaxFloat64 / 5), -3 * (math.MaxFloat64 / 5), -2 * (math.MaxFloat64 / 5), -math.MaxFloat64 / 5, 0}, 0},
		{1e300, math.Nextafter(1e300, 2e300), 1, nil, 0}, {0, math.Inf(1), 5, nil, 0}, {math.NaN(), 1, 5, nil, 0}, {0, 0, 5, nil, 0}, {-1e300, 1, 1, []float64{-1e300, 0}, 0},
	} {
		at, decimals := ticks(c.lo, c.hi, c.n)
		same := slices.EqualFunc(at, c.want, func(a, b float64) bool { return math.Abs(a-b) <= 1e-12*math.Abs(b) })
		if c.want != nil && decimals != c.decimals || !same {
			t.Errorf("%g to %g: %g with %d decimals, want %g with %d", c.lo, c.hi, at, decimals, c.want, c.decimals)
		}
	}
}
