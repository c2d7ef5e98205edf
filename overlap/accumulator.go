package overlap

import (
	"fmt"
	"math"
	"math/bits"
)

// maxCoordM bounds coordinates: a point beyond it is counted as absurd and left
// out. No projected CRS reaches a tenth of it.
const maxCoordM = 1e8

// maxHeightM bounds heights in the same way.
const maxHeightM = 1e5

// Counts says what became of the points.
type Counts struct {
	Points   int64 // all points given
	Withheld int64 // left out: withheld flag
	Noise    int64 // left out: class 7 or 18
	Absurd   int64 // left out: coordinates not finite or beyond 1e8 m, heights beyond 1e5 m
	First    int64 // first returns (return number 0 or 1) of the others
	Facet    int64 // last returns of the facet classes among the others
	NoTime   int64 // of the others, those without a usable GPS time
}

// Accumulator sums points into facets for each source, time segment and cell.
// It is for one goroutine; give each worker its own and Merge them.
type Accumulator struct {
	o     Options
	facet *[256]bool

	classKind [256]uint8 // see classKinds
	full      uint64     // moments.occupied of a cell with a first return in every sub-cell

	cell     int64 // side of a cell in units
	shift    uint  // cell == 1<<shift when pow2
	subShift uint  // and a sub-cell has 1<<subShift
	pow2     bool

	counts    Counts
	segments  []*segment
	bySeg     map[segmentKey]int32
	byTile    map[tileKey]uint32
	recent    [64]*segment
	b         batch
	stretches []stretch // of the block
	store

	budget   int64 // bytes of tables in memory, 0 for no bound
	spillDir string
	own      *spillFile          // where this accumulator writes
	files    map[*spillFile]bool // those that spilled refers to
	spilled  []tileRef
	err      error
}

type tileKey struct{ segment, col, row int32 }

// NewAccumulator returns an empty accumulator, or the error of o.Validate.
func NewAccumulator(o Options) (*Accumulator, error) {
	if err := o.Validate(); err != nil {
		return nil, err
	}
	a := &Accumulator{o: o, facet: o.facetClasses(), bySeg: map[segmentKey]int32{}, byTile: map[tileKey]uint32{}}
	a.classKind = classKinds(a.facet)
	a.full = 1<<(o.SubCells*o.SubCells) - 1 // all 64 bits for 8 by 8: the shift gives 0
	a.cell = int64(math.Round(o.CellM * unitsPerM))
	a.o.CellM = float64(a.cell) * unitM // the grid is exact in units
	a.pow2 = bits.OnesCount64(uint64(a.cell)) == 1
	a.shift = uint(bits.TrailingZeros64(uint64(a.cell)))
	a.subShift = a.shift - uint(bits.TrailingZeros(uint(o.SubCells))) // a cell has 2^9 units at least
	return a, nil
}

// Options returns the options in force; CellM is rounded to 2^-14 m.
func (a *Accumulator) Options() Options { return a.o }

// Counts returns what became of the points so far.
func (a *Accumulator) Counts() Counts { return a.counts }

// Cells returns the number of (source, segment, cell) entries in memory.
func (a *Accumulator) Cells() int { return int(a.n) }

// segment finds or makes a segment.
func (a *Accumulator) segment(k segmentKey) *segment {
	if i, ok := a.bySeg[k]; ok {
		return a.segments[i]
	}
	s := &segment{key: k, id: int32(len(a.segments))}
	s.init()
	if k.index != noTime {
		s.startS = float64(k.index) * a.o.SegmentS
		s.loS, s.hiS = s.startS+borderS, s.startS+a.o.SegmentS-borderS
	}
	a.bySeg[k] = s.id
	a.segments = append(a.segments, s)
	return s
}

// momentsOf finds or makes the sums of a cell in a segment.
func (a *Accumulator) momentsOf(s *segment, col, row int32) *moments {
	tc, tr := col>>tileBits, row>>tileBits
	near := &s.near[tc&3|tr&3<<2]
	t := *near
	if t == nil || t.col != tc || t.row != tr {
		t = a.tileOf(s, tc, tr)
		*near = t
	}
	slot := &t.slot[row&(tileSide-1)<<tileBits|col&(tileSide-1)]
	if *slot == 0 {
		*slot = a.newMoments()
	}
	return a.at(*slot)
}

func (a *Accumulator) tileOf(s *segment, col, row int32) *tile {
	k := tileKey{s.id, col, row}
	if i, ok := a.byTile[k]; ok {
		return a.tile(i)
	}
	a.byTile[k] = a.nTiles
	return a.newTile(s.id, col, row)
}

// Merge adds the sums of b, which stays as it was. Both must have the same
// options. The result does not depend on the order of merging. It returns the error of Err, too.
func (a *Accumulator) Merge(b *Accumulator) error {
	if a == b {
		return fmt.Errorf("an accumulator cannot be merged with itself")
	}
	if err := a.sameOptions(b.o); err != nil {
		return err
	}
	if b.err != nil {
		return b.err
	}
	a.counts.add(b.counts)
	local := make([]*segment, len(b.segments))
	for i, s := range b.segments {
		local[i] = a.segment(s.key)
		local[i].merge(s)
	}
	for f := range b.files {
		a.take(f)
	}
	for _, r := range b.spilled {
		r.segment = local[r.segment].id
		a.spilled = append(a.spilled, r)
	}
	for i := range b.nTiles {
		from := b.tile(i)
		to := a.tileOf(local[from.segment], from.col, from.row)
		for j, slot := range from.slot {
			if slot == 0 {
				continue
			}
			if to.slot[j] == 0 {
				to.slot[j] = a.newMoments()
			}
			a.at(to.slot[j]).merge(b.at(slot))
		}
		a.keepBudget()
	}
	return a.err
}

func (a *Accumulator) sameOptions(o Options) error {
	same := a.o.CellM == o.CellM && a.o.SegmentS == o.SegmentS && a.o.SubCells == o.SubCells && a.o.AutoCell == o.AutoCell && a.o.ANPSM == o.ANPSM &&
		*a.facet == *o.facetClasses()
	if !same {
		return fmt.Errorf("accumulators with different options cannot be merged: cell %g and %g m, segment %g and %g s, sub-cells %d and %d",
			a.o.CellM, o.CellM, a.o.SegmentS, o.SegmentS, a.o.SubCells, o.SubCells)
	}
	return nil
}

func (c *Counts) add(b Counts) {
	c.Points += b.Points
	c.Withheld += b.Withheld
	c.Noise += b.Noise
	c.Absurd += b.Absurd
	c.First += b.First
	c.Facet += b.Facet
	c.NoTime += b.NoTime
}
