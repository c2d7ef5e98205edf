package overlap

import (
	"cmp"
	"math"
	"math/bits"
	"slices"
)

// lookSplitS is the pause between two visits of a cell in one pass from which
// they count as two looks.
const lookSplitS = 2.0

// stripTile is a tile with the strip and the time of its segment.
type stripTile struct {
	strip int32
	order int32 // of the segment in the canonical order
	index int64 // of the segment
	ref   tileRef
}

// cellSum collects a cell over the segments of a strip.
type cellSum struct {
	m     moments
	ticks int64 // since the strip's first segment, 0.1 ms
	timed uint32
	index int64     // last segment seen
	looks *twoLooks // nil until the strip comes back to the cell
}

// twoLooks are the sums before and after the first pause of lookSplitS.
type twoLooks struct {
	first, second moments
	gap           int64 // segments between the looks
}

// tileSums are the sums of the cells of one tile; at is one more than their
// place in sums, 0 for an empty cell.
type tileSums struct {
	col  int32
	at   [tileSide * tileSide]uint16
	sums []cellSum
}

// facets joins the sums of each strip's segments to its facets.
func (a *Accumulator) facets(s *Survey, passes []pass, segments []*segment, refs []tileRef) error {
	s.strip = make(map[segmentKey]int32, len(a.segments))
	strip := make([]int32, len(a.segments))
	order, index := make([]int32, len(a.segments)), make([]int64, len(a.segments))
	for i := range strip {
		strip[i] = -1
	}
	for i, g := range segments {
		order[g.id], index[g.id] = int32(i), g.key.index
	}
	for i := range passes {
		for _, b := range passes[i].beats {
			for _, g := range b.segments {
				strip[g.id] = int32(i)
				s.strip[g.stored()] = int32(i)
			}
		}
	}
	tiles := make([]stripTile, 0, len(refs))
	for _, r := range refs {
		if k := strip[r.segment]; k >= 0 {
			tiles = append(tiles, stripTile{k, order[r.segment], index[r.segment], r})
		}
	}
	slices.SortFunc(tiles, func(x, y stripTile) int {
		return cmp.Or(cmp.Compare(x.strip, y.strip), cmp.Compare(x.ref.row, y.ref.row),
			cmp.Compare(x.ref.col, y.ref.col), cmp.Compare(x.order, y.order))
	})
	for i, n := range cellsOf(tiles, len(passes)) {
		s.Strips[i].Facets = make([]Facet, 0, n)
	}
	b := bander{a: a}
	for i := 0; i < len(tiles); {
		j := i + 1
		for j < len(tiles) && tiles[j].strip == tiles[i].strip && tiles[j].ref.row == tiles[i].ref.row {
			j++
		}
		st := &s.Strips[tiles[i].strip]
		index0 := passes[st.Index].firstTimed()
		if err := b.sum(tiles[i:j], index0); err != nil {
			return err
		}
		a.bandFacets(st, b.band, tiles[i].ref.row<<tileBits, index0)
		i = j
	}
	for i := range s.Strips {
		s.Strips[i].settleLooks(a.o)
	}
	return nil
}

// cellsOf counts the cells of each strip, from tiles in order of strip and place.
func cellsOf(tiles []stripTile, strips int) []int {
	n := make([]int, strips)
	for i := 0; i < len(tiles); {
		first, mask := &tiles[i], uint64(0)
		for ; i < len(tiles) && tiles[i].strip == first.strip && tiles[i].ref.row == first.ref.row && tiles[i].ref.col == first.ref.col; i++ {
			mask |= tiles[i].ref.mask
		}
		n[first.strip] += bits.OnesCount64(mask)
	}
	return n
}

// bander sums one row of tiles of one strip over its segments. Its memory is used again.
type bander struct {
	a     *Accumulator
	band  []tileSums
	parts []tileRef
	cells tileCells
}

