package laz

import "encoding/binary"

// decode decodes the nine layers for a block of points.
func (p *point14) decode(c []decoder, info []pointInfo, rec []byte, stride int) (good, layer int) {
	good = p.decodeXY(&c[layerXY], info, rec, stride)
	layer = layerXY
	for i, f := range [...]func(*decoder, []pointInfo, []byte, int) int{
		layerZ:         p.decodeZ,
		layerClass:     p.decodeClass,
		layerFlags:     p.decodeFlags,
		layerIntensity: p.decodeIntensity,
		layerAngle:     p.decodeAngle,
		layerUser:      p.decodeUser,
		layerSource:    p.decodeSource,
		layerGPS:       p.decodeGPS,
	} {
		if i == layerXY {
			continue
		}
		if g := f(&c[i], info[:good], rec, stride); g < good {
			good, layer = g, i
		}
	}
	return good, layer
}

func (p *point14) decodeXY(c *decoder, info []pointInfo, rec []byte, stride int) int {
	if !c.present {
		return 0
	}
	s := &p.xy[p.channel&3]
	for i := range info {
		ctx := uint32(0)
		if s.r == 1 {
			ctx |= 1
		}
		if s.r >= s.n {
			ctx |= 2
		}
		if s.gpsChanged {
			ctx |= 4
		}
		changed := c.big(p.pool.bigAt(&s.changed[ctx], 128))
		in := pointInfo(0)
		if changed&changedChannel != 0 {
			s, in = p.switchChannel(c, s)
		}
		n, r := s.n, s.r
		if changed&changedReturns != 0 {
			n = uint8(c.small(p.pool.smallAt(&s.numReturns[n&15], 16)))
		}
		switch changed & changedReturn {
		case 1:
			r = (r + 1) & 15
		case 2:
			r = (r + 15) & 15
		case 3:
			if changed&changedGPS != 0 {
				r = uint8(c.small(p.pool.smallAt(&s.returnNumber[r&15], 16)))
			} else {
				r = (r + uint8(c.small(p.pool.smallAt(&s.returnSame, 13))) + 2) & 15
			}
		}
		s.n, s.r = n, r
		s.gpsChanged = changed&changedGPS != 0

		cpr, g, single := uint32(0), uint32(0), uint32(0)
		if r == 1 {
			cpr = 2
		}
		if r >= n {
			cpr |= 1
		}
		if s.gpsChanged {
			g = 1
		}
		if n == 1 {
			single = 1
		}
		m := (2*uint32(returnMap16[n&15][r&15]) + g) % 12
		med := &s.xMedian[m]
		d := s.icX.decode(c, med.get(), single)
		med.add(d)
		s.x += d
		kx := s.icX.k
		med = &s.yMedian[m]
		d = s.icY.decode(c, med.get(), single+min(kx, 20)&^1)
		med.add(d)
		s.y += d
		kz := (kx + s.icY.k) / 2

		in |= pointInfo(p.channel) | pointInfo(single)<<4 | pointInfo(g)<<5 | pointInfo(changed&changedAngle)<<3 |
			pointInfo(changed&changedSource)<<2 | pointInfo(cpr)<<infoCPRShift |
			pointInfo(returnLevel[n&15][r&15])<<infoLevel | pointInfo(single+min(kz, 18)&^1)<<infoZContext
		info[i] = in
		if c.over() && c.check() != nil {
			return i
		}
		b := rec[i*stride:][:16]
		binary.LittleEndian.PutUint32(b, uint32(s.x))
		binary.LittleEndian.PutUint32(b[4:], uint32(s.y))
		b[14] = n<<4 | r
	}
	return len(info)
}

// switchChannel decodes the new channel and returns its context.
func (p *point14) switchChannel(c *decoder, s *xy14) (*xy14, pointInfo) {
	step := c.small(p.pool.smallAt(&s.channelM, 3)) + 1
	p.channel = (p.channel + step) & 3
	next := &p.xy[p.channel]
	if p.used[p.channel] {
		return next, infoSwitch
	}
	p.used[p.channel] = true
	next.start(p.pool, s.x, s.y, s.n, s.r)
	next.gpsChanged = s.gpsChanged
	return next, infoSwitch | infoFresh
}

