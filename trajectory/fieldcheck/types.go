package fieldcheck

import (
	"math"

	"github.com/paulmach/orb"

	"sidelap/trajectory"
	"sidelap/trajectory/rinex"
)

// Result is the answer of a check and of the whole.
type Result string

// The answers, and the verdict's order: refly over caution over not judged over go.
const (
	Go        Result = "go"
	Caution   Result = "caution"
	Refly     Result = "refly"
	NotJudged Result = "not_judged"
)

// Sense says on which side of the limit a value is good.
type Sense string

// The senses.
const (
	AtMost  Sense = "max"
	AtLeast Sense = "min"
)

// Check is one row of the list.
type Check struct {
	ID       string
	Title    string
	Value    float64 // NaN when there is none
	Unit     string
	Limit    float64 // NaN when there is none
	Sense    Sense
	Result   Result
	Strips   []string // the strips it concerns; empty for all or none
	Basis    string   // a source, "common practice" or "proposal"
	Note     string   // one sentence: what was found, or what is missing
	Required bool     // without it the verdict is never go
}

// Strip is what a check needs of one strip of the cloud. Times are the
// cloud's. Zero means not known, except for IDs.
type Strip struct {
	ID                  string
	StartS, EndS        float64
	Points              int64 // for the record
	LengthM             float64
	HeightAboveGroundM  float64
	HeightSpreadM       float64 // highest less lowest height above ground along it
	DensityPerM2        float64 // first returns, median; for the record
	LowDensityPerM2     float64 // 5th percentile of cells; 0 = not known
	Gaps                []trajectory.Interval
	GapsKnown           bool        // Gaps was filled, even if it is empty
	Swath               orb.Polygon // ground covered, in the grid; nil = not known
	HeadingRad, SpanRad float64     // course from grid north; scan angles left to right; used without a path or a swath
}

// Coverage is a raster of first returns of all strips, row by row from south-west.
type Coverage struct {
	CellM      float64
	EM, NM     float64 // south-west corner
	Cols, Rows int
	First      []uint32  // first returns in each cell
	Water      []bool    // cells with returns of class water; nil = none known
	LowM       []float32 // lowest height of the ground in the cell, NaN = none; nil = not known
}

// Plan is what was meant to be flown.
type Plan struct {
	Area         orb.MultiPolygon // in the grid after Project
	Lines        []PlannedLine
	SpeedMPS     float64 // 0 = not known, as all below
	HeightM      float64 // above ground
	DensityPerM2 float64
	Geographic   bool // coordinates are longitude and latitude in degrees
	EPSG         int  // coordinate system of the file, 0 = not stated
	Source       string
}

// PlannedLine is one line of the plan.
type PlannedLine struct {
	ID   string
	Line orb.LineString
}

// FileState is one input file of the cloud.
type FileState struct {
	Path             string
	Claimed, Present int64  // points by the header and in the file
	Problem          string // why it is not whole; empty when it is
	Strips           []string
}

// Storage is the card of the recorder.
type Storage struct {
	FreeBytes float64
	BytesPerS float64 // 0 = not known
	RateFrom  string  // where the rate comes from, for the note
	WhyNoRate string  // why the files do not tell it; the check is then not judged
	PlannedS  float64 // planned recording
}

// PointSeen is a check point as the cloud sees it.
type PointSeen struct {
	ID      string
	EM, NM  float64
	Inside  bool
	Returns int // within 0.5 m
	Strips  int // strips among them
}

// HeightLook compares heights before any processing (rules B19 and B20).
type HeightLook struct {
	PathOnGroundM  float64 // path height while still on the ground
	CloudAtStandM  float64 // cloud ground within 2 m of that place
	HasStand       bool
	MarkHeightM    float64 // of the base mark
	CloudAtMarkM   float64
	HasMark        bool
	AntennaHeightM float64
}

// Input is all that may be known; every part is optional.
type Input struct {
	Path       *trajectory.Path
	Track      *trajectory.Track  // for the file's own figures of quality; optional
	FixedValue float64            // the value of Track.Quality that means a fixed solution; 0 = not known
	Motion     *trajectory.Motion // computed from Path when nil
	Base       *rinex.Log
	GPSOffsetS float64                // GPS seconds since 1980 less the path's time
	HasOffset  bool                   // false: the week is taken from the base log
	Clock      func(s float64) string // a time as a reading of a clock, for names and notes; nil = seconds

	// DateAssumed asks for a look at the date: neither path nor cloud tells it, it
	// is that of the base log. Empty: known. Else what lacks, "week" or "day".
	DateAssumed string
	// Today is the date of the computer's clock, for the words; "" = not known.
	Today string

	Grid trajectory.Projector

	// ScanSpanRad is the scanner's field of view across the flight, for strips
	// whose swath and span are not known; 0 = not known.
	ScanSpanRad float64

	Strips   []Strip
	Coverage *Coverage
	Plan     *Plan
	Files    []FileState
	Storage  *Storage
	Points   []PointSeen
	Heights  *HeightLook
	BaseMark *[2]float64 // where the base stood, in the grid; nil = where the header of its log says

	AntennaHeightM float64          // of the base, as measured on the site; 0 = not given
	Water          orb.MultiPolygon // outlines of open water, in the grid

	// WaterSeen says that the crew sees open water on the site: what looks like
	// water in a cloud without classes is then taken as it.
	WaterSeen bool

	// NoBase says that there was none on purpose (a correction service): base
	// checks are then not required.
	NoBase bool
}

// Report is the answer.
type Report struct {
	Verdict   Result
	Reasons   []string // the notes of the checks that decide, worst first
	Checks    []Check
	Motion    *trajectory.Motion
	Refly     []Item
	ReflyText string // what the list is and is not
	// ReflyMinutes estimates the flight of the list, with one take-off, stills and
	// manoeuvres; 0 for an empty list.
	ReflyMinutes float64
	// Places are holes, and what looks like water, where somebody should look.
	Places []Place
	grid   trajectory.Projector
}

// Place is a spot on the ground: its middle in the grid, and its size.
type Place struct {
	EM, NM, AreaM2 float64
	Water          bool // it looks like water
}

// Count returns how many checks have a result.
func (r *Report) Count(x Result) int {
	n := 0
	for _, c := range r.Checks {
		if c.Result == x {
			n++
		}
	}
	return n
}

// Check returns the check with an ID, nil if there is none.
func (r *Report) Check(id string) *Check {
	for i := range r.Checks {
		if r.Checks[i].ID == id {
			return &r.Checks[i]
		}
	}
	return nil
}

var nan = math.NaN()
