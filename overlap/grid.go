package overlap

import "math"

// Grid is a raster on the survey's grid. Value i is the cell
// (Col0 + i%Cols, Row0 + i/Cols): rows go from south to north. NaN is nodata.
type Grid struct {
	Col0, Row0 int32
	Cols, Rows int
	CellM      float64
	Values     []float32
}

// At returns the value of a cell of the survey's grid, NaN outside.
func (g *Grid) At(col, row int32) float32 {
	c, r := int(col-g.Col0), int(row-g.Row0)
	if c < 0 || r < 0 || c >= g.Cols || r >= g.Rows {
		return float32(math.NaN())
	}
	return g.Values[r*g.Cols+c]
}

// Origin returns the south-west corner in metres.
func (g *Grid) Origin() (eM, nM float64) {
	return float64(g.Col0) * g.CellM, float64(g.Row0) * g.CellM
}

const degree = math.Pi / 180

// SeparationGrid is the separation of a pair in every cell that has two planes,
// flagged or not: a separation raster shows every difference, unclipped.
func (s *Survey) SeparationGrid(p *Pair) *Grid {
	return gridOf(p.Cells, s.Options.CellM, func(c *PairCell) float64 { return c.DzM })
}

// FlagGrid is the CellFlag of each cell of a pair as a number, 0 for used cells.
func (s *Survey) FlagGrid(p *Pair) *Grid {
	return gridOf(p.Cells, s.Options.CellM, func(c *PairCell) float64 { return float64(c.Flag) })
}

// Exceeding returns the connected parts of a pair's used cells with a separation
// beyond limitM, the largest first. A few scattered cells are noise; a large
// part, along the flight line above all, is a misalignment.
//
// Source: USGS Lidar Base Specification 2025 rev. A, swath separation images:
// contiguous and prevalent pixels above the limit are not acceptable.
func (s *Survey) Exceeding(p *Pair, limitM float64) []Region {
	var cells []cellID
	for i := range p.Cells {
		if c := &p.Cells[i]; c.Flag == 0 && math.Abs(c.DzM) > limitM {
			cells = append(cells, cellID{c.Col, c.Row})
		}
	}
	return regions(cells, s.Options.CellM)
}

// gridOf makes the smallest raster around cells; where cells have to be joined,
// because it would be too large, it holds their mean.
func gridOf(cells []PairCell, cellM float64, value func(*PairCell) float64) *Grid {
	if len(cells) == 0 {
		return &Grid{CellM: cellM}
	}
	m := newMeans(frameOf(cells, cellM))
	for i := range cells {
		m.add(cells[i].Col, cells[i].Row, value(&cells[i]))
	}
	return m.grid()
}

// frameOf is the smallest raster around cells, of which there is one at least.
func frameOf(cells []PairCell, cellM float64) *raster {
	c0, c1 := int32(math.MaxInt32), int32(math.MinInt32)
	for i := range cells {
		c0, c1 = min(c0, cells[i].Col), max(c1, cells[i].Col)
	}
	return frameRaster(c0, c1, cells[0].Row, cells[len(cells)-1].Row, len(cells), cellM, 0)
}

// GridFrame is SeparationGrid without values: where it lies and how large it is.
func (s *Survey) GridFrame(p *Pair) *Grid {
	if len(p.Cells) == 0 {
		return &Grid{CellM: s.Options.CellM}
	}
	r := frameOf(p.Cells, s.Options.CellM)
	return &Grid{Col0: r.col0, Row0: r.row0, Cols: r.cols, Rows: r.rows, CellM: r.cellM}
}

// means is a raster of means.
type means struct {
	r   *raster
	sum []float64
	n   []uint32
}

func newMeans(r *raster) *means {
	return &means{r, make([]float64, r.cols*r.rows), make([]uint32, r.cols*r.rows)}
}

// add leaves out NaN.
func (m *means) add(col, row int32, v float64) {
	if math.IsNaN(v) {
		return
	}
	j := m.r.index(col, row)
	m.sum[j] += v
	m.n[j]++
}

func (m *means) grid() *Grid {
	g := m.r.grid()
	for j, n := range m.n {
		if n > 0 {
			g.Values[j] = float32(m.sum[j] / float64(n))
		}
	}
	return g
}

// CombinedSeparation joins all pairs into two rasters: the largest separation of
// any two strips in a cell without its sign (for more than two strips the
// highest surface less the lowest), and the mean separation, later minus earlier.
//
// Source: USGS Lidar Base Specification 2025 rev. A, swath separation images;
// that text leaves open what to show for more than two swaths, this is our reading.
func (s *Survey) CombinedSeparation(pairs []Pair) (largest, mean *Grid) {
	r := s.newRaster(0)
	if r == nil {
		return &Grid{CellM: s.Options.CellM}, &Grid{CellM: s.Options.CellM}
	}
	largest = r.grid()
	m := newMeans(r)
	for i := range pairs {
		for k := range pairs[i].Cells {
			c := &pairs[i].Cells[k]
			if math.IsNaN(c.DzM) {
				continue
			}
			j := r.index(c.Col, c.Row)
			if d := float32(math.Abs(c.DzM)); !(largest.Values[j] >= d) {
				largest.Values[j] = d
			}
			m.add(c.Col, c.Row, c.DzM)
		}
	}
	return largest, m.grid()
}
