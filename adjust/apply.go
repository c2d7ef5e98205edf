package adjust

import (
	"fmt"
	"math"

	"sidelap/las"
	"sidelap/trajectory"
)

// MoveColumns are the columns of a las.Chunk that Mover.Move reads.
const MoveColumns = las.ColGPSTime | las.ColSource | las.ColChannel | las.ColScanAngle

// Mover takes a correction off points. One goroutine each.
//
// With the pose P, R at the point's time, the vector w from the path's reference point to the point in body axes, the lever arm
// a0 and the boresight and scale errors d, k, r:
//
//	w = R' (X - P)    v = w - a0    v' = B(-d) scaled(v)    w' = A(t) (a0 - da + v')    X' = P' + R' w' - shift(t)
//
// which is formula (8) of the georeferencing reference. A(t) takes the attitude error of the strip off, P', R' are the pose at
// the time that the scanner really had. Without a pose the body vector comes from the strip's heading, height and scan angles.
//
// The stored integer changes by round((X' - X)/scale): scale and offset stay, and a move of nothing changes no bit.
type Mover struct {
	c     *Correction
	file  int
	strip []stripMover
	in    *members
	pose  *poseReader
	late  *poseReader // at the corrected time; nil without a time error
	bore  Mat         // B(-d)
	still bool
	turn  float64 // bound of the derivative from what all strips share

	s     moveState
	count MoveCounts
}

// MoveCounts says what became of the points.
type MoveCounts struct {
	Points  int64
	Moved   int64   // whose stored coordinates changed
	NoStrip int64   // belong to no strip: only what all strips share was applied, where the pose is known
	NoPose  int64   // turned by nothing: no pose, or no sight of the strip
	Far     int64   // too far from the path to be a return of it: left where it was
	MaxM    float64 // longest move
	SumSqM  float64 // of the moves' squares
}

// Plus adds up counts.
func (a *MoveCounts) Plus(b MoveCounts) {
	a.Points += b.Points
	a.Moved += b.Moved
	a.NoStrip += b.NoStrip
	a.NoPose += b.NoPose
	a.Far += b.Far
	a.MaxM = math.Max(a.MaxM, b.MaxM)
	a.SumSqM += b.SumSqM
}

// RMSM is the root mean square of the moves.
func (a MoveCounts) RMSM() float64 {
	if a.Points == 0 {
		return 0
	}
	return math.Sqrt(a.SumSqM / float64(a.Points))
}

// maxRangeM is the longest range that can be one. No lidar on an aircraft has a tenth of it.
const maxRangeM = 20_000

// stripMover is what is prepared for a strip.
type stripMover struct {
	c      *StripCorrection
	moved  bool
	turned bool
	level  Mat // body to map without a pose
	right  Vec
}

// moveState is the state at one time of one strip.
type moveState struct {
	strip  int
	tS     float64
	set    bool
	sight  Sight
	turn   bool // att differs from the identity
	p, q   Vec  // position, and that at the corrected time minus it
	r, r2  Mat
	shift  Vec // of the strip, map axes
	att    Mat
	same   bool // r2 is r
	tanA   float64
	strips *stripMover

	fixed float64 // part of bound that depends on time only
	bound float64 // of the derivative of the move by the place
	far   bool    // the last point is too far away to be a return
}

