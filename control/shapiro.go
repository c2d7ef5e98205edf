package control

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// The range of sample sizes that the approximation of ShapiroWilk was made for.
const (
	minShapiro = 3
	maxShapiro = 5000
)

// ShapiroWilk returns the test for normal errors that holds for few values too: W, near 1 for normal ones, and the chance p of so
// small a W if they are. ok is false outside 3 to 5000 values and for values that are all equal.
//
// Source: J. P. Royston, Remark AS R94, Applied Statistics 44 (1995) 547-551 (coefficients from memory; the tests compare
// with SciPy).
func ShapiroWilk(values []float64) (w, p float64, ok bool) {
	x := slices.Clone(values)
	slices.Sort(x)
	n := len(x)
	if n < minShapiro || n > maxShapiro || !(x[n-1]-x[0] > 1e-19) {
		return 0, 0, false
	}
	a := shapiroWeights(n)
	mean := 0.0
	for _, v := range x {
		mean += v / float64(n)
	}
	top, square := 0.0, 0.0
	for i, v := range x {
		if i < n/2 {
			top += a[i] * (x[n-1-i] - v)
		}
		square += (v - mean) * (v - mean)
	}
	w = min(top*top/square, 1)
	return w, shapiroChance(w, n), true
}

// shapiroWeights are the weights of the differences between the largest and the smallest, the next two, and so on.
func shapiroWeights(n int) []float64 {
	a := make([]float64, n/2)
	if n == 3 {
		a[0] = math.Sqrt(0.5)
		return a
	}
	m := make([]float64, n/2) // expected order statistics of the lower half, about
	sum := 0.0
	for i := range m {
		m[i] = distuv.UnitNormal.Quantile((float64(i) + 0.625) / (float64(n) + 0.25))
		sum += 2 * m[i] * m[i]
	}
	root := 1 / math.Sqrt(float64(n))
	a[0] = polynomial(root, 0, 0.221157, -0.147981, -2.07119, 4.434685, -2.706056) - m[0]/math.Sqrt(sum)
	first := 1
	scale := (sum - 2*m[0]*m[0]) / (1 - 2*a[0]*a[0])
	if n > 5 {
		a[1] = polynomial(root, 0, 0.042981, -0.293762, -1.752461, 5.682633, -3.582633) - m[1]/math.Sqrt(sum)
		first = 2
		scale = (sum - 2*m[0]*m[0] - 2*m[1]*m[1]) / (1 - 2*a[0]*a[0] - 2*a[1]*a[1])
	}
	for i := first; i < len(a); i++ {
		a[i] = -m[i] / math.Sqrt(scale)
	}
	return a
}

// shapiroChance is the chance of so small a W, or a smaller one, among n normal values.
func shapiroChance(w float64, n int) float64 {
	if n == 3 {
		return max(0, 6/math.Pi*(math.Asin(math.Sqrt(w))-math.Asin(math.Sqrt(0.75))))
	}
	y := math.Log(1 - w)
	var mean, sd float64
	if k := float64(n); n <= 11 {
		gamma := -2.273 + 0.459*k
		if y >= gamma {
			return 0
		}
		y = -math.Log(gamma - y)
		mean = polynomial(k, 0.544, -0.39978, 0.025054, -6.714e-4)
		sd = math.Exp(polynomial(k, 1.3822, -0.77857, 0.062767, -0.0020322))
	} else {
		l := math.Log(k)
		mean = polynomial(l, -1.5861, -0.31082, -0.083751, 0.0038915)
		sd = math.Exp(polynomial(l, -0.4803, -0.082676, 0.0030302))
	}
	return distuv.UnitNormal.Survival((y - mean) / sd)
}

// polynomial is c[0] + c[1] x + c[2] x^2 ...
func polynomial(x float64, c ...float64) float64 {
	v := 0.0
	for i := len(c) - 1; i >= 0; i-- {
		v = v*x + c[i]
	}
	return v
}
