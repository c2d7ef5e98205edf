package overlap

import (
	"cmp"
	"slices"
)

// cellID is a cell of the grid.
type cellID struct{ col, row int32 }

func (c cellID) centre(cellM float64) (e, n float64) {
	return (float64(c.col) + 0.5) * cellM, (float64(c.row) + 0.5) * cellM
}

// components parts cells (by row, then column, no repeats) into sets joined by
// sides, or with diagonal set also by corners. It returns the number of the set
// of each cell and how many there are; sets are numbered by their first cell.
func components(cells []cellID, diagonal bool) (set []int32, n int) {
	parent := make([]int32, len(cells))
	for i := range parent {
		parent[i] = int32(i)
	}
	find := func(i int32) int32 {
		for parent[i] != i {
			parent[i] = parent[parent[i]]
			i = parent[i]
		}
		return i
	}
	union := func(i, j int32) {
		a, b := find(i), find(j)
		parent[max(a, b)] = min(a, b)
	}
	reach := int32(0)
	if diagonal {
		reach = 1
	}
	below := 0 // first cell of the row below that may touch
	for i, c := range cells {
		if i > 0 && cells[i-1].row == c.row && cells[i-1].col == c.col-1 {
			union(int32(i), int32(i-1))
		}
		for below < i && (cells[below].row < c.row-1 || cells[below].row == c.row-1 && cells[below].col < c.col-reach) {
			below++
		}
		for k := below; k < i && cells[k].row == c.row-1 && cells[k].col <= c.col+reach; k++ {
			union(int32(i), int32(k))
		}
	}
	set = make([]int32, len(cells))
	for i := range cells {
		if r := find(int32(i)); r == int32(i) {
			set[i] = int32(n)
			n++
		} else {
			set[i] = set[r]
		}
	}
	return set, n
}

// parts returns the cells of each component, in the order of the components.
func parts(cells []cellID, diagonal bool) [][]cellID {
	set, n := components(cells, diagonal)
	out := make([][]cellID, n)
	for i, c := range cells {
		out[set[i]] = append(out[set[i]], c)
	}
	return out
}

// regions returns the connected parts of an overlap, the largest first.
func regions(cells []cellID, cellM float64) []Region {
	if len(cells) == 0 {
		return nil
	}
	var out []Region
	for _, p := range parts(cells, true) {
		r := Region{Cells: len(p), AreaM2: float64(len(p)) * cellM * cellM}
		for _, c := range p {
			e, n := c.centre(cellM)
			r.EM += e / float64(len(p))
			r.NM += n / float64(len(p))
		}
		r.Rings = outline(p, cellM, smallHole)
		out = append(out, r)
	}
	slices.SortStableFunc(out, func(x, y Region) int { return cmp.Compare(y.Cells, x.Cells) })
	return out
}

// smallHole is the number of cells below which a hole of a region is not drawn.
const smallHole = 16

// cellSides notes for each cell of a set that it is there, and which of its sides
// are on the outline and not yet drawn: bit 4, and bits 0..3 for the south, east,
// north and west side. It is an array where the cells fill their box, else a map.
type cellSides struct {
	col0, row0 int32
	cols       int
	bytes      []uint8
	sparse     map[cellID]uint8
}

const present = 1 << 4

func newCellSides(cells []cellID) *cellSides {
	c0, c1 := cells[0].col, cells[0].col
	r0, r1 := cells[0].row, cells[0].row
	for _, c := range cells {
		c0, c1, r0, r1 = min(c0, c.col), max(c1, c.col), min(r0, c.row), max(r1, c.row)
	}
	s := &cellSides{col0: c0 - 1, row0: r0 - 1, cols: int(c1) - int(c0) + 3}
	if box := float64(s.cols) * (float64(r1) - float64(r0) + 3); box < 1<<20+64*float64(len(cells)) {
		s.bytes = make([]uint8, int(box))
	} else {
		s.sparse = make(map[cellID]uint8, len(cells))
	}
	for _, c := range cells {
		s.set(c, present)
	}
	return s
}

func (s *cellSides) get(c cellID) uint8 {
	if s.bytes == nil {
		return s.sparse[c]
	}
	return s.bytes[int(c.row-s.row0)*s.cols+int(c.col-s.col0)]
}

func (s *cellSides) set(c cellID, v uint8) {
	if s.bytes == nil {
		s.sparse[c] = v
		return
	}
	s.bytes[int(c.row-s.row0)*s.cols+int(c.col-s.col0)] = v
}

// beyond is the cell on the other side of side d of c; ahead is the cell that the
// direction of side d leads to.
var beyond = [4]cellID{{0, -1}, {1, 0}, {0, 1}, {-1, 0}}
var ahead = [4]cellID{{1, 0}, {0, 1}, {-1, 0}, {0, -1}}

// corner is where side d of a cell begins, counted from its south-west corner.
var corner = [4]cellID{{0, 0}, {1, 0}, {1, 1}, {0, 1}}

func (c cellID) plus(d cellID) cellID { return cellID{c.col + d.col, c.row + d.row} }

// outline returns the closed outlines of cells (by row, then column) in metres:
// outer rings counter-clockwise, holes clockwise, holes below minHole cells left
// out. Cells that touch at a corner only get rings of their own there, so that
// rings never cross themselves.
func outline(cells []cellID, cellM float64, minHole int) [][][2]float64 {
	if len(cells) == 0 {
		return nil
	}
	s := newCellSides(cells)
	for _, c := range cells {
		v := uint8(present)
		for d := range uint8(4) {
			if s.get(c.plus(beyond[d]))&present == 0 {
				v |= 1 << d
			}
		}
		s.set(c, v)
	}
	var rings [][][2]float64
	for _, c := range cells {
		for d := range uint8(4) {
			if s.get(c)&(1<<d) == 0 {
				continue
			}
			ring, area2 := s.ring(c, d)
			if area2 >= 0 || -area2/2 >= int64(minHole) {
				rings = append(rings, toMetres(ring, cellM))
			}
		}
	}
	return rings
}

// ring follows the outline from side d of c with the cells on the left, and
// takes the sides it passes. area2 is twice the area, negative around a hole.
func (s *cellSides) ring(c cellID, d uint8) (ring []cellID, area2 int64) {
	for s.get(c)&(1<<d) != 0 {
		s.set(c, s.get(c)&^(1<<d))
		from := c.plus(corner[d])
		to := from.plus(ahead[d])
		area2 += int64(from.col)*int64(to.row) - int64(to.col)*int64(from.row)
		ring = append(ring, from)
		next := c.plus(ahead[d])
		diagonal := next.plus(beyond[d])
		switch {
		case s.get(next)&present == 0:
			d = (d + 1) & 3 // left, around this cell
		case s.get(diagonal)&present == 0:
			c = next // straight on
		default:
			c, d = diagonal, (d+3)&3 // right, along the cell that blocks the way
		}
	}
	return ring, area2
}

// toMetres closes a ring of corners and leaves out those on straight sides.
func toMetres(ring []cellID, cellM float64) [][2]float64 {
	n := len(ring)
	out := make([][2]float64, 0, n/2+1)
	for i, c := range ring {
		p, q := ring[(i+n-1)%n], ring[(i+1)%n]
		if p.col == c.col && c.col == q.col || p.row == c.row && c.row == q.row {
			continue
		}
		out = append(out, [2]float64{float64(c.col) * cellM, float64(c.row) * cellM})
	}
	return append(out, out[0])
}
