package trajectory

import "math"

// leg is a stretch of straight, steady motion.
type leg struct {
	first, last int     // samples
	courseRad   float64 // true or grid, as the track's coordinates are
	lengthS     float64
}

// WGS 84, EPSG:7030.
const (
	wgsA = 6378137.0
	wgsF = 1 / 298.257223563
)

// radii returns the radii of curvature of the meridian and of the prime
// vertical of WGS 84 in metres.
func radii(latRad float64) (meridian, vertical float64) {
	e2 := wgsF * (2 - wgsF)
	w2 := 1 - e2*math.Sin(latRad)*math.Sin(latRad)
	w := math.Sqrt(w2)
	return wgsA * (1 - e2) / (w2 * w), wgsA / w
}

// local returns easting and northing in metres from the first sample: exact
// enough for courses and speeds over a survey, not for coordinates.
func (t *Track) local() (e, n []float64) {
	if t.Len() == 0 {
		return nil, nil
	}
	if !t.Geodetic {
		return t.EM, t.NM
	}
	e, n = make([]float64, t.Len()), make([]float64, t.Len())
	lat0, lon0 := t.LatRad[0], t.LonRad[0]
	for i := range e {
		m, v := radii((t.LatRad[i] + lat0) / 2)
		n[i] = (t.LatRad[i] - lat0) * (m + t.HM[i])
		e[i] = WrapPi(t.LonRad[i]-lon0) * (v + t.HM[i]) * math.Cos(t.LatRad[i])
	}
	return e, n
}

// sample numbers of the search for legs.
const (
	legStepS    = 0.5
	legHalfS    = 1.0 // course over ±1 s: 1 cm of noise is 0.1 degree at 4 m/s
	legTurnRad  = 5 * math.Pi / 180
	legMinS     = 3.0
	legMinSpeed = 2.0
)

// legs finds straight legs from positions alone.
func legs(times, e, n []float64) []leg {
	type mark struct {
		i             int
		course, speed float64
		ok            bool
	}
	var marks []mark
	next := math.Inf(-1)
	lo, hi := 0, 0
	for i, t := range times {
		if t < next {
			continue
		}
		next = t + legStepS
		for lo < i && times[lo] < t-legHalfS {
			lo++
		}
		hi = max(hi, i)
		for hi+1 < len(times) && times[hi+1] <= t+legHalfS {
			hi++
		}
		m := mark{i: i}
		if dt := times[hi] - times[lo]; dt >= legHalfS/2 && dt <= 4*legHalfS {
			dx, dy := e[hi]-e[lo], n[hi]-n[lo]
			m.speed, m.course, m.ok = math.Hypot(dx, dy)/dt, math.Atan2(dx, dy), true
		}
		marks = append(marks, m)
	}
	top := make([]float64, 0, len(marks))
	for _, m := range marks {
		if m.ok && m.speed > legMinSpeed {
			top = append(top, m.speed)
		}
	}
	minSpeed := max(legMinSpeed, 0.4*median(top))
	var out []leg
	for a := 0; a < len(marks); {
		if !marks[a].ok || marks[a].speed < minSpeed {
			a++
			continue
		}
		b, sx, sy := a, 0.0, 0.0
		for b < len(marks) && marks[b].ok && marks[b].speed >= minSpeed && math.Abs(WrapPi(marks[b].course-marks[a].course)) < legTurnRad &&
			(b == a || times[marks[b].i]-times[marks[b-1].i] < 4*legStepS) {
			s, c := math.Sincos(marks[b].course)
			sx, sy = sx+s, sy+c
			b++
		}
		if d := times[marks[b-1].i] - times[marks[a].i]; d >= legMinS {
			out = append(out, leg{first: marks[a].i, last: marks[b-1].i, courseRad: math.Atan2(sx, sy), lengthS: d})
		}
		a = max(b, a+1)
	}
	return out
}

// offsetFit is the constant part of heading minus course over legs of several
// directions. Wind makes a crab angle that follows the sine of the course, so
//
//	r(course) = c + a sin(course) + b cos(course)
//
// is fitted with a and b held near zero by what winds do (5 degrees).
type offsetFit struct {
	cRad, sigmaRad, rmsRad float64 // constant, its standard deviation, rms of r itself
	legs                   int
	spreadRad              float64 // largest angle between two leg directions
}

const (
	crabSigmaRad = 5 * math.Pi / 180
	legSigmaRad  = 1.0 * math.Pi / 180
)

func fitOffset(ls []leg, heading func(i int) float64) offsetFit {
	f := offsetFit{legs: len(ls), sigmaRad: math.Inf(1), rmsRad: math.Inf(1)}
	if len(ls) == 0 {
		return f
	}
	var r []float64
	sum2 := 0.0
	for k, l := range ls {
		sx, sy := 0.0, 0.0
		for i := l.first; i <= l.last; i++ {
			s, c := math.Sincos(heading(i) - l.courseRad)
			sx, sy = sx+s, sy+c
		}
		v := math.Atan2(sx, sy)
		r = append(r, v)
		sum2 += v * v
		for _, o := range ls[:k] {
			f.spreadRad = max(f.spreadRad, math.Abs(WrapPi(l.courseRad-o.courseRad)))
		}
	}
	f.rmsRad = math.Sqrt(sum2 / float64(len(r)))
	// Residuals near ±180 degrees wrap: measure them from the first.
	ref := r[0]
	var nrm [3][3]float64
	var rhs [3]float64
	nrm[1][1], nrm[2][2] = 1/(crabSigmaRad*crabSigmaRad), 1/(crabSigmaRad*crabSigmaRad)
	for k, l := range ls {
		s, c := math.Sincos(l.courseRad)
		row := [3]float64{1, s, c}
		for i := range row {
			for j := range row {
				nrm[i][j] += row[i] * row[j] / (legSigmaRad * legSigmaRad)
			}
			rhs[i] += row[i] * WrapPi(r[k]-ref) / (legSigmaRad * legSigmaRad)
		}
	}
	inv := invert3(nrm)
	c := inv[0][0]*rhs[0] + inv[0][1]*rhs[1] + inv[0][2]*rhs[2]
	f.cRad, f.sigmaRad = WrapPi(c+ref), math.Sqrt(inv[0][0])
	return f
}

// invert3 inverts a symmetric positive definite matrix.
func invert3(m [3][3]float64) [3][3]float64 {
	c := func(i, j int) float64 {
		a, b := (i+1)%3, (i+2)%3
		d, e := (j+1)%3, (j+2)%3
		return m[a][d]*m[b][e] - m[a][e]*m[b][d]
	}
	det := m[0][0]*c(0, 0) + m[0][1]*c(0, 1) + m[0][2]*c(0, 2)
	var o [3][3]float64
	for i := range 3 {
		for j := range 3 {
			o[j][i] = c(i, j) / det
		}
	}
	return o
}
