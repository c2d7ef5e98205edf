package laz

// decodePair decodes a number with a from ca and another with b from cb, two
// streams. A decoder spends most of its time waiting: each step needs the
// quotient that the one before it leaves. Here the steps of two streams that know nothing
// of each other stand side by side, so that the waits are shared.
func decodePair(a, b *integer, ca, cb *decoder, predA, predB int32, ctxA, ctxB uint32) (int32, int32) {
	ma, mb := a.class[ctxA], b.class[ctxB]
	if ma == nil {
		ma = a.newClass(ctxA)
	}
	if mb == nil {
		mb = b.newClass(ctxB)
	}
	lengthA, lengthB := ca.length, cb.length
	stepA, stepB := lengthA>>symbolShift, lengthB>>symbolShift
	qA, qB := ca.value/stepA, cb.value/stepB
	ka, kb := uint(ma.table[qA>>(ma.shift&31)]), uint(mb.table[qB>>(mb.shift&31)])
	for uint32(ma.dist[ka+1]) <= qA {
		ka++
	}
	for uint32(mb.dist[kb+1]) <= qB {
		kb++
	}
	loA, loB := uint32(ma.dist[ka])*stepA, uint32(mb.dist[kb])*stepB
	if ka < uint(ma.last) {
		lengthA = uint32(ma.dist[ka+1]) * stepA
	}
	if kb < uint(mb.last) {
		lengthB = uint32(mb.dist[kb+1]) * stepB
	}
	lengthA -= loA
	lengthB -= loB
	nA, nB := takenBits(lengthA), takenBits(lengthB)
	wA := uint64(ca.value-loA)<<32 | uint64(ca.next(ca.pos))
	wB := uint64(cb.value-loB)<<32 | uint64(cb.next(cb.pos))
	ca.pos += nA >> 3
	cb.pos += nB >> 3
	ca.value, cb.value = uint32(wA<<nA>>32), uint32(wB<<nB>>32)
	lengthA <<= nA
	lengthB <<= nB
	ca.length, cb.length = lengthA, lengthB
	ma.count[ka]++
	if ma.left--; ma.left == 0 {
		ma.update()
	}
	mb.count[kb]++
	if mb.left--; mb.left == 0 {
		mb.update()
	}
	a.k, b.k = uint32(ka), uint32(kb)
	if ka-1 >= 31 || kb-1 >= 31 {
		return a.fold(predA + a.rest(ca, ka)), b.fold(predB + b.rest(cb, kb))
	}

	pa, pb := a.place[ka], b.place[kb]
	if pa == nil {
		pa = a.newPlace(uint32(ka))
	}
	if pb == nil {
		pb = b.newPlace(uint32(kb))
	}
	stepA, stepB = lengthA>>symbolShift, lengthB>>symbolShift
	qA, qB = ca.value/stepA, cb.value/stepB
	sA, sB := uint(pa.table[qA>>(pa.shift&31)]), uint(pb.table[qB>>(pb.shift&31)])
	for uint32(pa.dist[sA+1]) <= qA {
		sA++
	}
	for uint32(pb.dist[sB+1]) <= qB {
		sB++
	}
	loA, loB = uint32(pa.dist[sA])*stepA, uint32(pb.dist[sB])*stepB
	if sA < uint(pa.last) {
		lengthA = uint32(pa.dist[sA+1]) * stepA
	}
	if sB < uint(pb.last) {
		lengthB = uint32(pb.dist[sB+1]) * stepB
	}
	lengthA -= loA
	lengthB -= loB
	nA, nB = takenBits(lengthA), takenBits(lengthB)
	wA = uint64(ca.value-loA)<<32 | uint64(ca.next(ca.pos))
	wB = uint64(cb.value-loB)<<32 | uint64(cb.next(cb.pos))
	ca.pos += nA >> 3
	cb.pos += nB >> 3
	ca.value, cb.value = uint32(wA<<nA>>32), uint32(wB<<nB>>32)
	ca.length, cb.length = lengthA<<nA, lengthB<<nB
	pa.count[sA]++
	if pa.left--; pa.left == 0 {
		pa.update()
	}
	pb.count[sB]++
	if pb.left--; pb.left == 0 {
		pb.update()
	}
	vA, vB := uint32(sA), uint32(sB)
	if ka > placeBits {
		vA = vA<<((ka-placeBits)&31) | ca.raw(ka-placeBits)
	}
	if kb > placeBits {
		vB = vB<<((kb-placeBits)&31) | cb.raw(kb-placeBits)
	}
	return a.fold(predA + correction(vA, ka)), b.fold(predB + correction(vB, kb))
}

// correction gives the difference at place v of class k, 1 to 31: v+1 in the
// upper half of the class, v-(1<<k-1) in the lower.
func correction(v uint32, k uint) int32 {
	low := int32(v-1<<((k-1)&31)) >> 31
	return int32(v) + 1 - low&int32(uint32(1)<<(k&31))
}

// fold brings a number of 8 or 16 bits back into its range.
func (ic *integer) fold(real int32) int32 {
	if ic.width < 32 {
		if real < 0 {
			real += 1 << (ic.width & 31)
		} else if real >= 1<<(ic.width&31) {
			real -= 1 << (ic.width & 31)
		}
	}
	return real
}

// rest decodes the difference when its class k is known.
func (ic *integer) rest(c *decoder, k uint) int32 {
	switch k {
	case 0:
		return int32(c.bit(&ic.bit))
	case 32:
		return -1 << 31
	}
	pm := ic.place[k]
	if pm == nil {
		pm = ic.newPlace(uint32(k))
	}
	v := c.big(pm)
	if k > placeBits {
		v = v<<((k-placeBits)&31) | c.raw(k-placeBits)
	}
	return correction(v, k)
}
