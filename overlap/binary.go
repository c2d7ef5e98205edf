package overlap

import (
	"cmp"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"math/bits"
	"slices"
)

// The binary form of an accumulator: a magic, the options, the counts, the
// segments and the cells, all little-endian, in an order that does not depend
// on how they came about. Equal accumulators have equal bytes.
const binaryMagic = "sidelap facets 1\n"

// ErrBinary says that bytes are not an accumulator's, or are damaged.
var ErrBinary = errors.New("not a facet sum of this version, or damaged; make it again from the point files")

// MarshalBinary returns the sums as bytes, for a file or another machine.
func (a *Accumulator) MarshalBinary() ([]byte, error) {
	w := writer{b: []byte(binaryMagic)}
	w.f64(a.o.CellM, a.o.SegmentS, a.o.ANPSM)
	w.u64(uint64(a.o.SubCells), bit(a.o.Classified), bit(a.o.AutoCell), bit(a.o.Classes != nil), uint64(len(a.o.Classes)))
	w.b = append(w.b, a.o.Classes...)
	for _, v := range a.counts.list() {
		w.u64(uint64(*v))
	}
	segments := a.sortedSegments()
	order := make([]int32, len(segments))
	w.u64(uint64(len(segments)))
	for i, s := range segments {
		order[s.id] = int32(i)
		w.segment(s)
	}
	refs := a.refs()
	slices.SortFunc(refs, func(x, y tileRef) int {
		return cmp.Or(cmp.Compare(order[x.segment], order[y.segment]), cmp.Compare(x.row, y.row), cmp.Compare(x.col, y.col))
	})
	at := len(w.b)
	w.u64(0)
	var cells tileCells
	tiles := uint64(0)
	for len(refs) > 0 {
		t, n := refs[0], 1
		for n < len(refs) && refs[n].segment == t.segment && refs[n].row == t.row && refs[n].col == t.col {
			n++
		}
		if err := cells.load(a, refs[:n]); err != nil {
			return nil, err
		}
		refs = refs[n:]
		w.u64(uint64(order[t.segment]), uint64(int64(t.col)), uint64(int64(t.row)), cells.mask)
		for mask := cells.mask; mask != 0; mask &= mask - 1 {
			w.moments(&cells.m[bits.TrailingZeros64(mask)])
		}
		tiles++
	}
	binary.LittleEndian.PutUint64(w.b[at:], tiles)
	return w.b, nil
}

// UnmarshalBinary replaces the accumulator by the one whose bytes these are.
// The error is ErrBinary, or names the options that are out of range.
func (a *Accumulator) UnmarshalBinary(b []byte) error {
	if len(b) < len(binaryMagic) || string(b[:len(binaryMagic)]) != binaryMagic {
		return ErrBinary
	}
	r := reader{b: b[len(binaryMagic):]}
	var o Options
	o.CellM, o.SegmentS, o.ANPSM = r.f64(), r.f64(), r.f64()
	sub := r.u64()
	o.Classified, o.AutoCell = r.u64() != 0, r.u64() != 0
	hasClasses, n := r.u64() != 0, r.u64()
	if n > 256 || sub > maxSub || r.short(int(n)) {
		return ErrBinary
	}
	o.SubCells = int(sub)
	if hasClasses {
		o.Classes = append([]uint8{}, r.b[:n]...)
	}
	r.b = r.b[n:]
	c, err := NewAccumulator(o)
	if err != nil {
		return fmt.Errorf("%w: %w", ErrBinary, err)
	}
	for _, v := range c.counts.list() {
		*v = int64(r.u64())
	}
	if err := c.read(&r); err != nil {
		return err
	}
	*a = *c
	return nil
}

func (a *Accumulator) read(r *reader) error {
	n := r.u64()
	if r.short(segmentBytes) && n > 0 || n > uint64(len(r.b)/segmentBytes) {
		return ErrBinary
	}
	for range n {
		a.readSegment(r)
	}
	if uint64(len(a.segments)) != n {
		return ErrBinary // a segment twice
	}
	nTiles := r.u64()
	for range nTiles {
		seg, col, row, mask := r.u64(), int64(r.u64()), int64(r.u64()), r.u64()
		if r.bad || seg >= n || col != int64(int32(col)) || row != int64(int32(row)) || mask == 0 {
			return ErrBinary
		}
		if _, twice := a.byTile[tileKey{int32(seg), int32(col), int32(row)}]; twice {
			return ErrBinary
		}
		t := a.tileOf(a.segments[seg], int32(col), int32(row))
		for j := range t.slot {
			if mask&(1<<j) == 0 {
				continue
			}
			if r.short(momentBytes) {
				return ErrBinary
			}
			t.slot[j] = a.newMoments()
			r.moments(a.at(t.slot[j]))
		}
	}
	if r.bad || len(r.b) > 0 {
		return ErrBinary
	}
	return nil
}

