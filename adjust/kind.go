package adjust

import "math"

// Kind names a parameter of the error model. The order is that of preference among
// explanations that the data cannot tell apart: what is usual before what is rare.
type Kind int

// The kinds of causes. Estimates are "used minus true".
const (
	BoresightRoll    Kind = iota // radians
	BoresightPitch               // radians
	BoresightHeading             // radians
	ScanAngleScale               // 1
	LeverX                       // metres, forward
	LeverY                       // metres, right
	TimeOffset                   // seconds: pose taken at t + offset
	RangeOffset                  // metres
	LeverZ                       // metres, down; invisible between strips
	globalKinds                  // number of kinds that have one value for the whole flight

	StripHeight     // metres for each strip
	StripHorizontal // metres east and north for each strip, and by how much they jump within it
	StripDrift      // metres of height that change or jump within each strip, without their mean
	AttitudeDrift   // radians of roll, constant and linear in time within each strip
	DatumHeight     // metres between cloud and check points
)

var kindNames = map[Kind]string{
	BoresightRoll: "boresight_roll", BoresightPitch: "boresight_pitch", BoresightHeading: "boresight_heading",
	ScanAngleScale: "scan_angle_scale", LeverX: "lever_x", LeverY: "lever_y", LeverZ: "lever_z",
	TimeOffset: "time_offset", RangeOffset: "range_offset", StripHeight: "strip_height",
	StripHorizontal: "strip_horizontal", StripDrift: "strip_drift", AttitudeDrift: "attitude_drift",
	DatumHeight: "datum_height",
}

// String returns the name that the results record uses.
func (k Kind) String() string { return kindNames[k] }

// PerStrip reports whether each strip has its own values.
func (k Kind) PerStrip() bool { return k >= StripHeight && k <= AttitudeDrift }

// columns is the number of values that one strip has of a per-strip kind.
func (k Kind) columns() int {
	switch k {
	case StripHeight:
		return 1
	case AttitudeDrift:
		return 2
	case StripHorizontal: // east and north, and their jump
		return 4
	case StripDrift: // and a jump
		return driftColumns + 1
	}
	return 0
}

// Unit returns the unit of the kind in reports and the factor from the inner unit to it.
func (k Kind) Unit() (unit string, factor float64) {
	switch k {
	case BoresightRoll, BoresightPitch, BoresightHeading, AttitudeDrift:
		return "deg", 180 / math.Pi
	case ScanAngleScale:
		return "1", 1
	case TimeOffset:
		return "s", 1
	}
	return "m", 1
}

// priorSigma is the size that a parameter can have at all, in its inner unit. It keeps
// the normal matrix regular; a parameter whose standard deviation stays near its prior
// was not observed. Our proposal, no source: far beyond what a working system shows.
func (k Kind) priorSigma() float64 {
	switch k {
	case BoresightRoll, BoresightPitch, BoresightHeading:
		return 2 * math.Pi / 180
	case AttitudeDrift:
		return 0.5 * math.Pi / 180
	case ScanAngleScale:
		return 0.05
	case TimeOffset:
		return 0.5
	}
	return 1
}

// quietSigma is what a kind of strip error amounts to in a flight that is in good order: the path's own noise. Every fit
// allows for it, so that it is not taken for a cause and is part of the standard deviations. Our proposal, no source: a quarter
// of what smoothed paths state for themselves.
func (k Kind) quietSigma() float64 {
	switch k {
	case AttitudeDrift:
		return 0.001 * math.Pi / 180
	case StripDrift:
		return 0.002
	}
	return 0.003
}

// relevance is by how much, in units of Options.RelevantM, a kind must move a strip to be named.
func (k Kind) relevance() float64 {
	switch {
	case k == StripHorizontal:
		return 4
	case k.PerStrip():
		return 2
	}
	return 1
}

// worthSigma is the standard deviation up to which an estimate of a kind is of use: errors that the trade corrects are
// several times as large. Common practice.
func (k Kind) worthSigma() float64 {
	const deg = math.Pi / 180
	switch k {
	case BoresightRoll:
		return 0.02 * deg
	case BoresightPitch:
		return 0.04 * deg
	case BoresightHeading:
		return 0.1 * deg
	case ScanAngleScale:
		return 0.001
	case TimeOffset:
		return 0.01
	case StripHeight, StripDrift:
		return 0.015
	case StripHorizontal:
		return 0.03
	case AttitudeDrift:
		return 0.02 * deg
	}
	return 0.05
}
