package laz

// extraBytes is item BYTE, version 2: each byte as a difference to the last one.
type extraBytes struct {
	pool   *modelPool
	last   []byte
	models []*big
}

func newExtraBytes(pool *modelPool, n int) *extraBytes {
	return &extraBytes{pool: pool, last: make([]byte, n), models: make([]*big, n)}
}

func (p *extraBytes) reset(first []byte) {
	copy(p.last, first)
	clear(p.models)
}

func (p *extraBytes) decode(c *decoder, dst []byte) {
	for i := range p.last {
		if i%16 == 15 && c.over() {
			_ = c.check() // moves the window; damage is found after the item
		}
		p.last[i] += uint8(c.big(p.pool.bigAt(&p.models[i], 256)))
	}
	copy(dst, p.last)
}

func (p *extraBytes) encode(e *encoder, src []byte) {
	for i, b := range p.last {
		e.big(p.pool.bigAt(&p.models[i], 256), uint32(src[i]-b))
	}
	copy(p.last, src)
}

// extraBytesV1 is item BYTE, version 1. All bytes share the place models and
// each has its own class model, so it is kept apart from integer, whose contexts
// are few.
type extraBytesV1 struct {
	pool  *modelPool
	last  []byte
	class []*small
	ic    integer
}

func newExtraBytesV1(pool *modelPool, n int) *extraBytesV1 {
	return &extraBytesV1{pool: pool, last: make([]byte, n), class: make([]*small, n)}
}

func (p *extraBytesV1) reset(first []byte) {
	copy(p.last, first)
	clear(p.class)
	p.ic.reset(p.pool, 8)
}

func (p *extraBytesV1) decode(c *decoder, dst []byte) {
	for i := range p.last {
		if i%16 == 15 && c.over() {
			_ = c.check() // moves the window; damage is found after the item
		}
		p.ic.class[0] = p.class[i]
		p.last[i] = uint8(p.ic.decode(c, int32(p.last[i]), 0))
		p.class[i] = p.ic.class[0]
	}
	copy(dst, p.last)
}

func (p *extraBytesV1) encode(e *encoder, src []byte) {
	for i, b := range p.last {
		p.ic.class[0] = p.class[i]
		p.ic.encode(e, int32(b), int32(src[i]), 0)
		p.class[i] = p.ic.class[0]
	}
	copy(p.last, src)
}
