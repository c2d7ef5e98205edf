package crs

import (
	"math"
	"slices"
	"strings"
)

// GeoKeys returns the system as GeoTIFF records: the key directory (34735), the
// double parameters (34736) and the ASCII parameters (34737, each string ended by
// '|', all ended by a NUL). The last two are empty when no key needs them.
//
// A system without an EPSG code is written with its projection parameters (false
// origin in the linear unit, as GeoTIFF asks); one whose projection has no code in
// GeoTIFF is written as user-defined with its unit and name only.
func (c *CRS) GeoKeys() (directory []uint16, doubles []float64, ascii []byte) {
	w := geoKeyWriter{}
	horizontal, vertical := c.consistentCodes()
	switch c.Kind {
	case KindGeographic:
		w.short(keyModelType, 2)
	case KindGeocentric:
		w.short(keyModelType, 3)
	case KindProjected:
		w.short(keyModelType, 1)
	default:
		w.short(keyModelType, userDefined)
	}
	w.short(keyRasterType, 1)
	w.text(keyCitation, c.Name)
	switch {
	case c.Kind == KindProjected && horizontal != 0:
		w.short(keyProjectedCRS, horizontal)
	case c.Kind == KindProjected:
		w.userProjection(c)
	case horizontal != 0:
		w.short(keyGeodeticCRS, horizontal)
	case c.Kind == KindGeographic || c.Kind == KindGeocentric:
		w.short(keyGeodeticCRS, userDefined)
	}
	if c.Kind == KindGeographic {
		w.angularUnit(c.Horizontal.Unit)
	} else {
		w.lengthUnit(keyLinearUnit, keyLinearSize, c.Horizontal.Unit)
	}
	if c.Kind != KindGeocentric && (c.VerticalStated() || c.Vertical.Unit.Stated) {
		if vertical != 0 {
			w.short(keyVerticalCRS, vertical)
		}
		w.text(keyVertCitation, c.Vertical.Name)
		w.lengthUnit(keyVerticalUnit, 0, c.Vertical.Unit)
	}
	return w.finish()
}

type geoKeyWriter struct {
	entries [][4]uint16
	doubles []float64
	ascii   strings.Builder
}

func (w *geoKeyWriter) short(key, value int) {
	if value < 0 || value > math.MaxUint16 {
		value = userDefined
	}
	w.entries = append(w.entries, [4]uint16{uint16(key), 0, 1, uint16(value)})
}

func (w *geoKeyWriter) double(key int, v float64) {
	w.entries = append(w.entries, [4]uint16{uint16(key), recordDoubles, 1, uint16(len(w.doubles))})
	w.doubles = append(w.doubles, v)
}

// text stores a string as 7-bit characters, as GeoTIFF asks.
func (w *geoKeyWriter) text(key int, s string) {
	if s == "" {
		return
	}
	s = strings.Map(func(r rune) rune {
		if r < ' ' || r > '~' || r == '|' {
			return '?'
		}
		return r
	}, s)
	s = s[:min(len(s), 500)] + "|"
	w.entries = append(w.entries, [4]uint16{uint16(key), recordASCII, uint16(len(s)), uint16(w.ascii.Len())})
	w.ascii.WriteString(s)
}

func (w *geoKeyWriter) lengthUnit(key, sizeKey int, u Unit) {
	switch {
	case u.Equal(metre):
		w.short(key, unitMetre)
	case u.Equal(internationalFoot):
		w.short(key, unitInternationalFoot)
	case u.Equal(surveyFoot):
		w.short(key, unitSurveyFoot)
	default:
		w.short(key, userDefined)
		if sizeKey != 0 {
			w.double(sizeKey, u.M)
		}
	}
}

func (w *geoKeyWriter) angularUnit(u Unit) {
	if u.Equal(degree) {
		w.short(keyAngularUnit, unitDegree)
		return
	}
	w.short(keyAngularUnit, userDefined)
	w.double(keyAngularSize, u.Rad)
}

func (w *geoKeyWriter) userProjection(c *CRS) {
	w.short(keyProjectedCRS, userDefined)
	w.text(keyPCSCitation, c.Horizontal.Name)
	p := c.Projection
	if p == nil {
		return
	}
	w.short(keyGeodeticCRS, userDefined)
	w.text(keyGeogCitation, c.Datum)
	w.short(keyEllipsoid, userDefined)
	w.double(keySemiMajor, p.Ellipsoid.A)
	if p.Ellipsoid.InvF > 0 {
		w.double(keyInvFlattening, p.Ellipsoid.InvF)
	} else {
		w.double(keySemiMinor, p.Ellipsoid.A)
	}
	w.short(keyAngularUnit, unitDegree)
	if p.PrimeMeridianRad != 0 {
		w.double(keyPrimeMeridianLn, p.PrimeMeridianRad*180/math.Pi)
	}
	w.short(keyConversion, userDefined)
	u := c.Horizontal.Unit.M
	deg := func(rad float64) float64 { return roundTo(rad*180/math.Pi, 1e12) }
	switch p.Method {
	case TransverseMercator, LambertConformal1SP:
		w.short(keyMethod, map[Method]int{TransverseMercator: 1, LambertConformal1SP: 9}[p.Method])
		w.double(lonKeys[0], deg(p.LonOriginRad))
		w.double(latKeys[0], deg(p.LatOriginRad))
		w.double(eastingKeys[0], p.FalseEastingM/u)
		w.double(northingKeys[0], p.FalseNorthingM/u)
		w.double(scaleKeys[0], p.ScaleFactor)
	case LambertConformal2SP:
		w.short(keyMethod, 8)
		w.double(keyStdParallel1, deg(p.StdParallel1Rad))
		w.double(keyStdParallel2, deg(p.StdParallel2Rad))
		w.double(lonKeys[1], deg(p.LonOriginRad))
		w.double(latKeys[1], deg(p.LatOriginRad))
		w.double(eastingKeys[1], p.FalseEastingM/u)
		w.double(northingKeys[1], p.FalseNorthingM/u)
	}
}

// finish sorts the keys, which GeoTIFF requires, and builds the records.
func (w *geoKeyWriter) finish() ([]uint16, []float64, []byte) {
	slices.SortStableFunc(w.entries, func(a, b [4]uint16) int { return int(a[0]) - int(b[0]) })
	dir := []uint16{1, 1, 0, uint16(len(w.entries))}
	for _, e := range w.entries {
		dir = append(dir, e[:]...)
	}
	var text []byte
	if w.ascii.Len() > 0 {
		text = append([]byte(w.ascii.String()), 0)
	}
	return dir, w.doubles, text
}
