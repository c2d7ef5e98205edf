package simulate

import "math"

// Mat is a 3 by 3 rotation matrix, row by row.
type Mat [9]float64

// Vec is a vector of three components.
type Vec [3]float64

// Rotation returns Rz(heading) Ry(pitch) Rx(roll): applied to a vector, roll
// turns first, then pitch, then heading. As the attitude matrix it takes body
// axes (forward, right, down) to North, East, Down.
func Rotation(rollRad, pitchRad, headingRad float64) Mat {
	sr, cr := math.Sincos(rollRad)
	sp, cp := math.Sincos(pitchRad)
	sh, ch := math.Sincos(headingRad)
	return Mat{
		ch * cp, ch*sp*sr - sh*cr, ch*sp*cr + sh*sr,
		sh * cp, sh*sp*sr + ch*cr, sh*sp*cr - ch*sr,
		-sp, cp * sr, cp * cr,
	}
}

// Apply returns m v.
func (m *Mat) Apply(v Vec) Vec {
	return Vec{
		m[0]*v[0] + m[1]*v[1] + m[2]*v[2],
		m[3]*v[0] + m[4]*v[1] + m[5]*v[2],
		m[6]*v[0] + m[7]*v[1] + m[8]*v[2],
	}
}

// ApplyT returns the transpose of m applied to v.
func (m *Mat) ApplyT(v Vec) Vec {
	return Vec{
		m[0]*v[0] + m[3]*v[1] + m[6]*v[2],
		m[1]*v[0] + m[4]*v[1] + m[7]*v[2],
		m[2]*v[0] + m[5]*v[1] + m[8]*v[2],
	}
}

// Pose is the position and attitude of the trajectory reference point.
type Pose struct {
	TimeS      float64 // GPS seconds of week
	EM, NM, HM float64 // map grid and height above the geoid, m
	RollRad    float64 // right wing down positive
	PitchRad   float64 // nose up positive
	HeadingRad float64 // from grid north, clockwise
}

// Mount is the geometry between the trajectory reference point and the beam.
type Mount struct {
	LeverM                        Vec // from the reference point to the scanner, body axes, m
	RollRad, PitchRad, HeadingRad float64
	MapScale                      float64 // grid length of one metre; 1 leaves equation (1) as it stands
}

// Georeference returns the map coordinates of the point at rangeM and angleRad
// (positive to the right) seen from p: X = P + M C [a + B s], m.
func (m Mount) Georeference(p Pose, rangeM, angleRad float64) (eM, nM, hM float64) {
	b := Rotation(m.RollRad, m.PitchRad, m.HeadingRad)
	s, c := math.Sincos(angleRad)
	v := b.Apply(Vec{0, rangeM * s, rangeM * c})
	for i := range v {
		v[i] += m.LeverM[i]
	}
	r := Rotation(p.RollRad, p.PitchRad, p.HeadingRad)
	ned := r.Apply(v)
	return p.EM + m.MapScale*ned[1], p.NM + m.MapScale*ned[0], p.HM - ned[2]
}

// Scanner returns the vector s in scanner axes (forward, right, down) that Georeference
// takes to the map point: the inverse of equation (1), m.
func (m Mount) Scanner(p Pose, eM, nM, hM float64) Vec {
	r := Rotation(p.RollRad, p.PitchRad, p.HeadingRad)
	w := r.ApplyT(Vec{(nM - p.NM) / m.MapScale, (eM - p.EM) / m.MapScale, p.HM - hM})
	for i := range w {
		w[i] -= m.LeverM[i]
	}
	b := Rotation(m.RollRad, m.PitchRad, m.HeadingRad)
	return b.ApplyT(w)
}
