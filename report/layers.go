package report

import (
	"fmt"
	"math"

	"sidelap/adjust"
	"sidelap/overlap"

	"github.com/paulmach/orb"
)

// Layers are what the reports draw and what is too large for the record:
// rasters, outlines, histograms, profiles. Any part may be missing; what needs
// it is then left out and said so. Positions are metres in the CRS of the cloud.
type Layers struct {
	Relief      *Grid      // surface heights in metres, for the shaded relief
	Separation  *Grid      // all pairs together, metres; made from Pairs when these have Flags, see Combine
	Used        *Grid      // 1 where Separation entered the statistics, 0 where every pair flagged the cell; nil: everywhere
	Pairs       []PairGrid // separation of one pair, metres, later minus earlier
	Density     *Grid      // first returns per square metre, all strips
	StripCount  *Grid      // number of strips with a return
	Intensity   *Grid      // mean intensity of the last returns as stored, for the swath separation image
	Strips      []Shape    // outline and centre line of a strip; ID as in the record
	Overlaps    []Shape    // overlap region of a pair; ID "A/B"
	Voids       []Shape    // ID as in the record
	Boundary    orb.MultiPolygon
	Path        orb.MultiLineString
	Separations *Histogram // of the separations of all pairs
	Profiles    []Profile
	Before      *Grid           // separation before a correction
	BeforeUsed  *Grid           // as Used, for Before; nil: everywhere
	Diagnosis   *adjust.Figures // separations across pairs, along strips and on the map, with and without the causes
	Logo        []byte
	LogoType    string // "image/png" or "image/jpeg"

	pictures map[pictureKey]func() (*picture, error) // drawn once for HTML and PDF
}

// Shape is an outline on the map with the ID it has in the record.
type Shape struct {
	ID   string
	A, B string // pair, for overlap regions
	Area orb.MultiPolygon
	Line orb.LineString // centre line of a strip
}

// PairGrid is the separation raster of one pair.
type PairGrid struct {
	A, B  string
	Grid  *Grid // every difference, metres
	Flags *Grid // 0 where the cell entered the statistics, else why not (overlap.CellFlag); nil: all did

	// Instead of both: where the rasters lie, without values, and what makes them each time they are needed.
	// The rasters of many long pairs do not fit into memory together.
	Frame               *Grid
	DrawGrid, DrawFlags func() *Grid
}

// drawn returns the pair with its rasters made.
func (p PairGrid) drawn() PairGrid {
	if p.DrawGrid != nil {
		p.Grid, p.DrawGrid = p.DrawGrid(), nil
	}
	if p.DrawFlags != nil {
		p.Flags, p.DrawFlags = p.DrawFlags(), nil
	}
	return p
}

// frame is a raster that lies where the pair's does; nil without one.
func (p *PairGrid) frame() *Grid {
	if p.Grid == nil {
		return p.Frame
	}
	return p.Grid
}

// empty tells whether the pair has no raster.
func (p *PairGrid) empty() bool {
	g := p.frame()
	return g == nil || g.Cols == 0 || g.Rows == 0
}

// used tells whether the value at index i of the grid entered the statistics.
func (p *PairGrid) used(i int) bool {
	return p.Flags == nil || p.Flags.At(p.Grid.Col0+int32(i%p.Grid.Cols), p.Grid.Row0+int32(i/p.Grid.Cols)) == 0
}

// Combine joins the rasters of pairs: in each cell the difference of largest
// size with its sign, of those that entered the statistics when there are any,
// else of the flagged ones. used is 1 in the first case, 0 in the second.
func Combine(pairs []PairGrid) (separation, used *Grid) {
	var b orb.Bound
	cell := 0.0
	for k := range pairs {
		if pairs[k].empty() {
			continue
		}
		g := pairs[k].frame()
		if cell == 0 {
			b, cell = boundOf(g), g.CellM
		} else {
			b = b.Union(boundOf(g))
		}
	}
	if cell == 0 {
		return nil, nil
	}
	whole := func(m float64) int32 { return int32(math.Round(m / cell)) }
	make1 := func() *Grid {
		g := &Grid{Col0: whole(b.Min[0]), Row0: whole(b.Min[1]), Cols: int(whole(b.Max[0]) - whole(b.Min[0])), Rows: int(whole(b.Max[1]) - whole(b.Min[1])), CellM: cell}
		g.Values = make([]float32, g.Cols*g.Rows)
		for i := range g.Values {
			g.Values[i] = float32(math.NaN())
		}
		return g
	}
	separation, used = make1(), make1()
	for k := range pairs {
		p := pairs[k].drawn()
		if p.Grid == nil {
			continue
		}
		for i, v := range p.Grid.Values {
			if v != v {
				continue
			}
			c, r := i%p.Grid.Cols+int(p.Grid.Col0-separation.Col0), i/p.Grid.Cols+int(p.Grid.Row0-separation.Row0)
			at, u := r*separation.Cols+c, float32(0)
			if p.used(i) {
				u = 1
			}
			switch old := used.Values[at]; {
			case old != old || u > old, u == old && math.Abs(float64(v)) > math.Abs(float64(separation.Values[at])):
				separation.Values[at], used.Values[at] = v, u
			}
		}
	}
	return separation, used
}

// Grid is a raster in metres on the survey's grid. The cell (col, row) covers
// [col, col+1) x [row, row+1) times CellM; rows count northwards and the values
// run row by row from the south. NaN is "no value".
type Grid = overlap.Grid

// boundOf returns the outline of the grid in metres.
func boundOf(g *Grid) orb.Bound {
	e, n := g.Origin()
	return orb.Bound{Min: orb.Point{e, n}, Max: orb.Point{e + float64(g.Cols)*g.CellM, n + float64(g.Rows)*g.CellM}}
}

// rangeOf returns smallest and largest value and the number of cells with one.
func rangeOf(g *Grid) (lo, hi float64, cells int64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	for _, v := range g.Values {
		if v == v {
			lo, hi = min(lo, float64(v)), max(hi, float64(v))
			cells++
		}
	}
	if cells == 0 {
		return math.NaN(), math.NaN(), 0
	}
	return lo, hi, cells
}

func checkGrid(name string, g *Grid) error {
	if g.Cols <= 0 || g.Rows <= 0 || !(g.CellM > 0) || len(g.Values) != g.Cols*g.Rows {
		return fmt.Errorf("raster %s: %d x %d cells of %g m with %d values", name, g.Cols, g.Rows, g.CellM, len(g.Values))
	}
	return nil
}

// Histogram counts values in classes of equal width. Class i is
// [LowM + i StepM, LowM + (i+1) StepM).
type Histogram struct {
	LowM   float64 `json:"low_m"`
	StepM  float64 `json:"step_m"`
	Counts []int64 `json:"counts"`
	Under  int64   `json:"under"` // below the first class
	Over   int64   `json:"over"`  // above the last class
}

// Profile is a cut through the points of some strips.
type Profile struct {
	Title  string
	From   orb.Point
	To     orb.Point
	WidthM float64
	Strips []string
	Points []ProfilePoint
}

// ProfilePoint is one return in a profile.
type ProfilePoint struct {
	DistM, ZM float64
	Strip     int // index into Profile.Strips
}
