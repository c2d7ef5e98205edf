// Package rank finds values by their rank without sorting all of them: medians and percentiles of millions of values cost a
// few passes.
//
// Vocabulary: the rank of a value is the index it would have in the sorted slice, from 0. A quantile is that of type 7, rank
// p(n-1) with linear interpolation, the inclusive percentile of spreadsheets.
//
// Not in scope: weighted quantiles, and statistics that are no rank.
package rank

import (
	"math"
	"math/bits"
	"slices"
)

// fewValues are sorted rather than parted.
const fewValues = 12

// Select returns the value that would stand at index k if v were sorted by slices.Sort (NaN first), and leaves v in another
// order: none before k is larger, none behind it smaller. It panics unless 0 <= k < len(v).
//
// Source: C. A. R. Hoare, Algorithm 65: Find (1961), from memory.
func Select(v []float64, k int) float64 {
	_ = v[k]
	if slices.ContainsFunc(v, math.IsNaN) {
		slices.Sort(v)
		return v[k]
	}
	for rounds := 4 * bits.Len(uint(len(v))); len(v) > fewValues && rounds > 0; rounds-- { // more rounds: an order that defeats the pivots
		mid := len(v) / 2
		pivot := max(min(v[0], v[mid]), min(max(v[0], v[mid]), v[len(v)-1])) // the median of three
		i, j := 0, len(v)-1
		for i <= j {
			for v[i] < pivot {
				i++
			}
			for v[j] > pivot {
				j--
			}
			if i <= j {
				v[i], v[j] = v[j], v[i]
				i++
				j--
			}
		}
		switch {
		case k <= j:
			v = v[:j+1]
		case k >= i:
			v, k = v[i:], k-i
		default:
			return pivot
		}
	}
	slices.Sort(v)
	return v[k]
}

// Quantile returns the p-quantile of the values, 0 <= p <= 1, NaN for none. v stays as it is.
func Quantile(v []float64, p float64) float64 {
	if len(v) == 0 {
		return math.NaN()
	}
	at := p * float64(len(v)-1)
	i := int(at)
	s := slices.Clone(v)
	if i+1 >= len(s) {
		return Select(s, len(s)-1)
	}
	x := Select(s, i)
	return x + (at-float64(i))*(Select(s[i+1:], 0)-x)
}
