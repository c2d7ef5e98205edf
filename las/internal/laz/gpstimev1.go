package laz

import "encoding/binary"

// gpsTime11v1 is item GPSTIME11, version 1: one sequence of times.
type gpsTime11v1 struct {
	pool    *modelPool
	time    int64
	diff    int32
	extreme int32
	zero    *small
	multi   *huge
	ic      integer
}

// Symbols of the multi model of version 1.
const (
	multi1Max       = 509
	multi1Full      = 510
	multi1Unchanged = 511
)

func (p *gpsTime11v1) reset(first []byte) {
	*p = gpsTime11v1{pool: p.pool, time: int64(binary.LittleEndian.Uint64(first))}
	p.zero = p.pool.small(3)
	p.multi = p.pool.huge(512)
	p.ic.reset(p.pool, 32)
}

func (p *gpsTime11v1) decode(c *decoder, dst []byte) {
	if p.diff == 0 {
		switch c.small(p.zero) {
		case 1:
			p.diff = p.ic.decode(c, 0, 0)
			p.time += int64(p.diff)
		case 2:
			p.time = int64(c.raw64())
		}
	} else {
		switch s := c.huge(p.multi); s {
		case multi1Full:
			p.time = int64(c.raw64())
		case multi1Unchanged:
		default:
			pred, ctx := p.predict(s)
			d := p.ic.decode(c, pred, ctx)
			p.learn(s, d)
			p.time += int64(d)
		}
	}
	binary.LittleEndian.PutUint64(dst, uint64(p.time))
}

// predict gives the prediction and its context for symbol s.
func (p *gpsTime11v1) predict(s uint32) (int32, uint32) {
	switch {
	case s == 0:
		return p.diff / 4, 2
	case s == 1:
		return p.diff, 1
	case s < 10:
		return int32(s) * p.diff, 3
	case s < 50:
		return int32(s) * p.diff, 4
	}
	return int32(s) * p.diff, 5
}

func (p *gpsTime11v1) learn(s uint32, d int32) {
	switch s {
	case 1:
		p.diff, p.extreme = d, 0
	case 0, multi1Max:
		p.extreme++
		if p.extreme > extremeSwitch {
			p.diff, p.extreme = d, 0
		}
	}
}

func (p *gpsTime11v1) encode(e *encoder, src []byte) {
	t := int64(binary.LittleEndian.Uint64(src))
	d := t - p.time
	d32 := int32(d)
	fits := int64(d32) == d
	switch {
	case p.diff == 0 && d == 0:
		e.small(p.zero, 0)
	case p.diff == 0 && fits:
		e.small(p.zero, 1)
		p.ic.encode(e, 0, d32, 0)
		p.diff = d32
	case p.diff == 0:
		e.small(p.zero, 2)
		e.raw64(uint64(t))
	case d == 0:
		e.huge(p.multi, multi1Unchanged)
	case fits:
		s := multiple1(d32, p.diff)
		e.huge(p.multi, s)
		pred, ctx := p.predict(s)
		p.ic.encode(e, pred, d32, ctx)
		p.learn(s, d32)
	default:
		e.huge(p.multi, multi1Full)
		e.raw64(uint64(t))
	}
	p.time = t
}

// multiple1 returns the symbol of the multi model of version 1.
func multiple1(d, diff int32) uint32 {
	q := float32(d)/float32(diff) + 0.5
	return uint32(max(0, min(q, multi1Max)))
}
