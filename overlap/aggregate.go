package overlap

import "math"

// maxRasterCells bounds rasters, and with them memory (about 25 bytes a cell):
// above it, coverage and combined rasters use cells 2, 4, ... times as wide.
const maxRasterCells = 1 << 24

// raster is a dense grid of all strips' cells, with a rim of empty cells.
type raster struct {
	col0, row0 int32
	cols, rows int
	cellM      float64
	factor     int32 // cells along the side of a raster cell
	first      []int32
	lines      []uint16 // lines with a first return
}

// newRaster makes a raster over the facets of all strips, with rim cells around;
// nil when there are none.
func (s *Survey) newRaster(rim int) *raster {
	c0, c1, r0, r1 := int32(math.MaxInt32), int32(math.MinInt32), int32(math.MaxInt32), int32(math.MinInt32)
	cells := 0
	for i := range s.Strips {
		cells += len(s.Strips[i].Facets)
		for k := range s.Strips[i].Facets {
			f := &s.Strips[i].Facets[k]
			c0, c1, r0, r1 = min(c0, f.Col), max(c1, f.Col), min(r0, f.Row), max(r1, f.Row)
		}
	}
	if c0 > c1 {
		return nil
	}
	return frameRaster(c0, c1, r0, r1, cells, s.Options.CellM, rim)
}

// frameRaster makes a raster over a range of cells, with cells as much wider as
// it takes to stay below maxRasterCells, and below a million or 256 times the
// cells that hold something: points strewn over a country are not worth more.
func frameRaster(c0, c1, r0, r1 int32, cells int, cellM float64, rim int) *raster {
	r := &raster{factor: 1}
	most := min(maxRasterCells, max(1<<20, 256*float64(cells)))
	w, h := float64(c1)-float64(c0), float64(r1)-float64(r0)
	for (w/float64(r.factor)+float64(2*rim+1))*(h/float64(r.factor)+float64(2*rim+1)) > most && r.factor < 1<<30 {
		r.factor *= 2
	}
	floorCell := func(v int32) int { return int(floorDiv(int64(v), int64(r.factor))) }
	r.cellM = cellM * float64(r.factor)
	r.col0, r.row0 = int32(floorCell(c0)-rim), int32(floorCell(r0)-rim)
	r.cols, r.rows = floorCell(c1)-floorCell(c0)+2*rim+1, floorCell(r1)-floorCell(r0)+2*rim+1
	return r
}

func (r *raster) index(col, row int32) int {
	c, w := int(floorDiv(int64(col), int64(r.factor))), int(floorDiv(int64(row), int64(r.factor)))
	return (w-int(r.row0))*r.cols + c - int(r.col0)
}

func (r *raster) grid() *Grid {
	g := &Grid{Col0: r.col0, Row0: r.row0, Cols: r.cols, Rows: r.rows, CellM: r.cellM, Values: make([]float32, r.cols*r.rows)}
	for i := range g.Values {
		g.Values[i] = float32(math.NaN())
	}
	return g
}

// aggregate judges all strips together.
func (s *Survey) aggregate(c *Coverage, o CoverageOptions, t testCells) {
	closeM := o.CloseM
	if closeM == 0 {
		var w []float64
		for _, st := range s.Lines() {
			w = append(w, st.WidthM)
		}
		closeM = 8 * s.Options.CellM
		if m := 0.1 * median(w); m > closeM {
			closeM = m
		}
	}
	r := s.newRaster(int(closeM/s.Options.CellM) + edgeCells + 2)
	if r == nil {
		return
	}
	r.first, r.lines = make([]int32, r.cols*r.rows), make([]uint16, r.cols*r.rows)
	occupied := make([]bool, r.cols*r.rows)
	for i := range s.Strips {
		st := &s.Strips[i]
		last := -1
		for k := range st.Facets {
			f := &st.Facets[k]
			if f.First == 0 {
				continue
			}
			j := r.index(f.Col, f.Row)
			r.first[j] += f.First
			occupied[j] = true
			if st.Kind == Line && (r.factor == 1 || j != last) {
				r.lines[j]++
			}
			last = j
		}
	}
	inside := closeGaps(occupied, r.cols, r.rows, max(1, int(closeM/2/r.cellM)))
	fillHoles(inside, r.cols, r.rows)
	core := erode(inside, r.cols, r.rows, edgeCells)
	s.sums(c, r, inside, occupied)
	s.aggregateVoids(c, o, t, r, core)
	if cells := trueCells(inside, r); len(cells) > 0 {
		c.Rings = outline(cells, r.cellM, smallHole)
	}
}

// sums fills areas, densities and the two rasters.
func (s *Survey) sums(c *Coverage, r *raster, inside, occupied []bool) {
	area := r.cellM * r.cellM
	c.Density, c.Count = r.grid(), r.grid()
	var total float64
	var density []float64
	n, with := 0, 0
	for j := range inside {
		if occupied[j] {
			c.OccupiedM2 += area
			c.Density.Values[j] = float32(float64(r.first[j]) / area)
			c.Count.Values[j] = float32(r.lines[j])
		}
		if !inside[j] {
			continue
		}
		n++
		total += float64(r.first[j])
		density = append(density, float64(r.first[j])/area)
		if occupied[j] {
			with++
		} else {
			c.Density.Values[j], c.Count.Values[j] = 0, 0
		}
	}
	c.AreaM2 = float64(n) * area
	c.DensityPerM2 = total / c.AreaM2
	c.WithReturnPct = 100 * float64(with) / float64(n)
	c.LowDensity = quantile(density, 0.05)
}

