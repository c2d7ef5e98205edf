package adjust

import (
	"math"

	"sidelap/overlap"
)

// straight is the line of flight of a strip as its cells show it, when no path is known: scan angles of single cells hold the rolling of
// the aircraft, those of all cells together do not.
type straight struct {
	known          bool
	rightE, rightN float64
	acrossM, upM   float64 // of the line, across the heading and in height
}

// What a straight line needs. Our proposals: a line from fewer cells, or from a narrower fan of angles, is no better than the angles of single cells.
const (
	minStraightCells = 60
	minStraightFan   = 0.05 // standard deviation of the tangents of the scan angles
	maxStraightShare = 0.08 // rms of what the line leaves, as a share of its height
)

// straightLines fits a line to each strip with a heading: across = across0 + (up - z) tan angle, linear in across0 and up.
//
// Source: georeferencing reference, section 9 (b), with the whole strip as one block.
func straightLines(strips []overlap.Strip, pairs []overlap.Pair, maxSlope float64) []straight {
	type sums struct{ n, t, tt, y, ty, yy, z float64 }
	all := make([]sums, len(strips))
	lines := make([]straight, len(strips))
	for i := range strips {
		sin, cos := math.Sincos(strips[i].HeadingRad) // NaN when there is none
		lines[i].rightE, lines[i].rightN = cos, -sin
	}
	add := func(strip int, eM, nM, zM, angle float64) {
		if math.IsNaN(angle) || math.Abs(angle) > 1.2 {
			return
		}
		s, l, t := &all[strip], &lines[strip], math.Tan(angle)
		y := eM*l.rightE + nM*l.rightN + zM*t
		s.n++
		s.t += t
		s.tt += t * t
		s.y += y
		s.ty += t * y
		s.yy += y * y
		s.z += zM
	}
	e0, n0 := 0.0, 0.0 // large coordinates would cost digits
	for i := range pairs {
		for c := range pairs[i].Cells {
			if c := &pairs[i].Cells[c]; usableCell(c, maxSlope) {
				if e0 == 0 && n0 == 0 {
					e0, n0 = c.EM, c.NM
				}
				add(pairs[i].A, c.EM-e0, c.NM-n0, c.ZAM, c.AngleA)
				add(pairs[i].B, c.EM-e0, c.NM-n0, c.ZBM, c.AngleB)
			}
		}
	}
	for i := range lines {
		s, l := &all[i], &lines[i]
		tt, ty := s.tt-s.t*s.t/s.n, s.ty-s.t*s.y/s.n
		if !(s.n >= minStraightCells) || !(tt > minStraightFan*minStraightFan*s.n) {
			continue
		}
		up := ty / tt
		left := s.yy - s.y*s.y/s.n - up*ty
		heightM := up - s.z/s.n
		l.upM, l.acrossM = up, (s.y-up*s.t)/s.n+e0*l.rightE+n0*l.rightN
		l.known = heightM > 1 && left >= 0 && math.Sqrt(left/s.n) < maxStraightShare*heightM
	}
	return lines
}
