package adjust

import (
	"math"
	"slices"
)

// layout gives each parameter its place in the full vector: first one value for each
// global kind, then for each strip its height, horizontal shift, drift and roll drift.
type layout struct {
	strips int
	steps  []float64 // where a strip jumps, from -1 at its start to 1 at its end; NaN for a strip that does not
}

func newLayout(strips int) layout {
	l := layout{strips, make([]float64, strips)}
	for i := range l.steps {
		l.steps[i] = math.NaN()
	}
	return l
}

// driftColumns is the number of values of a height drift within a strip: Legendre polynomials of order 1 to 5.
const driftColumns = 5

// A strip has a height; shifts east and north, each with its jump; a drift with its jump; and roll with its drift.
const (
	atShift      = 1
	atDrift      = atShift + 4
	atRoll       = atDrift + driftColumns + 1
	stripColumns = atRoll + 2
)

// size is the number of parameters.
func (l layout) size() int { return int(globalKinds) + stripColumns*l.strips }

// first is the place of the first column of a per-strip kind for a strip.
func (l layout) first(k Kind, strip int) int {
	at := int(globalKinds) + stripColumns*strip
	for kind := StripHeight; kind < k; kind++ {
		at += kind.columns()
	}
	return at
}

// has reports whether a column of a strip is in use.
func (l layout) has(strip, col int) bool {
	return !math.IsNaN(l.steps[strip]) || !slices.Contains([]int{atDrift + driftColumns, atShift + 2, atShift + 3}, col-int(globalKinds)-stripColumns*strip)
}

// columnsOf lists the places of a kind's parameters.
func (l layout) columnsOf(k Kind) []int {
	if k < globalKinds {
		return []int{int(k)}
	}
	var cols []int
	for s := range l.strips {
		at := l.first(k, s)
		for c := range k.columns() {
			if l.has(s, at+c) {
				cols = append(cols, at+c)
			}
		}
	}
	return cols
}

// kindOf returns the kind and the strip of a place; the strip is -1 for global kinds.
func (l layout) kindOf(col int) (Kind, int) {
	if col < int(globalKinds) {
		return Kind(col), -1
	}
	strip, rest := (col-int(globalKinds))/stripColumns, (col-int(globalKinds))%stripColumns
	for k := StripHeight; k <= AttitudeDrift; k++ {
		if rest < k.columns() {
			return k, strip
		}
		rest -= k.columns()
	}
	return AttitudeDrift, strip
}

// row is one overlap cell as an equation: the separation y is the effect of the later
// strip b minus the effect of the earlier strip a, plus noise.
type row struct {
	y        float64 // separation, metres, later minus earlier
	weight   float64 // 1/m²
	gE, gN   float64 // gradient of the surface, as the planes show it
	slopeVar float64 // variance of gE and of gN from the planes' noise
	timeA    float64 // time within strip a, from -1 at its start to 1 at its end
	timeB    float64
	global   [globalKinds]move // by how much a unit of each global parameter moves b against a
	rollA    move              // by how much a radian of roll moves strip a
	rollB    move
	acrossA  float32 // metres right of the path, for figures
	acrossB  float32
	a, b     int32 // strips
	pair     int32
	block    int32 // block of ground: unit of hold-out and of the standard deviations
	cell     int32 // index within the pair's cells
}

// move is a displacement in map axes: east, north, up.
type move [3]float32

func moveOf(v Vec) move { return move{float32(v[0]), float32(v[1]), float32(v[2])} }

// sparse is a row as the places and values of its coefficients that are not zero. A coefficient
// is up - gE east - gN north; the horizontal parts are kept beside it, since the planes know the gradient
// only with noise.
type sparse struct {
	at          [int(globalKinds) + 2*stripColumns]int32
	val         [int(globalKinds) + 2*stripColumns]float64
	east, north [int(globalKinds) + 2*stripColumns]float64
	slopeVar    float64
	n           int
}

func (s *sparse) put(at int, sign float64, m move, gE, gN float64) {
	e, n, u := sign*float64(m[0]), sign*float64(m[1]), sign*float64(m[2])
	s.at[s.n], s.val[s.n], s.east[s.n], s.north[s.n] = int32(at), u-gE*e-gN*n, e, n
	s.n++
}

