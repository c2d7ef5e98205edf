package adjust

import (
	"cmp"
	"math"
	"slices"

	"sidelap/las/rank"
)

// quantile returns the p-quantile of v with linear interpolation between order statistics.
func quantile(v []float64, p float64) float64 {
	return rank.Quantile(v, p)
}

// median returns the middle value of v, the mean of the two middle ones of an even number.
func median(v []float64) float64 { return quantile(v, 0.5) }

// middleOf lists the places of the values from which the median is made: the one in the middle, or those to both sides of it.
func middleOf(v []float64) []int {
	order := make([]int, len(v))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(v[a], v[b]) })
	n := len(order)
	return order[max(0, (n-1)/2):min(n, n/2+1)]
}

// clearOf is the rule of significance: a value of at least twice its standard deviation. Without a standard deviation there is none.
func clearOf(value, sigma float64) bool { return sigma > 0 && math.Abs(value) >= 2*sigma }
