package limits

import (
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"sidelap/control"
)

// Basis says whose rules around the limits apply: the number of check points,
// how accurate these must be, and how the survey's own error enters.
type Basis string

// The bases.
const (
	ASPRSEd1 Basis = "asprs-ed1"
	ASPRSEd2 Basis = "asprs-ed2"
	LBS      Basis = "lbs"
	Own      Basis = "own"
)

// Set is a named list of limits.
type Set struct {
	Name   string  // as the user gives it: "asprs-ed2:5", or the file
	Title  string  // one line for the report
	Source string  // standard with edition, or contract
	Basis  Basis   // rules around the limits
	ClassM float64 // accuracy class, RMSE in metres; 0 without a class
	Limits []Limit
	Notes  []string // what the set does not judge
}

// Limit is one limit of a set, in metres, square metres, per square metre or per cent.
type Limit struct {
	ID       string
	Limit    float64
	Sense    string // Max, Min or Report
	Source   string
	Optional bool // not judged does not keep the verdict from "pass"
}

// Find returns the limit with the id.
func (s *Set) Find(id string) (Limit, bool) {
	for _, l := range s.Limits {
		if l.ID == id {
			return l, true
		}
	}
	return Limit{}, false
}

// SeparationLimitM returns the limit for the separation of strips in metres,
// against which cells are counted as within and beyond: that of the RMSD, else
// of the worst pair's RMSD or offset. False when the set has none.
func (s *Set) SeparationLimitM() (float64, bool) {
	for _, id := range []string{"swath_rmsd", "pair_rmsd", "pair_median"} {
		if l, ok := s.Find(id); ok {
			return l.Limit, true
		}
	}
	return 0, false
}

// edition returns the standard whose rules for check points hold; the Lidar Base
// Specification refers to ASPRS Edition 2. False for limits of one's own.
func (s *Set) edition() (control.Edition, bool) {
	switch s.Basis {
	case ASPRSEd1:
		return control.Edition1, true
	case ASPRSEd2, LBS:
		return control.Edition2, true
	}
	return "", false
}

// PointsRequired returns the least number of check points for the word
// "tested", 0 when the set has no rule.
func (s *Set) PointsRequired() int64 {
	if e, ok := s.edition(); ok {
		return int64(e.MinimumPoints())
	}
	return 0
}

// SurveyGoodEnough tells whether check points of that accuracy can carry a
// judgement under the set's standard.
func (s *Set) SurveyGoodEnough(surveyM float64) bool {
	e, ok := s.edition()
	return !ok || control.SurveyGoodEnough(e, surveyM, s.ClassM)
}

// Level returns 1 for a separation up to the limit, 2 up to twice the limit, 3
// beyond; a value equal to a limit belongs to the level below it.
//
// Source: Lidar Base Specification 2025 rev. A, swath separation images.
func Level(dzM, limitM float64) int {
	switch d := math.Abs(dzM); {
	case d <= limitM:
		return 1
	case d <= 2*limitM:
		return 2
	}
	return 3
}

// Resolve returns the set with the name: a built-in one ("asprs-ed2:5",
// "lbs:QL1"), or else the TOML file at that path.
func Resolve(name string) (*Set, error) {
	family, class, colon := strings.Cut(name, ":")
	switch b := Basis(strings.ToLower(family)); b {
	case ASPRSEd1, ASPRSEd2:
		if !colon {
			return nil, fmt.Errorf("limits %s: the class is missing: give it in centimetres of RMSE, such as %s:5", name, b)
		}
		cm, err := strconv.ParseFloat(class, 64)
		if err != nil || !(cm > 0) || cm > 1000 {
			return nil, fmt.Errorf("limits %s: class %q: give a number of centimetres above 0 and up to 1000, such as %s:5", name, class, b)
		}
		return asprs(b, cm), nil
	case LBS:
		for i := range qualityLevels {
			if strings.EqualFold(class, qualityLevels[i].name) {
				return lbs(&qualityLevels[i]), nil
			}
		}
		return nil, fmt.Errorf("limits %s: there is no quality level %q: give lbs:QL0, lbs:QL1, lbs:QL2 or lbs:QL3", name, class)
	}
	return ReadFile(name)
}

// Listing is a line of the list of built-in sets.
type Listing struct{ Name, Title string }

// List returns the built-in sets. ASPRS classes are examples: any class may be
// given.
func List() []Listing {
	var l []Listing
	for _, b := range []Basis{ASPRSEd2, ASPRSEd1} {
		for _, cm := range []float64{1, 2.5, 5, 10, 15, 20} {
			s := asprs(b, cm)
			l = append(l, Listing{s.Name, s.Title})
		}
	}
	for i := range qualityLevels {
		s := lbs(&qualityLevels[i])
		l = append(l, Listing{s.Name, s.Title})
	}
	return l
}

// WriteList writes the built-in sets, one a line, for sidelap limits.
func WriteList(w io.Writer) error {
	var b strings.Builder
	for _, l := range List() {
		fmt.Fprintf(&b, "%-15s %s\n", l.Name, l.Title)
	}
	b.WriteString("\nAny ASPRS class may be given in centimetres of RMSE, such as asprs-ed2:7.5. A set of your own is a TOML file:\n" +
		"sidelap limits NAME prints one to copy and edit. Limits of a contract stand above these.\n")
	_, err := io.WriteString(w, b.String())
	return err
}
