package control

import (
	"math"
	"strings"
	"time"
)

// attributes reads the optional columns of a row.
func (r *reader) attributes(row []string, p *Point) {
	p.Surface = r.field(row, roleSurface)
	p.Cover = coverOf(r.field(row, roleCover))
	if p.Cover == CoverUnknown {
		p.Cover = coverOf(p.Surface)
	}
	if u, ok := useOf(r.field(row, roleUse)); ok {
		p.Use = u
	}
	if t := r.field(row, roleType); t != "" {
		if u, ok := useOf(t); ok {
			p.Use = u
		}
		if p.Cover == CoverUnknown {
			p.Cover = coverOf(t)
		}
		if p.Code == "" {
			p.Code = t
		}
	}
	p.SDHorizontalM = r.deviation(row, roleSDH)
	if e, n := r.deviation(row, roleSDE), r.deviation(row, roleSDN); p.SDHorizontalM == 0 && e > 0 && n > 0 {
		p.SDHorizontalM = math.Hypot(e, n)
	}
	p.SDVerticalM = r.deviation(row, roleSDV)
	p.Source = sourceOf(r.field(row, roleSource))
	p.Date = dateOf(r.field(row, roleDate))
	if v := r.number(row, roleRod); v > 0 && v < 50 {
		p.RodM = v * r.lengthUnit(roleRod, r.zUnitM)
	}
}

// deviation reads a standard deviation; 0 when there is none.
func (r *reader) deviation(row []string, ro role) float64 {
	v := r.number(row, ro)
	if !(v > 0) {
		return 0
	}
	unit := r.unitM
	if ro == roleSDV || unit == 0 {
		unit = r.zUnitM
	}
	return v * r.lengthUnit(ro, unit)
}

// lengthUnit returns the metres in the unit written in a heading, else the list's.
func (r *reader) lengthUnit(ro role, otherwise float64) float64 {
	u := r.layout.units[ro]
	if u == unitFeet {
		u = unitFoot // two millionths of a small length
	}
	if m, ok := UnitM(u); ok {
		return m
	}
	return otherwise
}

// coverWords are the covers and surfaces that say what lies at a point.
var coverWords = map[Cover]string{
	CoverOpen:      "open nva nonvegetated hard bare bareearth asphalt tarmac concrete paved pavement road gravel dirt soil sand urban roof carpark parking lot kerb dur hart asphalte beton strasse",
	CoverVegetated: "vegetated vva vegetation veg grass tallgrass forest wood woods trees shrub shrubs brush scrub crop crops meadow wald wiese gras herbe foret bois bosque hierba pasto mato",
}

func coverOf(s string) Cover {
	word, _ := foldHeading(s)
	if word == "" {
		return CoverUnknown
	}
	for c, list := range coverWords {
		for _, w := range strings.Fields(list) {
			if w == word {
				return c
			}
		}
	}
	return CoverUnknown
}

func useOf(s string) (Use, bool) {
	switch word, _ := foldHeading(s); word {
	case "check", "checkpoint", "cp", "checks", "validation", "nva", "vva", "independent", "test", "kontrolle", "verification":
		return UseCheck, true
	case "control", "controlpoint", "gcp", "adjustment", "calibration", "tie", "passpunkt", "used", "processing":
		return UseControl, true
	}
	return UseCheck, false
}

func sourceOf(s string) Source {
	switch word, _ := foldHeading(s); word {
	case "base", "basestation", "ownbase", "localbase", "rtkbase", "samebase":
		return SourceBase
	case "network", "vrs", "nrtk", "networkrtk", "cors", "service":
		return SourceNetwork
	case "level", "levelling", "leveling", "nivellement", "digitallevel":
		return SourceLevel
	case "totalstation", "tachymeter", "ts", "tps":
		return SourceTotalStation
	}
	return SourceUnknown
}

// dateOf reads a day written in full. Days and months that could be swapped are no date.
func dateOf(s string) time.Time {
	s = strings.TrimSpace(s)
	for _, f := range []string{"2006-01-02", "2006/01/02", "20060102", "02.01.2006", "2.1.2006", "2 Jan 2006", "2 January 2006", "Jan 2, 2006", time.RFC3339, "2006-01-02 15:04:05", "2006-01-02T15:04:05"} {
		if t, err := time.Parse(f, s); err == nil {
			return time.Date(t.Year(), t.Month(), t.Day(), 0, 0, 0, 0, time.UTC)
		}
	}
	return time.Time{}
}

// parseAngle reads degrees, with a hemisphere letter and minutes and seconds if given.
func parseAngle(s string, style numberStyle) (deg float64, ok bool) {
	if v, err := parseNumber(s, style); err == nil {
		return v, true
	}
	s = strings.ToUpper(strings.TrimSpace(s))
	sign := 1.0
	if strings.ContainsAny(s, "SW") {
		sign = -1
	}
	s = strings.Trim(s, "NSEWO ")
	if rest, neg := strings.CutPrefix(s, "-"); neg {
		sign, s = -sign, rest
	}
	parts := strings.FieldsFunc(s, func(r rune) bool { return strings.ContainsRune("°º'’′\"”″: ", r) })
	if len(parts) == 0 || len(parts) > 3 {
		return 0, false
	}
	unit := 1.0
	for i, p := range parts {
		v, err := parseNumber(p, style)
		if err != nil || v < 0 || i > 0 && v >= 60 {
			return 0, false
		}
		deg += v / unit
		unit *= 60
	}
	return sign * deg, true
}

// looksAngle reports whether the field is degrees with minutes.
func looksAngle(s string) bool {
	if !strings.ContainsAny(s, "°º'’′: ") {
		return false
	}
	_, ok := parseAngle(s, numberStyle{})
	return ok
}
