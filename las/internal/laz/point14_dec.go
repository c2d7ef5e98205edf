package laz

import "encoding/binary"

// decode decodes the nine layers for a block of points.
func (p *point14) decode(c []decoder, info []pointInfo, rec []byte, stride int) (good, layer int) {
	good, layer = p.decodeMain(c, info, rec, stride)
	for i, f := range [...]func(*decoder, []pointInfo, []byte, int) int{
		p.decodeFlags, p.decodeUser, p.decodeSource,
	} {
		l := [...]int{layerFlags, layerUser, layerSource}[i]
		if g := f(&c[l], info[:good], rec, stride); g < good {
			good, layer = g, l
		}
	}
	return good, layer
}

// decodeMain decodes the first layer and those that code most: Z, classification,
// intensity, scan angle and GPS time. These follow one point behind the first, a number of
// theirs after each number of the first: their streams do not depend on each other, and
// side by side they keep the processor busy while each waits for its last division.
func (p *point14) decodeMain(c []decoder, info []pointInfo, rec []byte, stride int) (good, layer int) {
	cXY, cZ, cI, cC, cA, cG := &c[layerXY], &c[layerZ], &c[layerIntensity], &c[layerClass], &c[layerAngle], &c[layerGPS]
	if !cXY.present || len(info) == 0 {
		return 0, layerXY
	}
	s := &p.xy[p.channel&3]
	in := p.decodeReturns(cXY, &s)
	p.decodeX(cXY, s, in)
	in = p.decodeY(cXY, s, in)
	for i := 0; ; i++ {
		info[i] = in
		if cXY.over() && cXY.check() != nil {
			return i, layerXY
		}
		b := rec[i*stride:][:30]
		binary.LittleEndian.PutUint32(b, uint32(s.x))
		binary.LittleEndian.PutUint32(b[4:], uint32(s.y))
		b[14] = s.n<<4 | s.r
		more := i+1 < len(info)
		last := in
		if more {
			in = p.decodeReturns(cXY, &s)
		}
		if more && cZ.present {
			in = p.decodeSpace(c, s, in, last, b)
		} else {
			binary.LittleEndian.PutUint32(b[8:], uint32(p.decodeZ(cZ, last)))
			binary.LittleEndian.PutUint16(b[12:], p.decodeIntensity(cI, last))
			if more {
				p.decodeX(cXY, s, in)
				in = p.decodeY(cXY, s, in)
			}
		}
		b[16] = p.decodeClass(cC, last)
		binary.LittleEndian.PutUint16(b[18:], uint16(p.decodeAngle(cA, last)))
		binary.LittleEndian.PutUint64(b[22:], uint64(p.decodeGPS(cG, last)))
		if cZ.over() || cI.over() || cC.over() || cA.over() || cG.over() {
			for _, l := range [...]int{layerZ, layerIntensity, layerClass, layerAngle, layerGPS} {
				if c[l].over() && c[l].check() != nil {
					return i, l
				}
			}
		}
		if !more {
			return len(info), 0
		}
	}
}

// decodeSpace decodes X and Y of a point, and Z and intensity of the one before
// it, whose record is b.
func (p *point14) decodeSpace(c []decoder, s *xy14, in, last pointInfo, b []byte) pointInfo {
	cXY := &c[layerXY]
	if last&infoSwitch != 0 {
		p.switchZ(last)
		p.switchIntensity(last)
	}
	z, it := &p.z[last.channel()], &p.inten[last.channel()]

	med, height := &s.xMedian[in.median()], &z.height[last.level()]
	d, v := decodePair(&s.icX, &z.ic, cXY, &c[layerZ], med.get(), *height, in.single(), last.z())
	med.add(d)
	s.x += d
	z.last, *height = v, v

	kx, cpr := s.icX.k, last.cpr()
	med = &s.yMedian[in.median()]
	by := &it.by[2*cpr+last.gps()]
	if cI := &c[layerIntensity]; cI.present {
		d, v = decodePair(&s.icY, &it.ic, cXY, cI, med.get(), int32(*by), in.single()+min(kx, 20)&^1, cpr)
		it.last, *by = uint16(v), uint16(v)
	} else {
		d = s.icY.decode(cXY, med.get(), in.single()+min(kx, 20)&^1)
	}
	med.add(d)
	s.y += d

	binary.LittleEndian.PutUint32(b[8:], uint32(z.last))
	binary.LittleEndian.PutUint16(b[12:], it.last)
	kz := (kx + s.icY.k) / 2
	return in | pointInfo(in.single()+min(kz, 18)&^1)<<infoZContext
}

