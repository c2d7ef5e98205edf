package laz

import (
	"encoding/binary"
	"math"
)

// encode encodes the nine layers for a block of points.
func (p *point14) encode(w []layerWriter, info []pointInfo, rec []byte, stride int) {
	p.encodeXY(&w[layerXY], info, rec, stride)
	p.encodeZ(&w[layerZ], info, rec, stride)
	if p.varies[layerClass] {
		p.encodeClass(&w[layerClass], info, rec, stride)
	}
	if p.varies[layerFlags] {
		p.encodeFlags(&w[layerFlags], info, rec, stride)
	}
	if p.varies[layerIntensity] {
		p.encodeIntensity(&w[layerIntensity], info, rec, stride)
	}
	if p.varies[layerUser] {
		p.encodeUser(&w[layerUser], info, rec, stride)
	}
	p.encodeAngle(&w[layerAngle], info, rec, stride)
	p.encodeSource(&w[layerSource], info, rec, stride)
	p.encodeGPS(&w[layerGPS], info, rec, stride)
}

// survey finds the layers that code every point but are not written when their
// value is the same all through the chunk: these need not be coded.
func (p *point14) survey(records []byte, n, stride int) {
	const from = 12 // intensity, returns, flags, class, user data, scan angle
	le := binary.LittleEndian
	first := le.Uint64(records[from:])
	diff := uint64(0)
	for i := 1; i < n; i++ {
		diff |= le.Uint64(records[i*stride+from:]) ^ first
	}
	p.varies[layerIntensity] = diff&0xFFFF != 0
	p.varies[layerFlags] = diff>>24&0xCF != 0 // without the channel
	p.varies[layerClass] = diff>>32&0xFF != 0
	p.varies[layerUser] = diff>>40&0xFF != 0
}

// timeChanged compares as floats, as the format's encoder does, so that NaN has
// always changed; but it takes 0 and -0 for different so that no bit is lost.
func timeChanged(a, b uint64) bool {
	return a != b || math.Float64frombits(a) != math.Float64frombits(b)
}

func (p *point14) encodeXY(e *layerWriter, info []pointInfo, rec []byte, stride int) {
	e.room(len(info) * layerSlack)
	le := binary.LittleEndian
	s := &p.xy[p.channel&3]
	for i := range info {
		b := rec[i*stride:][:30]
		in := p.encodeReturns(&e.encoder, &s, b)
		x, y := int32(le.Uint32(b)), int32(le.Uint32(b[4:]))
		m, single := in.median(), in.single()
		med, d := &s.xMedian[m], x-s.x
		s.icX.encode(&e.encoder, med.get(), d, single)
		med.add(d)
		kx := s.icX.k
		med, d = &s.yMedian[m], y-s.y
		s.icY.encode(&e.encoder, med.get(), d, single+min(kx, 20)&^1)
		med.add(d)
		s.x, s.y = x, y
		kz := (kx + s.icY.k) / 2
		info[i] = in | pointInfo(single+min(kz, 18)&^1)<<infoZContext
	}
}

// encodeReturns codes what changed, the channel and the returns of a point.
func (p *point14) encodeReturns(e *encoder, context **xy14, b []byte) pointInfo {
	b = b[:30]
	n, r := b[14]>>4, b[14]&15
	channel := uint32(b[15] >> 4 & 3)
	old := *context
	s := old
	in := pointInfo(0)
	if channel != p.channel {
		in = infoSwitch
		if p.used[channel] {
			s = &p.xy[channel]
		} else {
			in |= infoFresh // compared with the last point
		}
	}
	changed := s.changes(b) | flag(in != 0)<<6
	ctx := flag(old.r == 1) | flag(old.r >= old.n)<<1 | flag(old.gpsChanged)<<2
	e.big(p.pool.bigAt(&old.changed[ctx], 128), changed)
	if in != 0 {
		e.small(p.pool.smallAt(&old.channelM, 3), (channel-p.channel-1)&3)
		if in&infoFresh != 0 {
			p.used[channel] = true
			s = &p.xy[channel]
			s.start(p.pool, old.x, old.y, old.n, old.r)
		}
		p.channel, *context = channel, s
	}
	if changed&changedReturns != 0 {
		e.small(p.pool.smallAt(&s.numReturns[s.n&15], 16), uint32(n))
	}
	if changed&changedReturn == 3 {
		if changed&changedGPS != 0 {
			e.small(p.pool.smallAt(&s.returnNumber[s.r&15], 16), uint32(r))
		} else {
			e.small(p.pool.smallAt(&s.returnSame, 13), uint32((r-s.r-2)&15))
		}
	}
	s.remember(b, changed)
	return in | infoOf(n, r, channel, changed)
}

