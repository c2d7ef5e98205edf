package adjust

import (
	"math"

	"sidelap/trajectory"
)

// Vec is a vector of three components. In body axes they are forward, right, down;
// in map axes east, north, up.
type Vec [3]float64

// Mat is a 3 x 3 matrix by rows.
type Mat [3][3]float64

// Mul returns m v.
func (m *Mat) Mul(v Vec) Vec {
	return Vec{
		m[0][0]*v[0] + m[0][1]*v[1] + m[0][2]*v[2],
		m[1][0]*v[0] + m[1][1]*v[1] + m[1][2]*v[2],
		m[2][0]*v[0] + m[2][1]*v[1] + m[2][2]*v[2],
	}
}

// MulT returns the transpose of m times v.
func (m *Mat) MulT(v Vec) Vec {
	return Vec{
		m[0][0]*v[0] + m[1][0]*v[1] + m[2][0]*v[2],
		m[0][1]*v[0] + m[1][1]*v[1] + m[2][1]*v[2],
		m[0][2]*v[0] + m[1][2]*v[1] + m[2][2]*v[2],
	}
}

// Add returns v + w.
func (v Vec) Add(w Vec) Vec { return Vec{v[0] + w[0], v[1] + w[1], v[2] + w[2]} }

// Sub returns v - w.
func (v Vec) Sub(w Vec) Vec { return Vec{v[0] - w[0], v[1] - w[1], v[2] - w[2]} }

// Times returns s v.
func (v Vec) Times(s float64) Vec { return Vec{s * v[0], s * v[1], s * v[2]} }

// Cross returns v x w.
func (v Vec) Cross(w Vec) Vec {
	return Vec{v[1]*w[2] - v[2]*w[1], v[2]*w[0] - v[0]*w[2], v[0]*w[1] - v[1]*w[0]}
}

// Norm returns the length of v.
func (v Vec) Norm() float64 { return math.Sqrt(v[0]*v[0] + v[1]*v[1] + v[2]*v[2]) }

// BodyToMap returns the rotation from body axes (forward, right, down) to map axes
// (east, north, up) for an attitude with grid heading.
//
// Source: georeferencing reference, section 1: M C_bn.
func BodyToMap(rollRad, pitchRad, gridHeadingRad float64) Mat {
	c := trajectory.BodyToNED(rollRad, pitchRad, gridHeadingRad)
	return Mat{c[1], c[0], {-c[2][0], -c[2][1], -c[2][2]}}
}

// Mounting is how the scanner sits in the body: a rotation from scanner to body axes,
// applied as Rz(heading) Ry(pitch) Rx(roll), and the vector from the path's reference
// point to the scanner centre in body axes.
type Mounting struct {
	RollRad, PitchRad, HeadingRad float64
	LeverM                        Vec
}

// Rotation returns the matrix from scanner to body axes.
func (b Mounting) Rotation() Mat {
	return Mat(trajectory.BodyToNED(b.RollRad, b.PitchRad, b.HeadingRad))
}

// Georeference returns the map position of a point that the scanner saw at scannerM (scanner axes)
// from a pose: X = P + M C ( a + B s ), equation (1) of docs/diagnosis.md.
func Georeference(positionM Vec, rollRad, pitchRad, gridHeadingRad float64, b Mounting, scannerM Vec) Vec {
	r := BodyToMap(rollRad, pitchRad, gridHeadingRad)
	m := b.Rotation()
	return positionM.Add(r.Mul(b.LeverM.Add(m.Mul(scannerM))))
}

// Unreference is the inverse of Georeference: the scanner vector of a map position.
func Unreference(pointM, positionM Vec, rollRad, pitchRad, gridHeadingRad float64, b Mounting) Vec {
	r := BodyToMap(rollRad, pitchRad, gridHeadingRad)
	m := b.Rotation()
	return m.MulT(r.MulT(pointM.Sub(positionM)).Sub(b.LeverM))
}