// NewMover prepares a correction for the points of one file. path may be nil when the correction does not use one.
func NewMover(c *Correction, path *trajectory.Path, file int) (*Mover, error) {
	if c.UsesPath && path == nil {
		return nil, fmt.Errorf("the correction was estimated with a path and needs it to be applied")
	}
	m := &Mover{c: c, file: file, in: newMembers(c.Strips, file), still: c.Zero()}
	if c.UsesPath {
		m.pose = newPoseReader(path)
		if c.TimeOffsetS != 0 {
			m.late = newPoseReader(path)
		}
	}
	m.bore = Mounting{RollRad: -c.BoresightRollRad, PitchRad: -c.BoresightPitchRad, HeadingRad: -c.BoresightHeadingRad}.Rotation()
	m.turn = math.Abs(c.BoresightRollRad) + math.Abs(c.BoresightPitchRad) + math.Abs(c.BoresightHeadingRad) + 5*math.Abs(c.ScanAngleScale) +
		math.Abs(c.Datum.TiltE) + math.Abs(c.Datum.TiltN)
	m.strip = make([]stripMover, len(c.Strips))
	for i := range c.Strips {
		s := &c.Strips[i]
		for _, v := range []*Curve{&s.EastM, &s.NorthM, &s.UpM, &s.RollRad, &s.HeadingErr} {
			v.prepare()
		}
		sm := stripMover{c: s, moved: s.moved(), turned: s.turned(), level: BodyToMap(0, 0, s.HeadingRad)}
		sm.right = sm.level.Mul(Vec{0, 1, 0})
		m.strip[i] = sm
	}
	return m, nil
}

// Counts returns what became of the points so far.
func (m *Mover) Counts() MoveCounts { return m.count }

// Add moves the points of a chunk in place: it makes a Mover a stage before others that take points.
func (m *Mover) Add(c *las.Chunk, _ int) { _ = m.Move(c, nil) }

// Move changes X, Y and Z of the chunk, which must have MoveColumns. exceptions, unless nil, is called for each point whose old
// coordinates Unmove might not find from the new ones, with the index in the chunk and old minus new.
func (m *Mover) Move(c *las.Chunk, exceptions func(i int, d [3]int32)) error {
	m.count.Points += int64(c.N)
	if m.still {
		return nil
	}
	f := c.Frame
	q := [3]float64{f.Scale[0] * f.HorizontalM, f.Scale[1] * f.HorizontalM, f.Scale[2] * f.VerticalM}
	for i := range c.N {
		m.at(c, i)
		old := [3]int32{c.X[i], c.Y[i], c.Z[i]}
		d := m.s.move(m, Vec{f.XM(old[0]), f.YM(old[1]), f.ZM(old[2])})
		n, e, ok := stepped(old, d, q)
		if !ok {
			return fmt.Errorf("point %d: moved by %.3f m it no longer fits 32 bits with the file's scale and offset", c.First+int64(i)+1, d.Norm())
		}
		m.note(d, n != old)
		c.X[i], c.Y[i], c.Z[i] = n[0], n[1], n[2]
		if exceptions != nil && !m.s.returns(d, e, q) && !m.triedBack(old, n, q, f) {
			exceptions(i, [3]int32{old[0] - n[0], old[1] - n[1], old[2] - n[2]})
		}
	}
	return nil
}

// returns reports whether Unmove is sure to find the old coordinates of a point that was moved by d and then rounded by e.
//
// The old place x and the new one y = x + D(x) + e; what Unmove finds solves z + D(z) = y, so that z - x = e less at most J |e|, J a bound of the derivative of
// D. Its three steps leave J^3 |D|. Rounding z gives x when z - x is below half a unit in each coordinate. floatM is for floating point.
func (s *moveState) returns(d, e Vec, q [3]float64) bool {
	j := s.bound
	margin := j*e.Norm() + j*j*j*d.Norm() + floatM
	return math.Abs(e[0])+margin < 0.5*math.Abs(q[0]) && math.Abs(e[1])+margin < 0.5*math.Abs(q[1]) && math.Abs(e[2])+margin < 0.5*math.Abs(q[2])
}

// floatM is more than the last bits of floating point can make of a move, so that the same points are exceptions on any processor.
const floatM = 2e-8

// triedBack is for the few points of which returns is not sure: it does what Unmove will do.
func (m *Mover) triedBack(old, n [3]int32, q [3]float64, f *las.Frame) bool {
	d := m.back(n, f)
	for k := range d {
		if math.Abs(d[k]-float64(int64(n[k])-int64(old[k]))*q[k]) > 0.5*math.Abs(q[k])-floatM {
			return false
		}
	}
	return true
}

