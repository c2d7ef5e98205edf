package laz

import "encoding/binary"

// encoder is the state of one arithmetic-coded stream that is being written.
//
// The 32 low bits of low are the lower end of the interval; the 32 bits above are
// the four bytes that were written last, so that a carry runs into them by
// itself. Every step stores all eight bytes at pos-4. Only a carry out of low,
// through four bytes of 255, has to be looked after.
type encoder struct {
	low    uint64
	length uint32
	pos    int    // bytes of out that are written
	out    []byte // all of it may be used; room sees to its length
}

// start begins a stream behind the first from bytes of out, at least four.
func (e *encoder) start(out []byte, from int) {
	*e = encoder{length: 0xFFFFFFFF, out: out[:cap(out)], pos: from}
	e.low = uint64(binary.BigEndian.Uint32(out[from-4:])) << 32
	e.room(0)
}

// room makes room for n bytes and the end of the stream. It is to be called
// before each point with the number of bytes that a point takes at most.
func (e *encoder) room(n int) {
	if e.pos+n+streamEnd > len(e.out) {
		e.grow(n)
	}
}

const streamEnd = 8

//go:noinline
func (e *encoder) grow(n int) {
	out := make([]byte, 2*len(e.out)+n+1024)
	copy(out, e.out[:e.pos])
	e.out = out
}

// carry adds one to the number whose last digit is the byte in front of the
// four that low holds.
//
//go:noinline
func (e *encoder) carry(pos int) {
	p := pos - 5
	for ; e.out[p] == 0xFF; p-- {
		e.out[p] = 0
	}
	e.out[p]++
}

// narrow moves the lower end of the interval up by x and makes it length long.
func (e *encoder) narrow(x, length uint32) {
	pos := e.pos
	low := e.low + uint64(x)
	if low < uint64(x) {
		e.carry(pos)
	}
	binary.BigEndian.PutUint64(e.out[pos-4:], low)
	n := takenBits(length)
	e.pos = pos + int(n>>3)
	e.low = low << n
	e.length = length << n
}

// takenBits is the number of bits, 0, 8 or 16, that leave an interval of this
// length, at least 256, to make it at least 1<<24 long.
func takenBits(length uint32) uint {
	return uint((uint64(length)-1<<24)>>60&8 + (uint64(length)-1<<16)>>60&8)
}

func (e *encoder) bit(m *bitModel, s uint32) {
	x := m.p0 * (e.length >> bitShift)
	if s == 0 {
		m.c0++
		e.narrow(0, x)
	} else {
		e.narrow(x, e.length-x)
	}
	if m.left--; m.left == 0 {
		m.update()
	}
}

// small codes a symbol, as big and huge do with their sizes of model. narrow is
// written out in them, for a call less.
func (e *encoder) small(m *small, s uint32) {
	length := e.length
	step := length >> symbolShift
	x := uint32(m.dist[s]) * step
	if s < m.last {
		length = uint32(m.dist[s+1]) * step
	}
	length -= x
	low := e.low + uint64(x)
	pos := e.pos
	if low < uint64(x) {
		e.carry(pos)
	}
	binary.BigEndian.PutUint64(e.out[pos-4:], low)
	n := takenBits(length)
	e.pos = pos + int(n>>3)
	e.low = low << n
	e.length = length << n
	m.count[s]++
	if m.left--; m.left == 0 {
		m.update()
	}
}

func (e *encoder) big(m *big, s uint32) {
	length := e.length
	step := length >> symbolShift
	x := uint32(m.dist[s]) * step
	if s < m.last {
		length = uint32(m.dist[s+1]) * step
	}
	length -= x
	low := e.low + uint64(x)
	pos := e.pos
	if low < uint64(x) {
		e.carry(pos)
	}
	binary.BigEndian.PutUint64(e.out[pos-4:], low)
	n := takenBits(length)
	e.pos = pos + int(n>>3)
	e.low = low << n
	e.length = length << n
	m.count[s]++
	if m.left--; m.left == 0 {
		m.update()
	}
}

func (e *encoder) huge(m *huge, s uint32) {
	length := e.length
	step := length >> symbolShift
	x := uint32(m.dist[s]) * step
	if s < m.last {
		length = uint32(m.dist[s+1]) * step
	}
	length -= x
	low := e.low + uint64(x)
	pos := e.pos
	if low < uint64(x) {
		e.carry(pos)
	}
	binary.BigEndian.PutUint64(e.out[pos-4:], low)
	n := takenBits(length)
	e.pos = pos + int(n>>3)
	e.low = low << n
	e.length = length << n
	m.count[s]++
	if m.left--; m.left == 0 {
		m.update()
	}
}

// raw writes the n low bits of v, n in 1..32; the others are 0.
func (e *encoder) raw(n uint, v uint32) {
	if n > 19 {
		e.raw(16, v&0xFFFF)
		n, v = n-16, v>>16
	}
	length := e.length >> (n & 31)
	x := v * length
	if length < 1<<8 { // the third byte, one more than narrow takes
		e.narrow(x, length<<8)
		e.low <<= 8
		e.pos++
		return
	}
	e.narrow(x, length)
}

func (e *encoder) raw32(v uint32) {
	e.raw(16, v&0xFFFF)
	e.raw(16, v>>16)
}

func (e *encoder) raw64(v uint64) {
	e.raw32(uint32(v))
	e.raw32(uint32(v >> 32))
}

// finish ends the stream and returns out with the stream in it: a value inside
// the interval of one or two bytes, and zeros, four bytes in all.
func (e *encoder) finish() []byte {
	e.room(streamEnd)
	zeros := 2
	if e.length > 2*minLength {
		zeros = 3
		e.narrow(minLength, minLength>>1)
	} else {
		e.narrow(minLength>>1, minLength>>9)
	}
	for range zeros {
		e.out[e.pos] = 0
		e.pos++
	}
	return e.out[:e.pos]
}
