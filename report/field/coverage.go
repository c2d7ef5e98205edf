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
func raster(g *overlap.Grid, water *waterCells) *fieldcheck.Coverage {
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
	if len(water.n) > 0 {
		c.Water = make([]bool, len(c.First))
		for k := range water.n {
			col := int(math.Floor((float64(k.col)+0.5)*water.cellM/g.CellM)) - int(g.Col0)
			row := int(math.Floor((float64(k.row)+0.5)*water.cellM/g.CellM)) - int(g.Row0)
			if col >= 0 && row >= 0 && col < c.Cols && row < c.Rows {
				c.Water[row*c.Cols+col] = true
			}
		}
		floodWater(c)
	}
	return c
}

// floodWater marks empty cells that lie in water: a connected part of them is water when at least half of
// the cells with returns around it are. Still water gives no returns except along its shore.
func floodWater(c *fieldcheck.Coverage) {
	seen := make([]bool, len(c.First))
	for k := range seen {
		if seen[k] || c.First[k] > 0 {
			continue
		}
		part := []int{k}
		seen[k] = true
		wet, dry, open := 0, 0, false
		for i := 0; i < len(part); i++ {
			x := part[i]
			col, row := x%c.Cols, x/c.Cols
			for _, d := range [4][2]int{{1, 0}, {-1, 0}, {0, 1}, {0, -1}} {
				cc, rr := col+d[0], row+d[1]
				if cc < 0 || rr < 0 || cc >= c.Cols || rr >= c.Rows {
					open = true
					continue
				}
				y := rr*c.Cols + cc
				switch {
				case c.First[y] > 0 && c.Water[y]:
					wet++
				case c.First[y] > 0:
					dry++
				case !seen[y]:
					seen[y] = true
					part = append(part, y)
				}
			}
		}
		if open || wet == 0 || wet < dry {
			continue
		}
		for _, x := range part {
			c.Water[x] = true
		}
	}
}
