package laz

import "encoding/binary"

// Multipliers of the GPS time models: a step is coded as a multiple of the usual one.
const (
	multiMax      = 500                     // largest multiple with a symbol
	multiMin      = -10                     // smallest one
	multiAgain    = multiMax - multiMin + 1 // 511: GPSTIME11 "unchanged", or the first code of POINT14
	gpsContexts   = 9
	maxGPSSwitch  = 4 // more switches of sequence in one point are damage
	extremeSwitch = 3 // steps out of range in a row before the usual step is replaced
)

// gpsSequences holds the four sequences of GPS time, shared by GPSTIME11 version
// 2 and POINT14. Times are the bit patterns of the float64.
type gpsSequences struct {
	time      [4]int64
	diff      [4]int32
	extreme   [4]int32
	cur, next uint32
	zero      *small // symbols while the sequence has no step yet
	multi     *huge
	ic        integer
	// unchanged shifts the symbols: 1 for GPSTIME11, which has an "unchanged"
	// symbol in both models, 0 for POINT14, which has none.
	unchanged uint32
}

func (g *gpsSequences) reset(pool *modelPool, first int64, unchanged bool) {
	*g = gpsSequences{}
	g.time[0] = first
	if unchanged {
		g.unchanged = 1
	}
	g.zero = pool.small(5 + int(g.unchanged))
	g.multi = pool.huge(multiAgain + 4 + int(g.unchanged))
	g.ic.reset(pool, 32)
}

// decode codes one time and leaves it in time[cur].
func (g *gpsSequences) decode(c *decoder) int64 {
	for range maxGPSSwitch {
		cur := g.cur & 3
		if g.diff[cur] == 0 {
			s := c.small(g.zero)
			if s < g.unchanged {
				return g.time[cur]
			}
			switch s -= g.unchanged; s {
			case 0:
				d := g.ic.decode(c, 0, 0)
				g.diff[cur], g.extreme[cur] = d, 0
				g.time[cur] += int64(d)
				return g.time[cur]
			case 1:
				return g.decodeFull(c)
			}
			g.cur = (cur + s - 1) & 3
			continue
		}
		s := c.huge(g.multi)
		if s < multiAgain {
			return g.decodeStep(c, s, cur)
		}
		s -= multiAgain
		if s < g.unchanged {
			return g.time[cur]
		}
		if s -= g.unchanged; s == 0 {
			return g.decodeFull(c)
		}
		g.cur = (cur + s) & 3
	}
	c.bad |= 1
	return g.time[g.cur&3]
}

// decodeStep decodes a step that is symbol s of the multi model.
func (g *gpsSequences) decodeStep(c *decoder, s, cur uint32) int64 {
	diff := g.diff[cur]
	var d int32
	if s == 1 {
		d = g.ic.decode(c, diff, 1)
		g.extreme[cur] = 0
	} else {
		factor, ctx := gpsFactor(s)
		d = g.ic.decode(c, factor*diff, ctx)
		if gpsExtreme(s) {
			g.isExtreme(cur, d)
		}
	}
	g.time[cur] += int64(d)
	return g.time[cur]
}

// gpsFactor gives the multiple and the context of a symbol of the multi model.
func gpsFactor(s uint32) (factor int32, ctx uint32) {
	switch {
	case s == 0:
		return 0, 7
	case s < 10:
		return int32(s), 2
	case s < multiMax:
		return int32(s), 3
	case s == multiMax:
		return multiMax, 4
	case s < multiMax-multiMin:
		return multiMax - int32(s), 5
	}
	return multiMin, 6
}

func gpsExtreme(s uint32) bool {
	return s == 0 || s == multiMax || s == multiMax-multiMin
}

func (g *gpsSequences) isExtreme(cur uint32, d int32) {
	g.extreme[cur]++
	if g.extreme[cur] > extremeSwitch {
		g.diff[cur], g.extreme[cur] = d, 0
	}
}

