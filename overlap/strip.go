package overlap

import "math"

// StripMode is the rule that tells the points of one pass from those of another.
type StripMode string

// The rules. StripsAuto picks one of the others and says why.
const (
	StripsAuto   StripMode = "auto"
	StripsByID   StripMode = "id"   // point source ID, split at long time gaps
	StripsByFile StripMode = "file" // one file, one strip
	StripsByTime StripMode = "time" // gaps, turns and jumps of GPS time
)

// StripKind says what a strip may be used for.
type StripKind uint8

// The kinds. Only lines are matched with each other; the points of the others
// still count in the aggregate coverage.
const (
	Line  StripKind = iota // a pass
	Turn                   // flown, but turning or hovering; time mode only
	Stray                  // a handful of points that no pass explains
)

func (k StripKind) String() string { return [...]string{"line", "turn", "stray"}[k] }

// Strip is the set of points of one pass of the aircraft. Figures that the
// points do not give are NaN.
type Strip struct {
	Index    int    // position in Survey.Strips
	ID       string // unique in the survey: the point source ID, with ".2" for the second strip of a reused one; else the number in time order
	Kind     StripKind
	Source   int   // point source ID, -1 when the strip joins several
	Sources  []int // all point source IDs, ascending
	Files    []int // file numbers as given to Accumulator.Add, ascending
	Channels []int // scanner channels, ascending

	Points       int64 // all but withheld and noise
	FirstReturns int64
	StartGPSS    float64 // GPS time of the first and last point, as stored (604800 s more after the end of a GPS week, see Survey.Notes)
	EndGPSS      float64

	HeadingRad   float64 // of flight, clockwise from grid north, 0..2pi
	SpeedMPS     float64 // over ground
	RefusedMPS   float64 // a speed that was not plausible, 0 for none
	LengthM      float64 // of the covered ground along the flight
	WidthM       float64 // of the covered ground across the flight, median
	HeightAGLM   float64 // of the scanner above the ground, from scan angles
	Looks        int     // times that one place was seen, seconds apart, in the same pass; 1 as a rule
	LookGapS     float64 // time between two looks, NaN for one
	AreaM2       float64 // cells with a return
	DensityPerM2 float64 // first returns per m2, median over the usable central part
	ANPSM        float64 // 1/sqrt(DensityPerM2)
	Notes        []string

	// Facets are the strip's cells, by row, then column.
	Facets []Facet

	axis frame // along and across the flight
	hull hull  // covered ground in that frame

	looks    []lookPair // cells seen twice
	lookable int        // cells with points enough for two looks
}

// HeadingDeg is HeadingRad in degrees, 0..360, to a millionth, so that north is 0
// and not 359.999999...; NaN when unknown.
func (s *Strip) HeadingDeg() float64 {
	return math.Mod(math.Round(s.HeadingRad/degree*1e6)/1e6, 360)
}

// Survey is a cloud with its strips told apart.
type Survey struct {
	Options Options
	Mode    StripMode // the rule in force, never StripsAuto
	Why     string    // one sentence: why this rule
	Notes   []string  // what a reader of the result should know
	Strips  []Strip   // lines in time order, then turns, then strays
	Counts  Counts

	ANPSM    float64   // nominal pulse spacing of one strip: Options.ANPSM, else the median of the lines
	Outliers []Outlier // cells far from their strip, left out of its facets

	roughLimitM, smoothLimitM float64
	strip                     map[segmentKey]int32 // for Assign
}

// Outlier is a cell with a few points far away from the rest of its strip.
type Outlier struct {
	Strip      int // index into Survey.Strips
	Points     int // last and first returns in the cell
	EM, NM, ZM float64
}

// Lines returns the strips of kind Line; they stand first in Strips.
func (s *Survey) Lines() []Strip {
	n := 0
	for n < len(s.Strips) && s.Strips[n].Kind == Line {
		n++
	}
	return s.Strips[:n]
}

// SurveyOptions controls Accumulator.Survey. Start from DefaultSurveyOptions.
type SurveyOptions struct {
	Mode          StripMode
	FileNames     []string // strip IDs in mode file, by file number
	SplitChannels bool     // a strip for each scanner channel; default false: channels are looks of one strip
	GapS          float64  // a pause longer than this may end a strip; default 2
	LookGapS      float64  // the longest time between two looks of one pass; default 30
	TurnRateRadPS float64  // heading rate that makes a turn; default 5 deg/s
	TurnRad       float64  // departure from the strip's heading that makes a turn; default 15 deg
	TrimS         float64  // taken off at each side of a turn; default 1
	MinPoints     int64    // a strip with fewer points is a stray; default 100
	MinShare      float64  // and one with less than this share of the median strip; default 0.002
}

// DefaultSurveyOptions returns mode auto and the defaults named in SurveyOptions.
//
// Turn rates, trims and gaps are common practice, not a published result.
func DefaultSurveyOptions() SurveyOptions {
	return SurveyOptions{
		Mode: StripsAuto, GapS: 2, LookGapS: 30, TurnRateRadPS: 5 * math.Pi / 180, TurnRad: 15 * math.Pi / 180,
		TrimS: 1, MinPoints: 100, MinShare: 0.002,
	}
}