// back is the move that ended at stored integers, by three steps of fixed point iteration.
func (m *Mover) back(n [3]int32, f *las.Frame) Vec {
	y := Vec{f.XM(n[0]), f.YM(n[1]), f.ZM(n[2])}
	d := m.s.move(m, y)
	d = m.s.move(m, y.Sub(d))
	return m.s.move(m, y.Sub(d))
}

// Unmove is the inverse of Move but for the exceptions that Move told, which the caller adds.
func (m *Mover) Unmove(c *las.Chunk) {
	m.count.Points += int64(c.N)
	if m.still {
		return
	}
	f := c.Frame
	q := [3]float64{f.Scale[0] * f.HorizontalM, f.Scale[1] * f.HorizontalM, f.Scale[2] * f.VerticalM}
	for i := range c.N {
		m.at(c, i)
		n := [3]int32{c.X[i], c.Y[i], c.Z[i]}
		if old, _, ok := stepped(n, m.back(n, f).Times(-1), q); ok {
			c.X[i], c.Y[i], c.Z[i] = old[0], old[1], old[2]
		}
	}
}

// stepped adds a move to stored integers, and tells what rounding adds to it, in metres.
func stepped(v [3]int32, d Vec, q [3]float64) (out [3]int32, e Vec, ok bool) {
	for k := range v {
		t := d[k] / q[k]
		r := math.Round(t)
		s := float64(v[k]) + r
		if !(s >= math.MinInt32 && s <= math.MaxInt32) {
			return v, e, false
		}
		out[k], e[k] = int32(s), (r-t)*q[k]
	}
	return out, e, true
}

func (m *Mover) note(d Vec, moved bool) {
	if moved {
		m.count.Moved++
	}
	q := d[0]*d[0] + d[1]*d[1] + d[2]*d[2]
	m.count.SumSqM += q
	if q > m.count.MaxM*m.count.MaxM {
		m.count.MaxM = math.Sqrt(q)
	}
	if m.s.sight == SightNone {
		m.count.NoPose++
	}
	if m.s.strip < 0 {
		m.count.NoStrip++
	}
	if m.s.far {
		m.count.Far++
	}
}

// at brings the state to the point's strip and time.
func (m *Mover) at(c *las.Chunk, i int) {
	var tS float64
	var source uint16
	var channel uint8
	if len(c.GPSTime) > i {
		tS = c.GPSTime[i]
	}
	if len(c.Source) > i {
		source = c.Source[i]
	}
	if len(c.Channel) > i {
		channel = c.Channel[i]
	}
	strip := m.in.of(source, channel, tS)
	s := &m.s
	if !s.set || s.strip != strip || s.tS != tS {
		m.enter(strip, tS)
	}
	if s.sight == SightAngle {
		a := 0.0
		if len(c.ScanAngle) > i {
			a = float64(c.ScanAngle[i]) * (las.ScanAngleStepDeg * math.Pi / 180)
		}
		s.tanA = math.Tan(math.Max(-1.4, math.Min(1.4, a)))
	}
}

