package overlap

import (
	"cmp"
	"math"
	"slices"
)

// beat is the joint reading of segments with the same time index: where the
// scanner was, as far as the points tell.
type beat struct {
	index    int64
	segments []*segment
	points   int64
	last     int64
	tMin     float64
	tMax     float64

	eM, nM     float64 // nadir by regression on the scan angle, else the mean of the points
	rightE     float64 // unit vector to the right of flight, from the regression
	rightN     float64
	heightM    float64 // scanner above ground, from the regression
	vE, vN     float64 // speed over ground within the beat, m/s; NaN when unknown
	meanAngle  float64 // radians
	hasAngle   bool    // the regression holds
	hasHeading bool    // eM, nM are a nadir or a mean of many points
}

// timeS is the middle of the beat.
func (b *beat) timeS() float64 { return (b.tMin + b.tMax) / 2 }

// minBeatPoints is the number of facet points from which a beat has a place
// that can be followed from second to second.
const minBeatPoints = 50

// minTanSpread is the standard deviation of the tangents of the scan angle, with
// what time explains taken away, from which the regression on angle is used: 1.7 deg.
const minTanSpread = 0.03

// newBeat joins segments of one time index.
//
// With t the tangent of the scan angle and s the time, E = E0 + vE s + hE t and
// N = N0 + vN s + hN t over the points of a short level flight: (E0, N0) is the
// nadir, v the speed over ground, |h| the height above ground, and h/|h| points
// to the right. This is the closed form H = (Y_R - Y_L)/(tan a_R - tan a_L) by
// least squares over all points. Time has to be in it: where a border cuts the
// scan lines obliquely, angle and time are correlated.
func newBeat(segments []*segment) beat {
	b := beat{index: segments[0].key.index, segments: segments, tMin: math.Inf(1), tMax: math.Inf(-1), vE: math.NaN(), vN: math.NaN()}
	var sum segment
	sum.init()
	for _, s := range segments {
		sum.merge(s)
	}
	b.points, b.last, b.tMin, b.tMax = sum.points, sum.last, sum.tMin, sum.tMax
	if b.index == noTime {
		b.tMin, b.tMax = math.NaN(), math.NaN()
	}
	if sum.last == 0 {
		b.eM, b.nM = math.NaN(), math.NaN()
		return b
	}
	b.regress(&sum)
	b.hasHeading = sum.last >= minBeatPoints
	return b
}

func (b *beat) regress(g *segment) {
	n := g.last
	fn := float64(n)
	// Sums about the south-west corner are small enough to be exact.
	sE, sN := int64(g.sE-uint64(n)*uint64(g.eMin)), int64(g.sN-uint64(n)*uint64(g.nMin))
	b.eM, b.nM = (float64(g.eMin)+float64(sE)/fn)*unitM, (float64(g.nMin)+float64(sN)/fn)*unitM
	b.meanAngle = float64(g.sA) / fn * angleStepRad
	if n < minBeatPoints {
		return
	}
	tt := central(g.sTT, g.sT, g.sT, n)
	et := central(g.sET-uint64(g.sT)*uint64(g.eMin), sE, g.sT, n)
	nt := central(g.sNT-uint64(g.sT)*uint64(g.nMin), sN, g.sT, n)
	ss := central(g.sSS, g.sS, g.sS, n)
	st := central(g.sST, g.sS, g.sT, n)
	es := central(g.sES-uint64(g.sS)*uint64(g.eMin), sE, g.sS, n)
	ns := central(g.sNS-uint64(g.sS)*uint64(g.nMin), sN, g.sS, n)
	timed := math.Sqrt(ss/fn) > 500 // 0.05 s
	free := tt
	if timed {
		free -= st * st / ss
	}
	angled := math.Sqrt(free/fn)*unitM > minTanSpread
	var hE, hN, vE, vN float64
	switch {
	case timed && angled:
		det := ss*tt - st*st
		hE, hN = (et*ss-es*st)/det, (nt*ss-ns*st)/det
		vE, vN = (es*tt-et*st)/det, (ns*tt-nt*st)/det
		b.vE, b.vN = vE*unitM*1e4, vN*unitM*1e4
	case angled:
		hE, hN = et/tt, nt/tt
	}
	b.heightM = math.Hypot(hE, hN)
	if !angled || b.heightM < 1 {
		return
	}
	b.hasAngle = true
	b.rightE, b.rightN = hE/b.heightM, hN/b.heightM
	// The nadir at the middle of the beat.
	t := -float64(g.sT) / fn * unitM
	s := 0.0
	if timed && b.index != noTime {
		s = ((b.timeS()-segmentStart(b))*1e4 - float64(g.sS)/fn) * unitM
	}
	b.eM += hE*t + vE*s
	b.nM += hN*t + vN*s
}

func segmentStart(b *beat) float64 { return b.segments[0].startS }

// beats groups segments by time index, in time order.
func beats(segments []*segment) []beat {
	var out []beat
	for i := 0; i < len(segments); {
		j := i + 1
		for j < len(segments) && segments[j].key.index == segments[i].key.index {
			j++
		}
		out = append(out, newBeat(segments[i:j:j]))
		i = j
	}
	return out
}

