package trajectory

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// BeamCheck says whether the beams leave the path's sensor as a line scanner sends them: all in one
// upright plane across the heading.
type BeamCheck struct {
	Returns        int
	ThickM         float64 // rms of the beams' forward components about their median
	AfterM         float64 // the same when ShiftEM and ShiftNM are taken out
	ShiftEM        float64 // where the path lies beside the sensor of the cloud, grid metres; 0 where no direction of flight tells
	ShiftNM        float64
	Planar         bool    // the beams lie in one plane, whatever its direction
	TurnedRad      float64 // clockwise, from the path's heading to the normal of that plane, -π/2..π/2; 0 unless Planar
	OffCourseRad   float64 // median distance of heading and course; NaN without attitude
	Displaced      bool    // the path is that of the flight, but lies beside it
	HeadingRefuted bool    // the heading follows neither the course nor the beams
	Text           string
}

// Limits of CheckBeams, our proposals. A sensor wrong by metres costs millimetres in the causes
// (science reference, section 9); an explained thickness halves at least. Beams across the flight have a
// forward spread below a third of the spread across.
const (
	minShiftM      = 2.0
	minShiftHeight = 0.05 // of the height above ground
	flatBeams      = 1.0 / 3
	turnedRad      = 25 * math.Pi / 180
)

// CheckBeams compares a path, in the grid and time of the cloud, with the directions of the beams. A path
// of the flight that lies beside it (another datum) moves the plane forth in one direction of flight and
// back in the other; a heading that is another angle turns it. It returns false with fewer than 200 returns
// on the path. It finds nothing with scanners that send their beams all around.
//
// Source: science reference, section 11 (the beam plane); the use is our proposal.
func CheckBeams(p *Path, returns []Return) (BeamCheck, bool) {
	v := beamsOf(p, returns)
	if len(v) < 200 {
		return BeamCheck{}, false
	}
	b := BeamCheck{Returns: len(v), OffCourseRad: math.NaN()}
	var off, above []float64
	for _, x := range v {
		above = append(above, x.above)
		if x.offCourse >= 0 {
			off = append(off, x.offCourse)
		}
	}
	if len(off) > 0 {
		b.OffCourseRad = median(off)
	}
	b.ThickM = thickness(v, 0, 0)
	b.ShiftEM, b.ShiftNM = sideways(v)
	b.AfterM = thickness(v, b.ShiftEM, b.ShiftNM)
	d := math.Hypot(b.ShiftEM, b.ShiftNM)
	b.Displaced = b.AfterM < 0.5*b.ThickM && d > max(minShiftM, minShiftHeight*math.Abs(median(above)))
	if b.Displaced {
		b.Text = fmt.Sprintf("the beams place the sensor %+.1f m east and %+.1f m north of the path (thickness of the beam plane %.2f m, %.2f m with that)", -b.ShiftEM, -b.ShiftNM, b.ThickM, b.AfterM)
		return b, true
	}
	b.turn(v)
	b.HeadingRefuted = b.Planar && math.Abs(b.TurnedRad) > turnedRad && b.OffCourseRad > turnedRad
	b.Text = fmt.Sprintf("the beam plane is %.2f m thick", b.ThickM)
	if b.Planar {
		b.Text += fmt.Sprintf(" and stands %+.0f° off square to the heading", b.TurnedRad*toDeg)
	}
	if !math.IsNaN(b.OffCourseRad) {
		b.Text += fmt.Sprintf("; heading and course differ by %.0f° (median)", b.OffCourseRad*toDeg)
	}
	return b, true
}

// beam is the vector from the sensor to a return in body axes, and what belongs to it.
type beam struct {
	forward, right float64
	east, north    float64 // horizontal part of the body's forward axis
	above          float64
	offCourse      float64 // -1: not known
}

