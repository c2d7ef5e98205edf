package laz

import "encoding/binary"

// Limits of the adaptive models. The values are part of the format.
const (
	bitShift    = 13 // precision of a bit model's probability
	bitMaxTotal = 1 << bitShift
	symbolShift = 15 // precision of a symbol model's distribution
	symbolTotal = 1 << symbolShift
	minLength   = 1 << 24 // interval below which the coder takes or gives a byte
	guard       = 0xFFFF  // stands behind the last dist: greater than any quotient
)

// bitModel is the adaptive model of one bit.
type bitModel struct {
	c0, c, p0, cycle, left uint32
}

func (m *bitModel) reset() { *m = bitModel{c0: 1, c: 2, p0: 1 << (bitShift - 1), cycle: 4, left: 4} }

func (m *bitModel) update() {
	m.c += m.cycle
	if m.c > bitMaxTotal {
		m.c = (m.c + 1) >> 1
		m.c0 = (m.c0 + 1) >> 1
		if m.c0 == m.c {
			m.c++
		}
	}
	m.p0 = (m.c0 * ((1 << 31) / m.c)) >> (31 - bitShift)
	m.cycle = min(5*m.cycle>>2, 64)
	m.left = m.cycle
}

// Symbol models come in three sizes, so that each is one block of memory with
// arrays of fixed length: small up to 64 symbols, big up to 256, huge up to 516.
//
// dist[s] is the lower end of symbol s's share of 1<<15, dist[n] is a guard.
// table is only used for decoding: table[q>>shift] is the last symbol that starts
// at or below the first quotient of q's bucket, from where the search goes on. Quotients
// can exceed 1<<15 a little, hence an entry more; the others make room for index.
type (
	small struct {
		modelState
		dist  [smallMax + 1]uint16
		count [smallMax]uint16
		table [1<<smallBits + 8]uint8
	}
	big struct {
		modelState
		dist  [bigMax + 1]uint16
		count [bigMax]uint16
		table [1<<bigBits + 8]uint8
	}
	huge struct {
		modelState
		dist  [hugeMax + 1]uint16
		count [hugeMax]uint16
		table [1<<bigBits + 1]uint16
	}
)

const (
	smallMax  = 64
	bigMax    = 256
	hugeMax   = 516
	smallBits = 7 // of the search table
	bigBits   = 9
)

// modelState is what the models have in common.
type modelState struct {
	left, cycle, total uint32 // left: symbols until the next update
	last               uint32 // symbols less one
	shift              uint32 // 15 less the bits of the table; 0: no table
}

// init puts the arrays of a model of n symbols into their first state; bits is
// the size of the search table, 0 for encoders.
func (st *modelState) init(n int, bits uint32, dist, count []uint16) {
	for i := range count[:n] {
		count[i] = 1
	}
	dist[n] = guard
	*st = modelState{last: uint32(n) - 1, cycle: uint32(n)}
	st.distribute(dist, count)
	if bits > 0 {
		st.shift = symbolShift - bits
	}
	st.cycle = uint32(n+6) >> 1
	st.left = st.cycle
}

// distribute makes the distribution from the counts, and sets the next cycle.
func (st *modelState) distribute(dist, count []uint16) {
	n := int(st.last) + 1
	count = count[:n]
	dist = dist[:n]
	st.total += st.cycle
	if st.total > symbolTotal {
		st.total = 0
		for k, c := range count {
			c = (c + 1) >> 1
			count[k] = c
			st.total += uint32(c)
		}
	}
	scale := (1 << 31) / st.total
	sum := uint32(0)
	for k, c := range count {
		dist[k] = uint16((scale * sum) >> (31 - symbolShift))
		sum += uint32(c)
	}
	st.cycle = min(5*st.cycle>>2, 8*uint32(n+6))
	st.left = st.cycle
}

// index builds the search table: the entries from the bucket behind the start of a
// symbol to that of the next one. Eight are written at a time; those too many are
// put right by the symbols that follow.
func index(table []uint8, dist []uint16, shift uint32) {
	width := uint32(1)<<(shift&31) - 1
	from := 0
	for k, d := range dist[1:] {
		to := int((uint32(d) + width) >> (shift & 31))
		for b := from; b < to; b += 8 {
			binary.LittleEndian.PutUint64(table[b:], uint64(k)*0x0101010101010101)
		}
		from = to
	}
	for b := from; b <= symbolTotal>>(shift&31); b += 8 {
		binary.LittleEndian.PutUint64(table[b:], uint64(len(dist)-1)*0x0101010101010101)
	}
}

// indexHuge is index for symbols beyond a byte.
func indexHuge(table []uint16, dist []uint16, shift uint32) {
	width := uint32(1)<<(shift&31) - 1
	b := 0
	for k, d := range dist[1:] {
		to := int((uint32(d) + width) >> (shift & 31))
		for ; b < to; b++ {
			table[b] = uint16(k)
		}
	}
	for ; b < len(table); b++ {
		table[b] = uint16(len(dist) - 1)
	}
}

func (m *small) update() {
	m.distribute(m.dist[:], m.count[:])
	if m.shift != 0 {
		index(m.table[:], m.dist[:m.last+1], m.shift)
	}
}

func (m *big) update() {
	m.distribute(m.dist[:], m.count[:])
	if m.shift != 0 {
		index(m.table[:], m.dist[:m.last+1], m.shift)
	}
}

func (m *huge) update() {
	m.distribute(m.dist[:], m.count[:])
	if m.shift != 0 {
		indexHuge(m.table[:], m.dist[:m.last+1], m.shift)
	}
}

func (m *small) init(n int, search bool) {
	m.modelState.init(n, tableBits(n, search), m.dist[:], m.count[:])
	if search {
		index(m.table[:], m.dist[:n], m.shift)
	}
}

func (m *big) init(n int, search bool) {
	m.modelState.init(n, tableBits(n, search), m.dist[:], m.count[:])
	if search {
		index(m.table[:], m.dist[:n], m.shift)
	}
}

func (m *huge) init(n int, search bool) {
	m.modelState.init(n, tableBits(n, search), m.dist[:], m.count[:])
	if search {
		indexHuge(m.table[:], m.dist[:n], m.shift)
	}
}

// tableBits gives the size of the search table of a model of n symbols.
func tableBits(n int, search bool) uint32 {
	switch {
	case !search:
		return 0
	case n <= 4:
		return 4
	case n <= 16:
		return 6
	case n <= smallMax:
		return smallBits
	}
	return bigBits
}
