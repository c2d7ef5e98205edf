package trajectory

import "math"

// WrapPi brings an angle into [-π, π).
func WrapPi(a float64) float64 {
	a = math.Mod(a+math.Pi, 2*math.Pi)
	if a < 0 {
		a += 2 * math.Pi
	}
	return a - math.Pi
}

// Wrap2Pi brings an angle into [0, 2π).
func Wrap2Pi(a float64) float64 {
	a = math.Mod(a, 2*math.Pi)
	if a < 0 {
		a += 2 * math.Pi
	}
	if a >= 2*math.Pi { // -1e-17 + 2π rounds to 2π
		a = 0
	}
	return a
}

// BodyToNED returns Rz(heading) Ry(pitch) Rx(roll), row by row: it turns a
// vector in forward, right, down into north, east, down.
//
// Source: the equation of direct georeferencing in docs/trajectory.md.
func BodyToNED(rollRad, pitchRad, headingRad float64) [3][3]float64 {
	sr, cr := math.Sincos(rollRad)
	sp, cp := math.Sincos(pitchRad)
	sh, ch := math.Sincos(headingRad)
	return [3][3]float64{
		{ch * cp, ch*sp*sr - sh*cr, ch*sp*cr + sh*sr},
		{sh * cp, sh*sp*sr + ch*cr, sh*sp*cr - ch*sr},
		{-sp, cp * sr, cp * cr},
	}
}

// BodyToMap returns the rotation from forward, right, down to east, north, up.
func (o Pose) BodyToMap() [3][3]float64 {
	c := BodyToNED(o.RollRad, o.PitchRad, o.HeadingRad)
	r := [3][3]float64{c[1], c[0], c[2]}
	for k := range r[2] {
		r[2][k] = -r[2][k]
	}
	return r
}

// quat is a unit quaternion w, x, y, z.
type quat [4]float64

func quatFromEuler(roll, pitch, heading float64) quat {
	sr, cr := math.Sincos(roll / 2)
	sp, cp := math.Sincos(pitch / 2)
	sh, ch := math.Sincos(heading / 2)
	return quat{
		cr*cp*ch + sr*sp*sh,
		sr*cp*ch - cr*sp*sh,
		cr*sp*ch + sr*cp*sh,
		cr*cp*sh - sr*sp*ch,
	}
}

// euler returns roll and pitch in (-π, π], heading in [0, 2π).
func (q quat) euler() (roll, pitch, heading float64) {
	w, x, y, z := q[0], q[1], q[2], q[3]
	roll = math.Atan2(2*(w*x+y*z), 1-2*(x*x+y*y))
	pitch = math.Asin(max(-1, min(1, 2*(w*y-z*x))))
	heading = Wrap2Pi(math.Atan2(2*(w*z+x*y), 1-2*(y*y+z*z)))
	return roll, pitch, heading
}

func (q quat) dot(r quat) float64 { return q[0]*r[0] + q[1]*r[1] + q[2]*r[2] + q[3]*r[3] }
func (q quat) neg() quat          { return quat{-q[0], -q[1], -q[2], -q[3]} }
func (q quat) conj() quat         { return quat{q[0], -q[1], -q[2], -q[3]} }

func (q quat) mul(r quat) quat {
	return quat{
		q[0]*r[0] - q[1]*r[1] - q[2]*r[2] - q[3]*r[3],
		q[0]*r[1] + q[1]*r[0] + q[2]*r[3] - q[3]*r[2],
		q[0]*r[2] - q[1]*r[3] + q[2]*r[0] + q[3]*r[1],
		q[0]*r[3] + q[1]*r[2] - q[2]*r[1] + q[3]*r[0],
	}
}

// rotationVector returns axis times angle of a quaternion with w >= 0.
func (q quat) rotationVector() [3]float64 {
	s := math.Sqrt(q[1]*q[1] + q[2]*q[2] + q[3]*q[3])
	f := 2.0 // angle/s as s -> 0
	if s > 1e-12 {
		f = 2 * math.Atan2(s, q[0]) / s
	}
	return [3]float64{q[1] * f, q[2] * f, q[3] * f}
}

// slerp turns from a to b, which lie in one hemisphere, by the share u.
func slerp(a, b quat, u float64) quat {
	d := min(1, a.dot(b))
	w0, w1 := 1-u, u
	if th := math.Acos(d); th > 1e-6 {
		s := math.Sin(th)
		w0, w1 = math.Sin((1-u)*th)/s, math.Sin(u*th)/s
	}
	var q quat
	n := 0.0
	for k := range q {
		q[k] = w0*a[k] + w1*b[k]
		n += q[k] * q[k]
	}
	n = math.Sqrt(n)
	for k := range q {
		q[k] /= n
	}
	return q
}
