package adjust

import "math"

// sight is how one strip saw one place: the vector from the scanner to the ground in body axes,
// the rotation of the body into the map, and the motion at that time.
type sight struct {
	body     Vec // forward, right, down
	toMap    Mat
	velocity Vec // map axes, metres per second
	rates    Vec // body rates about forward, right, down, radians per second
}

// displacement returns by how much a unit of a global parameter moves the point, in map axes.
// A rotation d moves it by d x v, a longer range along the beam, a larger angle across the beam.
//
// Source: georeferencing reference, section 2 and the Jacobian blocks of section 6.
func (s *sight) displacement(k Kind) Vec {
	v := s.body
	switch k {
	case BoresightRoll:
		return s.toMap.Mul(Vec{0, -v[2], v[1]})
	case BoresightPitch:
		return s.toMap.Mul(Vec{v[2], 0, -v[0]})
	case BoresightHeading:
		return s.toMap.Mul(Vec{-v[1], v[0], 0})
	case ScanAngleScale:
		a := math.Atan2(v[1], v[2])
		return s.toMap.Mul(Vec{0, a * v[2], -a * v[1]})
	case RangeOffset:
		return s.toMap.Mul(v.Times(1 / v.Norm()))
	case LeverX:
		return s.toMap.Mul(Vec{1, 0, 0})
	case LeverY:
		return s.toMap.Mul(Vec{0, 1, 0})
	case LeverZ:
		return s.toMap.Mul(Vec{0, 0, 1})
	case TimeOffset:
		return s.velocity.Add(s.toMap.Mul(s.rates.Cross(v)))
	}
	return Vec{}
}

// apparent returns the height change that a displacement shows on a surface with the given gradient.
//
// Source: georeferencing reference, equation (2).
func apparent(d Vec, slopeE, slopeN float64) float64 {
	return d[2] - slopeE*d[0] - slopeN*d[1]
}
