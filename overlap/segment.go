package overlap

import (
	"math"
	"sync"
)

// source is one origin of points that nobody mixes: a file, a point source ID,
// a scanner channel.
type source struct {
	file    int32
	id      uint16
	channel uint8
}

// segmentKey names a time segment of a source. noTime stands for points without
// a usable GPS time.
type segmentKey struct {
	source
	index int64 // floor(t / SegmentS)
}

const noTime = math.MinInt64

// segment holds the sums over all points of one source in one time segment.
// Sums are modulo 2^64 in the units of moments, see there.
type segment struct {
	key      segmentKey
	id       int32 // index in Accumulator.segments
	startS   float64
	loS, hiS float64 // times between these are in the segment for certain

	points, first, last int64   // points kept, first returns, facet points
	tMin, tMax          float64 // GPS seconds
	eMin, eMax          int64   // of facet points and first returns
	nMin, nMax          int64
	zMin, zMax          int64

	// Regression of position on time and on the tangent of the scan angle over
	// facet points: it gives the nadir, the height above ground, the direction to
	// the right and the speed.
	sE, sN        uint64
	sT            int64 // sum of tangents, 2^-14
	sTT, sET, sNT uint64
	sS            int64 // sum of times since the segment's start, 0.1 ms
	sSS, sST      uint64
	sES, sNS      uint64
	sA            int64 // sum of scan angles

	unwrapped int64 // added to the index, see unwrapWeek

	near [16]*tile // tiles seen last, by the low bits of their place
}

func (s *segment) init() {
	s.tMin, s.tMax = math.Inf(1), math.Inf(-1)
	s.eMin, s.nMin, s.zMin = math.MaxInt64, math.MaxInt64, math.MaxInt64
	s.eMax, s.nMax, s.zMax = math.MinInt64, math.MinInt64, math.MinInt64
}

func (s *segment) merge(b *segment) {
	s.points += b.points
	s.first += b.first
	s.last += b.last
	s.tMin, s.tMax = min(s.tMin, b.tMin), max(s.tMax, b.tMax)
	s.eMin, s.eMax = min(s.eMin, b.eMin), max(s.eMax, b.eMax)
	s.nMin, s.nMax = min(s.nMin, b.nMin), max(s.nMax, b.nMax)
	s.zMin, s.zMax = min(s.zMin, b.zMin), max(s.zMax, b.zMax)
	s.sE += b.sE
	s.sN += b.sN
	s.sT += b.sT
	s.sTT += b.sTT
	s.sET += b.sET
	s.sNT += b.sNT
	s.sS += b.sS
	s.sSS += b.sSS
	s.sST += b.sST
	s.sES += b.sES
	s.sNS += b.sNS
	s.sA += b.sA
}

// maxTanStep is the largest scan angle, in steps of 0.006 deg, whose tangent
// enters the regression: 75 deg.
const maxTanStep = 12500

var tangents = sync.OnceValue(func() *[2*maxTanStep + 1]int32 {
	var t [2*maxTanStep + 1]int32
	for i := range t {
		t[i] = int32(math.Round(math.Tan(float64(i-maxTanStep)*0.006*math.Pi/180) * unitsPerM))
	}
	return &t
})
