package overlap

import "sidelap/las"

// Points are added in blocks: one simple loop after the other over short arrays, so that sums stay in registers
// and the sums of a cell or segment in memory are touched once for a run of neighbouring points, not for each.

// blockPoints is the number of points of a block: few enough for its arrays to stay in the first-level cache.
const blockPoints = 256

// The kinds of a point, as bits.
const (
	kindFirst  = 1 << iota // first return (return number 0 or 1)
	kindFacet              // last return of a facet class
	kindSingle             // the only return of its pulse
	kindKeep               // neither withheld nor noise
	kindCount  = 1 << iota
)

// kindOfReturn is the kind of a point by NumReturns<<4 | ReturnNumber, in any class.
var kindOfReturn = func() (t [256]uint8) {
	for i := range t {
		r, of := uint8(i)&15, uint8(i)>>4
		t[i] = kindKeep
		if r <= 1 {
			t[i] |= kindFirst
		}
		if r >= of {
			t[i] |= kindFacet
		}
		if of <= 1 && r <= 1 {
			t[i] |= kindSingle
		}
	}
	return t
}()

// Fields of packed counts.
const (
	countFirst  = 0
	countFacet  = 16
	countSingle = 32 // of facet points
	countMulti  = 48
)

// countsOfKind is what a point of a kind adds to packed counts.
var countsOfKind = func() (t [kindCount]uint64) {
	for k := range t {
		if k&kindFirst != 0 {
			t[k] += 1 << countFirst
		}
		if k&kindFacet != 0 {
			t[k] += 1 << countFacet
		}
		if k&kindFacet != 0 && k&kindSingle != 0 {
			t[k] += 1 << countSingle
		}
		if k&kindSingle == 0 {
			t[k] += 1 << countMulti
		}
	}
	return t
}()

// batch holds a block of points on their way into the sums.
type batch struct {
	n      int
	e, no  [blockPoints]int64 // in units
	z      [blockPoints]int32
	kind   [blockPoints]uint8
	time   []float64 // columns of the points that are kept; neutral where the chunk has none
	angle  []int16
	source []uint16
	chans  []uint8

	uniform bool // all points have one source and channel

	// Facet points of one segment.
	facets         int
	fe, fn         [blockPoints]int64
	fz, ticks, tan [blockPoints]int32
	fangle         [blockPoints]int16
	single         [blockPoints]uint8 // kindSingle or 0

	other struct { // the points in another order
		e, no [blockPoints]int64
		z     [blockPoints]int32
		kind  [blockPoints]uint8
		time  [blockPoints]float64
		angle [blockPoints]int16
	}
	own struct { // columns that are not slices of the chunk
		time   [blockPoints]float64
		angle  [blockPoints]int16
		source [blockPoints]uint16
		chans  [blockPoints]uint8
	}
}

// Add accumulates a chunk of file number file (any numbering that is the same
// for all accumulators to be merged). The chunk is not kept.
func (a *Accumulator) Add(c *las.Chunk, file int) {
	v := view(c)
	a.counts.Points += int64(c.N)
	for lo := 0; lo < c.N; lo += blockPoints {
		a.load(&v, lo, min(lo+blockPoints, c.N))
		a.stretches = a.stretches[:0]
		for i := 0; i < a.b.n; {
			s, j := a.stretch(i, int32(file))
			a.stretches = append(a.stretches, stretch{s, i, j})
			i = j
		}
		if len(a.stretches) > 4 {
			a.arrange()
		}
		for _, t := range a.stretches {
			a.addStretch(t.s, t.i, t.j)
		}
	}
	a.keepBudget()
}

// stretch is a run of points i..j-1 of the block in one segment.
type stretch struct {
	s    *segment
	i, j int
}