// changes compares a record with the last point of the context.
func (s *xy14) changes(b []byte) uint32 {
	le := binary.LittleEndian
	n, r := b[14]>>4, b[14]&15
	return flag(le.Uint16(b[20:]) != s.source)<<5 | flag(timeChanged(le.Uint64(b[22:]), s.time))<<4 |
		flag(le.Uint16(b[18:]) != s.angle)<<3 | flag(n != s.n)<<2 | returnCodes[(r-s.r)&15]
}

// returnCodes codes the step of the return number, modulo 16.
var returnCodes = [16]uint32{0, 1, 3, 3, 3, 3, 3, 3, 3, 3, 3, 3, 3, 3, 3, 2}

func (s *xy14) remember(b []byte, changed uint32) {
	le := binary.LittleEndian
	s.n, s.r = b[14]>>4, b[14]&15
	s.gpsChanged = changed&changedGPS != 0
	s.angle, s.source, s.time = le.Uint16(b[18:]), le.Uint16(b[20:]), le.Uint64(b[22:])
}

func (p *point14) encodeZ(e *layerWriter, info []pointInfo, rec []byte, stride int) {
	e.room(len(info) * layerSlack)
	cur := p.cur[layerZ]
	s := &p.z[cur&3]
	for i, in := range info {
		if ch := in.channel(); ch != cur {
			cur = ch
			if in&infoFresh != 0 {
				p.z[ch].start(p.pool, s.last)
			}
			s = &p.z[ch]
		}
		l := in.level()
		s.last = int32(binary.LittleEndian.Uint32(rec[i*stride+8:]))
		s.ic.encode(&e.encoder, s.height[l], s.last, in.z())
		s.height[l] = s.last
	}
	p.cur[layerZ] = cur
}

func (p *point14) encodeClass(e *layerWriter, info []pointInfo, rec []byte, stride int) {
	e.room(len(info) * layerSlack)
	cur := p.cur[layerClass]
	s := &p.class[cur&3]
	for i, in := range info {
		if ch := in.channel(); ch != cur {
			cur = ch
			if in&infoFresh != 0 {
				p.class[ch] = class14{last: s.last}
			}
			s = &p.class[ch]
		}
		v := rec[i*stride+16]
		ctx := s.last & 31 << 1
		if in.cpr() == 3 {
			ctx |= 1
		}
		e.big(p.pool.bigAt(&s.models[ctx&63], 256), uint32(v))
		if v != s.last {
			s.last, e.changed = v, true
		}
	}
	p.cur[layerClass] = cur
}

func (p *point14) encodeFlags(e *layerWriter, info []pointInfo, rec []byte, stride int) {
	e.room(len(info) * layerSlack)
	cur := p.cur[layerFlags]
	s := &p.flags[cur&3]
	for i, in := range info {
		if ch := in.channel(); ch != cur {
			cur = ch
			if in&infoFresh != 0 {
				p.flags[ch] = flags14{last: s.last}
			}
			s = &p.flags[ch]
		}
		v := packFlags(rec[i*stride+15])
		e.small(p.pool.smallAt(&s.models[s.last&63], 64), uint32(v))
		if v != s.last {
			s.last, e.changed = v, true
		}
	}
	p.cur[layerFlags] = cur
}