// aggregateVoids finds voids and the distribution inside core. On a raster wider
// than the cells the raster's own cells are tested.
func (s *Survey) aggregateVoids(c *Coverage, o CoverageOptions, t testCells, r *raster, core []bool) {
	raw := make([]uint64, len(core)) // sub-cells with a return in any strip
	if r.factor > 1 {
		t = testCells{k: 1, merge: 1, sideM: r.cellM}
		for j, n := range r.first {
			raw[j] = min(1, uint64(n))
		}
	} else {
		for i := range s.Strips {
			for k := range s.Strips[i].Facets {
				f := &s.Strips[i].Facets[k]
				raw[r.index(f.Col, f.Row)] |= f.Occupied
			}
		}
	}
	place := func(j int) cellID { return cellID{r.col0 + int32(j%r.cols), r.row0 + int32(j/r.cols)} }
	var empty []cellID
	for j, in := range core {
		if !in {
			continue
		}
		if o.MinDesignedBy > 1 && int(r.lines[j]) < o.MinDesignedBy {
			raw[j] = 0
		}
		empty = t.empties(empty, place(j).col, place(j).row, t.occupied(raw[j]))
	}
	voids, lost := t.voids(empty, -1, c.VoidLimitM2)
	g := t.regularity(c.ANPSM)
	for j, in := range core {
		if in {
			g.add(raw[j], lost[place(j)])
		}
	}
	c.Distribution = g.result(c.ANPSM)
	c.VoidCount = len(voids)
	for _, v := range voids {
		c.VoidM2 += v.AreaM2
		c.LargestVoidM2 = max(c.LargestVoidM2, v.AreaM2)
	}
	c.Voids = largest(voids, o.MaxVoids)
}

func trueCells(b []bool, r *raster) []cellID {
	var out []cellID
	for j, in := range b {
		if in {
			out = append(out, cellID{r.col0 + int32(j%r.cols), r.row0 + int32(j/r.cols)})
		}
	}
	return out
}

// closeGaps returns the closing of a mask by a square of 2n+1 cells: openings
// narrower than that become part of it. The mask needs a rim of n empty cells.
func closeGaps(mask []bool, cols, rows, n int) []bool {
	grown := spread(mask, cols, rows, n, true)
	return spread(grown, cols, rows, n, false)
}

// erode takes n cells off a mask all around.
func erode(mask []bool, cols, rows, n int) []bool { return spread(mask, cols, rows, n, false) }

// spread grows cells with the value v by n cells to each side, in both axes.
func spread(mask []bool, cols, rows, n int, v bool) []bool {
	tmp := make([]bool, len(mask))
	for y := range rows {
		spreadRow(mask[y*cols:(y+1)*cols], tmp[y*cols:(y+1)*cols], n, v)
	}
	return spreadRows(tmp, cols, rows, n, v)
}

func spreadRow(src, dst []bool, n int, v bool) {
	last := -n - 1 // the last place with v
	next := 0      // the next place to look at
	for i := range dst {
		for ; next < len(src) && next <= i+n; next++ {
			if src[next] == v {
				last = next
			}
		}
		dst[i] = v == (i-last <= n)
	}
}

// spreadRows is spreadRow down the columns, row by row so that memory is read in
// its order: left[x] is for how many more rows column x has the value v.
func spreadRows(src []bool, cols, rows, n int, v bool) []bool {
	dst := make([]bool, len(src))
	for i := range dst {
		dst[i] = !v
	}
	left := make([]int32, cols)
	row := func(y int) {
		s, d := src[y*cols:(y+1)*cols], dst[y*cols:(y+1)*cols]
		for x, b := range s {
			if b == v {
				left[x] = int32(n) + 1
			}
			if left[x] > 0 {
				left[x]--
				d[x] = v
			}
		}
	}
	for y := range rows {
		row(y)
	}
	clear(left)
	for y := rows - 1; y >= 0; y-- {
		row(y)
	}
	return dst
}

// fillHoles adds to a mask what does not reach the raster's border.
func fillHoles(mask []bool, cols, rows int) {
	outside := make([]bool, len(mask))
	var stack []int
	push := func(j int) {
		if !mask[j] && !outside[j] {
			outside[j] = true
			stack = append(stack, j)
		}
	}
	for x := range cols {
		push(x)
		push((rows-1)*cols + x)
	}
	for y := range rows {
		push(y * cols)
		push(y*cols + cols - 1)
	}
	for len(stack) > 0 {
		j := stack[len(stack)-1]
		stack = stack[:len(stack)-1]
		x := j % cols
		if x > 0 {
			push(j - 1)
		}
		if x < cols-1 {
			push(j + 1)
		}
		if j >= cols {
			push(j - cols)
		}
		if j < len(mask)-cols {
			push(j + cols)
		}
	}
	for j := range mask {
		if !outside[j] {
			mask[j] = true
		}
	}
}
