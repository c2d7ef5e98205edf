package laz

import (
	"encoding/binary"
)

// decoder is the state of one arithmetic-coded stream.
//
// A point takes at most slack bytes, so the place is checked once for a point:
// while pos <= limit, a whole point can be read from src without leaving it. The
// last bytes of the stream are read from tail, where zeros follow them; a point
// that ends in the zeros is damaged. All steps are bounded and no value of the stream
// can lead outside a model.
type decoder struct {
	value, length uint32
	bad           uint32 // not zero: raw bits out of range, the stream is corrupt
	present       bool   // false: the layer is absent or not wanted
	pos           int    // in src
	limit         int
	src           []byte
	stream        []byte
	base          int // place of src[0] in the stream
	slack         int
	tail          []byte
}

// start begins a stream of points that take at most slack bytes each.
func (c *decoder) start(stream []byte, slack int) {
	*c = decoder{length: 0xFFFFFFFF, present: true, stream: stream, src: stream, slack: slack, tail: c.tail}
	if c.limit = len(stream) - 4 - slack - 4; c.limit < 4 {
		c.toTail(0)
	}
	c.value = binary.BigEndian.Uint32(c.src)
	c.pos = 4
	if c.value == c.length {
		// No encoder writes this. A value below length stays below it at every
		// step, which bounds the quotients and keeps them inside the search tables.
		c.value--
		c.bad = 1
	}
}

// toTail goes on in the tail, from place at of the stream.
func (c *decoder) toTail(at int) {
	rest := c.stream[min(at, len(c.stream)):]
	if need := 2*c.slack + 16; cap(c.tail) < need {
		c.tail = make([]byte, need)
	}
	c.tail = c.tail[:cap(c.tail)]
	clear(c.tail[copy(c.tail, rest):])
	c.src, c.base, c.pos = c.tail, at, 0
	c.limit = len(rest)
}

// over tells that check has to be called.
func (c *decoder) over() bool { return c.pos > c.limit || c.bad != 0 }

// check tells after each point whether the point was whole, and makes
// room for the next one. It is needed only when over.
func (c *decoder) check() error {
	switch at := c.consumed(); {
	case at > len(c.stream):
		return ErrTruncated
	case c.bad != 0:
		return ErrCorrupt
	case c.pos > c.limit:
		c.toTail(at)
	}
	return nil
}

// consumed is the number of bytes of the stream that were taken.
func (c *decoder) consumed() int { return c.base + c.pos }

// shift takes bytes until the interval is at least 1<<24 again, and returns the
// new value and length. length is at least 256 before, so that two bytes are enough.
func (c *decoder) shift(value, length uint32) (uint32, uint32) {
	w := uint64(value)<<32 | uint64(binary.BigEndian.Uint32(c.src[c.pos:]))
	n := (uint64(length)-1<<24)>>63 + (uint64(length)-1<<16)>>63
	c.pos += int(n)
	return uint32(w << (n << 3 & 31) >> 32), length << (n << 3 & 31)
}

func (c *decoder) bit(m *bitModel) uint32 {
	x := m.p0 * (c.length >> bitShift)
	value, length := c.value, c.length
	s := uint32(0)
	if value >= x {
		s = 1
		value -= x
		length -= x
	} else {
		length = x
		m.c0++
	}
	c.value, c.length = c.shift(value, length)
	if m.left--; m.left == 0 {
		m.update()
	}
	return s
}

// small decodes a symbol, as big and huge do with their sizes of model.
func (c *decoder) small(m *small) uint32 {
	value, length := c.value, c.length
	step := length >> symbolShift
	q := value / step
	s := uint(m.table[q>>(m.modelState.shift&31)])
	for uint32(m.dist[s+1]) <= q {
		s++
	}
	lo := uint32(m.dist[s]) * step
	if s < uint(m.last) {
		length = uint32(m.dist[s+1]) * step
	}
	c.value, c.length = c.shift(value-lo, length-lo)
	m.count[s]++
	if m.left--; m.left == 0 {
		m.update()
	}
	return uint32(s)
}

func (c *decoder) big(m *big) uint32 {
	value, length := c.value, c.length
	step := length >> symbolShift
	q := value / step
	s := uint(m.table[q>>(m.modelState.shift&31)])
	for uint32(m.dist[s+1]) <= q {
		s++
	}
	lo := uint32(m.dist[s]) * step
	if s < uint(m.last) {
		length = uint32(m.dist[s+1]) * step
	}
	c.value, c.length = c.shift(value-lo, length-lo)
	m.count[s]++
	if m.left--; m.left == 0 {
		m.update()
	}
	return uint32(s)
}

func (c *decoder) huge(m *huge) uint32 {
	value, length := c.value, c.length
	step := length >> symbolShift
	q := value / step
	s := uint(m.table[q>>(m.modelState.shift&31)])
	for uint32(m.dist[s+1]) <= q {
		s++
	}
	lo := uint32(m.dist[s]) * step
	if s < uint(m.last) {
		length = uint32(m.dist[s+1]) * step
	}
	c.value, c.length = c.shift(value-lo, length-lo)
	m.count[s]++
	if m.left--; m.left == 0 {
		m.update()
	}
	return uint32(s)
}

// raw returns n equiprobable bits, n in 1..32.
func (c *decoder) raw(n uint) uint32 {
	if n > 19 {
		lo := c.raw(16)
		return c.raw(n-16)<<16 | lo
	}
	length := c.length >> n
	s := c.value / length
	c.bad |= s >> n
	value := c.value - s*length
	if length < 1<<8 {
		value, length = value<<8|uint32(c.src[c.pos]), length<<8
		c.pos++
	}
	c.value, c.length = c.shift(value, length)
	return s & (1<<n - 1)
}

func (c *decoder) raw32() uint32 {
	lo := c.raw(16)
	return c.raw(16)<<16 | lo
}

func (c *decoder) raw64() uint64 {
	lo := c.raw32()
	return uint64(c.raw32())<<32 | uint64(lo)
}
