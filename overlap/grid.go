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
