package recover

import (
	"math"

	"sidelap/las"
)

// vec is east, north, up in metres.
type vec [3]float64

func (a vec) sub(b vec) vec       { return vec{a[0] - b[0], a[1] - b[1], a[2] - b[2]} }
func (a vec) add(b vec) vec       { return vec{a[0] + b[0], a[1] + b[1], a[2] + b[2]} }
func (a vec) times(s float64) vec { return vec{a[0] * s, a[1] * s, a[2] * s} }
func (a vec) dot(b vec) float64   { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] }
func (a vec) norm() float64       { return math.Sqrt(a.dot(a)) }
func (a vec) cross(b vec) vec {
	return vec{a[1]*b[2] - a[2]*b[1], a[2]*b[0] - a[0]*b[2], a[0]*b[1] - a[1]*b[0]}
}

// before orders positions, for ties.
func (a vec) before(b vec) bool {
	for i := range a {
		if a[i] != b[i] {
			return a[i] < b[i]
		}
	}
	return false
}

// pulseKey names a pulse.
type pulseKey struct {
	timeBits uint64
	source   uint16
	channel  uint8
}

// hash spreads pulses evenly over 64 bits, the same for all returns of a pulse.
//
// Source: the finaliser of SplitMix64 (G. Steele, D. Lea, C. Flood, OOPSLA 2014).
func (k pulseKey) hash() uint64 {
	z := k.timeBits ^ uint64(k.source)<<40 ^ uint64(k.channel)<<56
	z += 0x9e3779b97f4a7c15
	z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
	z = (z ^ z>>27) * 0x94d049bb133111eb
	return z ^ z>>31
}

// maxReturns is the largest number of returns that one time may have to be a pulse;
// LAS counts to 15. More means that times were rounded.
const maxReturns = 15

// pulse is the extent of the returns of one pulse.
type pulse struct {
	timeS       float64
	first, last vec   // returns with the lowest and the highest return number
	firstNo     uint8 // their return numbers
	lastNo      uint8
	returns     int32 // how many were seen
	angle       int16 // scan angle of the last return in steps of 0.006 degrees
}

func position(ch *las.Chunk, i int) vec {
	return vec{ch.Frame.XM(ch.X[i]), ch.Frame.YM(ch.Y[i]), ch.Frame.ZM(ch.Z[i])}
}

func pulseOf(ch *las.Chunk, i, j int) pulse {
	var p pulse
	for k := i; k < j; k++ {
		q := pulse{timeS: ch.GPSTime[k], firstNo: ch.ReturnNumber[k], lastNo: ch.ReturnNumber[k], returns: 1}
		if k < len(ch.ScanAngle) {
			q.angle = ch.ScanAngle[k]
		}
		q.first = position(ch, k)
		q.last = q.first
		if k == i {
			p = q
		} else {
			p.merge(&q)
		}
	}
	return p
}

// merge adds further returns of the same pulse; the order of merging does not matter.
func (p *pulse) merge(q *pulse) {
	if q.firstNo < p.firstNo || q.firstNo == p.firstNo && q.first.before(p.first) {
		p.first, p.firstNo = q.first, q.firstNo
	}
	if q.lastNo > p.lastNo || q.lastNo == p.lastNo && (q.last.before(p.last) || q.last == p.last && q.angle < p.angle) {
		p.last, p.lastNo, p.angle = q.last, q.lastNo, q.angle
	}
	p.returns += q.returns
}

// isRay reports whether the pulse gives a direction: two returns apart, first above last.
func (p *pulse) isRay() bool {
	return p.returns >= 2 && p.returns <= maxReturns && p.lastNo > p.firstNo && p.first[2] > p.last[2] && p.separationM() > 0.3
}

func (p *pulse) separationM() float64 { return p.first.sub(p.last).norm() }

// wider orders rays: the widest separation first, then time and place.
func (p *pulse) wider(q *pulse) bool {
	a, b := p.separationM(), q.separationM()
	switch {
	case a != b:
		return a > b
	case p.timeS != q.timeS:
		return p.timeS < q.timeS
	}
	return p.last.before(q.last)
}

// sectors of direction: eight of azimuth and one for rays near the vertical.
const sectors = 9

// nearVertical is the tangent of the off-nadir angle below which the azimuth of a ray is left open.
const nearVertical = 0.1

func (p *pulse) sector() int {
	d := p.first.sub(p.last)
	if math.Hypot(d[0], d[1]) < nearVertical*d[2] {
		return sectors - 1
	}
	return int(math.Floor(math.Atan2(d[0], d[1])/(math.Pi/4)+8)) % 8
}
