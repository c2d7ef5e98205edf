package overlap

// CellFlag says why a cell does not count in the separation of its pair; 0 = it does.
type CellFlag uint16

// Reasons. A cell can have several.
const (
	Steep        CellFlag = 1 << iota // the mean plane is steeper than PairOptions.MaxSlopeRad
	Rough                             // a plane's residual exceeds the limit for rough
	Thin                              // a strip has fewer than MinPoints last returns, or they carry no plane
	Extrapolated                      // the common place lies outside the points of one strip
	Disagree                          // the planes are turned against each other: an edge, or two surfaces
	Isolated                          // stands out from the cells around it: a vehicle, a person, something that moved
)

var flagNames = []string{"steep", "rough", "thin", "extrapolated", "disagree", "isolated"}

// String lists the reasons, "used" for none.
func (f CellFlag) String() string {
	s := ""
	for i, name := range flagNames {
		if f&(1<<i) == 0 {
			continue
		}
		if s != "" {
			s += "+"
		}
		s += name
	}
	if s == "" {
		return "used"
	}
	return s
}

// PairCell is one cell seen by both strips of a pair, A the earlier and B the
// later one. A Thin cell may lack a plane: DzM and SigmaM are then NaN.
type PairCell struct {
	Col, Row         int32   // cell on the grid: floor(E/CellM), floor(N/CellM)
	EM, NM           float64 // common place where both planes are evaluated
	DzM, SigmaM      float64 // ZBM - ZAM; its standard deviation from the planes' residuals
	SlopeE, SlopeN   float64 // gradient of the surface (mean of both planes)
	ZAM, ZBM         float64 // heights of A and B at the common place
	TimeAS, TimeBS   float64 // mean GPS time of each strip's returns in the cell
	AngleA, AngleB   float64 // mean scan angle, radians, positive to the right
	RoughAM, RoughBM float64 // plane residual (n-3)
	NA, NB           int32
	Flag             CellFlag // 0 = used
}

// PairOptions controls Survey.Pairs. Start from DefaultPairOptions.
type PairOptions struct {
	MinPoints   int     // last returns that a plane needs in each strip; default 6
	MaxSlopeRad float64 // steeper cells are flagged; default 10 deg
	RoughLimitM float64 // rougher planes are flagged; 0: from the facets, see Survey.RoughLimitM
	LimitM      float64 // for Stats.WithinPct; default 0.08
	MinCells    int     // common cells that make a pair; default 4
	ShiftSigmaM float64 // a horizontal shift with a larger standard error is "not determinable"; default 0.05
}

// DefaultPairOptions returns the defaults named in PairOptions.
//
// 10 deg and 0.08 m: USGS Lidar Base Specification 2025 rev. A, interswath
// consistency, table 2 (QL1 and QL2).
func DefaultPairOptions() PairOptions {
	return PairOptions{MinPoints: 6, MaxSlopeRad: 10 * degree, LimitM: 0.08, MinCells: 4, ShiftSigmaM: 0.05}
}

// Stats describes a set of separations. n 0: all figures NaN.
type Stats struct {
	Cells     int
	MeanM     float64
	MedianM   float64
	StdM      float64 // divisor n-1, NaN for one cell
	RMSDM     float64 // sqrt(sum dz^2 / n)
	NMADM     float64 // 1.4826 median |dz - median|
	P95AbsM   float64 // 95th percentile of |dz|, type 7
	MaxAbsM   float64
	WithinPct float64 // cells with |dz| <= PairOptions.LimitM
	Within2   float64 // cells with |dz| <= 2 LimitM, per cent
}

// Trend is the slope of the separation across the overlap.
type Trend struct {
	Cells       int
	MPerM       float64 // change of dz for each metre to the right of strip A's flight
	SigmaMPerM  float64 // standard error, by blocks of cells
	AtCentreM   float64 // dz in the middle of the overlap
	HalfWidthM  float64 // half the width of the overlap, across
	Significant bool    // |MPerM| > 2 SigmaMPerM
}

// Shift is the mean offset of strip B from strip A in three dimensions, from
// cells of all slopes. A component that the slopes do not determine has
// Determinable false, and its value and sigma are NaN.
type Shift struct {
	Cells       int // all slopes up to 45 deg, without the flags but Steep
	SlopedCells int // of them, steeper than 5 deg
	EM, NM, UM  float64

	SigmaEM, SigmaNM, SigmaUM                   float64 // standard errors, by blocks of cells
	EDeterminable, NDeterminable, UDeterminable bool

	ResidualM float64 // NMAD of what the shift leaves, vertical
}

// Region is a connected part of an overlap, in cells joined by sides or corners.
type Region struct {
	Cells  int
	AreaM2 float64
	EM, NM float64 // mean of its cells
	// Rings are closed outlines in metres, first = last: outer rings
	// counter-clockwise, holes clockwise.
	Rings [][][2]float64
}

// Pair is two strips that cover common cells.
type Pair struct {
	A, B     int // indices into Survey.Strips; A is the earlier one
	IDA, IDB string

	Cells []PairCell // all cells with last returns of both strips, by row, then column

	CommonCells   int // cells with first returns of both
	OverlapM2     float64
	SidelapPct    float64 // median along the flight; for crossing strips the share of the smaller area
	SidelapLowPct float64 // 5th percentile along the flight, NaN for crossing strips
	AngleRad      float64 // between the headings, 0 same direction .. pi opposed, NaN when unknown
	Crossing      bool    // AngleRad is between 20 and 160 deg
	Regions       []Region

	Used    Stats  // cells without a flag
	All     Stats  // all cells with two planes
	Flagged [6]int // cells with each flag: steep, rough, thin, extrapolated, disagree, isolated
	// MedianSigmaM is the standard error of Used.MedianM, with neighbouring cells
	// taken as one observation.
	MedianSigmaM float64
	Trend        Trend
	Shift        Shift
}

// Loop is the closure of three strips that overlap each other: the separations
// of (1,2) and (2,3) less that of (1,3). It is 0 when each strip is off by a
// constant, and not when the separations vary over the overlaps.
type Loop struct {
	Strips   [3]int // indices into Survey.Strips, ascending
	ClosureM float64
	SigmaM   float64
	Cells    int // the smallest number of used cells of the three pairs
}
