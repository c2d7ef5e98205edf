package laz

import "encoding/binary"

// Layers of POINT14, in their order in the chunk.
const (
	layerXY = iota
	layerZ
	layerClass
	layerFlags
	layerIntensity
	layerAngle
	layerUser
	layerSource
	layerGPS
)

var point14Layers = [9]struct {
	layer  string
	wanted Layers
}{
	{"XY", 0},
	{"Z", LayerZ},
	{"classification", LayerClassification},
	{"flags", LayerFlags},
	{"intensity", LayerIntensity},
	{"scan angle", LayerScanAngle},
	{"user data", LayerUserData},
	{"point source", LayerPointSource},
	{"GPS time", LayerGPSTime},
}

// Bits of the symbol that opens a point in the first layer.
const (
	changedChannel = 1 << 6
	changedSource  = 1 << 5
	changedGPS     = 1 << 4
	changedAngle   = 1 << 3
	changedReturns = 1 << 2
	changedReturn  = 3 // code of the return number's change
)

// point14 is item POINT14: 30 bytes of point formats 6 to 10. Each layer keeps
// its own contexts, one for each scanner channel, and its own idea of the last
// point.
type point14 struct {
	pool    *modelPool
	channel uint32 // current, of the first layer
	used    [4]bool
	xy      [4]xy14
	z       [4]z14
	class   [4]class14
	flags   [4]flags14
	inten   [4]intensity14
	angle   [4]angle14
	user    [4]user14
	source  [4]source14
	gps     [4]gpsSequences
	cur     [9]uint32 // current channel of each layer
	varies  [9]bool   // the encoder's: see survey
}

// xy14 is the context of the first layer.
type xy14 struct {
	x, y             int32
	n, r             uint8
	gpsChanged       bool
	angle, source    uint16 // the encoder's
	time             uint64 // the encoder's
	changed          [8]*big
	channelM         *small
	numReturns       [16]*small
	returnNumber     [16]*small
	returnSame       *small
	xMedian, yMedian [12]median
	icX, icY         integer
}

type z14 struct {
	height [8]int32
	last   int32
	ic     integer
}

type class14 struct {
	last   uint8
	models [64]*big
}

type flags14 struct {
	last   uint8
	models [64]*small
}

type intensity14 struct {
	last uint16
	by   [8]uint16 // 2*cpr + GPS changed
	ic   integer
}

type angle14 struct {
	last int16
	ic   integer
}

type user14 struct {
	last   uint8
	models [64]*big
}

type source14 struct {
	last uint16
	ic   integer
}

func newPoint14(pool *modelPool) *point14 { return &point14{pool: pool} }

// packFlags gathers the flags of bytes 14 and 15 as the flags layer codes them:
// edge, scan direction, class flags.
func packFlags(b uint8) uint8 { return b>>7<<5 | b>>6&1<<4 | b&15 }

// unpackFlags gives byte 15 of a record.
func unpackFlags(f uint8, channel uint32) uint8 {
	return f>>5<<7 | f>>4&1<<6 | uint8(channel)<<4 | f&15
}

func (p *point14) reset(first []byte) {
	le := binary.LittleEndian
	ch := uint32(first[15] >> 4 & 3)
	p.used = [4]bool{}
	p.used[ch] = true
	p.channel = ch
	for i := range p.cur {
		p.cur[i] = ch
	}
	xy := &p.xy[ch]
	xy.start(p.pool, int32(le.Uint32(first)), int32(le.Uint32(first[4:])), first[14]>>4, first[14]&15)
	xy.angle, xy.source, xy.time = le.Uint16(first[18:]), le.Uint16(first[20:]), le.Uint64(first[22:])
	p.z[ch].start(p.pool, int32(le.Uint32(first[8:])))
	p.class[ch] = class14{last: first[16]}
	p.flags[ch] = flags14{last: packFlags(first[15])}
	p.inten[ch].start(p.pool, le.Uint16(first[12:]))
	p.angle[ch].start(p.pool, int16(le.Uint16(first[18:])))
	p.user[ch] = user14{last: first[17]}
	p.source[ch].start(p.pool, le.Uint16(first[20:]))
	p.gps[ch].reset(p.pool, int64(le.Uint64(first[22:])), false)
}

func (s *xy14) start(pool *modelPool, x, y int32, n, r uint8) {
	*s = xy14{x: x, y: y, n: n, r: r}
	s.icX.reset(pool, 32)
	s.icY.reset(pool, 32)
}

func (s *z14) start(pool *modelPool, z int32) {
	s.last = z
	for i := range s.height {
		s.height[i] = z
	}
	s.ic.reset(pool, 32)
}

func (s *intensity14) start(pool *modelPool, v uint16) {
	s.last = v
	for i := range s.by {
		s.by[i] = v
	}
	s.ic.reset(pool, 16)
}

func (s *angle14) start(pool *modelPool, v int16) {
	s.last = v
	s.ic.reset(pool, 16)
}

func (s *source14) start(pool *modelPool, v uint16) {
	s.last = v
	s.ic.reset(pool, 16)
}
