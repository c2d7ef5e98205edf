package control

import (
	"math"

	"sidelap/las"
)

// maxIndexCells bounds the bitmap of an index: 2^22 cells are 512 kB of bits.
const maxIndexCells = 1 << 22

// index finds the surveyed points near a stored coordinate of files with one frame: a
// bitmap of square cells, 2^shift stored units wide, with a bit where some point is in reach.
type index struct {
	x0, y0     int32
	shift      uint
	cols, rows uint32
	bits       []uint64
	near       map[uint32][]int32 // points in reach of a cell with a bit
}

// indexFor returns the index of the frame, made on first use.
func (c *Collector) indexFor(f las.Frame) *index {
	if ix, ok := c.frames[f]; ok {
		return ix
	}
	if v := f.Scale[0] * f.Scale[1] * f.HorizontalM; !finite(v) || v == 0 || !finite(f.Offset[0]+f.Offset[1]+f.Offset[2]+f.Scale[2]+f.VerticalM) {
		return &index{} // no coordinates: nothing is near, and a key with NaN would never be found again
	}
	ix := newIndex(c.points, c.radiusM, f)
	c.frames[f] = ix
	return ix
}

// span is a range of stored coordinates, inclusive.
type span struct{ lo, hi int64 }

// storedSpan returns the stored integers that lie within radiusM of a coordinate; false
// when none can.
func storedSpan(centreM, radiusM, scale, offset, unitM float64) (span, bool) {
	a := ((centreM-radiusM)/unitM - offset) / scale
	b := ((centreM+radiusM)/unitM - offset) / scale
	if a > b {
		a, b = b, a
	}
	a, b = math.Floor(a)-1, math.Ceil(b)+1
	if !finite(a) || !finite(b) || b < math.MinInt32 || a > math.MaxInt32 {
		return span{}, false
	}
	return span{int64(max(a, math.MinInt32)), int64(min(b, math.MaxInt32))}, true
}

func newIndex(points []Point, radiusM float64, f las.Frame) *index {
	type reach struct {
		x, y span
		k    int32
	}
	var list []reach
	box := reach{x: span{math.MaxInt64, math.MinInt64}, y: span{math.MaxInt64, math.MinInt64}}
	for k := range points {
		x, okX := storedSpan(points[k].EM, radiusM, f.Scale[0], f.Offset[0], f.HorizontalM)
		y, okY := storedSpan(points[k].NM, radiusM, f.Scale[1], f.Offset[1], f.HorizontalM)
		if !okX || !okY {
			continue
		}
		list = append(list, reach{x, y, int32(k)})
		box.x = span{min(box.x.lo, x.lo), max(box.x.hi, x.hi)}
		box.y = span{min(box.y.lo, y.lo), max(box.y.hi, y.hi)}
	}
	ix := &index{near: map[uint32][]int32{}}
	if len(list) == 0 {
		return ix
	}
	// Cells start at a quarter of the widest reach and grow until the bitmap is small.
	ix.x0, ix.y0 = int32(box.x.lo), int32(box.y.lo)
	for w := (list[0].x.hi - list[0].x.lo) / 4; w > 1; w >>= 1 {
		ix.shift++
	}
	for {
		ix.cols = uint32((box.x.hi-box.x.lo)>>ix.shift) + 1
		ix.rows = uint32((box.y.hi-box.y.lo)>>ix.shift) + 1
		if uint64(ix.cols)*uint64(ix.rows) <= maxIndexCells {
			break
		}
		ix.shift++
	}
	ix.bits = make([]uint64, (uint64(ix.cols)*uint64(ix.rows)+63)/64)
	for _, r := range list {
		for row := (r.y.lo - box.y.lo) >> ix.shift; row <= (r.y.hi-box.y.lo)>>ix.shift; row++ {
			for col := (r.x.lo - box.x.lo) >> ix.shift; col <= (r.x.hi-box.x.lo)>>ix.shift; col++ {
				cell := uint32(row)*ix.cols + uint32(col)
				ix.bits[cell>>6] |= 1 << (cell & 63)
				ix.near[cell] = append(ix.near[cell], r.k)
			}
		}
	}
	return ix
}