// decodeFull begins a new sequence in the oldest place.
func (g *gpsSequences) decodeFull(c *decoder) int64 {
	g.next = (g.next + 1) & 3
	hi := g.ic.decode(c, int32(g.time[g.cur&3]>>32), 8)
	lo := c.raw32()
	g.startSequence(int64(hi)<<32 | int64(lo))
	return g.time[g.next]
}

func (g *gpsSequences) startSequence(t int64) {
	g.cur = g.next
	g.time[g.cur], g.diff[g.cur], g.extreme[g.cur] = t, 0, 0
}

func (g *gpsSequences) encode(e *encoder, t int64) {
	for {
		cur := g.cur & 3
		diff, d := g.diff[cur], t-g.time[cur]
		base := uint32(multiAgain)
		if diff == 0 {
			base = 0
		}
		if d == 0 && g.unchanged != 0 {
			g.put(e, diff, base)
			return
		}
		base += g.unchanged
		d32 := int32(d)
		switch {
		case int64(d32) == d && diff == 0:
			g.put(e, diff, base)
			g.ic.encode(e, 0, d32, 0)
			g.diff[cur], g.extreme[cur] = d32, 0
			g.time[cur] = t
			return
		case int64(d32) == d:
			g.encodeStep(e, cur, diff, d32)
			g.time[cur] = t
			return
		}
		if diff == 0 {
			base++ // behind the 32-bit difference
		}
		s := g.sequenceNear(t)
		g.put(e, diff, base+s)
		if s == 0 {
			g.next = (g.next + 1) & 3
			g.ic.encode(e, int32(g.time[cur]>>32), int32(t>>32), 8)
			e.raw32(uint32(t))
			g.startSequence(t)
			return
		}
		g.cur = (cur + s) & 3
	}
}

// put codes a symbol with the model for a usual step of diff.
func (g *gpsSequences) put(e *encoder, diff int32, s uint32) {
	if diff == 0 {
		e.small(g.zero, s)
	} else {
		e.huge(g.multi, s)
	}
}

// sequenceNear returns how many places after the current one is the first
// sequence that reaches t with a 32-bit step, 0 if none does.
func (g *gpsSequences) sequenceNear(t int64) uint32 {
	for s := uint32(1); s < 4; s++ {
		if d := t - g.time[(g.cur+s)&3]; int64(int32(d)) == d {
			return s
		}
	}
	return 0
}

func (g *gpsSequences) encodeStep(e *encoder, cur uint32, diff, d int32) {
	s := gpsMultiple(d, diff)
	e.huge(g.multi, s)
	if s == 1 {
		g.ic.encode(e, diff, d, 1)
		g.extreme[cur] = 0
		return
	}
	factor, ctx := gpsFactor(s)
	g.ic.encode(e, factor*diff, d, ctx)
	if gpsExtreme(s) {
		g.isExtreme(cur, d)
	}
}

// gpsMultiple returns the symbol of the multi model for a step of d when diff is
// the usual one. The quotient is taken in single precision as the format's
// encoder takes it.
func gpsMultiple(d, diff int32) uint32 {
	q := float64(float32(d) / float32(diff))
	switch {
	case q >= multiMax:
		return multiMax
	case q <= multiMin:
		return multiMax - multiMin
	case q < 0:
		q -= 0.5
	default:
		q += 0.5
	}
	multi := int32(q)
	if multi < 0 {
		return uint32(multiMax - multi)
	}
	return uint32(multi)
}

// gpsTime11 is item GPSTIME11, version 2.
type gpsTime11 struct {
	pool *modelPool
	gps  gpsSequences
}

func (p *gpsTime11) reset(first []byte) {
	p.gps.reset(p.pool, int64(binary.LittleEndian.Uint64(first)), true)
}

func (p *gpsTime11) decode(c *decoder, dst []byte) {
	binary.LittleEndian.PutUint64(dst, uint64(p.gps.decode(c)))
}

func (p *gpsTime11) encode(e *encoder, src []byte) {
	p.gps.encode(e, int64(binary.LittleEndian.Uint64(src)))
}
