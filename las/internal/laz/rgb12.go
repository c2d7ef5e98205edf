package laz

import "encoding/binary"

// colour is red, green and blue of a point.
type colour struct{ r, g, b uint16 }

func getColour(b []byte) colour {
	le := binary.LittleEndian
	return colour{le.Uint16(b), le.Uint16(b[2:]), le.Uint16(b[4:])}
}

func (q colour) put(b []byte) {
	le := binary.LittleEndian
	le.PutUint16(b, q.r)
	le.PutUint16(b[2:], q.g)
	le.PutUint16(b[4:], q.b)
}

// rgbModels codes a colour from the last one: RGB12 version 2, and RGB14.
type rgbModels struct {
	pool *modelPool
	mask *big
	diff [6]*big
}

func (m *rgbModels) reset(pool *modelPool) {
	*m = rgbModels{pool: pool, mask: pool.big(128)}
}

// clamp255 limits v to 0..255.
func clamp255(v int32) int32 { return max(0, min(v, 255)) }

func (m *rgbModels) delta(c *decoder, i int) int32 {
	return int32(c.big(m.pool.bigAt(&m.diff[i], 256)))
}

func (m *rgbModels) decode(c *decoder, last colour) colour {
	mask := c.big(m.mask)
	rl, rh := int32(last.r&255), int32(last.r>>8)
	if mask&1 != 0 {
		rl = (rl + m.delta(c, 0)) & 255
	}
	if mask&2 != 0 {
		rh = (rh + m.delta(c, 1)) & 255
	}
	r := uint16(rh<<8 | rl)
	if mask&64 == 0 {
		return colour{r, r, r}
	}
	gl, gh := int32(last.g&255), int32(last.g>>8)
	bl, bh := int32(last.b&255), int32(last.b>>8)
	d := rl - int32(last.r&255)
	if mask&4 != 0 {
		gl = (clamp255(d+gl) + m.delta(c, 2)) & 255
	}
	if mask&16 != 0 {
		d = (d + gl - int32(last.g&255)) / 2
		bl = (clamp255(d+bl) + m.delta(c, 4)) & 255
	}
	d = rh - int32(last.r>>8)
	if mask&8 != 0 {
		gh = (clamp255(d+gh) + m.delta(c, 3)) & 255
	}
	if mask&32 != 0 {
		d = (d + gh - int32(last.g>>8)) / 2
		bh = (clamp255(d+bh) + m.delta(c, 5)) & 255
	}
	return colour{r, uint16(gh<<8 | gl), uint16(bh<<8 | bl)}
}

// encode codes q and reports whether it is other than a grey last one.
func (m *rgbModels) encode(e *encoder, last, q colour) (changed bool) {
	mask := flag(q.r&255 != last.r&255) | flag(q.r>>8 != last.r>>8)<<1 |
		flag(q.g&255 != last.g&255)<<2 | flag(q.g>>8 != last.g>>8)<<3 |
		flag(q.b&255 != last.b&255)<<4 | flag(q.b>>8 != last.b>>8)<<5 |
		flag(q.r != q.g || q.r != q.b)<<6
	e.big(m.mask, mask)
	if mask&1 != 0 {
		m.put(e, 0, int32(q.r), int32(last.r))
	}
	if mask&2 != 0 {
		m.put(e, 1, int32(q.r>>8), int32(last.r>>8))
	}
	if mask&64 == 0 {
		return mask != 0
	}
	d := int32(q.r&255) - int32(last.r&255)
	if mask&4 != 0 {
		m.put(e, 2, int32(q.g), clamp255(d+int32(last.g&255)))
	}
	if mask&16 != 0 {
		d = (d + int32(q.g&255) - int32(last.g&255)) / 2
		m.put(e, 4, int32(q.b), clamp255(d+int32(last.b&255)))
	}
	d = int32(q.r>>8) - int32(last.r>>8)
	if mask&8 != 0 {
		m.put(e, 3, int32(q.g>>8), clamp255(d+int32(last.g>>8)))
	}
	if mask&32 != 0 {
		d = (d + int32(q.g>>8) - int32(last.g>>8)) / 2
		m.put(e, 5, int32(q.b>>8), clamp255(d+int32(last.b>>8)))
	}
	return true
}

func (m *rgbModels) put(e *encoder, i int, v, pred int32) {
	e.big(m.pool.bigAt(&m.diff[i], 256), uint32(v-pred)&255)
}

// rgb12 is item RGB12, version 2.
type rgb12 struct {
	pool   *modelPool
	last   colour
	models rgbModels
}

func (p *rgb12) reset(first []byte) {
	p.last = getColour(first)
	p.models.reset(p.pool)
}

func (p *rgb12) decode(c *decoder, dst []byte) {
	p.last = p.models.decode(c, p.last)
	p.last.put(dst)
}

func (p *rgb12) encode(e *encoder, src []byte) {
	q := getColour(src)
	p.models.encode(e, p.last, q)
	p.last = q
}

// rgb12v1 is item RGB12, version 1: six bytes, each on its own.
type rgb12v1 struct {
	pool *modelPool
	last [6]uint8
	mask *small
	ic   integer
}

func (p *rgb12v1) reset(first []byte) {
	copy(p.last[:], first)
	p.mask = p.pool.small(64)
	p.ic.reset(p.pool, 8)
}

func (p *rgb12v1) decode(c *decoder, dst []byte) {
	mask := c.small(p.mask)
	for i := range p.last {
		if mask>>i&1 != 0 {
			p.last[i] = uint8(p.ic.decode(c, int32(p.last[i]), uint32(i)))
		}
	}
	copy(dst, p.last[:])
}

func (p *rgb12v1) encode(e *encoder, src []byte) {
	mask := uint32(0)
	for i, b := range p.last {
		mask |= flag(src[i] != b) << i
	}
	e.small(p.mask, mask)
	for i, b := range p.last {
		if src[i] != b {
			p.ic.encode(e, int32(b), int32(src[i]), uint32(i))
		}
	}
	copy(p.last[:], src)
}
