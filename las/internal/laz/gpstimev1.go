package laz

import "encoding/binary"

// gpsTime11v1 is item GPSTIME11, version 1: one sequence of times.
type gpsTime11v1 struct {
	pool    *modelPool
	time    int64
	diff    int32
	extreme int32
	zero    *model
	multi   *model
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
	p.zero = p.pool.get(3)
	p.multi = p.pool.get(512)
	p.ic.reset(p.pool, 32)
}

func (p *gpsTime11v1) decode(c *decoder, dst []byte) {
	if p.diff == 0 {
		switch c.symbol(p.zero) {
		case 1:
			p.diff = p.ic.decode(c, 0, 0)
			p.time += int64(p.diff)
		case 2:
			p.time = int64(c.raw64())
		}
	} else {
		switch s := c.symbol(p.multi); s {
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
