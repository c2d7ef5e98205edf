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
	meanAngle  float64 // radians
	hasAngle   bool    // the regression holds
	hasHeading bool    // eM, nM are a nadir or a mean of many points
}

// timeS is the middle of the beat.
func (b *beat) timeS() float64 { return (b.tMin + b.tMax) / 2 }

// minBeatPoints is the number of facet points from which a beat has a place
// that can be followed from second to second.
const minBeatPoints = 50

// minTanSpread is the standard deviation of the tangents of the scan angle from
// which the regression of position on angle is used: 4 deg.
const minTanSpread = 0.07

// newBeat joins segments of one time index.
//
// With t the tangent of the scan angle, E = E0 + hE t and N = N0 + hN t over the
// points of a level flight: (E0, N0) is the nadir, |h| the height above ground,
// h/|h| points to the right. Source: georeferencing by scan angle and time, the
// closed form H = (Y_R - Y_L)/(tan a_R - tan a_L), by least squares.
func newBeat(segments []*segment) beat {
	b := beat{index: segments[0].key.index, segments: segments, tMin: math.Inf(1), tMax: math.Inf(-1)}
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
	n := sum.last
	sE, sN := int64(sum.sE-uint64(n)*uint64(sum.eMin)), int64(sum.sN-uint64(n)*uint64(sum.nMin)) // about the corner: small
	fn := float64(n)
	mE := float64(sum.eMin) + float64(sE)/fn
	mN := float64(sum.nMin) + float64(sN)/fn
	mT := float64(sum.sT) / fn
	b.meanAngle = float64(sum.sA) / fn * angleStepRad
	tt := central(sum.sTT, sum.sT, sum.sT, n)
	b.eM, b.nM = mE*unitM, mN*unitM
	if n >= minBeatPoints && math.Sqrt(tt/fn)*unitM > minTanSpread {
		et := central(sum.sET-uint64(sum.sT)*uint64(sum.eMin), sE, sum.sT, n)
		nt := central(sum.sNT-uint64(sum.sT)*uint64(sum.nMin), sN, sum.sT, n)
		hE, hN := et/tt, nt/tt // metres per unit tangent
		b.heightM = math.Hypot(hE, hN)
		if b.heightM > 1 {
			b.hasAngle = true
			b.rightE, b.rightN = hE/b.heightM, hN/b.heightM
			b.eM, b.nM = (mE-hE*mT)*unitM, (mN-hN*mT)*unitM
		}
	}
	b.hasHeading = n >= minBeatPoints
	return b
}

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
	if n >= 3 && tt > 0 || n == 2 && tt > 0.1 {
		m.vE, m.vN = et/tt, nt/tt
		m.ok = true
	}
	return m
}

// speed is NaN when the beats do not give it.
func (m motion) speed() float64 {
	if !m.ok {
		return math.NaN()
	}
	return math.Hypot(m.vE, m.vN)
}

// heading returns the direction of flight: the movement's where it is clear,
// else square to the direction to the right; NaN when neither is known.
func (m motion) heading(beats int) float64 {
	switch v := m.speed(); {
	case beats >= 4 && v > 0.5:
		return wrap2Pi(math.Atan2(m.vE, m.vN))
	case m.hasRight:
		return wrap2Pi(math.Atan2(-m.rightN, m.rightE)) // right = (cos k, -sin k)
	case v > 0.5:
		return wrap2Pi(math.Atan2(m.vE, m.vN))
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
