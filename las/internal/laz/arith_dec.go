package laz

import (
	"encoding/binary"
)

// decoder is the state of one arithmetic-coded stream.
//
// pos may run past the end of src: missing bytes read as zero, and the caller
// compares pos with the length after each point, so that damage is found at the
// point that needed the missing byte. All steps are bounded and no value of the
// stream can lead outside a model.
type decoder struct {
	value, length uint32
	pos           int
	src           []byte
	bad           uint32 // not zero: raw bits out of range, the stream is corrupt
}

// start begins the stream at src[0].
func (c *decoder) start(src []byte) {
	c.src, c.pos, c.bad = src, 0, 0
	c.length = 0xFFFFFFFF
	c.value = c.word(0)
	c.pos = 4
}

// err tells whether the stream is damaged at this place.
func (c *decoder) err() error {
	if c.pos > len(c.src) {
		return ErrTruncated
	}
	if c.bad != 0 {
		return ErrCorrupt
	}
	return nil
}

// word returns the four bytes at p, big-endian, zeros after the end.
func (c *decoder) word(p int) uint32 {
	if p >= 0 && p+4 <= len(c.src) {
		return binary.BigEndian.Uint32(c.src[p:])
	}
	return c.tail(p)
}

//go:noinline
func (c *decoder) tail(p int) uint32 {
	var w [4]byte
	if p < len(c.src) {
		copy(w[:], c.src[p:])
	}
	return binary.BigEndian.Uint32(w[:])
}

// shift takes bytes until the interval is at least 1<<24 again, and returns the
// new value and length. length is at least 256 before, so that two bytes are enough.
func (c *decoder) shift(value, length uint32) (uint32, uint32) {
	w := uint64(value)<<32 | uint64(c.word(c.pos))
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
		value, length = value<<8|c.word(c.pos)>>24, length<<8
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
