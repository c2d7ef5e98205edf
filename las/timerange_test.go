package las

import (
	"math"
	"math/rand/v2"
	"testing"
)

// TestTimeRangeAdd is a property: a range gathered chunk by chunk is that of each time alone.
func TestTimeRangeAdd(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	starts := []float64{0, -20, 3599, 86400 * 3, WeekS - 10, WeekS + 5, 4e8, -1e9}
	odd := []float64{math.NaN(), math.Inf(1), math.Inf(-1), -1, 0, WeekS, 1e12}
	var got, want TimeRange
	for range 3000 {
		chunk := make([]float64, 1+r.IntN(20))
		start := starts[r.IntN(len(starts))]
		for i := range chunk {
			chunk[i] = start + 15*r.Float64()
			if r.IntN(60) == 0 {
				chunk[i] = odd[r.IntN(len(odd))]
			}
		}
		if r.IntN(50) == 0 {
			got, want = TimeRange{}, TimeRange{}
		}
		got.Add(chunk)
		for i := range chunk {
			want.addEach(chunk[i : i+1])
		}
		if got != want {
			t.Fatalf("%v: %+v, one by one %+v", chunk, got, want)
		}
	}
}
