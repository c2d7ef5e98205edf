package trajectory

import "fmt"

// TimeKind says what the times of a track count.
type TimeKind int

// The kinds of time met in path files.
const (
	TimeUnknown  TimeKind = iota
	WeekSeconds           // GPS seconds of the week, 0 to 604 800
	AdjustedGPS           // GPS seconds since 1980-01-06 less 1e9
	GPSSeconds            // GPS seconds since 1980-01-06
	UnixSeconds           // UTC seconds since 1970-01-01
	DaySeconds            // seconds of the day, no date
	UTCTimestamp          // dates and times, held as Unix seconds
	GPSTimestamp          // dates and times in GPS time, held as GPS seconds
)

func (k TimeKind) String() string {
	switch k {
	case WeekSeconds:
		return "GPS seconds of the week"
	case AdjustedGPS:
		return "adjusted standard GPS time"
	case GPSSeconds:
		return "GPS seconds since 1980"
	case UnixSeconds:
		return "Unix seconds"
	case DaySeconds:
		return "seconds of the day"
	case UTCTimestamp:
		return "date and time, UTC"
	case GPSTimestamp:
		return "date and time, GPS"
	}
	return "unknown time"
}

// HeadingRef says from which north a heading counts.
type HeadingRef int

// The norths.
const (
	HeadingUnknown HeadingRef = iota
	TrueNorth
	GridNorth
)

// Format names a kind of path file.
type Format string

// The formats that Read knows.
const (
	FormatSBET   Format = "SBET"
	FormatSMRMSG Format = "smrmsg"
	FormatText   Format = "delimited text"
)

// Decision is something the file did not say and the reader settled.
type Decision struct {
	What     string // "heading = platform heading - wander angle"
	Evidence string // the figures that settle it
	Sure     bool   // false: an assumption; the user should look
}

func (d Decision) String() string {
	if d.Sure {
		return d.What + " (" + d.Evidence + ")"
	}
	return d.What + " (assumed: " + d.Evidence + ")"
}

// Track is a path file as read, in its own coordinates and time.
//
// Either LatRad and LonRad are set (Geodetic) or EM and NM. All columns that
// are not nil have the length of TimeS, which is strictly increasing. Roll,
// pitch and heading are radians in the signs of the package; roll, pitch or
// heading alone may be missing. HM is the height as in the file.
type Track struct {
	Path      string
	Format    Format
	TimeS     []float64
	TimeKind  TimeKind
	TimeIsUTC bool // seconds of the week or day in UTC, as a heading says

	Geodetic        bool
	LatRad, LonRad  []float64
	EM, NM          []float64
	HM              []float64
	Ellipsoidal     bool // HM is known to be above the ellipsoid (SBET, or the header says so)
	RollRad         []float64
	PitchRad        []float64
	HeadingRad      []float64
	WanderRad       []float64 // as in the file; already used in HeadingRad if a decision says so
	HeadingFrom     HeadingRef
	UnitM           float64 // metres in one unit of EM and NM, if the heading line states it; else 0
	HeightUnitM     float64 // the same of HM
	VelEMPS         []float64
	VelNMPS         []float64
	VelUMPS         []float64
	Quality         []float64 // the file's own figure of quality, uninterpreted
	Sigma           *Accuracy // from the companion or the file's own columns
	Decisions       []Decision
	Warnings        []string
	Unwrapped       bool // the file's times fall by a week at its end; here they go on past 604800 s
	DroppedRepeated int  // samples dropped because their time was that of the sample before
}

// Accuracy is a track's standard deviations at times of their own.
// A column is nil when it is not known.
type Accuracy struct {
	Path                          string
	TimeS                         []float64
	NorthM, EastM, DownM          []float64
	NorthMPS, EastMPS, DownMPS    []float64
	RollRad, PitchRad, HeadingRad []float64
	Warnings                      []string
}

// Len returns the number of samples.
func (t *Track) Len() int { return len(t.TimeS) }

// Span returns the first and the last time.
func (t *Track) Span() (startS, endS float64) {
	if len(t.TimeS) == 0 {
		return 0, 0
	}
	return t.TimeS[0], t.TimeS[len(t.TimeS)-1]
}

// RateHz returns the samples per second, from the median step.
func (t *Track) RateHz() float64 {
	if s := medianStep(t.TimeS); s > 0 {
		return 1 / s
	}
	return 0
}

// Summary is one line for a person: what was read.
func (t *Track) Summary() string {
	a, b := t.Span()
	return fmt.Sprintf("%s: %s, %d samples, %.6g Hz, %.3f to %.3f s (%s)", t.Path, t.Format, t.Len(), t.RateHz(), a, b, t.TimeKind)
}

func (t *Track) decide(sure bool, what, evidence string, args ...any) {
	t.Decisions = append(t.Decisions, Decision{What: what, Evidence: fmt.Sprintf(evidence, args...), Sure: sure})
}

func (t *Track) warn(format string, args ...any) {
	t.Warnings = append(t.Warnings, fmt.Sprintf(format, args...))
}

// columns lists every per-sample column, so that samples can be dropped from all alike.
func (t *Track) columns() []*[]float64 {
	return []*[]float64{&t.TimeS, &t.LatRad, &t.LonRad, &t.EM, &t.NM, &t.HM, &t.RollRad, &t.PitchRad, &t.HeadingRad,
		&t.WanderRad, &t.VelEMPS, &t.VelNMPS, &t.VelUMPS, &t.Quality}
}

// orderTimes unwraps the end of the GPS week, drops repeated times, and
// returns the index of the first sample whose time runs backwards, or -1.
func orderTimes(times []float64) (keep []int, unwrapped bool, bad int) {
	const week, tol = 604800, 1.0
	keep = make([]int, 0, len(times))
	shift := 0.0
	last := 0.0
	for i := range times {
		v := times[i] + shift
		if len(keep) > 0 {
			if d := v - last; d < -week+60 && d > -week-tol && last-shift > week-tol-60 {
				shift += week
				v += week
				unwrapped = true
			}
			if v == last {
				continue
			}
			if v < last {
				return nil, unwrapped, i
			}
		}
		times[i] = v
		last = v
		keep = append(keep, i)
	}
	return keep, unwrapped, -1
}

// take keeps the samples whose indexes are in keep, of every column.
func (t *Track) take(keep []int) {
	n := t.Len()
	t.DroppedRepeated += n - len(keep)
	if len(keep) == n {
		return
	}
	for _, c := range t.columns() {
		if len(*c) != n {
			continue
		}
		for k, i := range keep {
			(*c)[k] = (*c)[i]
		}
		*c = (*c)[:len(keep)]
	}
}
