package laz

// Limits of the adaptive models. The values are part of the format.
const (
	bitShift      = 13 // precision of a bit model's probability
	bitMaxTotal   = 1 << bitShift
	symbolShift   = 15 // precision of a symbol model's distribution
	symbolTotal   = 1 << symbolShift
	minLength     = 1 << 24 // interval below which the coder takes or gives a byte
	maxSymbols    = 516     // largest model of any item
	distributions = 0xFFFF  // stands behind the last dist: greater than any quotient
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

// model is the adaptive model of a symbol of n values.
//
// dist[s] is the lower end of symbol s's share of 1<<15, dist[n] is a guard.
// table is only there for decoding: table[q>>shift] is the last symbol that
// starts at or below the first quotient of q's bucket, from where the search goes on.
// The three share one block of memory, so that a reset is one copy.
type model struct {
	dist  []uint16 // n+1
	count []uint16 // n
	table []uint16 // 1<<bits + 1
	left  uint32   // symbols until the next update
	cycle uint32
	total uint32
	shift uint8
	block []uint16
}

// tableBits gives the size of the search table for a model of n symbols.
func tableBits(n int) uint8 {
	switch {
	case n <= 4:
		return 4
	case n <= 16:
		return 6
	case n <= 33:
		return 7
	case n <= 64:
		return 8
	}
	return 9
}

// newModel returns a model of n symbols in its first state; search says whether
// it needs the decoder's table.
func newModel(n int, search bool) *model {
	tab := 0
	m := &model{}
	if search {
		bits := tableBits(n)
		m.shift = symbolShift - bits
		tab = 1<<bits + 1
	}
	m.block = make([]uint16, 2*n+1+tab)
	m.dist = m.block[: n+1 : n+1]
	m.count = m.block[n+1 : 2*n+1 : 2*n+1]
	m.table = m.block[2*n+1:]
	for i := range m.count {
		m.count[i] = 1
	}
	m.dist[n] = distributions
	m.cycle = uint32(n)
	m.update()
	m.cycle = uint32(n+6) >> 1
	m.left = m.cycle
	return m
}

// resetFrom puts m into the state of a model of the same size.
func (m *model) resetFrom(first *model) {
	copy(m.block, first.block)
	m.left, m.cycle, m.total = first.left, first.cycle, first.total
}

func (m *model) update() {
	count := m.count
	n := len(count)
	dist := m.dist[:n+1]
	m.total += m.cycle
	if m.total > symbolTotal {
		m.total = 0
		for k, c := range count {
			c = (c + 1) >> 1
			count[k] = c
			m.total += uint32(c)
		}
	}
	scale := (1 << 31) / m.total
	sum := uint32(0)
	for k, c := range count {
		dist[k] = uint16((scale * sum) >> (31 - symbolShift))
		sum += uint32(c)
	}
	m.cycle = min(5*m.cycle>>2, 8*uint32(n+6))
	m.left = m.cycle
	if len(m.table) > 0 {
		m.index()
	}
}

// index rebuilds the search table.
func (m *model) index() {
	b := 0
	table := m.table
	n := len(m.count)
	width := uint32(1)<<m.shift - 1
	for k, d := range m.dist[1:n] {
		end := int((uint32(d) + width) >> m.shift)
		for b < end && b < len(table) {
			table[b] = uint16(k)
			b++
		}
	}
	for ; b < len(table); b++ {
		table[b] = uint16(n - 1)
	}
}

// modelPool hands out models in their first state and takes all of them back at
// the start of a chunk. Models are made once and then reused, in the order of
// their first use, which keeps those in use close together.
type modelPool struct {
	search bool
	sizes  [maxSymbols + 1]*sizePool
}

type sizePool struct {
	first *model
	all   []*model
	used  int
}

func (p *modelPool) get(n int) *model {
	s := p.sizes[n]
	if s == nil {
		s = &sizePool{first: newModel(n, p.search)}
		p.sizes[n] = s
	}
	if s.used == len(s.all) {
		s.all = append(s.all, newModel(n, p.search))
		s.used++
		return s.all[s.used-1]
	}
	m := s.all[s.used]
	s.used++
	m.resetFrom(s.first)
	return m
}

func (p *modelPool) release() {
	for _, s := range p.sizes {
		if s != nil {
			s.used = 0
		}
	}
}