// fill sets s to the coefficients of r.
func (s *sparse) fill(r *row, l layout) {
	s.fillAt(r, l, int(globalKinds)+stripColumns*int(r.a), int(globalKinds)+stripColumns*int(r.b))
}

// fillAt sets s to the coefficients of r, in ascending order of their places; the columns of its strips begin at atA and atB.
func (s *sparse) fillAt(r *row, l layout, atA, atB int) {
	s.n, s.slopeVar = 0, r.slopeVar
	for k := range r.global {
		if r.global[k] != (move{}) {
			s.put(k, 1, r.global[k], r.gE, r.gN)
		}
	}
	if atA < atB {
		s.putStrip(r, atA, -1, r.timeA, l.steps[r.a], r.rollA)
		s.putStrip(r, atB, 1, r.timeB, l.steps[r.b], r.rollB)
		return
	}
	s.putStrip(r, atB, 1, r.timeB, l.steps[r.b], r.rollB)
	s.putStrip(r, atA, -1, r.timeA, l.steps[r.a], r.rollA)
}

// putOne appends a coefficient with its horizontal parts.
func (s *sparse) putOne(at int, val, east, north float64) {
	s.at[s.n], s.val[s.n], s.east[s.n], s.north[s.n] = int32(at), val, east, north
	s.n++
}

func (s *sparse) putStrip(r *row, at int, sign, time, step float64, roll move) {
	jump := sign * stepAt(time, step)
	s.putOne(at, sign, 0, 0)
	s.putOne(at+atShift, -sign*r.gE, sign, 0)
	s.putOne(at+atShift+1, -sign*r.gN, 0, sign)
	if jump != 0 {
		s.putOne(at+atShift+2, -jump*r.gE, jump, 0)
		s.putOne(at+atShift+3, -jump*r.gN, 0, jump)
	}
	before, p := 1.0, time
	for n := range driftColumns {
		s.putOne(at+atDrift+n, sign*p, 0, 0)
		before, p = p, legendreNext(n+1, time, before, p)
	}
	if jump != 0 {
		s.putOne(at+atDrift+driftColumns, jump, 0, 0)
	}
	if roll != (move{}) {
		s.put(at+atRoll, sign, roll, r.gE, r.gN)
		s.put(at+atRoll+1, sign*time, roll, r.gE, r.gN)
	}
}

// stepAt is a jump by one at the place step of a strip, without its mean over the strip; 0 for a strip that does not jump.
func stepAt(time, step float64) float64 {
	switch {
	case math.IsNaN(step):
		return 0
	case time < step:
		return (step - 1) / 2
	}
	return (step + 1) / 2
}

// legendreNext returns the Legendre polynomial of order n+1 at t from those of order n-1 and n.
func legendreNext(n int, t, before, p float64) float64 {
	return (float64(2*n+1)*t*p - float64(n)*before) / float64(n+1)
}

// legendre sums the polynomials of order 1, 2, ... at t with the given factors.
func legendre(x []float64, t float64) float64 {
	before, p, sum := 1.0, t, 0.0
	for n, f := range x {
		sum += f * p
		before, p = p, legendreNext(n+1, t, before, p)
	}
	return sum
}

// predict returns the separation that parameters x cause in a row.
func (s *sparse) predict(x []float64) float64 {
	sum := 0.0
	for i := range s.n {
		sum += s.val[i] * x[s.at[i]]
	}
	return sum
}

// slopeNoise returns the square that the noise of the gradient adds to a prediction with parameters x.
func (s *sparse) slopeNoise(x []float64) float64 {
	e, n := 0.0, 0.0
	for i := range s.n {
		e += s.east[i] * x[s.at[i]]
		n += s.north[i] * x[s.at[i]]
	}
	return s.slopeVar * (e*e + n*n)
}

// tukey is the weight of a residual of u standard deviations.
func tukey(u float64) float64 {
	const c = 4.685
	if u = math.Abs(u) / c; u >= 1 {
		return 0
	}
	return (1 - u*u) * (1 - u*u)
}
