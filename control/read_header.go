package control

import (
	"regexp"
	"strconv"
	"strings"

	"sidelap/las/crs"
)

// crsHeader is the coordinate system named in a list's first line.
type crsHeader struct {
	text     string
	epsg     int
	geodetic bool
	unit     string  // m, ft, usft; empty unknown
	unitM    float64 // of a PROJ to_meter, when it is no unit with a name
}

var (
	epsgLine  = regexp.MustCompile(`(?i)^\s*(?:urn:ogc:def:crs:)?EPSG:+\s*(\d{4,6})\s*$`)
	namedLine = regexp.MustCompile(`(?i)\b(UTM|WGS ?84|NAD ?83|NAD ?27|ETRS ?89|PUWG|GDA|MGA|Gauss|Lambert|OSGB|SIRGAS|RD ?New|SWEREF|LV ?95|Gau(ss|ß))`)
	utmWords  = regexp.MustCompile(`(?i)\bUTM\b[^0-9]{0,12}(\d{1,2})\s*([NS])?\b`)
	utmString = regexp.MustCompile(`\+zone=(\d{1,2})\b`)
)

// zone is the UTM zone that the header names, 0 without; anyHemisphere when it does not say which one.
func (h *crsHeader) zone() (zone int, south, anyHemisphere bool) {
	if h.epsg != 0 {
		zone, south = UTMZone(h.horizontal())
		return zone, south, false
	}
	m := utmString.FindStringSubmatch(h.text)
	if m != nil {
		south = strings.Contains(h.text, "+south")
	} else if m = utmWords.FindStringSubmatch(h.text); m != nil {
		south, anyHemisphere = strings.EqualFold(m[2], "s"), m[2] == ""
	} else {
		return 0, false, false
	}
	if zone, _ = strconv.Atoi(m[1]); zone < 1 || zone > 60 {
		return 0, false, false
	}
	return zone, south, anyHemisphere
}

// horizontal is the code of the header's coordinates: of a compound system its horizontal part.
func (h *crsHeader) horizontal() int {
	if c, err := crs.FromEPSG(h.epsg); err == nil && c.Horizontal.EPSG != 0 {
		return c.Horizontal.EPSG
	}
	return h.epsg
}

// takeHeader takes a line that names a coordinate system off the top.
func (r *reader) takeHeader(lines []line) []line {
	for i, l := range lines {
		h, ok := parseHeader(l.text)
		if ok {
			r.header = h
			r.list.HeaderLine, r.list.HeaderEPSG = h.text, h.horizontal()
			r.list.HeaderZone, r.list.HeaderSouth, r.list.HeaderAnyHemisphere = h.zone()
			return append(append([]line(nil), lines[:i]...), lines[i+1:]...)
		}
		if !l.comment {
			break
		}
	}
	return lines
}

// parseHeader reads "+proj=utm +zone=17 ...", "EPSG:32617" or "WGS84 UTM 17N".
func parseHeader(text string) (h crsHeader, ok bool) {
	h.text = strings.TrimSpace(text)
	if m := epsgLine.FindStringSubmatch(h.text); m != nil {
		h.epsg, _ = strconv.Atoi(m[1])
		c, err := crs.FromEPSG(h.epsg)
		h.geodetic = err == nil && c.Kind == crs.KindGeographic
		return h, true
	}
	if strings.Contains(h.text, "+proj=") {
		h.parseProj()
		return h, true
	}
	if strings.ContainsAny(h.text, ",;\t") || len(h.text) > 60 || !namedLine.MatchString(h.text) {
		return h, false
	}
	if strings.Contains(strings.ToUpper(h.text), "UTM") {
		h.unit = unitMetre // by its definition
	}
	return h, true
}

// parseProj reads what a PROJ string says of units.
func (h *crsHeader) parseProj() {
	for _, f := range strings.Fields(h.text) {
		key, value, _ := strings.Cut(strings.TrimPrefix(f, "+"), "=")
		switch key {
		case "proj":
			h.geodetic = value == "longlat" || value == "latlong" || value == "latlon" || value == "lonlat"
			if value == "utm" && h.unit == "" {
				h.unit = unitMetre
			}
		case "units":
			h.unit = map[string]string{"m": unitMetre, "ft": unitFoot, "us-ft": unitUSFoot}[value]
		case "to_meter":
			if v, err := parsePlain(value); err == nil && v > 0 {
				h.unitM = v
			}
		}
	}
}

