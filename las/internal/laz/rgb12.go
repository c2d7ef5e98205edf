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
	mask *model
	diff [6]*model
}

func (m *rgbModels) reset(pool *modelPool) {
	*m = rgbModels{pool: pool, mask: pool.get(128)}
}

// clamp255 limits v to 0..255.
func clamp255(v int32) int32 { return max(0, min(v, 255)) }

func (m *rgbModels) delta(c *decoder, i int) int32 {
	return int32(c.symbol(lazy(&m.diff[i], m.pool, 256)))
}

func (m *rgbModels) decode(c *decoder, last colour) colour {
	mask := c.symbol(m.mask)
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

// rgb12v1 is item RGB12, version 1: six bytes, each on its own.
type rgb12v1 struct {
	pool *modelPool
	last [6]uint8
	mask *model
	ic   integer
}

func (p *rgb12v1) reset(first []byte) {
	copy(p.last[:], first)
	p.mask = p.pool.get(64)
	p.ic.reset(p.pool, 8)
}

func (p *rgb12v1) decode(c *decoder, dst []byte) {
	mask := c.symbol(p.mask)
	for i := range p.last {
		if mask>>i&1 != 0 {
			p.last[i] = uint8(p.ic.decode(c, int32(p.last[i]), uint32(i)))
		}
	}
	copy(dst, p.last[:])
}
