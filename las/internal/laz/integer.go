package laz

import (
	"math/bits"
)

// integer is the integer compressor: it codes a number as its difference to a
// prediction, split into the class of the difference (its bit length, coded by
// context) and the place inside the class.
type integer struct {
	k     uint32 // class of the last number; other fields use it as context
	width uint32 // 8, 16 or 32 bits
	pool  *modelPool
	class [maxContexts]*small
	place [33]*big
	bit   bitModel
}

const (
	maxContexts = 22
	placeBits   = 8 // bits of the place that are modelled; those below are raw
)

func (ic *integer) reset(pool *modelPool, width uint32) {
	*ic = integer{width: width, pool: pool}
	ic.bit.reset()
}

//go:noinline
func (ic *integer) newClass(ctx uint32) *small {
	m := ic.pool.small(int(ic.width) + 1)
	ic.class[ctx] = m
	return m
}

//go:noinline
func (ic *integer) newPlace(k uint32) *big {
	m := ic.pool.big(1 << min(k, placeBits))
	ic.place[k] = m
	return m
}

// decode has the steps of decoder.small, big and raw written out, so that the
// state of the coder stays in registers.
func (ic *integer) decode(c *decoder, pred int32, ctx uint32) int32 {
	cm := ic.class[ctx]
	if cm == nil {
		cm = ic.newClass(ctx)
	}
	value, length, pos := c.value, c.length, c.pos
	step := length >> symbolShift
	q := value / step
	k := uint(cm.table[q>>(cm.shift&31)])
	for uint32(cm.dist[k+1]) <= q {
		k++
	}
	lo := uint32(cm.dist[k]) * step
	if k < uint(cm.last) {
		length = uint32(cm.dist[k+1]) * step
	}
	length -= lo
	w := uint64(value-lo)<<32 | uint64(c.next(pos))
	n := takenBits(length)
	pos += n >> 3
	value, length = uint32(w<<n>>32), length<<n
	cm.count[k]++
	if cm.left--; cm.left == 0 {
		cm.update()
	}
	ic.k = uint32(k)

	var corr int32
	switch k {
	case 0:
		c.value, c.length, c.pos = value, length, pos
		corr = int32(c.bit(&ic.bit))
	case 32:
		c.value, c.length, c.pos = value, length, pos
		corr = -1 << 31
	default:
		pm := ic.place[k]
		if pm == nil {
			pm = ic.newPlace(uint32(k))
		}
		step = length >> symbolShift
		q = value / step
		s := uint(pm.table[q>>(pm.shift&31)])
		for uint32(pm.dist[s+1]) <= q {
			s++
		}
		lo = uint32(pm.dist[s]) * step
		if s < uint(pm.last) {
			length = uint32(pm.dist[s+1]) * step
		}
		length -= lo
		w := uint64(value-lo)<<32 | uint64(c.next(pos))
		n := takenBits(length)
		c.pos = pos + n>>3
		c.value, c.length = uint32(w<<n>>32), length<<n
		pm.count[s]++
		if pm.left--; pm.left == 0 {
			pm.update()
		}
		v := uint32(s)
		if k > placeBits {
			v = v<<(k-placeBits&31) | c.raw(k-placeBits)
		}
		// v+1 in the upper half of the class, v-(1<<k-1) in the lower
		corr = int32(v) + 1
		low := int32(v-1<<((k-1)&31)) >> 31
		corr -= low & int32(uint32(1)<<(k&31))
	}
	real := pred + corr
	if ic.width < 32 {
		if real < 0 {
			real += 1 << (ic.width & 31)
		} else if real >= 1<<(ic.width&31) {
			real -= 1 << (ic.width & 31)
		}
	}
	return real
}

// classOf returns the class of a difference, 0 to 32.
func classOf(corr int32) uint32 {
	a := uint32(corr - 1)
	if corr <= 0 {
		a = uint32(-corr)
	}
	return uint32(bits.Len32(a))
}

func (ic *integer) encode(e *encoder, pred, real int32, ctx uint32) {
	corr := real - pred
	if ic.width < 32 {
		half := int32(1) << (ic.width - 1)
		if corr < -half {
			corr += 2 * half
		} else if corr >= half {
			corr -= 2 * half
		}
	}
	m := ic.class[ctx]
	if m == nil {
		m = ic.newClass(ctx)
	}
	k := classOf(corr)
	ic.k = k
	e.small(m, k)
	switch k {
	case 0:
		e.bit(&ic.bit, uint32(corr))
		return
	case 32:
		return
	}
	pm := ic.place[k]
	if pm == nil {
		pm = ic.newPlace(k)
	}
	// 0 .. 1<<k-1: negative differences first
	v := uint32(corr-1) + uint32(corr>>31)&(uint32(1)<<k)
	if k <= placeBits {
		e.big(pm, v)
		return
	}
	low := uint(k - placeBits)
	e.big(pm, v>>low)
	e.raw(low, v&(1<<low-1))
}
