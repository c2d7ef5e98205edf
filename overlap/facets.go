package overlap

import (
	"cmp"
	"math"
	"slices"
)

// lookSplitS is the pause between two visits of a cell in one pass from which
// they count as two looks.
const lookSplitS = 2.0

// stripTile is a tile with the strip and the time of its segment.
type stripTile struct {
	strip int32
	index int64 // of the segment
	order int32 // of the segment in the canonical order
	t     *tile
}

// cellSum collects a cell over the segments of a strip.
type cellSum struct {
	m     moments
	ticks int64 // since the strip's first segment, 0.1 ms
	timed uint32
	index int64 // last segment seen
	// The looks: the sums before and after the first pause of lookSplitS.
	look   int
	first  moments
	second moments
	gap    int64 // segments between the looks
}

// facets joins the sums of each strip's segments to its facets.
func (a *Accumulator) facets(s *Survey, passes []pass, segments []*segment) {
	strip := make([]int32, len(a.segments))
	order := make([]int32, len(a.segments))
	for i := range strip {
		strip[i] = -1
	}
	for i, g := range segments {
		order[g.id] = int32(i)
	}
	for i := range passes {
		for _, b := range passes[i].beats {
			for _, g := range b.segments {
				strip[g.id] = int32(i)
			}
		}
	}
	tiles := make([]stripTile, 0, a.nTiles)
	for i := range a.nTiles {
		t := a.tile(i)
		if k := strip[t.segment]; k >= 0 {
			tiles = append(tiles, stripTile{k, a.segments[t.segment].key.index, order[t.segment], t})
		}
	}
	slices.SortFunc(tiles, func(x, y stripTile) int {
		return cmp.Or(cmp.Compare(x.strip, y.strip), cmp.Compare(x.t.row, y.t.row),
			cmp.Compare(x.t.col, y.t.col), cmp.Compare(x.order, y.order))
	})
	band := make([]cellSum, 0, 64*tileSide*tileSide)
	for i := 0; i < len(tiles); {
		j := i + 1
		for j < len(tiles) && tiles[j].strip == tiles[i].strip && tiles[j].t.row == tiles[i].t.row {
			j++
		}
		st := &s.Strips[tiles[i].strip]
		band = a.band(st, tiles[i:j], band[:0], passes[st.Index].firstTimed())
		i = j
	}
	for i := range s.Strips {
		s.Strips[i].settleLooks(a.o)
	}
}

// band sums one row of tiles of one strip and appends its facets in grid order.
func (a *Accumulator) band(st *Strip, tiles []stripTile, band []cellSum, index0 int64) []cellSum {
	const cells = tileSide * tileSide
	var cols []int32
	for i := range tiles {
		if i == 0 || tiles[i].t.col != tiles[i-1].t.col {
			cols = append(cols, tiles[i].t.col)
			base := len(band)
			band = slices.Grow(band, cells)[:base+cells]
			for k := base; k < len(band); k++ {
				band[k] = cellSum{index: noTime}
				band[k].m.reset()
			}
		}
		sums := band[len(band)-cells:]
		for k, slot := range tiles[i].t.slot {
			if slot != 0 {
				sums[k].add(a.at(slot), tiles[i].index, index0, a.o.SegmentS)
			}
		}
	}
	row0 := tiles[0].t.row << tileBits
	origin := math.NaN()
	if index0 != noTime {
		origin = float64(index0) * a.o.SegmentS
	}
	for r := range int32(tileSide) {
		for c, tc := range cols {
			for k := range int32(tileSide) {
				sum := &band[c*cells+int(r<<tileBits|k)]
				if sum.m.n == 0 && sum.m.first == 0 {
					continue
				}
				timeS := math.NaN()
				if sum.timed > 0 {
					timeS = origin + float64(sum.ticks)/float64(sum.timed)*1e-4
				}
				f := a.o.facetOf(&sum.m, tc<<tileBits+k, row0+r, timeS)
				st.Facets = append(st.Facets, f)
				st.look(a.o, sum, &f)
			}
		}
	}
	return band
}

func (c *cellSum) add(m *moments, index, index0 int64, segmentS float64) {
	if index != noTime && index0 != noTime && m.n > 0 {
		c.ticks += m.ticks + int64(m.n)*int64(math.Round(float64(index-index0)*segmentS*1e4))
		c.timed += m.n
		if c.index != noTime && c.look == 0 && float64(index-c.index-1)*segmentS >= lookSplitS {
			c.look = 1
			c.first = c.m
			c.second.reset()
			c.gap = index - c.index
		}
		c.index = index
		if c.look == 1 {
			c.second.merge(m)
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
	if c.look == 0 || c.first.n < minLookPoints || c.second.n < minLookPoints {
		return
	}
	a := o.facetOf(&c.first, f.Col, f.Row, math.NaN())
	b := o.facetOf(&c.second, f.Col, f.Row, math.NaN())
	p := lookPair{dzM: math.NaN(), gapS: float64(c.gap) * o.SegmentS}
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
