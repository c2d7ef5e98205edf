package trajectory

import (
	"math"

	"sidelap/las/rank"
)

// median returns the median of v, 0 for none. v is not changed.
func median(v []float64) float64 {
	if len(v) == 0 {
		return 0
	}
	return rank.Quantile(v, 0.5)
}

// nmad returns 1.4826 times the median absolute deviation from m.
func nmad(v []float64, m float64) float64 {
	d := make([]float64, len(v))
	for i, x := range v {
		d[i] = math.Abs(x - m)
	}
	return 1.4826 * median(d)
}

// medianStep returns the median difference of neighbours.
func medianStep(t []float64) float64 {
	if len(t) < 2 {
		return 0
	}
	d := make([]float64, len(t)-1)
	for i := range d {
		d[i] = t[i+1] - t[i]
	}
	return median(d)
}

func maxAbs(v []float64) float64 {
	m := 0.0
	for _, x := range v {
		m = max(m, math.Abs(x))
	}
	return m
}