// enter prepares the state for a strip and a time.
func (m *Mover) enter(strip int, tS float64) {
	s := &m.s
	if !s.set || s.strip != strip {
		s.shift, s.att, s.turn, s.strips = Vec{}, identity, false, nil
		if strip >= 0 {
			s.strips = &m.strip[strip]
		}
	}
	s.set, s.strip, s.tS = true, strip, tS
	s.same, s.q, s.fixed = true, Vec{}, m.turn
	st := s.strips
	if st != nil && st.moved {
		k := st.c
		s.shift = Vec{k.EastM.At(tS), k.NorthM.At(tS), k.UpM.At(tS) + sumAt(k.UpStepsM, tS)}
		if st.turned {
			roll, heading := k.RollRad.At(tS), k.HeadingErr.At(tS)
			s.att, s.turn = expRotation(Vec{-roll, 0, -heading}), true
			s.fixed += math.Abs(roll) + math.Abs(heading)
		}
	}
	if m.pose != nil {
		s.sight = SightNone
		if m.pose.at(tS, &s.p, &s.r) {
			s.sight = SightPose
			if m.late != nil {
				var p Vec
				if m.late.at(tS-m.c.TimeOffsetS, &p, &s.r2) {
					s.q, s.same = p.Sub(s.p), false
					s.fixed += apartBy(&s.r, &s.r2)
				} else {
					s.sight = SightNone
				}
			}
		}
		return
	}
	s.sight = SightNone
	if st != nil {
		s.sight, s.r = st.c.Sight, st.level
		s.q = s.r.Mul(Vec{-st.c.SpeedMPS * m.c.TimeOffsetS, 0, 0})
	}
}

var identity = Mat{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}

// apartBy is the root of the sum of squares of the difference of two matrices, a bound of its size.
func apartBy(a, b *Mat) float64 {
	sum := 0.0
	for i := range 3 {
		for j := range 3 {
			d := a[i][j] - b[i][j]
			sum += d * d
		}
	}
	return math.Sqrt(sum)
}

// move returns X' - X of a place.
func (s *moveState) move(m *Mover, x Vec) Vec {
	d := Vec{-s.shift[0], -s.shift[1], -s.shift[2]}
	if dt := &m.c.Datum; *dt != (Datum{}) {
		d[2] -= dt.at(x[0], x[1])
	}
	s.bound, s.far = s.fixed, false
	var w Vec
	switch s.sight {
	case SightPose:
		w = s.r.MulT(x.Sub(s.p))
		if w[0]*w[0]+w[1]*w[1]+w[2]*w[2] > maxRangeM*maxRangeM {
			s.far, s.bound = true, 1
			return Vec{}
		}
	case SightAngle:
		h := s.strips.c.SensorM - x[2]
		w = Vec{0, h * s.tanA, h}
		s.bound *= 1 + math.Abs(s.tanA)
	case SightAcross:
		w = Vec{0, (x[0]-s.strips.c.CentreEM)*s.strips.right[0] + (x[1]-s.strips.c.CentreNM)*s.strips.right[1], 0}
	default:
		return d
	}
	v := w.Sub(m.c.LeverM)
	if m.c.RangeOffsetM != 0 {
		if n := v.Norm(); n > 1 {
			v = v.Times(1 - m.c.RangeOffsetM/n)
			s.bound += 2 * math.Abs(m.c.RangeOffsetM) / n
		} else {
			s.bound++
		}
	}
	if m.c.ScanAngleScale != 0 {
		v = m.c.unscaled(v)
	}
	w2 := m.bore.Mul(v).Add(m.c.LeverM).Sub(m.c.LeverErrorM)
	if s.turn {
		w2 = s.att.Mul(w2)
	}
	if s.same {
		return d.Add(s.q).Add(s.r.Mul(w2.Sub(w)))
	}
	return d.Add(s.q).Add(s.r2.Mul(w2)).Sub(s.r.Mul(w))
}

// unscaled takes the scan angle scale off a vector in scanner axes: it turns it in the plane of the scan from the angle a to a/(1 + k).
func (c *Correction) unscaled(v Vec) Vec {
	t := math.Atan2(v[1], v[2]) * c.ScanAngleScale / (1 + c.ScanAngleScale)
	var sin, cos float64
	if q := t * t; q < 1e-4 { // series: wrong by less than 1e-16
		sin, cos = t*(1-q/6*(1-q/20)), 1-q/2*(1-q/12*(1-q/30))
	} else {
		sin, cos = math.Sincos(t)
	}
	return Vec{v[0], v[1]*cos - v[2]*sin, v[2]*cos + v[1]*sin}
}
