package adjust

import (
	"fmt"
	"math"
	"slices"
	"sort"
)

// Curve is a natural cubic spline in time through its knots: a constant with one knot, a straight line with two. Beyond its
// ends it stays at the end values: outside of what was measured nothing is known, and nothing must grow. Without knots it is zero.
type Curve struct {
	TimeS []float64 `json:"time_s,omitempty"`
	Value []float64 `json:"value,omitempty"`
	bent  []float64 // second derivatives at the knots
}

func (c *Curve) zero() bool {
	return !slices.ContainsFunc(c.Value, func(v float64) bool { return v != 0 })
}

func (c *Curve) validate() error {
	if len(c.TimeS) != len(c.Value) {
		return fmt.Errorf("%d knots with %d values", len(c.TimeS), len(c.Value))
	}
	for i, t := range c.TimeS {
		if math.IsNaN(t+c.Value[i]) || math.IsInf(t+c.Value[i], 0) || i > 0 && !(t > c.TimeS[i-1]) {
			return fmt.Errorf("knot %d is not after the one before, or not finite", i+1)
		}
	}
	return nil
}

// newCurve returns the curve through the values.
func newCurve(timeS, value []float64) Curve {
	c := Curve{TimeS: timeS, Value: value}
	c.prepare()
	return c
}

// prepare solves for the second derivatives: the tridiagonal system of the natural cubic spline.
func (c *Curve) prepare() {
	n := len(c.TimeS)
	if n < 3 || len(c.bent) == n {
		return
	}
	m, u := make([]float64, n), make([]float64, n)
	for i := 1; i < n-1; i++ {
		h0, h1 := c.TimeS[i]-c.TimeS[i-1], c.TimeS[i+1]-c.TimeS[i]
		d := 2*(h0+h1) - h0*u[i-1]
		u[i] = h1 / d
		m[i] = (6*((c.Value[i+1]-c.Value[i])/h1-(c.Value[i]-c.Value[i-1])/h0) - h0*m[i-1]) / d
	}
	for i := n - 2; i > 0; i-- {
		m[i] -= u[i] * m[i+1]
	}
	m[n-1] = 0
	c.bent = m
}

// At returns the value at a time. The curve must be prepared.
func (c *Curve) At(tS float64) float64 {
	n := len(c.TimeS)
	switch {
	case n == 0:
		return 0
	case n == 1 || !(tS > c.TimeS[0]): // NaN too
		return c.Value[0]
	case tS >= c.TimeS[n-1]:
		return c.Value[n-1]
	}
	i := 0
	if n > 2 {
		i = sort.SearchFloat64s(c.TimeS, tS) - 1
	}
	h := c.TimeS[i+1] - c.TimeS[i]
	b := (tS - c.TimeS[i]) / h
	a := 1 - b
	v := a*c.Value[i] + b*c.Value[i+1]
	if n > 2 {
		v += ((a*a*a-a)*c.bent[i] + (b*b*b-b)*c.bent[i+1]) * h * h / 6
	}
	return v
}

// plus returns the sum of two curves. The sum of splines with different knots has the finer knots: those with more.
func (c Curve) plus(o Curve) Curve {
	if len(o.TimeS) == 0 {
		return c
	}
	if len(o.TimeS) > len(c.TimeS) {
		c, o = o, c
	}
	o.prepare()
	v := slices.Clone(c.Value)
	for i, t := range c.TimeS {
		v[i] += o.At(t)
	}
	return newCurve(c.TimeS, v)
}

// shifted returns the curve with a constant added.
func (c Curve) shifted(by float64, atS float64) Curve {
	if by == 0 {
		return c
	}
	if len(c.TimeS) == 0 {
		return newCurve([]float64{atS}, []float64{by})
	}
	v := slices.Clone(c.Value)
	for i := range v {
		v[i] += by
	}
	return newCurve(c.TimeS, v)
}

// basis returns the cardinal natural splines of the inner knots: each is 1 at its own knot, 0 at the others. With the straight
// lines they span all natural splines over the knots.
func basis(knots []float64) []Curve {
	var out []Curve
	for k := 1; k < len(knots)-1; k++ {
		v := make([]float64, len(knots))
		v[k] = 1
		out = append(out, newCurve(knots, v))
	}
	return out
}

// bending returns the integral of the product of the second derivatives of two curves over the same knots.
func bending(a, b *Curve) float64 {
	sum := 0.0
	for i := 1; i < len(a.TimeS); i++ {
		h := a.TimeS[i] - a.TimeS[i-1]
		a0, a1, b0, b1 := a.bent[i-1], a.bent[i], b.bent[i-1], b.bent[i]
		sum += h / 6 * (2*a0*b0 + a0*b1 + a1*b0 + 2*a1*b1)
	}
	return sum
}

// evenKnots divides a time into n equal segments.
func evenKnots(startS, endS float64, n int) []float64 {
	k := make([]float64, n+1)
	for i := range k {
		k[i] = startS + (endS-startS)*float64(i)/float64(n)
	}
	return k
}
