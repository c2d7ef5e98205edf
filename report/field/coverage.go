package field

import (
	"math"

	"sidelap/las"
	"sidelap/overlap"
	"sidelap/trajectory/fieldcheck"
)

// classWater is the class of water. Source: LAS 1.4 R15, ASPRS standard point classes.
const classWater = 9

// cellID is a cell of the grid: floor(E/cell), floor(N/cell).
type cellID struct{ col, row int32 }

// waterCells counts the points of class water in each cell. Raw clouds have no classes: it is then empty.
type waterCells struct {
	cellM float64
	n     map[cellID]int32
}

func newWaterCells(cellM float64) *waterCells {
	return &waterCells{cellM: cellM, n: map[cellID]int32{}}
}

// Add takes the water points of a chunk.
func (w *waterCells) Add(c *las.Chunk) {
	if len(c.Class) < c.N {
		return
	}
	for i, k := range c.Class[:c.N] {
		if k == classWater {
			e, n := c.Frame.XM(c.X[i])/w.cellM, c.Frame.YM(c.Y[i])/w.cellM
			if math.Abs(e) < math.MaxInt32 && math.Abs(n) < math.MaxInt32 {
				w.n[cellID{int32(math.Floor(e)), int32(math.Floor(n))}]++
			}
		}
	}
}

func (w *waterCells) merge(o *waterCells) {
	for k, n := range o.n {
		w.n[k] += n
	}
}

// maxRaster bounds the coverage raster: 200 million cells are 14 km by 14 km at 1 m.
const maxRaster = 200_000_000

// raster turns the survey's coverage into that of the field check, nil when there is none or it is too wide.
func raster(g *overlap.Grid, water *waterCells, s *overlap.Survey) *fieldcheck.Coverage {
	if g == nil || g.Cols <= 0 || g.Rows <= 0 || g.Cols*g.Rows > maxRaster {
		return nil
	}
	e, n := g.Origin()
	c := &fieldcheck.Coverage{CellM: g.CellM, EM: e, NM: n, Cols: g.Cols, Rows: g.Rows, First: make([]uint32, g.Cols*g.Rows)}
	for i, v := range g.Values {
		if v > 0 {
			c.First[i] = max(1, uint32(math.Round(float64(v)*g.CellM*g.CellM)))
		}
	}
	cell := func(col, row int32, cellM float64) (int, bool) {
		x := int(math.Floor((float64(col)+0.5)*cellM/g.CellM)) - int(g.Col0)
		y := int(math.Floor((float64(row)+0.5)*cellM/g.CellM)) - int(g.Row0)
		return y*c.Cols + x, x >= 0 && y >= 0 && x < c.Cols && y < c.Rows
	}
	if len(water.n) > 0 {
		c.Water = make([]bool, len(c.First))
		for k := range water.n {
			if i, ok := cell(k.col, k.row, water.cellM); ok {
				c.Water[i] = true
			}
		}
	}
	c.LowM = make([]float32, len(c.First))
	for i := range c.LowM {
		c.LowM[i] = float32(math.NaN())
	}
	for k := range s.Strips {
		for i := range s.Strips[k].Facets {
			f := &s.Strips[k].Facets[i]
			if z := float32(f.ZM); f.N > 0 && z == z {
				if j, ok := cell(f.Col, f.Row, s.Options.CellM); ok && !(c.LowM[j] <= z) {
					c.LowM[j] = z
				}
			}
		}
	}
	return c
}
