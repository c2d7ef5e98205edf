package rank_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/stat"

	"sidelap/las/rank"
)

// orders are values in orders that are easy and hard to part.
func orders(n int) map[string][]float64 {
	r := rand.New(rand.NewPCG(7, uint64(n)))
	out := map[string][]float64{}
	fill := func(name string, f func(i int) float64) {
		v := make([]float64, n)
		for i := range v {
			v[i] = f(i)
		}
		out[name] = v
	}
	fill("random", func(int) float64 { return r.NormFloat64() })
	fill("ascending", func(i int) float64 { return float64(i) })
	fill("descending", func(i int) float64 { return float64(-i) })
	fill("equal", func(int) float64 { return 3 })
	fill("two values", func(int) float64 { return float64(r.IntN(2)) })
	fill("organ pipe", func(i int) float64 { return float64(min(i, n-i)) })
	fill("sawtooth", func(i int) float64 { return float64(i % 7) })
	fill("infinities", func(i int) float64 { return []float64{math.Inf(1), math.Inf(-1), 0}[r.IntN(3)] })
	fill("with NaN", func(i int) float64 { return []float64{math.NaN(), 1, 2, 3}[r.IntN(4)] })
	return out
}

// Outside the package: slices.Sort tells the rank of every value.
func TestSelect(t *testing.T) {
	for _, n := range []int{1, 2, 3, 12, 13, 14, 100, 1001} {
		for name, v := range orders(n) {
			sorted := slices.Clone(v)
			slices.Sort(sorted)
			for k := 0; k < n; k += 1 + n/50 {
				s := slices.Clone(v)
				if got := rank.Select(s, k); !same(got, sorted[k]) {
					t.Fatalf("%s, %d values, rank %d: %g, want %g", name, n, k, got, sorted[k])
				}
				for i, x := range s {
					if i < k && x > sorted[k] || i > k && x < sorted[k] {
						t.Fatalf("%s, %d values, rank %d: %g stands at %d", name, n, k, x, i)
					}
				}
				slices.Sort(s)
				if !slices.EqualFunc(s, sorted, same) {
					t.Fatalf("%s, %d values: some are lost", name, n)
				}
			}
		}
	}
}

func same(a, b float64) bool { return a == b || a != a && b != b }

// Outside the project: gonum's median of sorted values for odd counts, where every kind of quantile agrees, and a worked value:
// of 1, 2, 3, 4 the inclusive quartile is 1.75 (spreadsheets, from memory).
func TestQuantile(t *testing.T) {
	if got := rank.Quantile([]float64{4, 1, 3, 2}, 0.25); got != 1.75 {
		t.Errorf("%g, want 1.75", got)
	}
	if got := rank.Quantile(nil, 0.5); !math.IsNaN(got) {
		t.Errorf("%g of no values", got)
	}
	for name, v := range orders(501) {
		if name == "with NaN" || name == "infinities" {
			continue
		}
		before := slices.Clone(v)
		got := rank.Quantile(v, 0.5)
		if !slices.Equal(v, before) {
			t.Errorf("%s: the values were moved", name)
		}
		slices.Sort(before)
		if want := stat.Quantile(0.5, stat.Empirical, before, nil); got != want {
			t.Errorf("%s: %g, want %g", name, got, want)
		}
		if lo, hi := rank.Quantile(v, 0), rank.Quantile(v, 1); lo != before[0] || hi != before[500] {
			t.Errorf("%s: %g to %g, want %g to %g", name, lo, hi, before[0], before[500])
		}
	}
}

func BenchmarkQuantile(b *testing.B) {
	for _, n := range []int{1000, 1000000} {
		v := orders(n)["random"]
		b.Run(fmt.Sprintf("n=%d", n), func(b *testing.B) {
			for b.Loop() {
				rank.Quantile(v, 0.95)
			}
			b.ReportMetric(float64(n)*float64(b.N)/b.Elapsed().Seconds(), "values/s")
		})
	}
}
