package overlap

import (
	"errors"
	"math/bits"
)

// minCellReturns is the number of first returns of a strip in a cell, as the
// first quartile over the lines, below which automatic cells are made twice as wide.
const minCellReturns = 7

// maxCellM is the widest automatic cell.
const maxCellM = 64

// coarsen returns an accumulator with cells twice as wide, with the same sums as
// if the points had been added to it: moments move to the new centres exactly.
// Sub-cells grow with the cells.
func (a *Accumulator) coarsen() (*Accumulator, error) {
	o := a.o
	o.CellM *= 2
	b, err := NewAccumulator(o)
	if err != nil {
		return nil, err
	}
	b.counts = a.counts
	local := make([]*segment, len(a.segments))
	for i, s := range a.segments {
		local[i] = b.segment(s.key)
		local[i].merge(s)
	}
	b.SetBudget(a.budget, a.spillDir)
	half := a.cell / 2
	var cells tileCells
	for _, t := range a.refs() {
		if err := cells.load(a, []tileRef{t}); err != nil {
			return nil, errors.Join(err, b.Close())
		}
		for mask := cells.mask; mask != 0; mask &= mask - 1 {
			j := bits.TrailingZeros64(mask)
			col, row := t.col<<tileBits+int32(j&(tileSide-1)), t.row<<tileBits+int32(j>>tileBits)
			m := &cells.m[j]
			// From the south-west corners: centre of the small cell about that of the large one.
			dx, dy := half, half
			if col&1 == 0 {
				dx = -half
			}
			if row&1 == 0 {
				dy = -half
			}
			m.move(dx, dy)
			m.occupied = coarsenBits(m.occupied, o.SubCells, int(col&1), int(row&1))
			b.momentsOf(local[t.segment], col>>1, row>>1).merge(m)
		}
		b.keepBudget()
	}
	if b.err != nil {
		return nil, errors.Join(b.err, b.Close())
	}
	return b, nil
}

// move takes the sums to x + dx, y + dy.
func (m *moments) move(dx, dy int64) {
	n := int64(m.n)
	m.sxx += uint64(2*dx*m.sx + n*dx*dx)
	m.sxy += uint64(dy*m.sx + dx*m.sy + n*dx*dy)
	m.syy += uint64(2*dy*m.sy + n*dy*dy)
	m.sxz += uint64(dx * m.sz)
	m.syz += uint64(dy * m.sz)
	m.sx += n * dx
	m.sy += n * dy
}

// coarsenBits maps the k by k sub-cells of a cell to those of the quadrant
// (right, upper) of a cell twice as wide.
func coarsenBits(bits uint64, k, right, upper int) uint64 {
	var out uint64
	for r := range k {
		for c := range k {
			if bits&(1<<(r*k+c)) != 0 {
				out |= 1 << ((upper*k+r)/2*k + (right*k+c)/2)
			}
		}
	}
	return out
}
