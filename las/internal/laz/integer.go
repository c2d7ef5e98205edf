package laz

import "math/bits"

// integer is the integer compressor: it codes a number as its difference to a
// prediction, split into the class of the difference (its bit length, coded by
// context) and the place inside the class.
type integer struct {
	k     uint32 // class of the last number; other fields use it as context
	width uint32 // 8, 16 or 32 bits
	pool  *modelPool
	class [maxContexts]*model
	place [33]*model
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
func (ic *integer) newClass(ctx uint32) *model {
	m := ic.pool.get(int(ic.width) + 1)
	ic.class[ctx] = m
	return m
}

//go:noinline
func (ic *integer) newPlace(k uint32) *model {
	m := ic.pool.get(1 << min(k, placeBits))
	ic.place[k] = m
	return m
}

func (ic *integer) decode(c *decoder, pred int32, ctx uint32) int32 {
	m := ic.class[ctx]
	if m == nil {
		m = ic.newClass(ctx)
	}
	k := c.symbol(m)
	ic.k = k
	corr := int32(0)
	switch {
	case k == 0:
		corr = int32(c.bit(&ic.bit))
	case k == 32:
		corr = -1 << 31
	default:
		m := ic.place[k]
		if m == nil {
			m = ic.newPlace(k)
		}
		v := c.symbol(m)
		if k > placeBits {
			v = v<<(k-placeBits) | c.raw(uint(k-placeBits))
		}
		// v+1 in the upper half of the class, v-(1<<k-1) in the lower
		corr = int32(v) + 1
		low := int32(v-1<<(k-1)) >> 31
		corr -= low & int32(uint32(1)<<k)
	}
	real := pred + corr
	if ic.width < 32 {
		if real < 0 {
			real += 1 << ic.width
		} else if real >= 1<<ic.width {
			real -= 1 << ic.width
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
	e.symbol(m, k)
	switch k {
	case 0:
		e.bit(&ic.bit, uint32(corr))
		return
	case 32:
		return
	}
	m = ic.place[k]
	if m == nil {
		m = ic.newPlace(k)
	}
	// 0 .. 1<<k-1: negative differences first
	v := uint32(corr-1) + uint32(corr>>31)&(uint32(1)<<k)
	if k <= placeBits {
		e.symbol(m, v)
		return
	}
	low := uint(k - placeBits)
	e.symbol(m, v>>low)
	e.raw(low, v&(1<<low-1))
}