func beamsOf(p *Path, returns []Return) []beam {
	c := p.NewCursor()
	var v []beam
	for _, r := range returns {
		o, ok := c.At(r.TimeS)
		if !ok {
			continue
		}
		m := o.BodyToMap()
		d := [3]float64{r.EM - o.EM, r.NM - o.NM, r.HM - o.HM}
		b := beam{east: m[0][0], north: m[1][0], above: -d[2], offCourse: -1}
		for k := range 3 {
			b.forward += m[k][0] * d[k]
			b.right += m[k][1] * d[k]
		}
		if o.HasAttitude && o.SpeedMPS > 1 {
			b.offCourse = math.Abs(WrapPi(o.HeadingRad - o.CourseRad))
		}
		v = append(v, b)
	}
	return v
}

// rest returns the forward components with a displacement of the path taken out.
func rest(v []beam, e, n float64) []float64 {
	w := make([]float64, len(v))
	for i, b := range v {
		w[i] = b.forward + b.east*e + b.north*n
	}
	return w
}

// thickness is the rms of the 95 % of forward components nearest to their median.
func thickness(v []beam, e, n float64) float64 { return math.Sqrt(spread(rest(v, e, n))) }

// sideways fits forward = c - east·e - north·n, with weights that let strays go. A direction in which
// the aircraft never flew differently is left at zero: a constant forward part is no displacement.
func sideways(v []beam) (e, n float64) {
	w := make([]float64, len(v))
	for i := range w {
		w[i] = 1
	}
	for range 8 {
		var sum, mx, my, mz float64
		for i, b := range v {
			sum, mx, my, mz = sum+w[i], mx+w[i]*b.east, my+w[i]*b.north, mz+w[i]*b.forward
		}
		mx, my, mz = mx/sum, my/sum, mz/sum
		a := mat.NewSymDense(2, nil)
		var gx, gy float64
		for i, b := range v {
			x, y, z := b.east-mx, b.north-my, b.forward-mz
			a.SetSym(0, 0, a.At(0, 0)+w[i]*x*x/sum)
			a.SetSym(0, 1, a.At(0, 1)+w[i]*x*y/sum)
			a.SetSym(1, 1, a.At(1, 1)+w[i]*y*y/sum)
			gx, gy = gx-w[i]*x*z/sum, gy-w[i]*y*z/sum
		}
		var eig mat.EigenSym
		if !eig.Factorize(a, true) {
			return 0, 0
		}
		var q mat.Dense
		eig.VectorsTo(&q)
		e, n = 0, 0
		for k, l := range eig.Values(nil) {
			if l < 0.05 { // of at most 1: directions of flight within some 25 degrees
				continue
			}
			s := (q.At(0, k)*gx + q.At(1, k)*gy) / l
			e, n = e+s*q.At(0, k), n+s*q.At(1, k)
		}
		r := rest(v, e, n)
		m := median(r)
		scale := max(nmad(r, m), 1e-3)
		for i := range r {
			if u := math.Abs(r[i]-m) / (2 * scale); u > 1 {
				w[i] = 1 / u
			} else {
				w[i] = 1
			}
		}
	}
	return e, n
}

// turn finds the direction in which the beams spread least in the horizontal plane of the body.
func (b *BeamCheck) turn(v []beam) {
	f, r := make([]float64, len(v)), make([]float64, len(v))
	for i := range v {
		f[i], r[i] = v[i].forward, v[i].right
	}
	mf, mr := median(f), median(r)
	var ff, fr, rr float64
	for i := range v {
		x, y := f[i]-mf, r[i]-mr
		ff, fr, rr = ff+x*x, fr+x*y, rr+y*y
	}
	// Axes of the covariance: the angle of the major one from right, which is that of the minor one from forward.
	major := 0.5 * math.Atan2(-2*fr, rr-ff)
	mean, half := (ff+rr)/2, math.Hypot((ff-rr)/2, fr)
	if b.Planar = math.Sqrt(max(mean-half, 0)) < flatBeams*math.Sqrt(mean+half); b.Planar {
		b.TurnedRad = major
	}
}