func (p *point14) encodeIntensity(e *layerWriter, info []pointInfo, rec []byte, stride int) {
	e.room(len(info) * layerSlack)
	cur := p.cur[layerIntensity]
	s := &p.inten[cur&3]
	for i, in := range info {
		if ch := in.channel(); ch != cur {
			cur = ch
			if in&infoFresh != 0 {
				p.inten[ch].start(p.pool, s.last)
			}
			s = &p.inten[ch]
		}
		v := binary.LittleEndian.Uint16(rec[i*stride+12:])
		cpr := in.cpr()
		last := &s.by[2*cpr+in.gps()]
		s.ic.encode(&e.encoder, int32(*last), int32(v), cpr)
		*last = v
		if v != s.last {
			s.last, e.changed = v, true
		}
	}
	p.cur[layerIntensity] = cur
}

func (p *point14) encodeAngle(e *layerWriter, info []pointInfo, rec []byte, stride int) {
	e.room(len(info) * layerSlack)
	cur := p.cur[layerAngle]
	s := &p.angle[cur&3]
	for i, in := range info {
		if ch := in.channel(); ch != cur {
			cur = ch
			if in&infoFresh != 0 {
				p.angle[ch].start(p.pool, s.last)
			}
			s = &p.angle[ch]
		}
		if in&infoAngle != 0 {
			v := int16(binary.LittleEndian.Uint16(rec[i*stride+18:]))
			s.ic.encode(&e.encoder, int32(s.last), int32(v), in.gps())
			s.last, e.changed = v, true
		}
	}
	p.cur[layerAngle] = cur
}

func (p *point14) encodeUser(e *layerWriter, info []pointInfo, rec []byte, stride int) {
	e.room(len(info) * layerSlack)
	cur := p.cur[layerUser]
	s := &p.user[cur&3]
	for i, in := range info {
		if ch := in.channel(); ch != cur {
			cur = ch
			if in&infoFresh != 0 {
				p.user[ch] = user14{last: s.last}
			}
			s = &p.user[ch]
		}
		v := rec[i*stride+17]
		e.big(p.pool.bigAt(&s.models[s.last>>2], 256), uint32(v))
		if v != s.last {
			s.last, e.changed = v, true
		}
	}
	p.cur[layerUser] = cur
}

func (p *point14) encodeSource(e *layerWriter, info []pointInfo, rec []byte, stride int) {
	e.room(len(info) * layerSlack)
	cur := p.cur[layerSource]
	s := &p.source[cur&3]
	for i, in := range info {
		if ch := in.channel(); ch != cur {
			cur = ch
			if in&infoFresh != 0 {
				p.source[ch].start(p.pool, s.last)
			}
			s = &p.source[ch]
		}
		if in&infoSource != 0 {
			v := binary.LittleEndian.Uint16(rec[i*stride+20:])
			s.ic.encode(&e.encoder, int32(s.last), int32(v), 0)
			s.last, e.changed = v, true
		}
	}
	p.cur[layerSource] = cur
}

func (p *point14) encodeGPS(e *layerWriter, info []pointInfo, rec []byte, stride int) {
	e.room(len(info) * layerSlack)
	cur := p.cur[layerGPS]
	s := &p.gps[cur&3]
	for i, in := range info {
		if ch := in.channel(); ch != cur {
			cur = ch
			if in&infoFresh != 0 {
				p.gps[ch].reset(p.pool, s.time[s.cur&3], false)
			}
			s = &p.gps[ch]
		}
		if in&infoGPS != 0 {
			s.encode(&e.encoder, int64(binary.LittleEndian.Uint64(rec[i*stride+22:])))
			e.changed = true
		}
	}
	p.cur[layerGPS] = cur
}
