package overlap

import (
	"fmt"
	"math"
	"math/bits"
	"slices"

	"sidelap/las"
)

// Probe looks at a sample of the points, a few chunks of every file, and
// proposes Options for the whole.
type Probe struct {
	spacings []float64 // of first returns, one for each chunk
	points   int64
	ground   int64
	first    int64 // first returns among points
	total    int64 // points of the files
	areaM2   float64
}

// File adds what the header of a file says: its points, and the area of its
// extent in m2. It guards against files in random order, whose chunks look
// thinner than the file is.
func (p *Probe) File(points int64, areaM2 float64) {
	if points > 0 && areaM2 > 0 {
		p.total += points
		p.areaM2 += areaM2
	}
}

// probePoints is the number of points of a chunk from which a spacing is taken.
const probePoints = 200

// Add looks at one chunk. Chunks should be spread over the files.
func (p *Probe) Add(c *las.Chunk) {
	v := view(c)
	type place struct{ e, n float64 }
	bySource := map[uint16][]place{}
	for i := range c.N {
		p.points++
		var class uint8
		if v.hasClass {
			class = c.Class[i]
		}
		if class == 2 {
			p.ground++
		}
		if class == 7 || class == 18 || v.hasFlags && c.Flags[i]&las.FlagWithheld != 0 || v.hasRet && c.ReturnNumber[i] > 1 {
			continue
		}
		p.first++
		var id uint16
		if v.hasSource {
			id = c.Source[i]
		}
		e, n := c.Frame.XM(c.X[i]), c.Frame.YM(c.Y[i])
		if math.Abs(e) < maxCoordM && math.Abs(n) < maxCoordM {
			bySource[id] = append(bySource[id], place{e, n})
		}
	}
	var ids []uint16
	for id := range bySource {
		ids = append(ids, id)
	}
	slices.Sort(ids)
	for _, id := range ids {
		pts := bySource[id]
		if len(pts) < probePoints {
			continue
		}
		xs, ys := make([]float64, len(pts)), make([]float64, len(pts))
		for i, q := range pts {
			xs[i], ys[i] = q.e, q.n
		}
		p.spacings = append(p.spacings, spacing(xs, ys))
	}
}

// spacing estimates the nominal pulse spacing sqrt(area / n) of points whose
// area is not known: the side of a square that holds, where there are points,
// three of them on average, divided by sqrt(3). Found by halving.
func spacing(xs, ys []float64) float64 {
	lo, hi := 1e-3, 1e3
	cells := newCellCount(len(xs))
	for range 10 { // to 1.4 %
		s := math.Sqrt(lo * hi)
		cells.clear()
		for i := range xs {
			cells.add([2]int64{int64(math.Floor(xs[i] / s)), int64(math.Floor(ys[i] / s))})
		}
		if float64(len(xs)) > 3*float64(cells.n) {
			hi = s
		} else {
			lo = s
		}
	}
	return math.Sqrt(lo*hi) / math.Sqrt(3)
}

// cellCount counts different cells: a table with open addressing, half empty at least. The next of a cell that is taken
// is the next place.
type cellCount struct {
	at   [][2]int64
	full []bool
	n    int
}

func newCellCount(most int) *cellCount {
	size := 1 << bits.Len(uint(2*most))
	return &cellCount{at: make([][2]int64, size), full: make([]bool, size)}
}

func (c *cellCount) clear() {
	clear(c.full)
	c.n = 0
}

func (c *cellCount) add(k [2]int64) {
	h := (uint64(k[0])*0x9e3779b97f4a7c15 ^ uint64(k[1])) * 0xff51afd7ed558ccd
	i := h >> 32 & uint64(len(c.at)-1)
	for c.full[i] {
		if c.at[i] == k {
			return
		}
		i = (i + 1) & uint64(len(c.at)-1)
	}
	c.full[i], c.at[i] = true, k
	c.n++
}

// cellSpacings is the side of a cell in nominal pulse spacings that holds 5.5
// returns. A sensor that sees the ground twice, seconds apart, shows half its
// density in a chunk: there the cell holds 11.
const cellSpacings = 2.35

// layers is the spacing of one strip in units of that over the extents of the
// files: strips lie over each other, and extents are wider than what is covered.
const layers = 1.3

// spacing returns the nominal pulse spacing of one strip in the sample, NaN
// when there is nothing to judge by: the first quartile of the chunks' spacings,
// or less where the headers say that the files are denser.
func (p *Probe) spacing() float64 {
	s := quantile(p.spacings, 0.25)
	if p.total > 0 && p.first > 0 {
		first := float64(p.total) * float64(p.first) / float64(p.points)
		if h := layers * math.Sqrt(p.areaM2/first); !(s < h) {
			s = h
		}
	}
	return s
}

// Options proposes the cell, and says why. The estimate of the spacing is rough:
// AutoCell lets Survey widen the cells. A cell is 1 m or a power of two of
// metres, so that cells tile those of the USGS rule; 1 m is also the pixel of that
// specification's separation image at the highest quality levels, and keeps
// memory small for dense clouds.
func (p *Probe) Options() (Options, string) {
	o := DefaultOptions()
	o.AutoCell = true
	o.Classified = p.points > 0 && 100*p.ground >= p.points
	why := "no chunk has points enough to estimate a spacing; cells of 1 m to begin with"
	if s := p.spacing(); s > 0 {
		for o.CellM < cellSpacings*s && o.CellM < maxCellM {
			o.CellM *= 2
		}
		o.SubCells = subCells(o.CellM, s)
		why = fmt.Sprintf("first returns of one strip about %.2g m apart in a sample", s)
	}
	if o.Classified {
		why += "; classified, so vegetation, water and unclassified points make no facets"
	} else {
		why += "; no ground class, so last returns of every class but noise make facets"
	}
	return o, why
}

// subCells is the number of sub-cells that brings their side nearest to twice
// the spacing, from below or above by a factor.
func subCells(cellM, anpsM float64) int {
	k := 1
	for k < maxSub && cellM/float64(2*k) > 1.2*anpsM {
		k *= 2
	}
	return k
}
