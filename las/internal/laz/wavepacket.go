package laz

import "encoding/binary"

// wavePacket is the wave packet of a point; the four floats are kept as bits.
type wavePacket struct {
	index      uint8
	offset     uint64
	size       uint32
	ret        int32
	dx, dy, dz int32
}

const wavePacketSize = 29

func getWavePacket(b []byte) wavePacket {
	le := binary.LittleEndian
	b = b[:wavePacketSize]
	return wavePacket{
		index:  b[0],
		offset: le.Uint64(b[1:]),
		size:   le.Uint32(b[9:]),
		ret:    int32(le.Uint32(b[13:])),
		dx:     int32(le.Uint32(b[17:])),
		dy:     int32(le.Uint32(b[21:])),
		dz:     int32(le.Uint32(b[25:])),
	}
}

func (w *wavePacket) put(b []byte) {
	le := binary.LittleEndian
	b = b[:wavePacketSize]
	b[0] = w.index
	le.PutUint64(b[1:], w.offset)
	le.PutUint32(b[9:], w.size)
	le.PutUint32(b[13:], uint32(w.ret))
	le.PutUint32(b[17:], uint32(w.dx))
	le.PutUint32(b[21:], uint32(w.dy))
	le.PutUint32(b[25:], uint32(w.dz))
}

// waveModels codes a wave packet from the last one: WAVEPACKET13, WAVEPACKET14.
type waveModels struct {
	pool                           *modelPool
	lastDiff                       int32
	lastSym                        uint32
	index                          *big
	offset                         [4]*small
	icOffset, icSize, icRet, icXYZ integer
}

func (m *waveModels) reset(pool *modelPool) {
	*m = waveModels{pool: pool, index: pool.big(256)}
	for _, ic := range []*integer{&m.icOffset, &m.icSize, &m.icRet, &m.icXYZ} {
		ic.reset(pool, 32)
	}
}

// Ways to code the offset of a wave packet.
const (
	waveSame = iota // as the last one
	waveNext        // directly behind the last one
	waveDiff        // 32-bit difference
	waveFull        // 64 bits
)

func (m *waveModels) decode(c *decoder, last *wavePacket) wavePacket {
	w := *last
	w.index = uint8(c.big(m.index))
	m.lastSym = c.small(m.pool.smallAt(&m.offset[m.lastSym&3], 4))
	switch m.lastSym {
	case waveNext:
		w.offset += uint64(last.size)
	case waveDiff:
		m.lastDiff = m.icOffset.decode(c, m.lastDiff, 0)
		w.offset += uint64(int64(m.lastDiff))
	case waveFull:
		w.offset = c.raw64()
	}
	w.size = uint32(m.icSize.decode(c, int32(last.size), 0))
	w.ret = m.icRet.decode(c, last.ret, 0)
	w.dx = m.icXYZ.decode(c, last.dx, 0)
	w.dy = m.icXYZ.decode(c, last.dy, 1)
	w.dz = m.icXYZ.decode(c, last.dz, 2)
	return w
}

func (m *waveModels) encode(e *encoder, last, w *wavePacket) {
	e.big(m.index, uint32(w.index))
	d := int64(w.offset - last.offset)
	s := uint32(waveFull)
	switch {
	case d == 0:
		s = waveSame
	case d == int64(last.size) && d <= 1<<31-1:
		s = waveNext
	case d == int64(int32(d)):
		s = waveDiff
	}
	e.small(m.pool.smallAt(&m.offset[m.lastSym&3], 4), s)
	m.lastSym = s
	switch s {
	case waveDiff:
		m.icOffset.encode(e, m.lastDiff, int32(d), 0)
		m.lastDiff = int32(d)
	case waveFull:
		e.raw64(w.offset)
	}
	m.icSize.encode(e, int32(last.size), int32(w.size), 0)
	m.icRet.encode(e, last.ret, w.ret, 0)
	m.icXYZ.encode(e, last.dx, w.dx, 0)
	m.icXYZ.encode(e, last.dy, w.dy, 1)
	m.icXYZ.encode(e, last.dz, w.dz, 2)
}

// wavePacket13 is item WAVEPACKET13.
type wavePacket13 struct {
	pool   *modelPool
	last   wavePacket
	models waveModels
}

func (p *wavePacket13) reset(first []byte) {
	p.last = getWavePacket(first)
	p.models.reset(p.pool)
}

func (p *wavePacket13) decode(c *decoder, dst []byte) {
	p.last = p.models.decode(c, &p.last)
	p.last.put(dst)
}

func (p *wavePacket13) encode(e *encoder, src []byte) {
	w := getWavePacket(src)
	p.models.encode(e, &p.last, &w)
	p.last = w
}
