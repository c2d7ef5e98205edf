package overlap

import (
	"fmt"
	"math"

	"sidelap/las"
)

// Columns are the columns of a las.Chunk that Accumulator.Add reads. A missing
// column is taken as absent: no time, source ID 0, single returns, class 0.
const Columns = las.ColReturn | las.ColFlags | las.ColChannel | las.ColClass |
	las.ColScanAngle | las.ColSource | las.ColGPSTime

// unitsPerM is the fixed-point resolution of coordinates: 2^-14 m = 0.061 mm.
const (
	unitsPerM = 1 << 14
	unitM     = 1.0 / unitsPerM
)

// maxSub is the largest number of sub-cells along one side of a cell: an 8 by 8
// occupancy bitmap fills 64 bits.
const maxSub = 8

// Options controls an Accumulator. The zero value is not usable: start from
// DefaultOptions, or from Probe, which looks at a sample of the points.
type Options struct {
	CellM    float64 // side of a grid cell in metres; default 1. The grid is anchored at E = 0, N = 0
	SegmentS float64 // length of a time segment in seconds; default 1. Strips are split at segment borders
	SubCells int     // sub-cells along one side of a cell for distribution and voids: 1, 2, 4 or 8; default 4
	AutoCell bool    // Survey may double CellM until a cell holds 7 first returns of a strip as a rule; Probe sets it
	ANPSM    float64 // nominal pulse spacing of one strip in metres (1/sqrt(density)); 0: from the points

	// Classes lists the classes whose last returns make facets. nil: all but
	// noise, and, when Classified, all but ExcludedClasses.
	Classes []uint8
	// Classified says that the cloud has a ground class (2) in numbers, so that
	// its classes can be believed. Probe sets it.
	Classified bool
}

// ExcludedClasses are the classes that make no facets in a classified cloud:
// unclassified points (there they are what is neither ground nor built: bushes,
// vehicles), vegetation, water, wires and towers, snow, temporal exclusion.
// Noise (7, 18) never makes any. Overlap points (class 12 or the flag) stay:
// they are the check.
//
// Source: classes of LAS 1.4 R15, table "ASPRS Standard Point Classes". That
// leaving class 1 out serves was measured on open data, see docs/overlap.md.
var ExcludedClasses = []uint8{0, 1, 3, 4, 5, 9, 13, 14, 15, 16, 19, 21, 22}

// DefaultOptions returns 1 m cells, 1 s segments and 4 by 4 sub-cells.
func DefaultOptions() Options {
	return Options{CellM: 1, SegmentS: 1, SubCells: 4}
}

// Validate names the first option out of its range.
func (o Options) Validate() error {
	switch {
	case !(o.CellM >= 0.05 && o.CellM <= 1000):
		return fmt.Errorf("cell size %g m is outside 0.05..1000 m; give the side of a cell in metres", o.CellM)
	case !(o.SegmentS >= 0.1 && o.SegmentS <= 3600):
		return fmt.Errorf("time segment %g s is outside 0.1..3600 s", o.SegmentS)
	case o.SubCells != 1 && o.SubCells != 2 && o.SubCells != 4 && o.SubCells != maxSub:
		return fmt.Errorf("%d sub-cells along a cell's side, want 1, 2, 4 or %d", o.SubCells, maxSub)
	case math.IsNaN(o.ANPSM) || math.IsInf(o.ANPSM, 0) || o.ANPSM < 0:
		return fmt.Errorf("nominal pulse spacing %g m: want a length in metres, or 0 for unknown", o.ANPSM)
	}
	return nil
}

// SubCellM is the side of a sub-cell in metres.
func (o Options) SubCellM() float64 { return o.CellM / float64(o.SubCells) }

// facetClasses returns the table of classes whose last returns make facets.
func (o Options) facetClasses() *[256]bool {
	var t [256]bool
	if o.Classes != nil {
		for _, c := range o.Classes {
			t[c] = true
		}
		return &t
	}
	for i := range t {
		t[i] = true
	}
	if o.Classified {
		for _, c := range ExcludedClasses {
			t[c] = false
		}
	}
	t[7], t[18] = false, false
	return &t
}
