package recover

import (
	"math"
	"testing"

	"sidelap/las"
)

// TestIntersection: georeferencing-and-adjustment.md, section 13, ray intersection
// (7): points (-50, 0, 0), (-40, 0, 20) and (30, 0, 0), (27, 0, 10) meet at (0, 0, 100).
func TestIntersection(t *testing.T) {
	rays := rayLines([]pulse{
		{timeS: 5, last: vec{-50, 0, 0}, first: vec{-40, 0, 20}},
		{timeS: 5, last: vec{30, 0, 0}, first: vec{27, 0, 10}},
	})
	p, v, s, ok := Intersect(rays, 5)
	if d := vec(p).sub(vec{0, 0, 100}).norm(); !ok || d > 1e-9 || v != [3]float64{} || s > 1e-9 {
		t.Errorf("place %v velocity %v sigma %g ok %t, want (0, 0, 100) at rest (section 13)", p, v, s, ok)
	}
	if _, _, _, ok := Intersect(rays[:1], 5); ok {
		t.Error("one ray makes a point")
	}
	if _, _, _, ok := Intersect([]Line{rays[0], rays[0]}, 5); ok {
		t.Error("two equal rays make a point")
	}
}

// TestMovingIntersection: rays to a point that moves at (8, -3, 0.5) m/s.
func TestMovingIntersection(t *testing.T) {
	var rays []Line
	for i := range 12 {
		ts := 100 + 0.05*float64(i)
		s := vec{1000, 2000, 90}.add(vec{8, -3, 0.5}.times(ts - 100.3))
		g := vec{960 + 9*float64(i), 2010 - 3*float64(i*i%5), float64(i % 3)}
		u := s.sub(g)
		rays = append(rays, Line{TimeS: ts, At: g, Unit: u.times(1 / u.norm()), WeightInv: 1 + float64(i)})
	}
	p, v, _, ok := Intersect(rays, 100.3)
	if !ok || vec(p).sub(vec{1000, 2000, 90}).norm() > 1e-6 || vec(v).sub(vec{8, -3, 0.5}).norm() > 1e-5 {
		t.Errorf("place %v velocity %v ok %t", p, v, ok)
	}
}

// TestEdges: section 13, edges of a straight scan line: Y = 60 at 30 degrees, Y = -50
// with tangent -0.5 give H = 102.102 m and the nadir at Y = 1.051. The flight goes
// north at 8 m/s, so that Y is east.
func TestEdges(t *testing.T) {
	left := int16(math.Round(math.Atan(-0.5) / stepRad))
	var p []pulse
	for i := range 40 {
		ts := 10 + 0.0125*float64(i)
		q := pulse{timeS: ts, angle: 5000, last: vec{60, 8 * (ts - 10.25), 0}}
		if i%2 == 1 {
			q.angle, q.last[0] = left, -50
		}
		p = append(p, q)
	}
	s := fitSweep(p, 10.25)
	// The stored angle of -26.565 degrees has steps of 0.006: 1e-4 of the tangent, 1 cm here.
	if !s.ok || math.Abs(s.nadir[2]-102.102) > 0.02 || math.Abs(s.nadir[0]-1.051) > 0.02 {
		t.Errorf("height %.3f, nadir at %.3f, want 102.102 and 1.051 (section 13)", s.nadir[2], s.nadir[0])
	}
	if math.Abs(turn([2]float64{1, 0}, s.right)) > 1e-6 || math.Abs(s.velocity[1]-8) > 1e-6 {
		t.Errorf("right %v velocity %v, want east and 8 m/s north", s.right, s.velocity)
	}
}

// fan builds the chunks of a level line scanner at 80 m, flying along a heading at 7 m/s
// over a plane, by closed form. Every pulse has a second return 6 m above the ground
// when trees is true.
func fan(headingRad, seconds float64, trees bool) []*las.Chunk {
	frame := &las.Frame{Scale: [3]float64{0.001, 0.001, 0.001}, Offset: [3]float64{500000, 5600000, 0}, HorizontalM: 1, VerticalM: 1}
	sin, cos := math.Sincos(headingRad)
	var out []*las.Chunk
	c := &las.Chunk{Frame: frame}
	put := func(ts float64, p vec, angle int16, no, of uint8) {
		c.X = append(c.X, int32(math.Round((p[0]-500000)*1000)))
		c.Y = append(c.Y, int32(math.Round((p[1]-5600000)*1000)))
		c.Z = append(c.Z, int32(math.Round(p[2]*1000)))
		c.GPSTime, c.ScanAngle = append(c.GPSTime, ts), append(c.ScanAngle, angle)
		c.ReturnNumber, c.NumReturns = append(c.ReturnNumber, no), append(c.NumReturns, of)
		c.Source, c.Channel = append(c.Source, 7), append(c.Channel, 0)
		c.N++
	}
	for i := range int(seconds * 2000) {
		ts := 300000 + float64(i)/2000
		angle := int16(-5000 + i*131%10001)
		tan := math.Tan(float64(angle) * stepRad)
		s := vec{500300 + 7*(ts-300000)*sin, 5600200 + 7*(ts-300000)*cos, 230}
		hit := func(z float64) vec { h := s[2] - z; return vec{s[0] + h*tan*cos, s[1] - h*tan*sin, z} }
		if trees {
			put(ts, hit(156), angle, 1, 2)
			put(ts, hit(150), angle, 2, 2)
		} else {
			put(ts, hit(150), angle, 1, 1)
		}
		if c.N > las.MaxChunk-4 {
			out = append(out, c)
			c = &las.Chunk{Frame: frame}
		}
	}
	return append(out, c)
}

// TestLevelFan recovers the closed-form flight: in millimetres with rays; without,
// across and in height, and along only because it flies level, which the sigma does not know.
func TestLevelFan(t *testing.T) {
	for _, trees := range []bool{true, false} {
		for _, headingDeg := range []float64{0, 37, 128, 215, 301} {
			heading := headingDeg * math.Pi / 180
			c := collector(t)
			for _, ch := range fan(heading, 8, trees) {
				c.Add(ch, 0)
			}
			r := c.Recover()
			want := LevelAngles
			tol := 0.05
			if trees {
				want, tol = LevelRays, 0.01
			}
			if r.Path == nil || r.Level != want {
				t.Fatalf("level %s %v, want %s", r.Level, r.Notes, want)
			}
			for i, ts := range r.Path.TimeS {
				s := vec{500300 + 7*(ts-300000)*math.Sin(heading), 5600200 + 7*(ts-300000)*math.Cos(heading), 230}
				d := s.sub(vec{r.Path.EM[i], r.Path.NM[i], r.Path.HM[i]})
				dh := math.Remainder(r.Path.HeadingRad[i]-heading, 2*math.Pi)
				if ts > 300000.5 && ts < 300007.5 && (d.norm() > tol || math.Abs(dh) > 1e-3) {
					t.Errorf("trees %t heading %g at %.2f s: %.4f m and %.5f rad off", trees, headingDeg, ts-300000, d.norm(), dh)
				}
			}
			if l := r.Legs[0]; !trees && l.SigmaAlongM < 0.07*80 {
				t.Errorf("heading %g: without rays along is stated to %.2f m; the pitch is not known", headingDeg, l.SigmaAlongM)
			}
		}
	}
}
