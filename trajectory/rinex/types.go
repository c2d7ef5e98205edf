package rinex

import (
	"errors"
	"fmt"
	"strings"
)

// Systems lists the letters of the satellite systems that are counted, in the
// order of Epoch.PerSystem: GPS, GLONASS, Galileo, BeiDou, QZSS, NavIC, SBAS.
const Systems = "GRECJIS"

// Header is what a file says of itself.
type Header struct {
	Version        float64
	Compact        string // version of the compact form, "" for plain RINEX
	System         byte   // G, R, E, ..., M for mixed
	Marker         string
	MarkerNumber   string
	Receiver       string
	AntennaType    string // 16 characters of type and 4 of dome, blanks joined
	AntennaNumber  string
	XYZM           [3]float64 // approximate position, Earth-centred, metres
	HasPosition    bool
	DeltaHENM      [3]float64 // antenna reference point above and beside the marker, metres
	HasDelta       bool
	TimeSystem     string // GPS, GLO, GAL, BDT, ...; as stated or as the rule for a blank gives
	TimeSystemRule bool   // not stated
	ClaimedStepS   float64
	ClaimedFirst   string // as written
	ClaimedLast    string
	Types          map[byte][]string // observation codes of each system; key 0 in version 2
}

// Epoch is one instant.
type Epoch struct {
	GPSS         float64 // seconds since 1980-01-06 in GPS time
	Flag         uint8   // 0 sound, 1 power failure since the last one
	Sats         uint16
	PerSystem    [len(Systems)]uint8
	TwoFrequency uint16 // satellites with observations on two frequencies or more

	// JumpM is how far the carrier phases of half the satellites depart together
	// from a smooth course, in third differences, metres; 0 = not known.
	JumpM float32
}

// SiteEvent is a special epoch: the antenna starts to move (flag 2), a new
// site is occupied (3), or the header changes (4).
type SiteEvent struct {
	Line int
	GPSS float64 // of the event, or of the epoch before when it has no time
	Flag uint8
	Text string // what changed, for flag 4
}

// Damage is a place that breaks the format.
type Damage struct {
	Line int
	Text string
}

func (d Damage) String() string { return fmt.Sprintf("line %d: %s", d.Line, d.Text) }

// File is one observation file, read as far as it is sound.
type File struct {
	Path       string
	Packing    []string // wrappings taken off, outermost first: "gzip", "zip: name", "compact RINEX 3.0"
	Header     Header
	Epochs     []Epoch
	SiteEvents []SiteEvent
	Damage     []Damage // the first 100 places
	DamageN    int      // all of them
	Headers    int      // number of headers met; more than one is damage or files joined by hand
	Notes      []string
}

// Error reports why a file gives nothing.
type Error struct {
	Path   string
	Line   int // 0 when it does not apply
	Err    error
	Remedy string
}

// Reasons that callers branch on.
var (
	ErrNotRINEX  = errors.New("this is not a RINEX observation file")
	ErrNoEpochs  = errors.New("no epoch of observations in it")
	ErrExpansion = errors.New("it unpacks to far more than a RINEX file does")
)

func (e *Error) Error() string {
	var b strings.Builder
	b.WriteString(e.Path)
	if e.Line > 0 {
		fmt.Fprintf(&b, ": line %d", e.Line)
	}
	b.WriteString(": " + e.Err.Error())
	if e.Remedy != "" {
		b.WriteString("; " + e.Remedy)
	}
	return b.String()
}

// Unwrap returns the reason.
func (e *Error) Unwrap() error { return e.Err }

func (f *File) damage(line int, format string, args ...any) {
	f.DamageN++
	if len(f.Damage) < 100 {
		f.Damage = append(f.Damage, Damage{line, fmt.Sprintf(format, args...)})
	}
}
