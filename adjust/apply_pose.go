package adjust

import (
	"math"

	"sidelap/trajectory"
)

// poseReader reads poses of a path as matrices. The position comes from the path's cursor at the ends of short steps and the cubic
// between them; it is here so that a point costs no trigonometry: between two samples of the path the rotation is
// R0 Exp(u phi), which is the shortest rotation between the samples (slerp).
type poseReader struct {
	p      *trajectory.Path
	i      int // segment, -1: none
	t0, t1 float64
	ok     bool

	pos  [3][4]float64 // Hermite cubic in u
	r0   Mat
	phi  Vec // rotation over the segment, body axes
	tilt bool
}

func newPoseReader(p *trajectory.Path) *poseReader { return &poseReader{p: p, i: -1, t0: 1, t1: 0} }

// at returns position and body to map rotation; false outside the path and in its gaps.
func (r *poseReader) at(tS float64, pos *Vec, m *Mat) bool {
	if !(tS >= r.t0 && tS < r.t1) && !r.load(tS) {
		return false
	}
	if !r.ok {
		return false
	}
	u := (tS - r.t0) / (r.t1 - r.t0)
	for k := range pos {
		e := &r.pos[k]
		pos[k] = e[0] + u*(e[1]+u*(e[2]+u*e[3]))
	}
	*m = r.r0
	if r.tilt {
		x := expRotation(r.phi.Times(u))
		*m = r.r0.times(&x)
	}
	return true
}

// load prepares the segment of the path around a time from the path's own reading at its ends and inside.
func (r *poseReader) load(tS float64) bool {
	t := r.p.TimeS
	n := len(t)
	r.t0, r.t1, r.ok = 1, 0, false
	if n < 2 || !(tS >= t[0] && tS <= t[n-1]) {
		return false
	}
	i := r.i + 1
	if !(r.i >= 0 && i+1 < n && tS >= t[i] && tS < t[i+1]) { // the next segment is the usual case
		i = searchTime(t, tS)
	}
	i = min(i, n-2)
	if t[i+1]-t[i] > r.p.Gap() {
		return false
	}
	r.i = i
	c := r.p.NewCursor()
	h := t[i+1] - t[i]
	a, okA := c.At(t[i] + h/4) // inside, so that both are of this segment
	b, okB := c.At(t[i] + 3*h/4)
	if !okA || !okB {
		return false
	}
	r.t0, r.t1, r.ok = t[i], t[i+1], true
	if i == n-2 {
		r.t1 = math.Nextafter(t[n-1], math.Inf(1)) // the last sample belongs to the last segment
	}
	r.cubic(i, h, &a, &b)
	r.tilt = r.p.HasAttitude()
	if r.tilt {
		r.r0 = BodyToMap(r.p.RollRad[i], r.p.PitchRad[i], r.p.HeadingRad[i])
		r1 := BodyToMap(r.p.RollRad[i+1], r.p.PitchRad[i+1], r.p.HeadingRad[i+1])
		d := r.r0.transposeTimes(&r1)
		r.phi = logRotation(&d)
		return true
	}
	mid, _ := c.At(t[i] + h/2)
	r.r0 = BodyToMap(0, 0, mid.HeadingRad)
	return true
}

// cubic finds the path's own cubic from its ends and two places inside: four values determine it.
func (r *poseReader) cubic(i int, h float64, a, b *trajectory.Pose) {
	for k, v := range [3][]float64{r.p.EM, r.p.NM, r.p.HM} {
		y0, y1 := v[i], v[i+1]
		ya, yb := [3]float64{a.EM, a.NM, a.HM}[k], [3]float64{b.EM, b.NM, b.HM}[k]
		// with u = 1/4, 3/4 and the chord taken off: y = y0 + d u + u (1-u) (p + q u)
		d := y1 - y0
		pa := (ya - y0 - d/4) / (3.0 / 16) // p + q/4
		pb := (yb - y0 - 3*d/4) / (3.0 / 16)
		q := 2 * (pb - pa)
		p := pa - q/4
		r.pos[k] = [4]float64{y0, d + p, q - p, -q}
	}
}

// searchTime returns the last index whose time is not after tS.
func searchTime(t []float64, tS float64) int {
	lo, hi := 0, len(t)
	for lo < hi {
		mid := int(uint(lo+hi) >> 1)
		if t[mid] > tS {
			hi = mid
		} else {
			lo = mid + 1
		}
	}
	return lo - 1
}

func (m *Mat) times(o *Mat) Mat {
	var out Mat
	for i := range 3 {
		for j := range 3 {
			out[i][j] = m[i][0]*o[0][j] + m[i][1]*o[1][j] + m[i][2]*o[2][j]
		}
	}
	return out
}

func (m *Mat) transposeTimes(o *Mat) Mat {
	var out Mat
	for i := range 3 {
		for j := range 3 {
			out[i][j] = m[0][i]*o[0][j] + m[1][i]*o[1][j] + m[2][i]*o[2][j]
		}
	}
	return out
}

// expRotation is the rotation by the vector phi: I + a [phi]x + b [phi]x^2 with a = sin|phi|/|phi|, b = (1 - cos|phi|)/|phi|^2.
func expRotation(phi Vec) Mat {
	q := phi[0]*phi[0] + phi[1]*phi[1] + phi[2]*phi[2]
	var a, b float64
	if q < 0.01 { // series to the sixth order: wrong by less than 1e-13
		a = 1 - q/6*(1-q/20*(1-q/42))
		b = 0.5 - q/24*(1-q/30*(1-q/56))
	} else {
		s, c := math.Sincos(math.Sqrt(q))
		a, b = s/math.Sqrt(q), (1-c)/q
	}
	x, y, z := phi[0], phi[1], phi[2]
	return Mat{
		{1 - b*(y*y+z*z), b*x*y - a*z, b*x*z + a*y},
		{b*x*y + a*z, 1 - b*(x*x+z*z), b*y*z - a*x},
		{b*x*z - a*y, b*y*z + a*x, 1 - b*(x*x+y*y)},
	}
}

// logRotation is the inverse of expRotation for angles below half a turn.
func logRotation(m *Mat) Vec {
	v := Vec{(m[2][1] - m[1][2]) / 2, (m[0][2] - m[2][0]) / 2, (m[1][0] - m[0][1]) / 2}
	s := v.Norm()
	angle := math.Atan2(s, (m[0][0]+m[1][1]+m[2][2]-1)/2)
	if s < 1e-12 {
		return v
	}
	return v.Times(angle / s)
}