// sortedSegments returns the segments that hold points, by time index, then
// source; the order does not depend on how they came about.
func (a *Accumulator) sortedSegments() []*segment {
	s := slices.Clone(a.segments)
	slices.SortFunc(s, func(x, y *segment) int {
		return cmp.Or(
			cmp.Compare(x.key.index, y.key.index),
			cmp.Compare(x.key.id, y.key.id),
			cmp.Compare(x.key.channel, y.key.channel),
			cmp.Compare(x.key.file, y.key.file),
		)
	})
	return s
}

// pass is a run of beats that may become a strip.
type pass struct {
	beats []beat
	kind  StripKind
	notes []string
	name  string // strip ID, when the rule names it
	looks bool   // parts of it saw the same ground, seconds apart
}

func (p *pass) first() *beat { return &p.beats[0] }
func (p *pass) last() *beat  { return &p.beats[len(p.beats)-1] }

// firstTimed is the time index of the first beat with a time, noTime without.
func (p *pass) firstTimed() int64 {
	for i := range p.beats {
		if p.beats[i].index != noTime {
			return p.beats[i].index
		}
	}
	return noTime
}

func (p *pass) points() (n int64) {
	for i := range p.beats {
		n += p.beats[i].points
	}
	return n
}

// motion is the straight-line movement of the scanner over a run of beats.
type motion struct {
	eM, nM, tS float64 // mean
	vE, vN     float64 // metres per second
	ok         bool
	rightE     float64 // mean of the unit vectors to the right
	rightN     float64
	hasRight   bool
	heightM    float64
}

func motionOf(bs []beat) motion {
	var m motion
	var n, tt, et, nt, rn float64
	for i := range bs {
		b := &bs[i]
		if b.hasAngle {
			m.rightE += b.rightE * float64(b.last)
			m.rightN += b.rightN * float64(b.last)
			m.heightM += b.heightM * float64(b.last)
			rn += float64(b.last)
		}
		if b.last == 0 || b.index == noTime {
			continue
		}
		m.eM, m.nM, m.tS = m.eM+b.eM, m.nM+b.nM, m.tS+b.timeS()
		n++
	}
	if rn > 0 {
		m.heightM /= rn
		if l := math.Hypot(m.rightE, m.rightN); l > 0.7*rn { // else they cancel: no common direction
			m.rightE, m.rightN, m.hasRight = m.rightE/l, m.rightN/l, true
		}
	}
	if n == 0 {
		return m
	}
	m.eM, m.nM, m.tS = m.eM/n, m.nM/n, m.tS/n
	for i := range bs {
		b := &bs[i]
		if b.last == 0 || b.index == noTime {
			continue
		}
		t := b.timeS() - m.tS
		tt += t * t
		et += t * (b.eM - m.eM)
		nt += t * (b.nM - m.nM)
	}
	if n >= 4 && tt > 0 {
		m.vE, m.vN = et/tt, nt/tt
		m.ok = true
		return m
	}
	m.innerSpeed(bs)
	if !m.ok && n >= 2 && tt > 0.1 {
		m.vE, m.vN = et/tt, nt/tt
		m.ok = true
	}
	return m
}

// innerSpeed takes the speed from inside the beats, by their points.
func (m *motion) innerSpeed(bs []beat) {
	var w float64
	for i := range bs {
		if b := &bs[i]; !math.IsNaN(b.vE) {
			m.vE += b.vE * float64(b.last)
			m.vN += b.vN * float64(b.last)
			w += float64(b.last)
		}
	}
	if w > 0 {
		m.vE, m.vN, m.ok = m.vE/w, m.vN/w, true
	}
}

// speed is NaN when the beats do not give it.
func (m motion) speed() float64 {
	if !m.ok {
		return math.NaN()
	}
	return math.Hypot(m.vE, m.vN)
}

// heading returns the direction of flight: of the movement where it is long
// enough to be exact, else square to the direction to the right, in the sense of
// the movement; NaN when neither is known.
func (m motion) heading(beats int) float64 {
	v := m.speed()
	course := math.Atan2(m.vE, m.vN)
	switch {
	case beats >= 10 && v > 0.5:
		return wrap2Pi(course)
	case m.hasRight:
		h := math.Atan2(-m.rightN, m.rightE) // right = (cos k, -sin k)
		if v > 0.5 && turnBetween(h, course) > 120*degree {
			h += math.Pi // angles counted the other way round
		}
		return wrap2Pi(h)
	case v > 0.5:
		return wrap2Pi(course)
	}
	return math.NaN()
}

func wrap2Pi(a float64) float64 {
	a = math.Mod(a, 2*math.Pi)
	if a < 0 {
		a += 2 * math.Pi
	}
	return a
}

// turnBetween is the angle between two headings, 0..pi; NaN when one is.
func turnBetween(a, b float64) float64 {
	d := math.Abs(math.Mod(a-b, 2*math.Pi))
	return min(d, 2*math.Pi-d)
}