func (c *Counts) list() []*int64 {
	return []*int64{&c.Points, &c.Withheld, &c.Noise, &c.Absurd, &c.First, &c.Facet, &c.NoTime}
}

func bit(b bool) uint64 {
	if b {
		return 1
	}
	return 0
}

type writer struct{ b []byte }

func (w *writer) u64(v ...uint64) {
	for _, x := range v {
		w.b = binary.LittleEndian.AppendUint64(w.b, x)
	}
}

func (w *writer) f64(v ...float64) {
	for _, x := range v {
		w.u64(math.Float64bits(x))
	}
}

func (w *writer) u32(v ...uint32) {
	for _, x := range v {
		w.b = binary.LittleEndian.AppendUint32(w.b, x)
	}
}

const (
	segmentBytes = 27 * 8
	momentBytes  = 6*4 + 12*8
)

func (w *writer) segment(s *segment) {
	w.u64(uint64(int64(s.key.file)), uint64(s.key.id), uint64(s.key.channel), uint64(s.key.index),
		uint64(s.points), uint64(s.first), uint64(s.last))
	w.f64(s.tMin, s.tMax)
	w.u64(uint64(s.eMin), uint64(s.eMax), uint64(s.nMin), uint64(s.nMax), uint64(s.zMin), uint64(s.zMax),
		s.sE, s.sN, uint64(s.sT), s.sTT, s.sET, s.sNT, uint64(s.sS), s.sSS, s.sST, s.sES, s.sNS, uint64(s.sA))
}

func (w *writer) moments(m *moments) {
	w.u32(m.n, m.first, m.single, m.multi, uint32(m.zmin), uint32(m.zmax))
	w.u64(uint64(m.sx), uint64(m.sy), uint64(m.sz), m.sxx, m.sxy, m.syy, m.sxz, m.syz, m.szz,
		uint64(m.ticks), uint64(m.angle), m.occupied)
}

// reader takes numbers off the front; bad is set where they run out.
type reader struct {
	b   []byte
	bad bool
}

func (r *reader) short(n int) bool { return len(r.b) < n }

func (r *reader) u64() uint64 {
	if r.short(8) {
		r.bad, r.b = true, nil
		return 0
	}
	v := binary.LittleEndian.Uint64(r.b)
	r.b = r.b[8:]
	return v
}

func (r *reader) u32() uint32 {
	if r.short(4) {
		r.bad, r.b = true, nil
		return 0
	}
	v := binary.LittleEndian.Uint32(r.b)
	r.b = r.b[4:]
	return v
}

func (r *reader) i64() int64   { return int64(r.u64()) }
func (r *reader) f64() float64 { return math.Float64frombits(r.u64()) }

func (a *Accumulator) readSegment(r *reader) {
	k := segmentKey{source{int32(r.i64()), uint16(r.u64()), uint8(r.u64())}, r.i64()}
	s := a.segment(k)
	s.points, s.first, s.last = r.i64(), r.i64(), r.i64()
	s.tMin, s.tMax = r.f64(), r.f64()
	s.eMin, s.eMax, s.nMin, s.nMax, s.zMin, s.zMax = r.i64(), r.i64(), r.i64(), r.i64(), r.i64(), r.i64()
	s.sE, s.sN, s.sT, s.sTT, s.sET, s.sNT = r.u64(), r.u64(), r.i64(), r.u64(), r.u64(), r.u64()
	s.sS, s.sSS, s.sST, s.sES, s.sNS, s.sA = r.i64(), r.u64(), r.u64(), r.u64(), r.u64(), r.i64()
}

func (r *reader) moments(m *moments) {
	m.n, m.first, m.single, m.multi = r.u32(), r.u32(), r.u32(), r.u32()
	m.zmin, m.zmax = int32(r.u32()), int32(r.u32())
	m.sx, m.sy, m.sz = r.i64(), r.i64(), r.i64()
	m.sxx, m.sxy, m.syy, m.sxz, m.syz, m.szz = r.u64(), r.u64(), r.u64(), r.u64(), r.u64(), r.u64()
	m.ticks, m.angle, m.occupied = r.i64(), r.i64(), r.u64()
}
