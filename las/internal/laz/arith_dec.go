package laz

import (
	"encoding/binary"
	"math/bits"
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

// renorm takes bytes until the interval is at least 1<<24 again. length is never 0 here.
func (c *decoder) renorm(value, length uint32) {
	shift := uint(bits.LeadingZeros32(length)) & 24
	w := c.word(c.pos)
	c.value = value<<shift | uint32(uint64(w)<<shift>>32)
	c.length = length << shift
	c.pos += int(shift >> 3)
}

func (c *decoder) bit(m *bitModel) uint32 {
	x := m.p0 * (c.length >> bitShift)
	s := uint32(0)
	if c.value >= x {
		s = 1
		c.renorm(c.value-x, c.length-x)
	} else {
		m.c0++
		c.renorm(c.value, x)
	}
	m.left--
	if m.left == 0 {
		m.update()
	}
	return s
}

func (c *decoder) symbol(m *model) uint32 {
	value, length := c.value, c.length
	step := length >> symbolShift
	q := value / step
	dist := m.dist
	s := int(m.table[min(q>>m.shift, uint32(len(m.table)-1))])
	for uint32(dist[s+1]) <= q {
		s++
	}
	lo := uint32(dist[s]) * step
	hi := length
	if s+2 < len(dist) {
		hi = uint32(dist[s+1]) * step
	}
	c.renorm(value-lo, hi-lo)
	m.count[s]++
	m.left--
	if m.left == 0 {
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
	c.renorm(c.value-s*length, length)
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
