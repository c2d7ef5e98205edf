package laz

import (
	"encoding/binary"
	"math/bits"
)

// encoder is the state of one arithmetic-coded stream that is being written.
//
// low holds the lower end of the interval in its 32 low bits and above them
// pending bits (0 or 8 between the calls) that have not gone to out yet, so that a
// carry ends there in nearly all cases and seldom runs back into out.
type encoder struct {
	low     uint64
	length  uint32
	pending uint
	out     []byte // room, not content: bytes up to pos are written
	pos     int
}

// start begins a stream behind the first from bytes of out.
func (e *encoder) start(out []byte, from int) {
	*e = encoder{length: 0xFFFFFFFF, out: out[:cap(out)], pos: from}
}

// renorm gives bytes away until the interval is at least 1<<24 again. length is
// at least 256 here.
func (e *encoder) renorm(low uint64, length uint32) {
	shift := uint(bits.LeadingZeros32(length)) & 24
	e.length = length << shift
	e.give(low, shift)
}

// give moves low up by shift bits, 0, 8 or 16.
func (e *encoder) give(low uint64, shift uint) {
	low <<= shift
	pending := e.pending + shift
	if low>>((32+pending)&63) != 0 {
		e.carry()
		low &= 1<<((32+pending)&63) - 1
	}
	if e.pos+4 > len(e.out) {
		e.grow()
	}
	binary.BigEndian.PutUint32(e.out[e.pos:], uint32(low<<((32-pending)&63)>>32))
	rest := min(pending, 8)
	e.pos += int((pending - rest) >> 3)
	e.pending = rest
	e.low = low & (1<<((32+rest)&63) - 1)
}

//go:noinline
func (e *encoder) carry() {
	p := e.pos - 1
	for ; e.out[p] == 0xFF; p-- {
		e.out[p] = 0
	}
	e.out[p]++
}

//go:noinline
func (e *encoder) grow() {
	out := make([]byte, 2*len(e.out)+1024)
	copy(out, e.out[:e.pos])
	e.out = out
}

func (e *encoder) bit(m *bitModel, s uint32) {
	x := m.p0 * (e.length >> bitShift)
	if s == 0 {
		m.c0++
		e.renorm(e.low, x)
	} else {
		e.renorm(e.low+uint64(x), e.length-x)
	}
	m.left--
	if m.left == 0 {
		m.update()
	}
}

// small codes a symbol, as big and huge do with their sizes of model.
func (e *encoder) small(m *small, s uint32) {
	step := e.length >> symbolShift
	lo := uint32(m.dist[s]) * step
	hi := e.length
	if s < m.last {
		hi = uint32(m.dist[s+1]) * step
	}
	e.renorm(e.low+uint64(lo), hi-lo)
	m.count[s]++
	m.left--
	if m.left == 0 {
		m.update()
	}
}

func (e *encoder) big(m *big, s uint32) {
	step := e.length >> symbolShift
	lo := uint32(m.dist[s]) * step
	hi := e.length
	if s < m.last {
		hi = uint32(m.dist[s+1]) * step
	}
	e.renorm(e.low+uint64(lo), hi-lo)
	m.count[s]++
	m.left--
	if m.left == 0 {
		m.update()
	}
}

func (e *encoder) huge(m *huge, s uint32) {
	step := e.length >> symbolShift
	lo := uint32(m.dist[s]) * step
	hi := e.length
	if s < m.last {
		hi = uint32(m.dist[s+1]) * step
	}
	e.renorm(e.low+uint64(lo), hi-lo)
	m.count[s]++
	m.left--
	if m.left == 0 {
		m.update()
	}
}

// raw writes the n low bits of v, n in 1..32; the others are 0.
func (e *encoder) raw(n uint, v uint32) {
	if n > 19 {
		e.raw(16, v&0xFFFF)
		e.raw(n-16, v>>16)
		return
	}
	length := e.length >> n
	low := e.low + uint64(v)*uint64(length)
	if length < 1<<8 { // three bytes, more than renorm takes at a time
		e.give(low, 16)
		e.give(e.low, 8)
		e.length = length << 24
		return
	}
	e.renorm(low, length)
}

func (e *encoder) raw32(v uint32) {
	e.raw(16, v&0xFFFF)
	e.raw(16, v>>16)
}

func (e *encoder) raw64(v uint64) {
	e.raw32(uint32(v))
	e.raw32(uint32(v >> 32))
}

// finish ends the stream and returns out with the stream in it.
func (e *encoder) finish() []byte {
	tail := 2
	if e.length > 2*minLength {
		e.renorm(e.low+minLength, minLength>>1)
		tail = 3
	} else {
		e.renorm(e.low+minLength>>1, minLength>>9)
	}
	if e.pending > 0 {
		e.out[e.pos] = byte(e.low >> 32)
		e.pos++
	}
	for range tail {
		if e.pos == len(e.out) {
			e.grow()
		}
		e.out[e.pos] = 0
		e.pos++
	}
	return e.out[:e.pos]
}
