package crs

import (
	"math"
	"strings"
)

// Unit is a unit of length or of angle.
type Unit struct {
	Name   string
	M      float64 // metres in one unit; 0 for angles
	Rad    float64 // radians in one unit; 0 for lengths
	Stated bool    // false: assumed, and said so in CRS.Notes
}

// The metres in each of the two feet.
//
// Source: NIST Special Publication 811 (2008), appendix B.6 (the U.S. survey foot
// is 1200/3937 m exactly, the international foot 0.3048 m exactly).
const (
	InternationalFootM = 0.3048
	SurveyFootM        = 1200.0 / 3937.0
)

// EPSG codes of the units that matter most.
const (
	unitMetre             = 9001
	unitInternationalFoot = 9002
	unitSurveyFoot        = 9003
	unitDegree            = 9102
	unitGrad              = 9105
)

var (
	metre             = Unit{Name: "metre", M: 1}
	internationalFoot = Unit{Name: "foot", M: InternationalFootM}
	surveyFoot        = Unit{Name: "US survey foot", M: SurveyFootM}
	degree            = Unit{Name: "degree", Rad: math.Pi / 180}
)

// Metre returns the metre as a stated unit.
func Metre() Unit { return stated(metre) }

// InternationalFoot returns the foot of 0.3048 m as a stated unit.
func InternationalFoot() Unit { return stated(internationalFoot) }

// SurveyFoot returns the US survey foot of 1200/3937 m as a stated unit.
func SurveyFoot() Unit { return stated(surveyFoot) }

// Equal reports whether both units have the same size within one part in 10^9.
func (u Unit) Equal(v Unit) bool { return near(u.M, v.M, 1e-9) && near(u.Rad, v.Rad, 1e-9) }

// Foot reports whether the unit is one of the two feet in use for lidar.
func (u Unit) Foot() bool {
	return near(u.M, InternationalFootM, 1e-9) || near(u.M, SurveyFootM, 1e-9)
}

func stated(u Unit) Unit {
	u.Stated = true
	return u
}

func near(a, b, relative float64) bool {
	return math.Abs(a-b) <= relative*math.Max(math.Abs(a), math.Abs(b))
}

// unitByCode returns the unit with an EPSG code.
func unitByCode(code int) (Unit, bool) {
	switch code {
	case unitMetre:
		return metre, true
	case unitInternationalFoot:
		return internationalFoot, true
	case unitSurveyFoot:
		return surveyFoot, true
	case unitDegree, 9122: // 9122: degree, representation left open
		return degree, true
	}
	return tableUnit(code)
}

// lengthByName returns the unit that a name stands for, and whether the name says
// which foot it is.
func lengthByName(name string) (u Unit, exact, ok bool) {
	s := strings.Map(func(r rune) rune {
		switch {
		case r >= 'a' && r <= 'z':
			return r
		case r >= 'A' && r <= 'Z':
			return r + 'a' - 'A'
		}
		return -1
	}, name)
	switch s {
	case "metre", "meter", "metres", "meters", "m", "linearmeter", "linearmetre":
		return metre, true, true
	case "ussurveyfoot", "ussurveyfeet", "usfoot", "usfeet", "footus", "feetus", "ftus", "usft", "sft", "ussft",
		"surveyfoot", "surveyfeet", "footussurvey", "linearfootussurvey", "feetussurvey", "surveyfootus":
		return surveyFoot, true, true
	case "internationalfoot", "internationalfeet", "footinternational", "feetinternational", "ift", "intlfoot", "ftint", "footintl", "linearfoot":
		return internationalFoot, true, true
	case "foot", "feet", "ft":
		return internationalFoot, false, true
	}
	return Unit{}, false, false
}

// lengthUnit returns the unit of a WKT UNIT node or of a pair of GeoTIFF keys: a
// name and a factor in metres. The factor decides, except that a factor of 1
// beside the name of a foot is a filler. A note tells where the two disagree.
func (c *CRS) lengthUnit(part, name string, factorM float64) Unit {
	named, exact, ok := lengthByName(name)
	valid := factorM > 0 && !math.IsInf(factorM, 0)
	switch {
	case !valid && ok:
		c.note("%s unit %q has no usable factor; the name is taken", part, name)
		return stated(named)
	case !valid:
		return Unit{}
	case ok && factorM == 1 && named.Foot():
		c.note("%s unit is named %q but its factor says 1 m; the name is taken", part, name)
		return stated(named)
	}
	u := Unit{Name: name, M: factorM, Stated: true}
	// 2e-7 separates the two feet, which differ by 2e-6, and allows factors of 7 digits.
	for _, k := range []Unit{metre, internationalFoot, surveyFoot} {
		if near(factorM, k.M, 2e-7) {
			u = stated(k)
		}
	}
	switch {
	case ok && exact && !near(u.M, named.M, 2e-7):
		c.note("%s unit is named %q but its factor is %.10g m; the factor is taken", part, name, factorM)
	case near(u.M, InternationalFootM, 1e-5) && !u.Foot():
		c.note("%s unit %q of %.10g m is neither the international nor the US survey foot", part, name, factorM)
	}
	if u.Name == "" {
		u.Name = "unnamed unit"
	}
	return u
}
