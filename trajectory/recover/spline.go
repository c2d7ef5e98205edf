package recover

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// spline is a uniform cubic B-spline in three dimensions with a few further unknowns
// that belong to the whole leg. Its normal equations are banded with a border:
//
//	[ B  C ] [x]   [f]
//	[ C' D ] [y] = [g]
//
// x are the coefficients (east, north, up of each knot in turn), y the further unknowns.
type spline struct {
	t0, dt float64
	knots  int // number of coefficients of each dimension

	band   *mat.SymBandDense
	f      []float64
	c      *mat.Dense // 3 knots x extra
	d      *mat.SymDense
	g      []float64
	chol   mat.BandCholesky
	x, y   []float64
	solveC *mat.Dense    // B^-1 C
	schur  *mat.SymDense // covariance of y
}

// extra is the number of unknowns of the whole leg.
const extra = 3

// bandwidth: four coefficients of three dimensions touch each other.
const bandwidth = 11

func newSpline(startS, endS, knotS float64) *spline {
	segments := max(int(math.Ceil((endS-startS)/knotS)), 1)
	return &spline{t0: startS, dt: (endS - startS) / float64(segments), knots: segments + 3}
}

// basis returns the first of the four coefficients at t and their weights.
func (s *spline) basis(t float64) (first int, w [4]float64) {
	u := (t - s.t0) / s.dt
	first = max(0, min(int(math.Floor(u)), s.knots-4))
	v := u - float64(first)
	w[0] = (1 - v) * (1 - v) * (1 - v) / 6
	w[1] = (3*v*v*v - 6*v*v + 4) / 6
	w[2] = (-3*v*v*v + 3*v*v + 3*v + 1) / 6
	w[3] = v * v * v / 6
	return first, w
}

// reset clears the equations and adds the smoothness: a standard deviation of the
// third derivative in each dimension, and the priors of the further unknowns.
func (s *spline) reset(jerk vec, prior [extra]float64) {
	n := 3 * s.knots
	s.band = mat.NewSymBandDense(n, min(bandwidth, n-1), nil)
	s.f = make([]float64, n)
	s.c = mat.NewDense(n, extra, nil)
	s.d = mat.NewSymDense(extra, nil)
	s.g = make([]float64, extra)
	third := [4]float64{-1, 3, -3, 1}
	for i := 0; i+3 < s.knots; i++ {
		for dim := range 3 {
			w := 1 / (jerk[dim] * s.dt * s.dt * s.dt)
			for a := range 4 {
				for b := a; b < 4; b++ {
					s.addBand(3*(i+a)+dim, 3*(i+b)+dim, w*w*third[a]*third[b])
				}
			}
		}
	}
	for k := range extra {
		s.d.SetSym(k, k, 1/(prior[k]*prior[k]))
	}
}

func (s *spline) addBand(i, j int, v float64) {
	s.band.SetSymBand(i, j, s.band.At(i, j)+v)
}

// row adds one observation a . S(t) + b . y = rhs with standard deviation sigma over
// the square root of weight.
func (s *spline) row(t float64, a vec, b [extra]float64, rhs, sigma, weight float64) {
	if weight <= 0 {
		return
	}
	first, w := s.basis(t)
	p := weight / (sigma * sigma)
	raw := s.band.RawSymBand()
	for i := range 4 {
		for di := range 3 {
			ci := w[i] * a[di]
			if ci == 0 {
				continue
			}
			ri := 3*(first+i) + di
			s.f[ri] += p * ci * rhs
			for j := i; j < 4; j++ {
				for dj := range 3 {
					rj := 3*(first+j) + dj
					if rj >= ri {
						raw.Data[ri*raw.Stride+rj-ri] += p * ci * w[j] * a[dj]
					}
				}
			}
			for k := range extra {
				if b[k] != 0 {
					s.c.Set(ri, k, s.c.At(ri, k)+p*ci*b[k])
				}
			}
		}
	}
	for k := range extra {
		s.g[k] += p * b[k] * rhs
		for l := k; l < extra; l++ {
			s.d.SetSym(k, l, s.d.At(k, l)+p*b[k]*b[l])
		}
	}
}

// solve finds coefficients and further unknowns; false when the evidence does not
// determine them.
func (s *spline) solve() bool {
	n := 3 * s.knots
	raw := s.band.RawSymBand()
	for i := range n { // keeps directions without any evidence finite; 1e4 m is weaker than all
		raw.Data[i*raw.Stride] += 1e-8
	}
	if !s.chol.Factorize(s.band) {
		return false
	}
	rhs := mat.NewDense(n, extra+1, nil)
	for i := range n {
		for k := range extra {
			rhs.Set(i, k, s.c.At(i, k))
		}
		rhs.Set(i, extra, s.f[i])
	}
	var sol mat.Dense
	if s.chol.SolveTo(&sol, rhs) != nil {
		return false
	}
	schur := mat.NewSymDense(extra, nil)
	g := mat.NewVecDense(extra, nil)
	for k := range extra {
		v := s.g[k]
		for i := range n {
			v -= s.c.At(i, k) * sol.At(i, extra)
		}
		g.SetVec(k, v)
		for l := k; l < extra; l++ {
			v := s.d.At(k, l)
			for i := range n {
				v -= s.c.At(i, k) * sol.At(i, l)
			}
			schur.SetSym(k, l, v)
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(schur) {
		return false
	}
	s.schur = mat.NewSymDense(extra, nil)
	var y mat.VecDense
	if chol.InverseTo(s.schur) != nil || chol.SolveVecTo(&y, g) != nil {
		return false
	}
	s.y = make([]float64, extra)
	s.x = make([]float64, n)
	for k := range extra {
		s.y[k] = y.AtVec(k)
	}
	s.solveC = mat.NewDense(n, extra, nil)
	for i := range n {
		s.x[i] = sol.At(i, extra)
		for k := range extra {
			s.solveC.Set(i, k, sol.At(i, k))
			s.x[i] -= sol.At(i, k) * s.y[k]
		}
	}
	return true
}

// at returns the position at t.
func (s *spline) at(t float64) vec {
	first, w := s.basis(t)
	var p vec
	for i := range 4 {
		for dim := range 3 {
			p[dim] += w[i] * s.x[3*(first+i)+dim]
		}
	}
	return p
}

// speed returns the velocity at t.
func (s *spline) speed(t float64) vec {
	h := 0.01 * s.dt
	return s.at(t + h).sub(s.at(t - h)).times(1 / (2 * h))
}

// covariance returns the covariance of the position at t.
func (s *spline) covariance(t float64) [3][3]float64 {
	n := 3 * s.knots
	first, w := s.basis(t)
	rhs := mat.NewDense(n, 3, nil)
	for i := range 4 {
		for dim := range 3 {
			rhs.Set(3*(first+i)+dim, dim, w[i])
		}
	}
	var sol mat.Dense
	var cov [3][3]float64
	if s.chol.SolveTo(&sol, rhs) != nil {
		return cov
	}
	var border [3][extra]float64 // B^-1 C at t
	for i := range 4 {
		for dim := range 3 {
			for k := range extra {
				border[dim][k] += w[i] * s.solveC.At(3*(first+i)+dim, k)
			}
		}
	}
	for a := range 3 {
		for b := range 3 {
			for i := range 4 {
				cov[a][b] += w[i] * sol.At(3*(first+i)+a, b)
			}
			for k := range extra {
				for l := range extra {
					cov[a][b] += border[a][k] * s.schur.At(k, l) * border[b][l]
				}
			}
		}
	}
	return cov
}