func (b *bander) sum(tiles []stripTile, index0 int64) error {
	b.band = b.band[:0]
	for i := 0; i < len(tiles); {
		if i == 0 || tiles[i].ref.col != tiles[i-1].ref.col {
			b.next(tiles[i].ref.col)
		}
		first := &tiles[i]
		b.parts = b.parts[:0]
		for ; i < len(tiles) && tiles[i].ref.col == first.ref.col && tiles[i].order == first.order; i++ {
			b.parts = append(b.parts, tiles[i].ref)
		}
		if err := b.cells.load(b.a, b.parts); err != nil {
			return err
		}
		t := &b.band[len(b.band)-1]
		for mask := b.cells.mask; mask != 0; mask &= mask - 1 {
			k := bits.TrailingZeros64(mask)
			if t.at[k] == 0 {
				t.sums = append(t.sums, cellSum{index: noTime})
				t.at[k] = uint16(len(t.sums))
				t.sums[len(t.sums)-1].m.reset()
			}
			t.sums[t.at[k]-1].add(&b.cells.m[k], first.index, index0, b.a.o.SegmentS)
		}
	}
	return nil
}

// next begins the next tile of the band.
func (b *bander) next(col int32) {
	if len(b.band) < cap(b.band) {
		b.band = b.band[:len(b.band)+1]
	} else {
		b.band = append(b.band, tileSums{})
	}
	t := &b.band[len(b.band)-1]
	t.col, t.at, t.sums = col, [tileSide * tileSide]uint16{}, t.sums[:0]
}

// bandFacets appends the facets of a band in grid order.
func (a *Accumulator) bandFacets(st *Strip, band []tileSums, row0 int32, index0 int64) {
	origin := math.NaN()
	if index0 != noTime {
		origin = float64(index0) * a.o.SegmentS
	}
	for r := range int32(tileSide) {
		for i := range band {
			for k := range int32(tileSide) {
				at := band[i].at[r<<tileBits|k]
				if at == 0 {
					continue
				}
				sum := &band[i].sums[at-1]
				if sum.m.n == 0 && sum.m.first == 0 {
					continue
				}
				timeS := math.NaN()
				if sum.timed > 0 {
					timeS = origin + float64(sum.ticks)/float64(sum.timed)*1e-4
				}
				f := a.o.facetOf(&sum.m, band[i].col<<tileBits+k, row0+r, timeS)
				st.Facets = append(st.Facets, f)
				st.look(a.o, sum, &f)
			}
		}
	}
}

func (c *cellSum) add(m *moments, index, index0 int64, segmentS float64) {
	if index != noTime && index0 != noTime && m.n > 0 {
		c.ticks += m.ticks + int64(m.n)*int64(math.Round(float64(index-index0)*segmentS*1e4))
		c.timed += m.n
		if c.index != noTime && c.looks == nil && float64(index-c.index-1)*segmentS >= lookSplitS {
			c.looks = &twoLooks{first: c.m, gap: index - c.index}
			c.looks.second.reset()
		}
		c.index = index
		if c.looks != nil {
			c.looks.second.merge(m)
		}
	}
	c.m.merge(m)
}

// lookPair is what two looks of one strip say in one cell.
type lookPair struct {
	dzM  float64
	gapS float64
}

// look notes a cell that the strip saw twice.
func (st *Strip) look(o Options, c *cellSum, f *Facet) {
	if c.m.n >= 2*minLookPoints {
		st.lookable++
	}
	if c.looks == nil || c.looks.first.n < minLookPoints || c.looks.second.n < minLookPoints {
		return
	}
	a := o.facetOf(&c.looks.first, f.Col, f.Row, math.NaN())
	b := o.facetOf(&c.looks.second, f.Col, f.Row, math.NaN())
	p := lookPair{dzM: math.NaN(), gapS: float64(c.looks.gap) * o.SegmentS}
	if e, n, ok := commonPlace(&a, &b); ok {
		p.dzM = b.At(e, n) - a.At(e, n)
		if f.SlopeRad() > 10*degree || a.RoughM > 0.1 || b.RoughM > 0.1 {
			p.dzM = math.NaN()
		}
	}
	st.looks = append(st.looks, p)
}

const minLookPoints = 6

// settleLooks decides whether the strip saw its ground twice.
func (st *Strip) settleLooks(o Options) {
	if st.Kind != Line || len(st.looks) < 10 || 3*len(st.looks) < st.lookable {
		st.looks = nil
		return
	}
	var gaps []float64
	for _, l := range st.looks {
		gaps = append(gaps, l.gapS)
	}
	st.Looks, st.LookGapS = 2, median(gaps)
}