// arrange puts the points of each segment together where they take turns, as in files sorted by place: one stretch for
// each segment is left.
func (a *Accumulator) arrange() {
	var kinds [16]stretch // the segments, and where their points go
	n := 0
	at := func(s *segment) int {
		for k := range n {
			if kinds[k].s == s {
				return k
			}
		}
		return n
	}
	for _, t := range a.stretches {
		k := at(t.s)
		if k == len(kinds) {
			return // too many to be worth it
		}
		if k == n {
			kinds[k].s = t.s
			n++
		}
		kinds[k].j += t.j - t.i // their number, for now
	}
	if n == len(a.stretches) {
		return
	}
	first := 0
	for k := range n {
		count := kinds[k].j
		kinds[k].i, kinds[k].j = first, first // filled up to j
		first += count
	}
	b, to := &a.b, &a.b.other
	for _, t := range a.stretches {
		k := &kinds[at(t.s)]
		for i := t.i; i < t.j; i++ {
			o := k.j & (blockPoints - 1)
			to.e[o], to.no[o], to.z[o], to.kind[o] = b.e[i], b.no[i], b.z[i], b.kind[i]
			to.time[o], to.angle[o] = b.time[i], b.angle[i]
			k.j++
		}
	}
	b.e, b.no, b.z, b.kind = to.e, to.no, to.z, to.kind
	b.time, b.angle = to.time[:b.n], to.angle[:b.n]
	a.stretches = append(a.stretches[:0], kinds[:n]...)
}

// stretch returns the segment of point i of the block and the end of the points that are in it too.
func (a *Accumulator) stretch(i int, file int32) (*segment, int) {
	b := &a.b
	src := source{file, b.source[i], b.chans[i]}
	first := b.time[i]
	s := a.segmentOf(src, first)
	j := i + 1
	if s.key.index == noTime {
		for j < b.n && b.source[j] == src.id && b.chans[j] == src.channel && timeIndex(b.time[j], a.o.SegmentS) == noTime {
			j++
		}
		a.counts.NoTime += int64(j - i)
		return s, j
	}
	end := b.n
	if !b.uniform {
		for end = j; end < b.n && b.source[end] == src.id && b.chans[end] == src.channel; end++ {
		}
	}
	lo, hi, tMin, tMax := s.loS, s.hiS, min(s.tMin, first), max(s.tMax, first)
	for times := b.time[:end]; j < len(times); j++ {
		t := times[j]
		if !(t > lo && t < hi) && t != first {
			break
		}
		if t < tMin {
			tMin = t
		}
		if t > tMax {
			tMax = t
		}
	}
	s.tMin, s.tMax = tMin, tMax
	return s, j
}

// segmentOf returns the segment of a point.
func (a *Accumulator) segmentOf(src source, timeS float64) *segment {
	index := timeIndex(timeS, a.o.SegmentS)
	h := (uint64(index)*7 + uint64(src.id)*5 + uint64(src.channel)*11 + uint64(src.file)*13) & 63
	s := a.recent[h]
	if s == nil || s.key.index != index || s.key.source != src {
		s = a.segment(segmentKey{src, index})
		a.recent[h] = s
	}
	return s
}

// borderS is the distance from a segment's borders within which timeIndex decides
// by its own rounding: GPS times reach 4e9 s, where doubles are 5e-7 s apart.
const borderS = 1e-5

// addStretch adds points i..j-1 of the block, all of segment s.
func (a *Accumulator) addStretch(s *segment, i, j int) {
	s.points += int64(j - i)
	a.extend(s, i, j)
	a.gather(s, i, j)
	a.b.regress(s)
	f, first := 0, 0
	for i < j {
		col, row, e0, n0 := a.cellOf(a.b.e[i], a.b.no[i])
		m := a.momentsOf(s, col, row)
		end, counts := a.run(i, j, e0, n0)
		m.first += uint32(counts >> countFirst & 0xffff)
		first += int(counts >> countFirst & 0xffff)
		m.single += uint32(counts >> countSingle & 0xffff)
		m.multi += uint32(counts >> countMulti)
		if m.occupied != a.full {
			a.occupy(m, i, end, e0, n0)
		}
		if n := int(counts >> countFacet & 0xffff); n > 0 {
			m.n += uint32(n)
			m.add(&a.b, f, f+n, e0+a.cell/2, n0+a.cell/2, n == int(counts>>countSingle&0xffff))
			f += n
		}
		i = end
	}
	s.first += int64(first)
	a.counts.First += int64(first)
	a.counts.Facet += int64(f)
}

