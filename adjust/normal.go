package adjust

import (
	"gonum.org/v1/gonum/mat"
)

// normal is a set of normal equations of weighted least squares over all parameters: N = A'WA,
// u = A'Wy, and y'Wy with the number of rows. Sub-models are solved from the same sums.
type normal struct {
	size  int
	n     []float64 // size x size, upper triangle, by rows
	u     []float64
	slope []float64 // what was taken off the diagonal for the noise of gradients
	yy    float64
	w     float64 // sum of weights
	rows  int
}

func newNormal(size int) *normal {
	return &normal{size: size, n: make([]float64, size*size), u: make([]float64, size), slope: make([]float64, size)}
}

// add takes one row, whose places ascend. The noise of the gradient would make the coefficients larger than they are, and the
// estimates smaller: its expected square is taken off the normal matrix.
func (q *normal) add(s *sparse, y, w float64) {
	noise := w * s.slopeVar
	for i := range s.n {
		ai := int(s.at[i])
		wi, e, n := w*s.val[i], noise*s.east[i], noise*s.north[i]
		q.u[ai] += wi * y
		q.slope[ai] += e*s.east[i] + n*s.north[i]
		line := q.n[ai*q.size : (ai+1)*q.size]
		for j := i; j < s.n; j++ {
			line[s.at[j]] += wi*s.val[j] - e*s.east[j] - n*s.north[j]
		}
	}
	q.yy += w * y * y
	q.w += w
	q.rows++
}

// plus adds sign times o to q.
func (q *normal) plus(o *normal, sign float64) {
	for i, v := range o.n {
		q.n[i] += sign * v
	}
	for i, v := range o.u {
		q.u[i] += sign * v
	}
	for i, v := range o.slope {
		q.slope[i] += sign * v
	}
	q.yy += sign * o.yy
	q.w += sign * o.w
	q.rows += int(sign) * o.rows
}

func (q *normal) at(i, j int) float64 {
	if i > j {
		i, j = j, i
	}
	return q.n[i*q.size+j]
}

// solution is the least-squares estimate of some of the parameters.
type solution struct {
	cols []int
	x    []float64
	chol mat.Cholesky
	ok   bool
}

// solve estimates the parameters at the places cols, the others being zero. prior holds
// the prior standard deviation of every parameter: it bounds what the data do not determine,
// such as the common part of all strips' heights.
func (q *normal) solve(cols []int, prior []float64) *solution {
	s := &solution{cols: cols, x: make([]float64, len(cols))}
	if len(cols) == 0 {
		s.ok = true
		return s
	}
	n := mat.NewSymDense(len(cols), nil)
	b := mat.NewVecDense(len(cols), nil)
	for i, ci := range cols {
		for j := i; j < len(cols); j++ {
			n.SetSym(i, j, q.at(ci, cols[j]))
		}
		n.SetSym(i, i, n.At(i, i)+1/(prior[ci]*prior[ci]))
		b.SetVec(i, q.u[ci])
	}
	if !s.chol.Factorize(n) {
		return s
	}
	var x mat.VecDense
	if err := s.chol.SolveVecTo(&x, b); err != nil {
		return s
	}
	copy(s.x, x.RawVector().Data)
	s.ok = true
	return s
}

// full spreads the solution over the whole parameter vector.
func (s *solution) full(size int) []float64 {
	x := make([]float64, size)
	for i, c := range s.cols {
		x[c] = s.x[i]
	}
	return x
}

// inverse returns the inverse of the solved normal matrix.
func (s *solution) inverse() *mat.SymDense {
	inv := mat.NewSymDense(len(s.cols), nil)
	if len(s.cols) > 0 && s.ok {
		if err := s.chol.InverseTo(inv); err != nil {
			return mat.NewSymDense(len(s.cols), nil)
		}
	}
	return inv
}

// leaves returns the weighted sum of squared residuals that a whole parameter vector leaves in q.
func (q *normal) leaves(x []float64) float64 {
	sum := q.yy
	for i, xi := range x {
		if xi == 0 {
			continue
		}
		line := q.n[i*q.size : (i+1)*q.size]
		rest := 0.0
		for j := i + 1; j < len(x); j++ {
			rest += line[j] * x[j]
		}
		sum += xi * (line[i]*xi + 2*rest - 2*q.u[i])
	}
	return sum
}

// globals returns the equations of the global parameters as they stand, all strips' errors being zero.
func (q *normal) globals() *reduction {
	r := &reduction{ok: true}
	for i := range r.n {
		r.u[i] = q.u[i]
		for j := range r.n {
			r.n[i][j] = q.at(i, j)
		}
	}
	return r
}
