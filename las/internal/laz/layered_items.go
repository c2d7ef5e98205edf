package laz

import "encoding/binary"

// contextRule tells how the items beside POINT14 find their context.
type contextRule struct {
	point uint16 // version of POINT14: how the channel becomes a context number
	item  uint16 // version of the item: which last value is predicted from
}

// contexts tracks the context of an item. At a change of context an unused one is
// started from the last value. In version 3 the point that enters a used context
// is predicted from, and stored to, the last value of the context that it
// left, with the models of the new one: a slip of the first encoder that became
// the format.
type contexts struct {
	cur    uint32
	opened [4]bool
}

func (x *contexts) reset(channel uint32) {
	*x = contexts{cur: channel}
	x.opened[channel] = true
}

// enter moves to context ctx. It returns the context that was left, the one that
// holds the last value for this point, and whether ctx is fresh: its
// models are to be reset and its last value copied from that of context from.
func (x *contexts) enter(ctx uint32, version uint16) (from, last uint32, fresh bool) {
	from = x.cur
	x.cur = ctx
	if !x.opened[ctx] {
		x.opened[ctx] = true
		return from, ctx, true
	}
	if version >= 4 {
		return from, ctx, false
	}
	return from, from, false
}

// rgb14 is item RGB14.
type rgb14 struct {
	pool   *modelPool
	rule   contextRule
	ctx    contexts
	last   [4]colour
	models [4]rgbModels
}

func (p *rgb14) reset(first []byte, channel uint32) {
	p.ctx.reset(channel)
	p.last[channel] = getColour(first)
	p.models[channel].reset(p.pool)
}

func (p *rgb14) decode(c []decoder, info []pointInfo, rec []byte, stride int) (good, layer int) {
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
			*last = p.models[p.ctx.cur&3].decode(s, *last)
			if s.over() && s.check() != nil {
				return i, 0
			}
		}
		last.put(rec[i*stride:])
	}
	return len(info), 0
}

func (p *rgb14) encode(w []layerWriter, info []pointInfo, rec []byte, stride int) {
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
		v := getColour(rec[i*stride:])
		if p.models[p.ctx.cur&3].encode(&e.encoder, *last, v) {
			e.changed = true
		}
		*last = v
	}
}

// nir14 is the near-infrared layer of item RGBNIR14.
type nir14 struct {
	pool   *modelPool
	rule   contextRule
	ctx    contexts
	last   [4]uint16
	mask   [4]*small
	lo, hi [4]*big
}

func (p *nir14) reset(first []byte, channel uint32) {
	p.ctx.reset(channel)
	p.start(channel, binary.LittleEndian.Uint16(first))
}

func (p *nir14) start(ctx uint32, last uint16) {
	p.last[ctx] = last
	p.mask[ctx], p.lo[ctx], p.hi[ctx] = nil, nil, nil
}

func (p *nir14) decode(s *decoder, info []pointInfo, rec []byte, stride int) int {
	for i, in := range info {
		l := p.ctx.cur
		if ctx := in.itemChannel(p.rule.point); ctx != l {
			var from uint32
			var fresh bool
			if from, l, fresh = p.ctx.enter(ctx, p.rule.item); fresh {
				p.start(ctx, p.last[from])
			}
		}
		last := &p.last[l&3]
		if s.present {
			cur := p.ctx.cur & 3
			lo, hi := uint8(*last), uint8(*last>>8)
			mask := s.small(p.pool.smallAt(&p.mask[cur], 4))
			if mask&1 != 0 {
				lo += uint8(s.big(p.pool.bigAt(&p.lo[cur], 256)))
			}
			if mask&2 != 0 {
				hi += uint8(s.big(p.pool.bigAt(&p.hi[cur], 256)))
			}
			*last = uint16(hi)<<8 | uint16(lo)
			if s.over() && s.check() != nil {
				return i
			}
		}
		binary.LittleEndian.PutUint16(rec[i*stride:], *last)
	}
	return len(info)
}

func (p *nir14) encode(e *layerWriter, info []pointInfo, rec []byte, stride int) {
	e.room(len(info) * layerSlack)
	for i, in := range info {
		l := p.ctx.cur
		if ctx := in.itemChannel(p.rule.point); ctx != l {
			var from uint32
			var fresh bool
			if from, l, fresh = p.ctx.enter(ctx, p.rule.item); fresh {
				p.start(ctx, p.last[from])
			}
		}
		last := &p.last[l&3]
		v := binary.LittleEndian.Uint16(rec[i*stride:])
		cur := p.ctx.cur & 3
		mask := flag(v&255 != *last&255) | flag(v>>8 != *last>>8)<<1
		e.small(p.pool.smallAt(&p.mask[cur], 4), mask)
		if mask&1 != 0 {
			e.big(p.pool.bigAt(&p.lo[cur], 256), uint32(v-*last)&255)
		}
		if mask&2 != 0 {
			e.big(p.pool.bigAt(&p.hi[cur], 256), uint32(v>>8-*last>>8)&255)
		}
		if mask != 0 {
			*last, e.changed = v, true
		}
	}
}

// rgbNIR14 is item RGBNIR14: two layers.
type rgbNIR14 struct {
	rgb rgb14
	nir nir14
}

func (p *rgbNIR14) reset(first []byte, channel uint32) {
	p.rgb.reset(first, channel)
	p.nir.reset(first[6:], channel)
}

func (p *rgbNIR14) decode(c []decoder, info []pointInfo, rec []byte, stride int) (good, layer int) {
	good, layer = p.rgb.decode(c, info, rec, stride)
	if g := p.nir.decode(&c[1], info[:good], rec[min(6, len(rec)):], stride); g < good {
		return g, 1
	}
	return good, layer
}

func (p *rgbNIR14) encode(w []layerWriter, info []pointInfo, rec []byte, stride int) {
	p.rgb.encode(w, info, rec, stride)
	p.nir.encode(&w[1], info, rec[6:], stride)
}
