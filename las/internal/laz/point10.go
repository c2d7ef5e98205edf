package laz

import "encoding/binary"

// Bits of the POINT10 mask, version 2.
const (
	maskBits      = 1 << 5
	maskIntensity = 1 << 4
	maskClass     = 1 << 3
	maskAngle     = 1 << 2
	maskUser      = 1 << 1
	maskSource    = 1 << 0
)

// point10 is item POINT10, version 2: 20 bytes of point formats 0 to 5.
type point10 struct {
	pool *modelPool

	x, y, z                  int32
	bits, class, angle, user uint8
	source                   uint16
	intensity                [16]uint16
	height                   [8]int32
	xMedian, yMedian         [16]median
	mask                     *small
	bitsM, classM, userM     [256]*big
	angleM                   [2]*big
	icIntensity, icSource    integer
	icX, icY, icZ            integer
}

func (p *point10) reset(first []byte) {
	pool := p.pool
	*p = point10{pool: pool}
	le := binary.LittleEndian
	p.x = int32(le.Uint32(first))
	p.y = int32(le.Uint32(first[4:]))
	p.z = int32(le.Uint32(first[8:]))
	p.bits, p.class, p.angle, p.user = first[14], first[15], first[16], first[17]
	p.source = le.Uint16(first[18:])
	p.mask = pool.small(64)
	p.icIntensity.reset(pool, 16)
	p.icSource.reset(pool, 16)
	p.icX.reset(pool, 32)
	p.icY.reset(pool, 32)
	p.icZ.reset(pool, 32)
}

func (p *point10) decode(c *decoder, dst []byte) {
	dst = dst[:20]
	mask := c.small(p.mask)
	if mask&maskBits != 0 {
		p.bits = uint8(c.big(p.pool.bigAt(&p.bitsM[p.bits], 256)))
	}
	r, n := p.bits&7, p.bits>>3&7
	m, l := returnMap8[n][r]&15, returnLevel[n][r]&7
	single := uint32(0)
	if n == 1 {
		single = 1
	}
	if mask&(maskIntensity|maskClass|maskAngle|maskUser|maskSource) != 0 {
		p.decodeAttributes(c, mask, m)
	}

	med := &p.xMedian[m]
	d := p.icX.decode(c, med.get(), single)
	med.add(d)
	p.x += d
	kx := p.icX.k

	med = &p.yMedian[m]
	d = p.icY.decode(c, med.get(), single+min(kx, 20)&^1)
	med.add(d)
	p.y += d

	kz := (kx + p.icY.k) / 2
	p.z = p.icZ.decode(c, p.height[l], single+min(kz, 18)&^1)
	p.height[l] = p.z

	le := binary.LittleEndian
	le.PutUint32(dst, uint32(p.x))
	le.PutUint32(dst[4:], uint32(p.y))
	le.PutUint32(dst[8:], uint32(p.z))
	le.PutUint16(dst[12:], p.intensity[m])
	dst[14], dst[15], dst[16], dst[17] = p.bits, p.class, p.angle, p.user
	le.PutUint16(dst[18:], p.source)
}

func (p *point10) decodeAttributes(c *decoder, mask uint32, m uint8) {
	if mask&maskIntensity != 0 {
		p.intensity[m] = uint16(p.icIntensity.decode(c, int32(p.intensity[m]), uint32(min(m, 3))))
	}
	if mask&maskClass != 0 {
		p.class = uint8(c.big(p.pool.bigAt(&p.classM[p.class], 256)))
	}
	if mask&maskAngle != 0 {
		p.angle += uint8(c.big(p.pool.bigAt(&p.angleM[p.bits>>6&1], 256)))
	}
	if mask&maskUser != 0 {
		p.user = uint8(c.big(p.pool.bigAt(&p.userM[p.user], 256)))
	}
	if mask&maskSource != 0 {
		p.source = uint16(p.icSource.decode(c, int32(p.source), 0))
	}
}

func (p *point10) encode(e *encoder, src []byte) {
	src = src[:20]
	le := binary.LittleEndian
	x, y, z := int32(le.Uint32(src)), int32(le.Uint32(src[4:])), int32(le.Uint32(src[8:]))
	intensity, source := le.Uint16(src[12:]), le.Uint16(src[18:])
	bits, class, angle, user := src[14], src[15], src[16], src[17]
	r, n := bits&7, bits>>3&7
	m, l := returnMap8[n][r]&15, returnLevel[n][r]&7
	single := uint32(0)
	if n == 1 {
		single = 1
	}
	mask := flag(bits != p.bits)<<5 | flag(intensity != p.intensity[m])<<4 | flag(class != p.class)<<3 |
		flag(angle != p.angle)<<2 | flag(user != p.user)<<1 | flag(source != p.source)
	e.small(p.mask, mask)
	if mask != 0 {
		if mask&maskBits != 0 {
			e.big(p.pool.bigAt(&p.bitsM[p.bits], 256), uint32(bits))
		}
		if mask&maskIntensity != 0 {
			p.icIntensity.encode(e, int32(p.intensity[m]), int32(intensity), uint32(min(m, 3)))
		}
		if mask&maskClass != 0 {
			e.big(p.pool.bigAt(&p.classM[p.class], 256), uint32(class))
		}
		if mask&maskAngle != 0 {
			e.big(p.pool.bigAt(&p.angleM[bits>>6&1], 256), uint32(angle-p.angle))
		}
		if mask&maskUser != 0 {
			e.big(p.pool.bigAt(&p.userM[p.user], 256), uint32(user))
		}
		if mask&maskSource != 0 {
			p.icSource.encode(e, int32(p.source), int32(source), 0)
		}
		p.bits, p.class, p.angle, p.user, p.source = bits, class, angle, user, source
		p.intensity[m] = intensity
	}

	med, d := &p.xMedian[m], x-p.x
	p.icX.encode(e, med.get(), d, single)
	med.add(d)
	kx := p.icX.k
	med, d = &p.yMedian[m], y-p.y
	p.icY.encode(e, med.get(), d, single+min(kx, 20)&^1)
	med.add(d)
	kz := (kx + p.icY.k) / 2
	p.icZ.encode(e, p.height[l], z, single+min(kz, 18)&^1)
	p.height[l] = z
	p.x, p.y, p.z = x, y, z
}

// flag is 1 if b.
func flag(b bool) uint32 {
	var f uint32
	if b {
		f = 1
	}
	return f
}
