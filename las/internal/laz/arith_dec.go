package laz

import (
	"encoding/binary"
)

// decoder is the state of one arithmetic-coded stream.
//
// The stream is read through a window of fixed size, copied piece by piece, so
// that no step has to look where its bytes end. Only after a point (or so many
// bytes of it as slack allows) over tells that the window is to be moved on. Behind
// the end of the stream the window holds zeros; a point that took some of
// these is damaged. All steps are bounded and no value of the stream can lead
// outside a model.
type decoder struct {
	value, length uint32
	pos           uint   // in the window
	limit         uint   // place up to which the next slack bytes are in the window
	bad           uint32 // not zero: raw bits out of range, the stream is corrupt
	present       bool   // false: the layer is absent or not wanted
	stream        []byte
	base          int // place of the window in the stream
	window        [windowSize + 4]byte
}

const (
	windowSize = 1024 // a power of two
	windowMask = windowSize - 1
	slack      = 300 // bytes that can be taken between two looks at over
)

// start begins a stream.
func (c *decoder) start(stream []byte) {
	c.stream, c.base, c.pos, c.bad, c.present = stream, 0, 0, 0, true
	c.fill()
	c.length = 0xFFFFFFFF
	c.value = binary.BigEndian.Uint32(c.window[:])
	c.pos = 4
	if c.value == c.length {
		// No encoder writes this. A value below length stays below it at every
		// step, which bounds the quotients and keeps them inside the search tables.
		c.value--
		c.bad = 1
	}
}

// close makes the decoder stand for an absent layer.
func (c *decoder) close() {
	c.present, c.pos, c.limit, c.bad = false, 0, windowSize, 0
}

// fill moves the window to the place where it is read.
func (c *decoder) fill() {
	c.base += int(c.pos)
	c.pos = 0
	rest := c.stream[min(c.base, len(c.stream)):]
	n := copy(c.window[:windowSize], rest)
	clear(c.window[n:])
	c.limit = uint(min(windowSize-slack, len(rest)))
}

// over tells that check has to be called.
func (c *decoder) over() bool { return c.pos > c.limit || c.bad != 0 }

// check moves the window on, if need be, and tells whether the stream is damaged. It
// is needed only when over and at the end of the stream.
func (c *decoder) check() error {
	switch {
	case c.consumed() > len(c.stream):
		return ErrTruncated
	case c.bad != 0:
		return ErrCorrupt
	case c.pos > c.limit:
		c.fill()
	}
	return nil
}

// consumed is the number of bytes of the stream that were taken.
func (c *decoder) consumed() int { return c.base + int(c.pos) }

// next returns the four bytes at pos of the window, big-endian.
func (c *decoder) next(pos uint) uint32 {
	p := pos & windowMask
	return binary.BigEndian.Uint32(c.window[p : p+4])
}

// shift takes bytes until the interval is at least 1<<24 again, and returns the
// new value and length. length is at least 256 before, so that two bytes are enough.
func (c *decoder) shift(value, length uint32) (uint32, uint32) {
	w := uint64(value)<<32 | uint64(c.next(c.pos))
	n := takenBits(length)
	c.pos += n >> 3
	return uint32(w << n >> 32), length << n
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
		value, length = value<<8|c.next(c.pos)>>24, length<<8
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
