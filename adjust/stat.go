package adjust

import (
	"math"
	"slices"
)

// quantile returns the p-quantile of v with linear interpolation between order statistics.
func quantile(v []float64, p float64) float64 {
	if len(v) == 0 {
		return math.NaN()
	}
	s := slices.Clone(v)
	slices.Sort(s)
	at := p * float64(len(s)-1)
	i := int(at)
	if i+1 >= len(s) {
		return s[len(s)-1]
	}
	return s[i] + (at-float64(i))*(s[i+1]-s[i])
}

// median returns the middle value of v, the mean of the two middle ones of an even number.
func median(v []float64) float64 { return quantile(v, 0.5) }
