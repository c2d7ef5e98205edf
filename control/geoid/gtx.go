package geoid

import (
	"encoding/binary"
	"fmt"
	"math"
)

// gtxNoData is the value of nodes without separation. Source: GTX format as PROJ and GDAL read it.
const gtxNoData = -88.88880

// parseGTX reads a GTX grid: big-endian south latitude, west longitude, steps (doubles, degrees), rows, columns
// (int32), then rows of float32 from the south.
func parseGTX(b []byte) (*Grid, error) {
	if len(b) < 40 {
		return nil, fmt.Errorf("%w: %d bytes", ErrFormat, len(b))
	}
	f := func(i int) float64 { return math.Float64frombits(binary.BigEndian.Uint64(b[i:])) }
	g := &Grid{Format: "GTX", SouthDeg: f(0), WestDeg: f(8), StepLatDeg: f(16), StepLonDeg: f(24)}
	rows, cols := int64(int32(binary.BigEndian.Uint32(b[32:]))), int64(int32(binary.BigEndian.Uint32(b[36:])))
	if rows < 2 || cols < 2 || rows > int64(len(b)-40)/4/cols {
		return nil, fmt.Errorf("%w: %d rows of %d nodes in %d bytes", ErrFormat, rows, cols, len(b))
	}
	for _, v := range []float64{g.SouthDeg, g.WestDeg, g.StepLatDeg, g.StepLonDeg} {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return nil, ErrFormat
		}
	}
	g.Rows, g.Cols = int(rows), int(cols)
	g.node = func(row, col int) (float64, error) {
		v := math.Float32frombits(binary.BigEndian.Uint32(b[40+4*(row*g.Cols+col):]))
		if math.Abs(float64(v)-gtxNoData) < 1e-4 {
			return math.NaN(), nil
		}
		return float64(v), nil
	}
	return g, nil
}
