// Package geoid reads grids of geoid separation: GTX and GeoTIFF in latitude and longitude.
//
// The separation N is the height of the geoid over the ellipsoid: h = H + N, h over the ellipsoid, H over
// the geoid. Values between nodes are bilinear. Angles are radians; grids hold degrees. Not in scope: deformation
// grids, horizontal shifts, projected grids.
package geoid

import (
	"errors"
	"fmt"
	"math"
	"sidelap/las/disk"
	"sync"
)

// Grid is a geoid grid. At may be called by many goroutines.
type Grid struct {
	Path       string
	Format     string  // GTX or GeoTIFF
	Rows, Cols int     // nodes
	SouthDeg   float64 // latitude of the southern row
	WestDeg    float64 // longitude of the western column
	StepLatDeg float64
	StepLonDeg float64

	mu   sync.Mutex
	node func(row, col int) (float64, error) // row 0 is the southern one; NaN where there is no value
	err  error
}

// ErrFormat says that a file is no grid that this package reads.
var ErrFormat = errors.New("not a geoid grid (GTX or GeoTIFF in degrees)")

// maxFileBytes bounds a grid file: a whole continent at one minute is 200 MB.
const maxFileBytes = 1 << 30

// Open reads a grid from a file.
func Open(path string) (*Grid, error) {
	b, err := disk.Read(path, maxFileBytes)
	if err != nil {
		return nil, err
	}
	g, err := Parse(b)
	if err != nil {
		return nil, fmt.Errorf("%s: %w; give a grid as GTX or GeoTIFF", path, err)
	}
	g.Path = path
	return g, nil
}

// Parse reads a grid from the bytes of a file, which it keeps.
func Parse(b []byte) (*Grid, error) {
	var g *Grid
	var err error
	if len(b) >= 8 && (string(b[:4]) == "II*\x00" || string(b[:4]) == "MM\x00*") {
		g, err = parseTIFF(b)
	} else {
		g, err = parseGTX(b)
	}
	if err != nil {
		return nil, err
	}
	if !(g.StepLatDeg > 0 && g.StepLonDeg > 0) || math.Abs(g.SouthDeg) > 91 || math.Abs(g.WestDeg) > 541 ||
		g.SouthDeg+float64(g.Rows-1)*g.StepLatDeg > 91 || float64(g.Cols)*g.StepLonDeg > 362 {
		return nil, fmt.Errorf("%w: nodes from latitude %g, longitude %g in steps of %g, %g", ErrFormat, g.SouthDeg, g.WestDeg, g.StepLatDeg, g.StepLonDeg)
	}
	return g, nil
}

// At returns the separation in metres at a place. ok is false outside the grid, where a
// node has no value, and after an error in the file (see Err).
func (g *Grid) At(latRad, lonRad float64) (nM float64, ok bool) {
	lat, lon := latRad*180/math.Pi, lonRad*180/math.Pi
	if math.IsNaN(lat) || math.IsNaN(lon) || math.IsInf(lat, 0) || math.IsInf(lon, 0) {
		return 0, false
	}
	y := (lat - g.SouthDeg) / g.StepLatDeg
	turn := 360 / g.StepLonDeg
	x := math.Mod((lon-g.WestDeg)/g.StepLonDeg, turn)
	if x < -1e-9 {
		x += turn
	}
	row, col := int(math.Floor(y+1e-9)), int(math.Floor(x+1e-9))
	if y < -1e-9 || y > float64(g.Rows-1)+1e-9 {
		return 0, false
	}
	if row >= g.Rows-1 {
		row = g.Rows - 2
	}
	next := col + 1
	if col >= g.Cols-1 {
		switch {
		case col == g.Cols-1 && math.Abs(float64(g.Cols)-turn) < 0.5: // round the world
			next = 0
		case col == g.Cols-1 && x-float64(col) < 1e-6:
			col, next = col-1, col
		default:
			return 0, false
		}
	}
	fy, fx := min(max(y-float64(row), 0), 1), min(max(x-float64(col), 0), 1)
	return g.mix(row, col, next, fy, fx)
}

// mix interpolates between four nodes; nodes of weight zero need no value.
func (g *Grid) mix(row, col, next int, fy, fx float64) (float64, bool) {
	g.mu.Lock()
	defer g.mu.Unlock()
	sum := 0.0
	for _, c := range []struct {
		r, c int
		w    float64
	}{{row, col, (1 - fy) * (1 - fx)}, {row, next, (1 - fy) * fx}, {row + 1, col, fy * (1 - fx)}, {row + 1, next, fy * fx}} {
		if c.w <= 0 {
			continue
		}
		if c.r < 0 || c.r >= g.Rows || c.c < 0 || c.c >= g.Cols {
			return 0, false
		}
		v, err := g.node(c.r, c.c)
		if err != nil {
			g.err = err
			return 0, false
		}
		if math.IsNaN(v) {
			return 0, false
		}
		sum += c.w * v
	}
	return sum, true
}

// Err returns the first error met while reading nodes.
func (g *Grid) Err() error {
	g.mu.Lock()
	defer g.mu.Unlock()
	return g.err
}
