package laz

import "encoding/binary"

// Bits of the POINT10 mask, version 1.
const (
	mask1Intensity = 1 << 5
	mask1Bits      = 1 << 4
	mask1Class     = 1 << 3
	mask1Angle     = 1 << 2
	mask1User      = 1 << 1
	mask1Source    = 1 << 0
)

// point10v1 is item POINT10, version 1, of the first LAZ files.
type point10v1 struct {
	pool *modelPool

	x, y, z                        int32
	intensity, source              uint16
	bits, class, angle, user       uint8
	dx, dy                         [3]int32 // of the last three points
	pos                            int
	mask                           *small
	bitsM, classM, userM           [256]*big
	icX, icY, icZ                  integer
	icIntensity, icAngle, icSource integer
}

func (p *point10v1) reset(first []byte) {
	pool := p.pool
	*p = point10v1{pool: pool}
	le := binary.LittleEndian
	p.x = int32(le.Uint32(first))
	p.y = int32(le.Uint32(first[4:]))
	p.z = int32(le.Uint32(first[8:]))
	p.intensity = le.Uint16(first[12:])
	p.bits, p.class, p.angle, p.user = first[14], first[15], first[16], first[17]
	p.source = le.Uint16(first[18:])
	p.mask = pool.small(64)
	for _, ic := range []*integer{&p.icX, &p.icY, &p.icZ} {
		ic.reset(pool, 32)
	}
	p.icIntensity.reset(pool, 16)
	p.icAngle.reset(pool, 8)
	p.icSource.reset(pool, 16)
}

func median3(v [3]int32) int32 {
	return max(min(v[0], v[1]), min(max(v[0], v[1]), v[2]))
}

func (p *point10v1) remember(dx, dy int32) {
	p.dx[p.pos], p.dy[p.pos] = dx, dy
	p.pos = (p.pos + 1) % 3
}

// steep is the context of the scan angle.
func steep(kz uint32) uint32 {
	if kz < 3 {
		return 1
	}
	return 0
}

func (p *point10v1) decode(c *decoder, dst []byte) {
	dst = dst[:20]
	dx := p.icX.decode(c, median3(p.dx), 0)
	dy := p.icY.decode(c, median3(p.dy), min(p.icX.k, 19))
	kz := (p.icX.k + p.icY.k) / 2
	p.x += dx
	p.y += dy
	p.z = p.icZ.decode(c, p.z, min(kz, 19))
	mask := c.small(p.mask)
	if mask&mask1Intensity != 0 {
		p.intensity = uint16(p.icIntensity.decode(c, int32(p.intensity), 0))
	}
	if mask&mask1Bits != 0 {
		p.bits = uint8(c.big(p.pool.bigAt(&p.bitsM[p.bits], 256)))
	}
	if mask&mask1Class != 0 {
		p.class = uint8(c.big(p.pool.bigAt(&p.classM[p.class], 256)))
	}
	if mask&mask1Angle != 0 {
		p.angle = uint8(p.icAngle.decode(c, int32(p.angle), steep(kz)))
	}
	if mask&mask1User != 0 {
		p.user = uint8(c.big(p.pool.bigAt(&p.userM[p.user], 256)))
	}
	if mask&mask1Source != 0 {
		p.source = uint16(p.icSource.decode(c, int32(p.source), 0))
	}
	p.remember(dx, dy)

	le := binary.LittleEndian
	le.PutUint32(dst, uint32(p.x))
	le.PutUint32(dst[4:], uint32(p.y))
	le.PutUint32(dst[8:], uint32(p.z))
	le.PutUint16(dst[12:], p.intensity)
	dst[14], dst[15], dst[16], dst[17] = p.bits, p.class, p.angle, p.user
	le.PutUint16(dst[18:], p.source)
}

func (p *point10v1) encode(e *encoder, src []byte) {
	src = src[:20]
	le := binary.LittleEndian
	x, y, z := int32(le.Uint32(src)), int32(le.Uint32(src[4:])), int32(le.Uint32(src[8:]))
	intensity, source := le.Uint16(src[12:]), le.Uint16(src[18:])
	bits, class, angle, user := src[14], src[15], src[16], src[17]

	dx, dy := x-p.x, y-p.y
	p.icX.encode(e, median3(p.dx), dx, 0)
	p.icY.encode(e, median3(p.dy), dy, min(p.icX.k, 19))
	kz := (p.icX.k + p.icY.k) / 2
	p.icZ.encode(e, p.z, z, min(kz, 19))

	mask := flag(intensity != p.intensity)<<5 | flag(bits != p.bits)<<4 | flag(class != p.class)<<3 |
		flag(angle != p.angle)<<2 | flag(user != p.user)<<1 | flag(source != p.source)
	e.small(p.mask, mask)
	if mask&mask1Intensity != 0 {
		p.icIntensity.encode(e, int32(p.intensity), int32(intensity), 0)
	}
	if mask&mask1Bits != 0 {
		e.big(p.pool.bigAt(&p.bitsM[p.bits], 256), uint32(bits))
	}
	if mask&mask1Class != 0 {
		e.big(p.pool.bigAt(&p.classM[p.class], 256), uint32(class))
	}
	if mask&mask1Angle != 0 {
		p.icAngle.encode(e, int32(p.angle), int32(angle), steep(kz))
	}
	if mask&mask1User != 0 {
		e.big(p.pool.bigAt(&p.userM[p.user], 256), uint32(user))
	}
	if mask&mask1Source != 0 {
		p.icSource.encode(e, int32(p.source), int32(source), 0)
	}
	p.remember(dx, dy)
	p.x, p.y, p.z, p.intensity, p.source = x, y, z, intensity, source
	p.bits, p.class, p.angle, p.user = bits, class, angle, user
}
