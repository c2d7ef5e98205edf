package overlap

import (
	"cmp"
	"slices"

	"github.com/kyroy/kdtree"
	"github.com/kyroy/kdtree/kdrange"
)

// maxBlocks bounds the points of the k-d tree: blocks of cells grow until the
// strips together have no more.
const maxBlocks = 1 << 15

// block is a square of cells that a strip has ground in: a point of the k-d tree.
type block struct {
	e, n     float64 // centre, in blocks
	col, row int32
	strip    int32
}

// Dimensions is 2, for kdtree.Point.
func (b *block) Dimensions() int { return 2 }

// Dimension is the easting or northing of the centre, for kdtree.Point.
func (b *block) Dimension(i int) float64 {
	if i == 0 {
		return b.e
	}
	return b.n
}

// meeting is two strips with ground in common blocks, and the rows of cells there.
type meeting struct {
	a, b   int32
	lo, hi int32 // rows lo..hi-1
}

// meetings finds which lines meet where: the occupied blocks of all of them
// stand in one k-d tree, and a range search around each place lists the strips there.
func (s *Survey) meetings() []meeting {
	lines := s.Lines()
	bits, blocks := 4, []*block(nil)
	for ; bits < 24; bits++ {
		if blocks = blocksOf(lines, bits); len(blocks) <= maxBlocks {
			break
		}
	}
	points := make([]kdtree.Point, len(blocks))
	for i, b := range blocks {
		points[i] = b
	}
	tree := kdtree.New(points)
	found := map[[2]int32]meeting{}
	for i, b := range blocks {
		if i > 0 && blocks[i-1].col == b.col && blocks[i-1].row == b.row {
			continue // this place is done
		}
		var here []int32
		for _, p := range tree.RangeSearch(kdrange.New(b.e-0.25, b.e+0.25, b.n-0.25, b.n+0.25)) {
			here = append(here, p.(*block).strip)
		}
		slices.Sort(here)
		lo, hi := b.row<<bits, (b.row+1)<<bits
		for k, x := range here {
			for _, y := range here[k+1:] {
				m, ok := found[[2]int32{x, y}]
				if !ok {
					m = meeting{x, y, lo, hi}
				}
				m.lo, m.hi = min(m.lo, lo), max(m.hi, hi)
				found[[2]int32{x, y}] = m
			}
		}
	}
	out := make([]meeting, 0, len(found))
	for _, m := range found {
		out = append(out, m)
	}
	slices.SortFunc(out, func(x, y meeting) int { return cmp.Or(cmp.Compare(x.a, y.a), cmp.Compare(x.b, y.b)) })
	return out
}

// blocksOf lists the blocks of 2^bits cells of each line, sorted by place.
func blocksOf(lines []Strip, bits int) []*block {
	type place struct{ col, row int32 }
	var out []*block
	for i := range lines {
		seen := map[place]bool{}
		var last place
		for k := range lines[i].Facets {
			f := &lines[i].Facets[k]
			p := place{f.Col >> bits, f.Row >> bits}
			if k > 0 && p == last || seen[p] {
				continue
			}
			last = p
			seen[p] = true
			out = append(out, &block{float64(p.col) + 0.5, float64(p.row) + 0.5, p.col, p.row, int32(i)})
		}
	}
	slices.SortFunc(out, func(x, y *block) int {
		return cmp.Or(cmp.Compare(x.row, y.row), cmp.Compare(x.col, y.col), cmp.Compare(x.strip, y.strip))
	})
	return out
}

// rows returns the facets of rows lo..hi-1.
func (st *Strip) rows(lo, hi int32) []Facet {
	at := func(row int32) int {
		i, _ := slices.BinarySearchFunc(st.Facets, row, func(f Facet, r int32) int { return cmp.Compare(f.Row, r) })
		return i
	}
	return st.Facets[at(lo):at(hi)]
}

// join calls f for each cell that both lists have; both are by row, then column.
func join(a, b []Facet, f func(a, b *Facet)) {
	for i, j := 0, 0; i < len(a) && j < len(b); {
		x, y := &a[i], &b[j]
		switch c := cmp.Or(cmp.Compare(x.Row, y.Row), cmp.Compare(x.Col, y.Col)); {
		case c < 0:
			i++
		case c > 0:
			j++
		default:
			f(x, y)
			i, j = i+1, j+1
		}
	}
}