// run returns the end of the points from i on that lie in the cell with the south-west corner (e0, n0), at most j,
// and the packed counts of what they are.
func (a *Accumulator) run(i, j int, e0, n0 int64) (end int, counts uint64) {
	e, n, kind := a.b.e[i:j], a.b.no[i:j], a.b.kind[i:j]
	n, kind = n[:len(e)], kind[:len(e)]
	side := uint64(a.cell)
	for k := range e {
		if uint64(e[k]-e0) >= side || uint64(n[k]-n0) >= side {
			return i + k, counts
		}
		counts += countsOfKind[kind[k]%kindCount]
	}
	return j, counts
}

// occupy marks the sub-cells of first returns.
func (a *Accumulator) occupy(m *moments, i, j int, e0, n0 int64) {
	bits := m.occupied
	k := int64(a.o.SubCells)
	for ; i < j; i++ {
		if a.b.kind[i]&kindFirst == 0 {
			continue
		}
		x, y := a.b.e[i]-e0, a.b.no[i]-n0
		if a.pow2 {
			bits |= 1 << (uint(y>>a.subShift*k+x>>a.subShift) & 63)
		} else {
			bits |= 1 << uint(y*k/a.cell*k+x*k/a.cell)
		}
	}
	m.occupied = bits
}

// cellOf returns the cell of a point and the cell's south-west corner.
func (a *Accumulator) cellOf(e, n int64) (col, row int32, e0, n0 int64) {
	if a.pow2 {
		return int32(e >> a.shift), int32(n >> a.shift), e &^ (a.cell - 1), n &^ (a.cell - 1)
	}
	c, r := floorDiv(e, a.cell), floorDiv(n, a.cell)
	return int32(c), int32(r), c * a.cell, r * a.cell
}

func floorDiv(a, b int64) int64 {
	q := a / b
	if a%b < 0 {
		q--
	}
	return q
}

// extend widens the segment's extent by the first returns and facet points among i..j-1.
func (a *Accumulator) extend(s *segment, i, j int) {
	e, n, z, kind := a.b.e[i:j], a.b.no[i:j], a.b.z[i:j], a.b.kind[i:j]
	n, z, kind = n[:len(e)], z[:len(e)], kind[:len(e)]
	eMin, eMax, nMin, nMax, zMin, zMax := s.eMin, s.eMax, s.nMin, s.nMax, s.zMin, s.zMax
	for k := range e {
		if kind[k]&(kindFirst|kindFacet) == 0 {
			continue
		}
		eMin, eMax = min(eMin, e[k]), max(eMax, e[k])
		nMin, nMax = min(nMin, n[k]), max(nMax, n[k])
		zMin, zMax = min(zMin, int64(z[k])), max(zMax, int64(z[k]))
	}
	s.eMin, s.eMax, s.nMin, s.nMax, s.zMin, s.zMax = eMin, eMax, nMin, nMax, zMin, zMax
}

// gather puts the facet points among i..j-1 together.
func (a *Accumulator) gather(s *segment, i, j int) {
	b := &a.b
	tan := tangents()
	f := 0
	timed, start := s.key.index != noTime, s.startS
	for ; i < j; i++ {
		kind := b.kind[i]
		f &= blockPoints - 1
		b.fe[f], b.fn[f], b.fz[f] = b.e[i], b.no[i], b.z[i]
		angle := b.angle[i]
		b.fangle[f] = angle
		b.tan[f] = tan[max(min(int(angle), maxTanStep), -maxTanStep)+maxTanStep]
		b.single[f] = kind & kindSingle
		if timed {
			b.ticks[f] = int32((b.time[i]-start)*1e4 + 0.5)
		} else {
			b.ticks[f] = 0
		}
		f += int(kind >> 1 & 1)
	}
	b.facets = f
}

