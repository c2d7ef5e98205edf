package overlap

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
	CellM     float64 // side of the test cell: CellM/k, the one nearest to 2 ANPS
	Cells     int
	Occupied  int
	Pct       float64
	Judgeable bool // CellM is within a factor 1.5 of 2 ANPS
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
