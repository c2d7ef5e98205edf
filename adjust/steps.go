package adjust

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// Limits of the search for steps. Our proposals, no source.
const (
	stepBins   = 80    // places along a strip that are tried
	stepMargin = 4     // of them left out at either end, where a step is a shift of the strip
	mostSteps  = 4     // strips of one flight
	stepGain   = 40.0  // by which the squares must fall, in units of what noise that belongs together makes of one square
	stepM      = 0.012 // smallest height step
	stepFlatM  = 0.04  // smallest horizontal one
	usualStepM = 0.1   // standard deviation of jumps beforehand
)

// findSteps looks for strips whose place or height jumps at one moment: an ambiguity that was fixed anew, two strips that were
// taken for one. A smooth drift cannot follow that and would leave it to the kinds of the whole flight. It sets the steps of the layout, one in a strip at
// most; whether a step is a cause is judged with all others.
func (p *problem) findSteps(base []float64) {
	for range mostSteps {
		strip, at, ok := p.bestStep(p.richModel())
		if !ok {
			return
		}
		p.layout.steps[strip] = at
		p.reweigh(p.richModel(), base)
	}
}

// jump gathers what rows on one side of a place say about a jump of a strip: height, east and north.
type jump struct {
	m [3][3]float64
	q [3]float64 // with the residuals
	b []float64  // with the columns of the rich model, one run for each component
}

// bestStep returns the place in a strip where a jump takes most off the squares that the rich model leaves, when it takes enough.
func (p *problem) bestStep(rich model) (strip int, at float64, ok bool) {
	cols := rich.columns(p.layout)
	sol := p.total.solve(cols, p.prior)
	if !sol.ok {
		return 0, 0, false
	}
	place := make([]int, p.layout.size())
	for i := range place {
		place[i] = -1
	}
	for i, c := range cols {
		place[c] = i
	}
	bins := p.jumpBins(place, len(cols), sol.full(p.layout.size()))
	best, gain := -1, 0.0
	for s := range p.layout.strips {
		if bins[s] == nil || !math.IsNaN(p.layout.steps[s]) {
			continue
		}
		after := jump{b: make([]float64, 3*len(cols))}
		for k := stepBins - 1; k >= stepMargin; k-- {
			after.add(&bins[s][k])
			if k > stepBins-stepMargin {
				continue
			}
			if g, x := after.gain(sol); g > gain && (math.Abs(x[0]) > stepM || math.Hypot(x[1], x[2]) > stepFlatM) {
				best, at, gain = s, 2*float64(k)/stepBins-1, g
			}
		}
	}
	return best, at, best >= 0 && gain > stepGain*p.together(sol.full(p.layout.size()))
}

// together returns by how much residuals of a pair in a block of ground belong together: the square of their weighted sum over what it would be
// if they did not, on average; 1 or more.
func (p *problem) together(x []float64) float64 {
	type cluster struct{ pair, block int32 }
	sums := map[cluster]float64{}
	var s sparse
	weights := 0.0
	every := (len(p.rows) + most - 1) / most
	for i := 0; i < len(p.rows); i += every {
		r := &p.rows[i]
		if r.weight <= 0 {
			continue
		}
		s.fill(r, p.layout)
		sums[cluster{r.pair, r.block}] += r.weight * (r.y - s.predict(x))
		weights += r.weight
	}
	squares := make([]float64, 0, len(sums))
	for _, v := range sums {
		squares = append(squares, v*v)
	}
	slices.Sort(squares) // the order of a map is not that of numbers
	sum := 0.0
	for _, v := range squares {
		sum += v
	}
	return math.Max(1, float64(every)*sum/weights)
}

func (j *jump) add(o *jump) {
	for i := range 3 {
		for k := range 3 {
			j.m[i][k] += o.m[i][k]
		}
		j.q[i] += o.q[i]
	}
	for i, v := range o.b {
		j.b[i] += v
	}
}

// jumpBins sums the rows of each strip by their place along it; x is the rich model's solution.
func (p *problem) jumpBins(place []int, columns int, x []float64) [][]jump {
	out := make([][]jump, p.layout.strips)
	every := (len(p.rows) + most - 1) / most
	var s sparse
	for i := 0; i < len(p.rows); i += every {
		r := &p.rows[i]
		if r.weight <= 0 {
			continue
		}
		s.fill(r, p.layout)
		res := r.y - s.predict(x)
		for _, end := range [2]struct {
			strip int32
			time  float64
			sign  float64
		}{{r.a, r.timeA, -1}, {r.b, r.timeB, 1}} {
			if out[end.strip] == nil {
				out[end.strip] = make([]jump, stepBins)
				for k := range out[end.strip] {
					out[end.strip][k].b = make([]float64, 3*columns)
				}
			}
			j := &out[end.strip][min(stepBins-1, int((end.time+1)/2*stepBins))]
			c := [3]float64{end.sign, -end.sign * r.gE, -end.sign * r.gN}
			w := r.weight * float64(every)
			for a := range 3 {
				j.q[a] += w * c[a] * res
				for b := range 3 {
					j.m[a][b] += w * c[a] * c[b]
				}
				for k := range s.n {
					if at := place[s.at[k]]; at >= 0 {
						j.b[a*columns+at] += w * c[a] * s.val[k]
					}
				}
			}
		}
	}
	return out
}

// gain returns by how much the squares fall when the jump is fitted beside the rich model, and the jump.
func (j *jump) gain(sol *solution) (gain float64, x [3]float64) {
	n := len(sol.cols)
	b := mat.NewDense(n, 3, nil)
	for a := range 3 {
		for k := range n {
			b.Set(k, a, j.b[a*n+k])
		}
	}
	var g, taken mat.Dense
	if sol.chol.SolveTo(&g, b) != nil {
		return 0, x
	}
	taken.Mul(b.T(), &g)
	m, q := mat.NewSymDense(3, nil), mat.NewVecDense(3, nil)
	for a := range 3 {
		for k := a; k < 3; k++ {
			m.SetSym(a, k, j.m[a][k]-(taken.At(a, k)+taken.At(k, a))/2)
		}
		m.SetSym(a, a, m.At(a, a)+1/(usualStepM*usualStepM))
		q.SetVec(a, j.q[a])
	}
	var chol mat.Cholesky
	var v mat.VecDense
	if !chol.Factorize(m) || chol.SolveVecTo(&v, q) != nil {
		return 0, x
	}
	copy(x[:], v.RawVector().Data)
	return mat.Dot(&v, q), x
}
