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

// outline returns the closed outlines of cells (by row, then column) in metres:
// outer rings counter-clockwise, holes clockwise, holes below minHole cells left
// out. Cells that touch at a corner only get rings of their own there, so that
// rings never cross themselves.
func outline(cells []cellID, cellM float64, minHole int) [][][2]float64 {
	has := make(map[cellID]bool, len(cells))
	for _, c := range cells {
		has[c] = true
	}
	// Directed sides with the inside on the left; dir 0 east, 1 north, 2 west, 3 south.
	type side struct {
		from cellID // lower left corner numbering: corner (col, row)
		dir  uint8
	}
	open := map[side]bool{}
	var order []side
	add := func(s side) {
		open[s] = true
		order = append(order, s)
	}
	for _, c := range cells {
		if !has[cellID{c.col, c.row - 1}] {
			add(side{cellID{c.col, c.row}, 0})
		}
		if !has[cellID{c.col + 1, c.row}] {
			add(side{cellID{c.col + 1, c.row}, 1})
		}
		if !has[cellID{c.col, c.row + 1}] {
			add(side{cellID{c.col + 1, c.row + 1}, 2})
		}
		if !has[cellID{c.col - 1, c.row}] {
			add(side{cellID{c.col, c.row + 1}, 3})
		}
	}
	step := [4]cellID{{1, 0}, {0, 1}, {-1, 0}, {0, -1}}
	var rings [][][2]float64
	for _, start := range order {
		if !open[start] {
			continue
		}
		var ring []cellID
		area2 := int64(0)
		for s := start; open[s]; {
			delete(open, s)
			to := cellID{s.from.col + step[s.dir].col, s.from.row + step[s.dir].row}
			area2 += int64(s.from.col)*int64(to.row) - int64(to.col)*int64(s.from.row)
			ring = append(ring, s.from)
			next := side{to, s.dir}
			for _, turn := range [3]uint8{1, 0, 3} { // left first: stay with this cell
				next.dir = (s.dir + turn) & 3
				if open[next] || next == start {
					break
				}
			}
			s = next
		}
		if area2 < 0 && -area2/2 < int64(minHole) {
			continue
		}
		rings = append(rings, toMetres(ring, cellM))
	}
	return rings
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
