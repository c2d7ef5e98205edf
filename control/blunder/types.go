package blunder

import (
	"time"

	"sidelap/control"
)

// Evidence is all that the rules may use. Whatever is missing is left zero or nil: a rule without its
// inputs is listed as not run, never as silent.
type Evidence struct {
	Points  []control.PointResult // the comparison; dz NaN where there is none
	Control []control.Point       // points used in processing, for B15
	Targets []Target              // horizontal differences, for B5, B8, B11
	// Alternatives are comparisons at the places of FootPlaces, point for point as Points; for B5 without targets.
	Alternatives []Alternative

	Inside    func(eM, nM float64) bool // cloud outline grown by 10 m; nil: Extent is used
	Extent    control.Box               // rectangle of the cloud
	CloudZM   float64                   // median height of the cloud's ground, for B2 of heights without a surface; 0 = unknown
	LimitM    float64                   // limit on RMSE, 0 = none
	NoiseM    float64                   // spread of returns over a plane on hard ground; 0 = unknown
	LatDeg    float64                   // middle of the site; 0, 0 = unknown
	LonDeg    float64
	Zone      int                                                      // UTM zone of the cloud's CRS, 0 = not UTM
	South     bool                                                     // southern hemisphere of that zone
	Project   func(latRad, lonRad float64) (eM, nM float64, err error) // into the cloud's CRS
	Reproject []Reprojection                                           // other coordinate systems that the list may be in

	GeoidM     float64                                       // geoid separation at the site, h - H; 0 = unknown
	GeoidGrid  func(eM, nM float64) (nSepM float64, ok bool) // separation over the site; nil = no grid
	GeoidModel string
	GeoidOther func(eM, nM float64) (nSepM float64, ok bool) // another model, for a mix of versions

	AntennaM       float64   // height of the base antenna on the field sheet or in the RINEX header; 0 = unknown
	AntennaOffsetM float64   // reference point to phase centre; 0 = unknown
	PolesM         []float64 // rover poles on the field sheet; none: 1.5, 1.8, 2.0 are tried, and said so

	Base *Base // base mark, nil = unknown

	CloudUnit     string // unit names as stated by the files, for B2, B5, B21
	CloudUnitUS   bool   // the foot of the cloud is stated to be the US survey foot
	CloudFeet     bool
	VerticalCRS   string // name of the cloud's vertical CRS; empty = none stated
	CRSStated     bool   // the cloud has a CRS record at all
	VerticalKnown bool   // a file was looked at: VerticalCRS may be judged

	FlightDate time.Time
	Datums     []DatumShift // candidate datum pairs at the site and epoch, for B8

	Time   *TimeEvidence   // for B16-B18; nil = no time looked at
	Path   *HeightEvidence // for B19; nil = no trajectory
	Labels *LabelEvidence  // for B22; nil = not looked at
}

// Target is a point seen in the cloud: horizontal differences, cloud minus survey.
type Target struct {
	ID       string
	EM, NM   float64
	DEM, DNM float64
	SigmaM   float64 // of each component; 0 = unknown
}

// Reprojection turns list coordinates read in some other CRS into the cloud's.
type Reprojection struct {
	Name string
	Into func(eM, nM float64) (eOutM, nOutM float64, ok bool)
}

// DatumShift is what mixing two datums would do at the site: cloud minus survey.
type DatumShift struct {
	Name          string
	DEM, DNM, DHM float64
}

// Base is the base station of the flight.
type Base struct {
	EM, NM, ZM float64 // mark, in the cloud's CRS
	SigmaM     float64 // of ZM; 0 = unknown
	Flush      bool    // the mark is level with the ground
	// GroundM is the height of the cloud's ground within 0.5 m of the mark (a low percentile where a
	// tripod stands); NaN or 0 with HasGround false.
	GroundM   float64
	HasGround bool
	// HeaderDistanceM is the distance between the position used and the approximate position in the RINEX header; negative = unknown.
	HeaderDistanceM float64
	Averaged        bool // the position is known to be an average of single positions
}

// TimeEvidence is what the files say about time.
type TimeEvidence struct {
	Adjusted     bool      // global encoding bit 0: adjusted standard GPS time
	MinS, MaxS   float64   // of the points, as stored
	FileDate     time.Time // creation date of the LAS file, or the date of the base log
	LargestBackS float64   // largest negative step of time in the trajectory or points, positive number
	BackWhere    string    // whose times step back
	// PathMatched says that the times of the trajectory were compared with those of the points (trajectory.MatchTime, by the time in
	// common and by what the beams show): B16 has run, and its finding stands with the path.
	PathMatched bool
}

// HeightEvidence compares trajectory and cloud heights.
type HeightEvidence struct {
	GroundClearanceM float64 // trajectory height over the cloud's ground while standing on the ground; with Standing
	Standing         bool
	FlightHeightM    float64 // median height above ground on the lines; 0 = unknown
	PlannedHeightM   float64 // 0 = unknown
}

// LabelEvidence is about point source IDs.
type LabelEvidence struct {
	IDs        int  // distinct point source IDs
	Zero       bool // ID 0 occurs
	Files      int
	DurationS  float64
	Turns      int // turns or gaps of more than 2 s found in time
	SplitByWhy string
}

// Severity orders findings.
type Severity string

// The severities. A blunder finding is never a verdict.
const (
	Serious Severity = "serious" // explains most of a large difference, or makes the figure mean something else
	Notice  Severity = "notice"
)

// Rival is another rule that explains nearly as much.
type Rival struct {
	ID             string
	Title          string
	ExplainedShare float64
}

// Finding is one blunder that the numbers suggest.
type Finding struct {
	ID             string // B1 ... B22
	Title          string
	Severity       Severity
	Text           string
	Observed       string  // in numbers, with units
	Predicted      string  // what the blunder would leave
	LeftMedianM    float64 // median of dz after the prediction is taken away; NaN when it does not apply
	LeftRMSEM      float64
	ExplainedShare float64 // 1 - (RMSE after / RMSE before)^2; NaN when it does not apply
	ChancePct      float64 // chance of such a match by luck, per cent; NaN when it was not computed
	Points         []string
	Rivals         []Rival
	DecideBy       string // the measurement that would decide
	Caution        string
}

// Report is the outcome of all rules.
type Report struct {
	Findings []Finding // most likely first
	Run      []string  // IDs of the rules that had their inputs
	NotRun   []Skipped // the others, with what they would need
}

// Skipped is a rule that could not be run.
type Skipped struct{ ID, Needs string }

// FromComparison starts an Evidence from a comparison: points, hard-ground noise.
func FromComparison(cmp *control.Comparison) Evidence {
	e := Evidence{Points: cmp.Points}
	if cmp.NoiseM > 0 {
		e.NoiseM = cmp.NoiseM
	}
	return e
}