func (p *point14) decodeZ(c *decoder, info []pointInfo, rec []byte, stride int) int {
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
		if c.present {
			l := in.level()
			s.last = s.ic.decode(c, s.height[l], in.z())
			s.height[l] = s.last
			if c.over() && c.check() != nil {
				return i
			}
		}
		binary.LittleEndian.PutUint32(rec[i*stride+8:], uint32(s.last))
	}
	p.cur[layerZ] = cur
	return len(info)
}

func (p *point14) decodeClass(c *decoder, info []pointInfo, rec []byte, stride int) int {
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
		if c.present {
			ctx := s.last & 31 << 1
			if in.cpr() == 3 {
				ctx |= 1
			}
			s.last = uint8(c.big(p.pool.bigAt(&s.models[ctx&63], 256)))
			if c.over() && c.check() != nil {
				return i
			}
		}
		rec[i*stride+16] = s.last
	}
	p.cur[layerClass] = cur
	return len(info)
}

func (p *point14) decodeFlags(c *decoder, info []pointInfo, rec []byte, stride int) int {
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
		if c.present {
			s.last = uint8(c.small(p.pool.smallAt(&s.models[s.last&63], 64)))
			if c.over() && c.check() != nil {
				return i
			}
		}
		rec[i*stride+15] = unpackFlags(s.last, cur)
	}
	p.cur[layerFlags] = cur
	return len(info)
}

func (p *point14) decodeIntensity(c *decoder, info []pointInfo, rec []byte, stride int) int {
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
		if c.present {
			cpr := in.cpr()
			last := &s.by[2*cpr+in.gps()]
			s.last = uint16(s.ic.decode(c, int32(*last), cpr))
			*last = s.last
			if c.over() && c.check() != nil {
				return i
			}
		}
		binary.LittleEndian.PutUint16(rec[i*stride+12:], s.last)
	}
	p.cur[layerIntensity] = cur
	return len(info)
}

func (p *point14) decodeAngle(c *decoder, info []pointInfo, rec []byte, stride int) int {
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
		if in&infoAngle != 0 && c.present {
			s.last = int16(s.ic.decode(c, int32(s.last), in.gps()))
			if c.over() && c.check() != nil {
				return i
			}
		}
		binary.LittleEndian.PutUint16(rec[i*stride+18:], uint16(s.last))
	}
	p.cur[layerAngle] = cur
	return len(info)
}

func (p *point14) decodeUser(c *decoder, info []pointInfo, rec []byte, stride int) int {
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
		if c.present {
			s.last = uint8(c.big(p.pool.bigAt(&s.models[s.last>>2], 256)))
			if c.over() && c.check() != nil {
				return i
			}
		}
		rec[i*stride+17] = s.last
	}
	p.cur[layerUser] = cur
	return len(info)
}

func (p *point14) decodeSource(c *decoder, info []pointInfo, rec []byte, stride int) int {
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
		if in&infoSource != 0 && c.present {
			s.last = uint16(s.ic.decode(c, int32(s.last), 0))
			if c.over() && c.check() != nil {
				return i
			}
		}
		binary.LittleEndian.PutUint16(rec[i*stride+20:], s.last)
	}
	p.cur[layerSource] = cur
	return len(info)
}

func (p *point14) decodeGPS(c *decoder, info []pointInfo, rec []byte, stride int) int {
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
		if in&infoGPS != 0 && c.present {
			s.decode(c)
			if c.over() && c.check() != nil {
				return i
			}
		}
		binary.LittleEndian.PutUint64(rec[i*stride+22:], uint64(s.time[s.cur&3]))
	}
	p.cur[layerGPS] = cur
	return len(info)
}