// units settles the units of coordinates and heights: option, headings, header line, else
// metres with a warning.
func (r *reader) units() error {
	heading, headingZ := "", ""
	if r.layout != nil {
		heading, headingZ = r.layout.units[roleE], r.layout.units[roleZ]
	}
	geodetic := r.layout != nil && r.layout.geodetic() || r.layout == nil && r.header.geodetic
	l := r.list
	switch {
	case r.o.Unit != "":
		l.Unit, l.UnitFrom = r.o.Unit, "option"
	case geodetic:
		l.Unit, l.UnitFrom = unitDegree, "latitude and longitude"
	case heading == unitFeet:
		return r.whichFoot()
	case heading != "":
		l.Unit, l.UnitFrom = heading, "headings"
	default:
		if err := r.headerUnit(); err != nil {
			return err
		}
	}
	if geodetic {
		l.Unit = unitDegree
	} else if r.unitM == 0 {
		m, ok := UnitM(l.Unit)
		if !ok {
			return r.fail(0, "use m, ft (international) or usft", "unit %q is not known", l.Unit)
		}
		r.unitM = m
	}
	l.UnitM = r.unitM
	return r.heightUnit(headingZ, geodetic)
}

func (r *reader) whichFoot() error {
	return &AmbiguousError{Path: r.path, Question: "the coordinates are in feet, the list does not say of which kind",
		Readings: []Reading{{"international foot (0.3048 m)", r.lines[0].text}, {"US survey foot (1200/3937 m)", r.lines[0].text}},
		Remedy:   "give the unit of the list: ft (international) or usft; the two differ by 2 millionths, 0.6 m at 1 000 000 ft from the origin"}
}

// headerUnit takes the unit from the header line, or assumes metres and says so.
func (r *reader) headerUnit() error {
	l, h := r.list, r.header
	l.UnitFrom = "header line"
	switch {
	case h.unit != "":
		l.Unit = h.unit
		return nil
	case h.unitM > 0:
		l.Unit, r.unitM = nameOfUnit(h.unitM), h.unitM
		return nil
	}
	if h.text != "" && r.o.HeaderUnitM != nil {
		if m, ok := r.o.HeaderUnitM(h.text); ok && m > 0 {
			l.Unit, r.unitM = nameOfUnit(m), m
			return nil
		}
	}
	if c, err := crs.FromEPSG(h.epsg); h.epsg != 0 && err == nil && c.Kind == crs.KindProjected && c.Horizontal.Unit.M > 0 {
		l.Unit, r.unitM = nameOfUnit(c.Horizontal.Unit.M), c.Horizontal.Unit.M
		return nil
	}
	if h.epsg != 0 {
		return r.fail(0, "give the unit of the list: m, ft (international) or usft", "the unit of EPSG:%d is not known here", h.epsg)
	}
	l.Unit, l.UnitFrom = unitMetre, "assumed"
	r.warn("the list does not name its unit: metres assumed")
	return nil
}

func nameOfUnit(m float64) string {
	for _, u := range []string{unitMetre, unitFoot, unitUSFoot} {
		if v, _ := UnitM(u); v > m*(1-1e-7) && v < m*(1+1e-7) {
			return u
		}
	}
	return strconv.FormatFloat(m, 'g', -1, 64) + " m"
}

// heightUnit settles the unit of heights: option, heading, else that of the coordinates; degrees have
// heights in metres.
func (r *reader) heightUnit(heading string, geodetic bool) error {
	l := r.list
	switch {
	case r.o.HeightUnit != "":
		l.HeightUnit = r.o.HeightUnit
	case heading == unitFeet:
		l.HeightUnit = unitFoot
		r.warn("heights are in feet of unknown kind: read as international feet, which differ by 2 millionths from survey feet")
	case heading != "" && heading != unitDegree:
		l.HeightUnit = heading
	case geodetic && r.o.Unit != "" && r.o.Unit != unitDegree:
		l.HeightUnit = r.o.Unit
	case geodetic:
		l.HeightUnit = unitMetre
	default:
		l.HeightUnit, r.zUnitM = l.Unit, r.unitM
		return nil
	}
	m, ok := UnitM(l.HeightUnit)
	if !ok {
		return r.fail(0, "use m, ft (international) or usft", "height unit %q is not known", l.HeightUnit)
	}
	r.zUnitM = m
	return nil
}