// regress adds the facet points to the regression of position on time and scan angle.
func (b *batch) regress(s *segment) {
	n := b.facets
	if n == 0 {
		return
	}
	fe, fn, tan, ticks, angle := b.fe[:n], b.fn[:n], b.tan[:n], b.ticks[:n], b.fangle[:n]
	fn, tan, ticks, angle = fn[:len(fe)], tan[:len(fe)], ticks[:len(fe)], angle[:len(fe)]
	e0, n0 := fe[0], fn[0]
	var t1, tt, te, tn, sa int64
	for i := range fe {
		t, de, dn := int64(tan[i]), fe[i]-e0, fn[i]-n0
		t1 += t
		tt += t * t
		te += t * de
		tn += t * dn
		sa += int64(angle[i])
	}
	// Dozens of neighbours share a tick: their places are summed, and multiplied once.
	var k1, kk, kt, ke, kn, se, sn int64
	for i := 0; i < len(fe); {
		tick := ticks[i]
		var dt, de, dn int64
		j := i
		for ; j < len(fe) && ticks[j] == tick; j++ {
			dt += int64(tan[j])
			de += fe[j] - e0
			dn += fn[j] - n0
		}
		k, m := int64(tick), int64(j-i)
		se += de
		sn += dn
		k1 += k * m
		kk += k * k * m
		kt += k * dt
		ke += k * de
		kn += k * dn
		i = j
	}
	s.last += int64(n)
	s.sE += uint64(se + e0*int64(n))
	s.sN += uint64(sn + n0*int64(n))
	s.sA += sa
	s.sT += t1
	s.sTT += uint64(tt)
	s.sET += uint64(te + e0*t1)
	s.sNT += uint64(tn + n0*t1)
	s.sS += k1
	s.sSS += uint64(kk)
	s.sST += uint64(kt)
	s.sES += uint64(ke + e0*k1)
	s.sNS += uint64(kn + n0*k1)
}

// add adds the facet points i..j-1 of a block to the sums of the cell with the centre (ec, nc).
// single says that all are single returns.
func (m *moments) add(b *batch, i, j int, ec, nc int64, single bool) {
	fe, fn, fz, ticks, angle := b.fe[i:j], b.fn[i:j], b.fz[i:j], b.ticks[i:j], b.fangle[i:j]
	fn, fz, ticks, angle = fn[:len(fe)], fz[:len(fe)], ticks[:len(fe)], angle[:len(fe)]
	var sx, sy, sxx, sxy, syy, st, sa int64
	for k := range fe {
		x, y := fe[k]-ec, fn[k]-nc
		sx += x
		sy += y
		sxx += x * x
		sxy += x * y
		syy += y * y
		st += int64(ticks[k])
		sa += int64(angle[k])
	}
	m.sx += sx
	m.sy += sy
	m.sxx += uint64(sxx)
	m.sxy += uint64(sxy)
	m.syy += uint64(syy)
	m.ticks += st
	m.angle += sa
	var sz, sxz, syz, szz int64
	lo, hi := m.zmin, m.zmax
	for k := range fe {
		x, y, z := fe[k]-ec, fn[k]-nc, int64(fz[k])
		sz += z
		sxz += x * z
		syz += y * z
		szz += z * z
		lo, hi = min(lo, fz[k]), max(hi, fz[k])
	}
	m.sz += sz
	m.sxz += uint64(sxz)
	m.syz += uint64(syz)
	m.szz += uint64(szz)
	if single {
		m.zmin, m.zmax = lo, hi
		return
	}
	for k, s := range b.single[i:j] {
		if s != 0 {
			m.zmin, m.zmax = min(m.zmin, fz[k]), max(m.zmax, fz[k])
		}
	}
}
