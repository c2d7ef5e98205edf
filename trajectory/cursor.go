package trajectory

import "math"

// Cursor reads a path at many times. It remembers the segment of the last
// call, so that times in order cost no search and no trigonometry at the
// segment's ends. One goroutine each.
type Cursor struct {
	p      *Path
	i      int // segment i..i+1, -1 = none yet
	alone  bool
	t0, h  float64
	e      [3][4]float64 // cubic coefficients in u = (t-t0)/h for E, N, H
	q0, q1 quat
	rate   [3]float64 // body rates over the segment
}

// NewCursor returns a cursor over p. The path must not change while it is used.
func (p *Path) NewCursor() *Cursor { return &Cursor{p: p, i: -1} }

// At is Path.At.
func (c *Cursor) At(tS float64) (Pose, bool) {
	p := c.p
	if c.i < 0 || c.alone || tS < c.t0 || tS > c.t0+c.h {
		// The next segment is the usual case.
		next := c.i + 1
		if !c.alone && c.i >= 0 && next+1 < len(p.TimeS) && tS > p.TimeS[next] && tS <= p.TimeS[next+1] && p.TimeS[next+1]-p.TimeS[next] <= p.Gap() {
			c.load(next)
		} else {
			i, ok := p.segment(tS)
			if !ok {
				return Pose{}, false
			}
			c.load(i)
		}
	}
	return c.pose(tS), true
}

// load prepares segment i.
func (c *Cursor) load(i int) {
	p := c.p
	c.i, c.t0 = i, p.TimeS[i]
	c.alone = i+1 >= len(p.TimeS) || p.TimeS[i+1]-p.TimeS[i] > p.Gap()
	if c.alone {
		c.h = 0
		c.e = [3][4]float64{{p.EM[i]}, {p.NM[i]}, {p.HM[i]}}
	} else {
		c.h = p.TimeS[i+1] - c.t0
		for k, v := range [3][]float64{p.EM, p.NM, p.HM} {
			c.e[k] = p.cubic(v, i, c.h)
		}
	}
	c.rate = [3]float64{}
	if !p.HasAttitude() {
		return
	}
	c.q0 = quatFromEuler(p.RollRad[i], p.PitchRad[i], p.HeadingRad[i])
	c.q1 = c.q0
	if !c.alone {
		c.q1 = quatFromEuler(p.RollRad[i+1], p.PitchRad[i+1], p.HeadingRad[i+1])
		if c.q0.dot(c.q1) < 0 {
			c.q1 = c.q1.neg()
		}
		c.rate = c.q0.conj().mul(c.q1).rotationVector()
		for k := range c.rate {
			c.rate[k] /= c.h
		}
	}
}

// cubic returns the coefficients of the Hermite cubic on segment i whose end
// slopes are those of the parabolas through three neighbouring samples
// (one-sided at the ends and beside gaps). Exact for quadratic motion.
func (p *Path) cubic(v []float64, i int, h float64) [4]float64 {
	d := (v[i+1] - v[i]) / h
	m0, m1 := d, d
	left, right := i > 0 && p.TimeS[i]-p.TimeS[i-1] <= p.Gap(), i+2 < len(v) && p.TimeS[i+2]-p.TimeS[i+1] <= p.Gap()
	var dl, hl, dr, hr float64
	if left {
		hl = p.TimeS[i] - p.TimeS[i-1]
		dl = (v[i] - v[i-1]) / hl
		m0 = (hl*d + h*dl) / (hl + h)
	}
	if right {
		hr = p.TimeS[i+2] - p.TimeS[i+1]
		dr = (v[i+2] - v[i+1]) / hr
		m1 = (hr*d + h*dr) / (hr + h)
	}
	switch { // beside an end the parabola of the other three samples
	case left && !right:
		m1 = 2*d - m0
	case right && !left:
		m0 = 2*d - m1
	}
	dv := v[i+1] - v[i]
	return [4]float64{v[i], m0 * h, 3*dv - (2*m0+m1)*h, (m0+m1)*h - 2*dv}
}

func (c *Cursor) pose(tS float64) Pose {
	u := 0.0
	if c.h > 0 {
		u = (tS - c.t0) / c.h
	}
	var x, v [3]float64
	for k, e := range c.e {
		x[k] = e[0] + u*(e[1]+u*(e[2]+u*e[3]))
		if c.h > 0 {
			v[k] = (e[1] + u*(2*e[2]+u*3*e[3])) / c.h
		}
	}
	o := Pose{TimeS: tS, EM: x[0], NM: x[1], HM: x[2], SpeedMPS: math.Hypot(v[0], v[1]), ClimbMPS: v[2]}
	o.CourseRad = Wrap2Pi(math.Atan2(v[0], v[1]))
	if !c.p.HasAttitude() {
		o.HeadingRad = o.CourseRad
		return o
	}
	o.HasAttitude = true
	q := c.q0
	if c.h > 0 {
		q = slerp(c.q0, c.q1, u)
	}
	o.RollRad, o.PitchRad, o.HeadingRad = q.euler()
	o.RollRateRadPS, o.PitchRateRadPS, o.YawRateRadPS = c.rate[0], c.rate[1], c.rate[2]
	return o
}
