package laz

// wavePacket14 is item WAVEPACKET14.
type wavePacket14 struct {
	pool   *modelPool
	rule   contextRule
	ctx    contexts
	last   [4]wavePacket
	models [4]waveModels
}

func (p *wavePacket14) reset(first []byte, channel uint32) {
	p.ctx.reset(channel)
	p.last[channel] = getWavePacket(first)
	p.models[channel].reset(p.pool)
}

func (p *wavePacket14) decode(c []decoder, info []pointInfo, rec []byte, stride int) (good, layer int) {
	s := &c[0]
	for i, in := range info {
		l := p.ctx.cur
		if ctx := in.itemChannel(p.rule.point); ctx != l {
			var from uint32
			var fresh bool
			if from, l, fresh = p.ctx.enter(ctx, p.rule.item); fresh {
				p.last[ctx] = p.last[from]
				p.models[ctx].reset(p.pool)
			}
		}
		last := &p.last[l&3]
		if s.present {
			*last = p.models[p.ctx.cur&3].decode(s, last)
			if s.over() && s.check() != nil {
				return i, 0
			}
		}
		last.put(rec[i*stride:])
	}
	return len(info), 0
}

func (p *wavePacket14) encode(w []layerWriter, info []pointInfo, rec []byte, stride int) {
	e := &w[0]
	e.room(len(info) * layerSlack)
	for i, in := range info {
		l := p.ctx.cur
		if ctx := in.itemChannel(p.rule.point); ctx != l {
			var from uint32
			var fresh bool
			if from, l, fresh = p.ctx.enter(ctx, p.rule.item); fresh {
				p.last[ctx] = p.last[from]
				p.models[ctx].reset(p.pool)
			}
		}
		last := &p.last[l&3]
		v := getWavePacket(rec[i*stride:])
		p.models[p.ctx.cur&3].encode(&e.encoder, last, &v)
		if v != *last {
			*last, e.changed = v, true
		}
	}
}

// extraBytes14 is item BYTE14: one layer for each extra byte.
type extraBytes14 struct {
	bytes []byte14
}

// byte14 is one extra byte.
type byte14 struct {
	pool   *modelPool
	rule   contextRule
	ctx    contexts
	last   [4]uint8
	models [4]*big
}

func newExtraBytes14(pool *modelPool, rule contextRule, n int) *extraBytes14 {
	p := &extraBytes14{bytes: make([]byte14, n)}
	for i := range p.bytes {
		p.bytes[i].pool, p.bytes[i].rule = pool, rule
	}
	return p
}

func (p *extraBytes14) reset(first []byte, channel uint32) {
	for i := range p.bytes {
		b := &p.bytes[i]
		b.ctx.reset(channel)
		b.last[channel], b.models[channel] = first[i], nil
	}
}

func (p *extraBytes14) decode(c []decoder, info []pointInfo, rec []byte, stride int) (good, layer int) {
	good = len(info)
	for i := range p.bytes {
		if g := p.bytes[i].decode(&c[i], info[:good], rec[min(i, len(rec)):], stride); g < good {
			good, layer = g, i
		}
	}
	return good, layer
}

func (p *byte14) decode(s *decoder, info []pointInfo, rec []byte, stride int) int {
	for i, in := range info {
		l := p.ctx.cur
		if ctx := in.itemChannel(p.rule.point); ctx != l {
			var from uint32
			var fresh bool
			if from, l, fresh = p.ctx.enter(ctx, p.rule.item); fresh {
				p.last[ctx], p.models[ctx] = p.last[from], nil
			}
		}
		last := &p.last[l&3]
		if s.present {
			*last += uint8(s.big(p.pool.bigAt(&p.models[p.ctx.cur&3], 256)))
			if s.over() && s.check() != nil {
				return i
			}
		}
		rec[i*stride] = *last
	}
	return len(info)
}

func (p *extraBytes14) encode(w []layerWriter, info []pointInfo, rec []byte, stride int) {
	for i := range p.bytes {
		p.bytes[i].encode(&w[i], info, rec[i:], stride)
	}
}

func (p *byte14) encode(e *layerWriter, info []pointInfo, rec []byte, stride int) {
	e.room(len(info) * byteSlack)
	for i, in := range info {
		l := p.ctx.cur
		if ctx := in.itemChannel(p.rule.point); ctx != l {
			var from uint32
			var fresh bool
			if from, l, fresh = p.ctx.enter(ctx, p.rule.item); fresh {
				p.last[ctx], p.models[ctx] = p.last[from], nil
			}
		}
		last := &p.last[l&3]
		v := rec[i*stride]
		e.big(p.pool.bigAt(&p.models[p.ctx.cur&3], 256), uint32(v-*last))
		if v != *last {
			*last, e.changed = v, true
		}
	}
}