// decodeReturns decodes what changed, the channel and the returns of a point.
func (p *point14) decodeReturns(c *decoder, context **xy14) pointInfo {
	s := *context
	ctx := flag(s.r == 1) | flag(s.r >= s.n)<<1 | flag(s.gpsChanged)<<2
	changed := c.big(p.pool.bigAt(&s.changed[ctx&7], 128))
	in := pointInfo(0)
	if changed&changedChannel != 0 {
		s, in = p.switchChannel(c, s)
		*context = s
	}
	n, r := s.n&15, s.r&15
	if changed&changedReturns != 0 {
		n = uint8(c.small(p.pool.smallAt(&s.numReturns[n], 16)))
	}
	switch changed & changedReturn {
	case 1:
		r = (r + 1) & 15
	case 2:
		r = (r + 15) & 15
	case 3:
		if changed&changedGPS != 0 {
			r = uint8(c.small(p.pool.smallAt(&s.returnNumber[r], 16)))
		} else {
			r = (r + uint8(c.small(p.pool.smallAt(&s.returnSame, 13))) + 2) & 15
		}
	}
	s.n, s.r = n, r
	s.gpsChanged = changed&changedGPS != 0
	return in | infoOf(n, r, p.channel, changed)
}

// infoOf tells all about a point but the context of Z.
func infoOf(n, r uint8, channel, changed uint32) pointInfo {
	cpr, single := flag(r == 1)<<1|flag(r >= n), flag(n == 1)
	return pointInfo(channel) | pointInfo(single)<<4 | pointInfo(changed&changedGPS)<<1 | pointInfo(changed&changedAngle)<<3 |
		pointInfo(changed&changedSource)<<2 | pointInfo(cpr)<<infoCPRShift |
		pointInfo(returnLevel[n&15][r&15])<<infoLevel | pointInfo(2*returnMap16[n&15][r&15])<<infoMedian
}

func (p *point14) decodeX(c *decoder, s *xy14, in pointInfo) {
	med := &s.xMedian[in.median()]
	d := s.icX.decode(c, med.get(), in.single())
	med.add(d)
	s.x += d
}

// decodeY adds the context of Z to the information about the point.
func (p *point14) decodeY(c *decoder, s *xy14, in pointInfo) pointInfo {
	med := &s.yMedian[in.median()]
	single, kx := in.single(), s.icX.k
	d := s.icY.decode(c, med.get(), single+min(kx, 20)&^1)
	med.add(d)
	s.y += d
	kz := (kx + s.icY.k) / 2
	return in | pointInfo(single+min(kz, 18)&^1)<<infoZContext
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

// enter tells the context of a layer for this point, and from which other it has
// to be started, if it does.
func (p *point14) enter(layer int, in pointInfo) (ctx, from uint32, fresh bool) {
	ctx, from = in.channel(), p.cur[layer]&3
	p.cur[layer] = ctx
	return ctx, from, in&infoFresh != 0
}

func (p *point14) switchZ(in pointInfo) {
	if ctx, from, fresh := p.enter(layerZ, in); fresh {
		p.z[ctx].start(p.pool, p.z[from].last)
	}
}

func (p *point14) switchIntensity(in pointInfo) {
	if ctx, from, fresh := p.enter(layerIntensity, in); fresh {
		p.inten[ctx].start(p.pool, p.inten[from].last)
	}
}

func (p *point14) decodeZ(c *decoder, in pointInfo) int32 {
	if in&infoSwitch != 0 {
		p.switchZ(in)
	}
	s := &p.z[in.channel()]
	if c.present {
		l := in.level()
		s.last = s.ic.decode(c, s.height[l], in.z())
		s.height[l] = s.last
	}
	return s.last
}

func (p *point14) decodeClass(c *decoder, in pointInfo) uint8 {
	s := &p.class[in.channel()]
	if in&infoSwitch != 0 {
		ctx, from, fresh := p.enter(layerClass, in)
		if s = &p.class[ctx]; fresh {
			*s = class14{last: p.class[from].last}
		}
	}
	if c.present {
		ctx := uint32(s.last&31)<<1 | flag(in.cpr() == 3)
		s.last = uint8(c.big(p.pool.bigAt(&s.models[ctx&63], 256)))
	}
	return s.last
}

func (p *point14) decodeIntensity(c *decoder, in pointInfo) uint16 {
	if in&infoSwitch != 0 {
		p.switchIntensity(in)
	}
	s := &p.inten[in.channel()]
	if c.present {
		cpr := in.cpr()
		last := &s.by[2*cpr+in.gps()]
		s.last = uint16(s.ic.decode(c, int32(*last), cpr))
		*last = s.last
	}
	return s.last
}

func (p *point14) decodeGPS(c *decoder, in pointInfo) int64 {
	s := &p.gps[in.channel()]
	if in&infoSwitch != 0 {
		ctx, from, fresh := p.enter(layerGPS, in)
		if s = &p.gps[ctx]; fresh {
			old := &p.gps[from]
			s.reset(p.pool, old.time[old.cur&3], false)
		}
	}
	if in&infoGPS != 0 && c.present {
		return s.decode(c)
	}
	return s.time[s.cur&3]
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

func (p *point14) decodeAngle(c *decoder, in pointInfo) int16 {
	if in&infoSwitch != 0 {
		if ctx, from, fresh := p.enter(layerAngle, in); fresh {
			p.angle[ctx].start(p.pool, p.angle[from].last)
		}
	}
	s := &p.angle[in.channel()]
	if in&infoAngle != 0 && c.present {
		s.last = int16(s.ic.decode(c, int32(s.last), in.gps()))
	}
	return s.last
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
