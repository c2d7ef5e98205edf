package overlap

import "math"

// LBSCellM is the side of the cell for smooth-surface precision:
// 2 ceil(ANPS), never below 2, in the units of anps.
//
// Source: USGS Lidar Base Specification 2025 rev. A, intraswath precision.
func LBSCellM(anpsM float64) float64 { return max(2*math.Ceil(anpsM), 2) }

// LBSPrecision is the slope-corrected range of a cell:
// range - slope * cell * 1.414, with 1.414 as printed. It may be negative.
//
// Source: USGS Lidar Base Specification 2025 rev. A, intraswath precision.
func LBSPrecision(rangeM, slope, cellM float64) float64 { return rangeM - slope*cellM*1.414 }

// RepeatabilityOptions controls Survey.Repeatability. Start from DefaultRepeatabilityOptions.
type RepeatabilityOptions struct {
	ANPSM       float64 // for the cell of the LBS rule; 0: as found
	MaxSlopeRad float64 // default 10 deg
	RoughLimitM float64 // cells with a larger plane residual are not smooth; 0: see Survey.RoughLimitM
	MinPoints   int     // last returns of a plane; default 6
	AreaCells   int     // smooth cells along the side of an LBS area; default 10
}

// DefaultRepeatabilityOptions returns the defaults named in RepeatabilityOptions.
func DefaultRepeatabilityOptions() RepeatabilityOptions {
	return RepeatabilityOptions{MaxSlopeRad: 10 * degree, MinPoints: 6, AreaCells: 10}
}

// LBSArea is a sample area of the LBS rule in one strip.
type LBSArea struct {
	Strip      int
	Part       string // "left", "centre" or "right" third of the swath
	Cells      int
	MinM, MaxM float64 // slope-corrected range
	RMSDM      float64
	Ring       [][2]float64
}

// StripRepeatability is the repeatability of one strip.
type StripRepeatability struct {
	Strip     int
	Cells     int     // smooth cells
	RMSM      float64 // plane residual, root mean square over cells
	MedianM   float64
	P95M      float64
	LBSCells  int
	LBSRMSDM  float64
	LBSMaxM   float64 // largest slope-corrected range
	LBSP95M   float64 // 95th percentile of its absolute value
	LookCells int     // cells of strips with two looks, and the later minus the earlier one
	LookM     float64 // median
}

// Repeatability is how well each strip agrees with itself on smooth surfaces.
type Repeatability struct {
	Cells       int     // smooth cells of all lines
	RMSM        float64 // plane residual (n-3), root mean square over cells
	MedianM     float64
	P95M        float64
	RoughLimitM float64 // a cell with more is not smooth
	LBSCellM    float64
	LBSExact    bool // false when the survey's cells do not tile the LBS cell; LBSCellM is then the nearest that they do
	LBSCells    int
	LBSRMSDM    float64
	LBSMaxM     float64
	LBSP95M     float64
	Areas       []LBSArea
	Strips      []StripRepeatability
	Roughness   *Grid // plane residual, mean over the strips in a cell, all cells with planes
}
