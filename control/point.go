package control

import (
	"math"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"
)

// Cover is the land cover at a point, which decides the statistic that the point enters.
type Cover string

// The covers of the ASPRS standard. CoverUnknown counts as open, and the comparison says so.
const (
	CoverUnknown   Cover = ""
	CoverOpen      Cover = "open"      // non-vegetated: NVA
	CoverVegetated Cover = "vegetated" // VVA
)

// Use tells what a surveyed point was used for.
type Use string

// The uses of a point. A list without a use column holds check points.
const (
	UseCheck   Use = "check"
	UseControl Use = "control" // used in processing: shown, never part of an accuracy figure
)

// Source tells how a point was surveyed: whether an error of the base station shows in dz.
type Source string

// The sources a list may name.
const (
	SourceUnknown      Source = "unknown"
	SourceBase         Source = "base"          // rover on the base that also served the cloud: dz is relative to this base
	SourceNetwork      Source = "network"       // rover on a correction service
	SourceLevel        Source = "level"         // levelled height
	SourceTotalStation Source = "total-station" // tied to marks by a total station
)

// Point is one surveyed point in metres of the cloud's projected CRS.
type Point struct {
	ID            string    // text as in the list, leading zeros kept
	EM, NM        float64   // easting, northing
	ZM            float64   // height; NaN when the list gives none
	Code          string    // feature code or description
	Cover         Cover     // open, vegetated or unknown
	Surface       string    // what lies there, in the list's words: hard, grass, forest ...
	Use           Use       // check or control
	SDHorizontalM float64   // radial standard deviation of the survey; 0 = not given
	SDVerticalM   float64   // standard deviation of the surveyed height; 0 = not given
	Source        Source    // how surveyed
	Date          time.Time // day of survey; zero = not given
	RodM          float64   // rod or pole height; 0 = not given
	Row           int       // line of the list file, from 1
	LatDeg        float64   // as read, when the list is geodetic; else 0
	LonDeg        float64
}

// HasZ reports whether the point has a surveyed height.
func (p *Point) HasZ() bool { return !math.IsNaN(p.ZM) && !math.IsInf(p.ZM, 0) }

// How near two surveyed points lie to be the same one: by place, or by name and place. Our proposals.
const (
	samePlaceM = 0.05
	sameNameM  = 1.0
)

// SamePoint returns the first point of a list that is the same as p, by place or by name and place, nil when there is none, and
// how far apart the two stand in plan.
func SamePoint(p *Point, list []Point) (same *Point, distanceM float64) {
	for i := range list {
		c := &list[i]
		if d := math.Hypot(p.EM-c.EM, p.NM-c.NM); d < samePlaceM || p.ID != "" && p.ID == c.ID && d < sameNameM {
			return c, d
		}
	}
	return nil, math.NaN()
}

// OnRidge reports whether the list says that the point lies on a roof ridge: its height is no check of the
// ground, see Collector.Ridges.
func (p *Point) OnRidge() bool { return p.says("ridge") || p.says("ridgeline") }

// IsTarget reports whether the list says that a target lies at the point, see Collector.Targets.
func (p *Point) IsTarget() bool {
	return p.says("target") || p.says("chevron") || p.says("checkerboard") || p.says("disc") || p.says("disk")
}

// says looks for a word of the trade in code and surface, alone, in the plural, or with a letter or digits behind it as a name of
// its own ("ridges", "TARGET3", "TargetB"); never as a part of another word ("bridge", "discharge").
func (p *Point) says(word string) bool {
	text := strings.ToLower(p.Code + " " + p.Surface)
	for from := 0; ; {
		i := strings.Index(text[from:], word)
		if i < 0 {
			return false
		}
		i += from
		before, _ := utf8.DecodeLastRuneInString(text[:i])
		from = i + len(word)
		behind := strings.IndexFunc(text[from:]+" ", func(r rune) bool { return !unicode.IsLetter(r) })
		if !unicode.IsLetter(before) && behind <= 1 {
			return true
		}
	}
}

// Box is an axis-parallel rectangle in metres.
type Box struct{ MinEM, MinNM, MaxEM, MaxNM float64 }

// Contains reports whether the place lies inside the box grown by bufferM on each side.
func (b Box) Contains(eM, nM, bufferM float64) bool {
	return eM >= b.MinEM-bufferM && eM <= b.MaxEM+bufferM && nM >= b.MinNM-bufferM && nM <= b.MaxNM+bufferM
}

// Empty reports whether the box holds no area and no line.
func (b Box) Empty() bool {
	return !(b.MaxEM > b.MinEM) && !(b.MaxNM > b.MinNM)
}
