package blunder

import (
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// slopeFit is a shift of the cloud by (e, n) seen on slopes, and a constant.
type slopeFit struct {
	e, n, c, sigma, p float64
}

// fitSlopes fits dz = c - gE e - gN n. ok is false unless slopes of 5 % and more face at least two
// directions and there are eight points.
func fitSlopes(ge, gn, dz []float64) (t slopeFit, ok bool) {
	n := len(dz)
	if n < 8 {
		return t, false
	}
	var me, mn float64
	for i := range ge {
		me, mn = me+ge[i]/float64(n), mn+gn[i]/float64(n)
	}
	var ee, nn, en float64
	for i := range ge {
		x, y := ge[i]-me, gn[i]-mn
		ee, nn, en = ee+x*x, nn+y*y, en+x*y
	}
	smallest := (ee+nn)/2 - math.Hypot((ee-nn)/2, en)
	if smallest < float64(n)*0.03*0.03 {
		return t, false // slopes too gentle or all one way
	}
	a := mat.NewDense(n, 3, nil)
	y := mat.NewVecDense(n, dz)
	for i := range n {
		a.SetRow(i, []float64{1, -ge[i], -gn[i]})
	}
	var x, fit mat.VecDense
	if x.SolveVec(a, y) != nil {
		return t, false
	}
	fit.MulVec(a, &x)
	var ss0, ss1 float64
	mean := mat.Sum(y) / float64(n)
	for i := range n {
		ss0 += math.Pow(y.AtVec(i)-mean, 2)
		ss1 += math.Pow(y.AtVec(i)-fit.AtVec(i), 2)
	}
	dof := float64(n - 3)
	t = slopeFit{c: x.AtVec(0), e: x.AtVec(1), n: x.AtVec(2)}
	t.p = distuv.F{D1: 2, D2: dof}.Survival((ss0 - ss1) / 2 / max(ss1/dof, 1e-9))
	t.sigma = math.Sqrt(ss1 / dof / smallest)
	return t, true
}
