package overlap

import (
	"math"
)

// CoverageOptions controls Survey.Coverage. Start from DefaultCoverageOptions.
type CoverageOptions struct {
	ANPSM         float64 // design spacing for the tests of distribution and voids; 0: as found
	UsableShare   float64 // central part of the swath width on which density is judged; default 0.95
	MaxVoids      int     // voids listed with outlines, largest first; default 500. All are counted
	CloseM        float64 // openings narrower than this belong to the covered area; 0: a tenth of the swath width, at least 8 cells
	MinDesignedBy int     // strips that must cover a place, else it is a void of the aggregate; default 1
}

// DefaultCoverageOptions returns the defaults named in CoverageOptions.
//
// 95 %: USGS Lidar Base Specification 2025 rev. A, the geometrically usable
// centre part of each swath.
func DefaultCoverageOptions() CoverageOptions {
	return CoverageOptions{UsableShare: 0.95, MaxVoids: 500, MinDesignedBy: 1}
}

// Distribution is the test of spatial distribution: cells of about twice the
// nominal pulse spacing, at least 90 % of them with a first return.
type Distribution struct {
	CellM     float64 // side of the test cell, 2 ANPS: read between two whole parts of the survey's cell
	Cells     int     // test cells inside the covered area, without voids
	Occupied  int     // as many of them as Pct says
	Pct       float64
	Judgeable bool // false where the survey's cells allow no test cell near 2 ANPS; CellM then says what was tested
}

// DistributionPasses reports whether occupied of cells is at least 90 %.
//
// Source: USGS Lidar Base Specification 2025 rev. A, spatial distribution.
func DistributionPasses(occupied, cells int) bool { return cells > 0 && 10*occupied >= 9*cells }

// Void is a connected area without first returns inside the covered area.
type Void struct {
	Strip  int // index into Survey.Strips, -1 for the aggregate
	AreaM2 float64
	EM, NM float64
	Rings  [][][2]float64
}

// VoidAreaM2 is the area from which a place without returns is a void: (4 ANPS)^2.
//
// Source: USGS Lidar Base Specification 2025 rev. A, data voids.
func VoidAreaM2(anpsM float64) float64 { return 16 * anpsM * anpsM }

// StripCoverage is the coverage of one strip.
type StripCoverage struct {
	Strip        int // index into Survey.Strips
	AreaM2       float64
	DensityPerM2 float64 // first returns of the usable part over its area
	ANPSM        float64
	LowDensity   float64 // 5th percentile of cells of the usable part, per m2
	Distribution Distribution
	Voids        int
	VoidM2       float64
}

// edgeCells is the width of the rim of the covered area in which nothing is
// judged: there the outline cuts through cells.
const edgeCells = 2

// Coverage is what the survey covers, and how densely.
type Coverage struct {
	AreaM2        float64 // covered area: cells with a return, and gaps closed as CloseM says
	OccupiedM2    float64 // cells with a first return
	WithReturnPct float64
	DensityPerM2  float64 // first returns of all strips over AreaM2
	LowDensity    float64 // 5th percentile of cells inside the area, per m2
	ANPSM         float64 // 1/sqrt(median single-strip density): the spacing of the tests, unless given
	VoidLimitM2   float64
	Strips        []StripCoverage
	Distribution  Distribution // all strips together
	Voids         []Void       // of the aggregate, largest first, at most MaxVoids
	VoidCount     int
	VoidM2        float64
	LargestVoidM2 float64
	StripVoids    []Void // inside single strips, largest first, at most MaxVoids

	Density *Grid // first returns per m2, all strips
	Count   *Grid // strips with a return in the cell
	Rings   [][][2]float64
}

// Coverage measures area, density, distribution and voids.
func (s *Survey) Coverage(o CoverageOptions) *Coverage {
	c := &Coverage{ANPSM: o.ANPSM}
	if c.ANPSM == 0 {
		c.ANPSM = s.ANPSM
	}
	c.VoidLimitM2 = VoidAreaM2(c.ANPSM)
	sub := s.testCells(c.ANPSM)
	for i := range s.Lines() {
		sc, voids := s.stripCoverage(&s.Strips[i], o, c, sub)
		c.Strips = append(c.Strips, sc)
		c.StripVoids = append(c.StripVoids, voids...)
	}
	c.StripVoids = largest(c.StripVoids, o.MaxVoids)
	s.aggregate(c, o, sub)
	return c
}

