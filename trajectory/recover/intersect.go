package recover

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// Line is a ray: a point on it, metres, and a unit vector toward the scanner.
type Line struct {
	TimeS     float64
	At, Unit  [3]float64
	WeightInv float64 // variance of the direction, radians squared; 0 = 1
}

func rayLines(p []pulse) []Line {
	var out []Line
	for i := range p {
		d := p[i].first.sub(p[i].last)
		n := d.norm()
		if n > 0 {
			out = append(out, Line{p[i].timeS, p[i].last, d.times(1 / n), 1 / (n * n)})
		}
	}
	return out
}

// Intersect returns the point moving at constant velocity that lies nearest to the
// rays: position at timeS and velocity, and the standard deviation of the residuals
// per unit weight. It minimises
//
//	sum w | (I - u u') (c + v (t - timeS) - p) |²
//
// with weights 1/WeightInv. With rays of one instant the velocity is zero. ok is
// false when the rays do not determine a point (fewer than two, or parallel).
func Intersect(rays []Line, timeS float64) (place, velocity [3]float64, unitSigma float64, ok bool) {
	moving := false
	for _, r := range rays {
		moving = moving || r.TimeS != timeS
	}
	n := 3
	if moving {
		n = 6
	}
	if len(rays) < 2 {
		return place, velocity, 0, false
	}
	origin := vec(rays[0].At)
	normal := mat.NewSymDense(n, nil)
	rhs := mat.NewVecDense(n, nil)
	eachRow(rays, timeS, func(r *Line, w, dt float64, i int, q [3]float64) {
		local := vec(r.At).sub(origin)
		for j := range 3 {
			for a, fa := range [2]float64{1, dt} {
				if a == 1 && !moving {
					continue
				}
				rhs.SetVec(3*a+i, rhs.AtVec(3*a+i)+w*fa*q[j]*local[j])
				for b, fb := range [2]float64{1, dt} {
					if b == 1 && !moving || 3*b+j < 3*a+i {
						continue
					}
					normal.SetSym(3*a+i, 3*b+j, normal.At(3*a+i, 3*b+j)+w*fa*fb*q[j])
				}
			}
		}
	})
	var chol mat.Cholesky
	if !chol.Factorize(normal) || chol.Cond() > 1e12 {
		return place, velocity, 0, false
	}
	var x mat.VecDense
	if chol.SolveVecTo(&x, rhs) != nil {
		return place, velocity, 0, false
	}
	for i := range 3 {
		place[i] = x.AtVec(i) + origin[i]
		if moving {
			velocity[i] = x.AtVec(3 + i)
		}
	}
	var sum float64
	for k := range rays {
		r := &rays[k]
		w := 1.0
		if r.WeightInv > 0 {
			w = 1 / r.WeightInv
		}
		d := vec(place).add(vec(velocity).times(r.TimeS - timeS)).sub(r.At)
		d = d.sub(vec(r.Unit).times(d.dot(r.Unit)))
		sum += w * d.dot(d)
	}
	if free := 2*len(rays) - n; free > 0 {
		unitSigma = math.Sqrt(sum / float64(free))
	}
	return place, velocity, unitSigma, true
}

// eachRow calls do for each ray and each row of its projector I - u u'.
func eachRow(rays []Line, timeS float64, do func(r *Line, w, dt float64, i int, q [3]float64)) {
	for k := range rays {
		r := &rays[k]
		w := 1.0
		if r.WeightInv > 0 {
			w = 1 / r.WeightInv
		}
		for i := range 3 {
			var q [3]float64
			for j := range 3 {
				q[j] = -r.Unit[i] * r.Unit[j]
			}
			q[i]++
			do(r, w, r.TimeS-timeS, i, q)
		}
	}
}