// stripCoverage judges one strip inside the central part of its hull.
func (s *Survey) stripCoverage(st *Strip, o CoverageOptions, c *Coverage, t testCells) (StripCoverage, []Void) {
	sc := StripCoverage{Strip: st.Index, AreaM2: st.AreaM2, DensityPerM2: math.NaN(), ANPSM: math.NaN(), LowDensity: math.NaN()}
	if len(st.Facets) == 0 || st.hull.cells(s.Options.CellM) > 4*maxRasterCells {
		return sc, nil // nothing there, or points strewn over a country
	}
	cellM := s.Options.CellM
	var density []float64
	var empty, cells []cellID
	var raw []uint64
	var first float64
	withReturns := 0
	st.insideCells(cellM, o.UsableShare, func(col, row int32, f *Facet) {
		var bits uint64
		n := 0.0
		if f != nil {
			bits, n = f.Occupied, float64(f.First)
		}
		if n > 0 {
			withReturns++
		}
		first += n
		density = append(density, n/(cellM*cellM))
		cells, raw = append(cells, cellID{col, row}), append(raw, bits)
		empty = t.empties(empty, col, row, t.occupied(bits))
	})
	voids, in := t.voids(empty, st.Index, c.VoidLimitM2)
	g := t.regularity(c.ANPSM)
	for i := range cells {
		g.add(raw[i], in[cells[i]])
	}
	sc.Distribution = g.result(c.ANPSM)
	sc.Voids = len(voids)
	for _, v := range voids {
		sc.VoidM2 += v.AreaM2
	}
	if withReturns > 0 {
		sc.DensityPerM2 = first / (float64(withReturns) * cellM * cellM)
		sc.ANPSM = 1 / math.Sqrt(sc.DensityPerM2)
		sc.LowDensity = quantile(density, 0.05)
	}
	return sc, voids
}

// insideCells calls f for each cell in the central share of the hull, without a
// rim of edgeCells, by row and column; the facet is nil where the strip has none.
func (st *Strip) insideCells(cellM, share float64, f func(col, row int32, facet *Facet)) {
	rim := edgeCells * cellM
	lo, hi := st.rowRanges(cellM)
	k := 0
	for r := range lo {
		row := st.row0() + int32(r)
		for col := lo[r]; col <= hi[r]; col++ {
			e, n := cellID{col, row}.centre(cellM)
			along, across := st.axis.along(e, n), st.axis.across(e, n)
			a, b, ok := st.hull.rangeAt(along)
			half := min(share*(b-a)/2, (b-a)/2-rim)
			if !ok || math.Abs(across-(a+b)/2) > half || along-st.hull.start < rim || along-st.hull.start > st.hull.length-rim || st.hull.nearEnd(along, rim) {
				continue
			}
			for k < len(st.Facets) && (st.Facets[k].Row < row || st.Facets[k].Row == row && st.Facets[k].Col < col) {
				k++
			}
			if k < len(st.Facets) && st.Facets[k].Row == row && st.Facets[k].Col == col {
				f(col, row, &st.Facets[k])
			} else {
				f(col, row, nil)
			}
		}
	}
}

func (st *Strip) row0() int32 { return st.Facets[0].Row }

// rowRanges returns, for the rows from the first facet's on, the columns that
// the facets' extent and the hull can reach.
func (st *Strip) rowRanges(cellM float64) (lo, hi []int32) {
	r0, r1 := st.Facets[0].Row, st.Facets[len(st.Facets)-1].Row
	lo, hi = make([]int32, r1-r0+1), make([]int32, r1-r0+1)
	for i := range lo {
		lo[i], hi[i] = math.MaxInt32, math.MinInt32
	}
	reach := func(e, n float64) {
		c, r := int32(math.Floor(e/cellM)), int32(math.Floor(n/cellM))-r0
		if r >= 0 && int(r) < len(lo) {
			lo[r], hi[r] = min(lo[r], c), max(hi[r], c)
		}
	}
	for b := range st.hull.lo {
		if math.IsNaN(st.hull.lo[b]) {
			continue
		}
		for _, step := range [3]float64{0, 0.5, 1} {
			along := st.hull.start + (float64(b)+step)*st.hull.binM
			width := st.hull.hi[b] - st.hull.lo[b]
			n := max(1, int(2*width/cellM))
			for k := range n + 1 {
				reach(st.axis.place(along, st.hull.lo[b]+width*float64(k)/float64(n)))
			}
		}
	}
	return lo, hi
}

// cells is the number of cells that a look at the whole hull takes.
func (h *hull) cells(cellM float64) float64 {
	w := 0.0
	for i := range h.lo {
		if !math.IsNaN(h.lo[i]) {
			w = max(w, h.hi[i]-h.lo[i])
		}
	}
	return (w/cellM + 1) * (max(h.length, float64(len(h.lo))*h.binM)/cellM + 1)
}

// nearEnd reports whether the hull ends within reach along the flight.
func (h *hull) nearEnd(along, reach float64) bool {
	_, _, before := h.rangeAt(along - reach)
	_, _, after := h.rangeAt(along + reach)
	return !before || !after
}
