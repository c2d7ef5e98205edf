package crs

import (
	"math"
	"strconv"
	"strings"
)

// wktMethod is a method in WKT 1: its name and its parameters in order.
type wktMethod struct {
	name   string
	params []wktParam
}

type wktParam struct {
	name string
	code int
}

var (
	wktNatural = []wktParam{{"latitude_of_origin", pLatNatural}, {"central_meridian", pLonNatural}, {"scale_factor", pScaleNatural}}
	wktConic   = []wktParam{{"latitude_of_origin", pLatFalse}, {"central_meridian", pLonFalse}, {"standard_parallel_1", pStdPar1}, {"standard_parallel_2", pStdPar2}}
	wktNoScale = wktNatural[:2]
	wktHotine  = []wktParam{{"latitude_of_center", pLatCentre}, {"longitude_of_center", pLonCentre}, {"azimuth", pAzimuth},
		{"rectified_grid_angle", pRectified}, {"scale_factor", pScaleInitial}}
	wktKrovak = []wktParam{{"latitude_of_center", pLatCentre}, {"longitude_of_center", pLonOrigin}, {"azimuth", pColatCone},
		{"pseudo_standard_parallel_1", pPseudoPar}, {"scale_factor", pPseudoScale}}
)

// wktMethods holds the names of OGC 01-009, section 10, and those in common use for methods it lacks.
var wktMethods = map[Method]wktMethod{
	TransverseMercator:        {"Transverse_Mercator", wktNatural},
	TransverseMercatorSouth:   {"Transverse_Mercator_South_Orientated", wktNatural},
	LambertConformal1SP:       {"Lambert_Conformal_Conic_1SP", wktNatural},
	LambertConformal2SP:       {"Lambert_Conformal_Conic_2SP", wktConic},
	LambertConformal2SPBelg:   {"Lambert_Conformal_Conic_2SP_Belgium", wktConic},
	LambertConformal2SPMich:   {"Lambert_Conformal_Conic_2SP_Michigan", append(wktConic[:4:4], wktParam{"ellipsoid_scaling_factor", pEllScale})},
	MercatorA:                 {"Mercator_1SP", wktNatural[1:]},
	MercatorB:                 {"Mercator_2SP", []wktParam{{"standard_parallel_1", pStdPar1}, {"central_meridian", pLonNatural}}},
	ObliqueStereographic:      {"Oblique_Stereographic", wktNatural},
	PolarStereographicA:       {"Polar_Stereographic", wktNatural},
	PolarStereographicB:       {"Polar_Stereographic", []wktParam{{"latitude_of_origin", pStdPar1}, {"central_meridian", pLonOrigin}, {"scale_factor", pScaleNatural}}},
	HotineObliqueMercatorA:    {"Hotine_Oblique_Mercator", wktHotine},
	HotineObliqueMercatorB:    {"Hotine_Oblique_Mercator_Azimuth_Center", wktHotine},
	Krovak:                    {"Krovak", wktKrovak},
	KrovakNorth:               {"Krovak", wktKrovak},
	LambertAzimuthalEqualArea: {"Lambert_Azimuthal_Equal_Area", []wktParam{{"latitude_of_center", pLatNatural}, {"longitude_of_center", pLonNatural}}},
	AlbersEqualArea: {"Albers_Conic_Equal_Area", []wktParam{{"latitude_of_center", pLatFalse}, {"longitude_of_center", pLonFalse},
		{"standard_parallel_1", pStdPar1}, {"standard_parallel_2", pStdPar2}}},
	PseudoMercator:    {"Popular_Visualisation_Pseudo_Mercator", wktNatural[1:2]},
	CassiniSoldner:    {"Cassini_Soldner", wktNoScale},
	AmericanPolyconic: {"Polyconic", wktNoScale},
	NewZealandMapGrid: {"New_Zealand_Map_Grid", wktNoScale},
}

// get returns a parameter by its code: the inverse of set.
func (p *Projection) get(code int) float64 {
	switch code {
	case pLatNatural, pLatFalse, pLatCentre:
		return p.LatOriginRad
	case pLonNatural, pLonFalse, pLonCentre, pLonOrigin:
		return p.LonOriginRad
	case pScaleNatural, pScaleInitial, pPseudoScale:
		return p.ScaleFactor
	case pStdPar1, pLatStdPar:
		return p.StdParallel1Rad
	case pStdPar2:
		return p.StdParallel2Rad
	}
	return p.other(code, 0)
}

// ToWKT1 returns the system as WKT 1 on one line, for the record LASF_Projection 2112.
//
// WKT 1 that was read without a fault is returned as it was. A projection that WKT 1
// cannot name gives a local system that keeps name, units and EPSG code.
func (c *CRS) ToWKT1() string {
	if roots, odd, err := parseWKT(c.WKT); err == nil && !odd && len(roots) == 1 && isWKT1(roots[0]) {
		return c.WKT
	}
	horizontalCode, verticalCode := c.consistentCodes()
	h := c.horizontalWKT(horizontalCode)
	if !c.VerticalStated() && !c.Vertical.Unit.Stated || c.Kind == KindGeocentric {
		return h
	}
	var b strings.Builder
	name := c.Name
	if name == "" || name == c.Horizontal.Name {
		name = c.Horizontal.Name + " + " + c.verticalName()
	}
	b.WriteString("COMPD_CS[" + quote(name) + "," + h + ",VERT_CS[" + quote(c.verticalName()))
	datum, datumType := c.VertDatum, "2005"
	if datum == "" {
		datum = "unknown"
	}
	if c.Heights == HeightEllipsoidal {
		datum, datumType = "Ellipsoid", "2002"
	}
	b.WriteString(",VERT_DATUM[" + quote(datum) + "," + datumType + "]," + unitWKT(c.Vertical.Unit))
	b.WriteString(`,AXIS["Up",UP]` + authority(verticalCode) + "]]")
	return b.String()
}

func isWKT1(n *node) bool {
	if n.find("ID", "CS", "CONVERSION", "LENGTHUNIT", "VDATUM") != nil {
		return false
	}
	switch n.keyword {
	case "COMPD_CS", "PROJCS", "GEOGCS", "GEOCCS", "LOCAL_CS":
		return true
	}
	return false
}

func (c *CRS) verticalName() string {
	if c.Vertical.Name != "" {
		return c.Vertical.Name
	}
	return "unknown height"
}

func (c *CRS) horizontalWKT(epsg int) string {
	name := c.Horizontal.Name
	if name == "" {
		name = "unknown"
	}
	code := authority(epsg)
	switch {
	case c.Kind == KindProjected && c.Projection != nil && wktMethods[c.Projection.Method].name != "":
		p := c.Projection
		m := wktMethods[p.Method]
		var b strings.Builder
		b.WriteString("PROJCS[" + quote(name) + "," + c.geogWKT(p.Ellipsoid, p.PrimeMeridianRad) + `,PROJECTION["` + m.name + `"]`)
		for _, q := range m.params {
			v := p.get(q.code)
			if parameterKind(q.code) == 'a' {
				v = roundTo(v*180/math.Pi, 1e12)
			}
			b.WriteString(`,PARAMETER["` + q.name + `",` + number(v) + "]")
		}
		u := c.Horizontal.Unit.M
		b.WriteString(`,PARAMETER["false_easting",` + number(roundTo(p.FalseEastingM/u, 1e8)) + "]")
		b.WriteString(`,PARAMETER["false_northing",` + number(roundTo(p.FalseNorthingM/u, 1e8)) + "]")
		b.WriteString("," + unitWKT(c.Horizontal.Unit) + `,AXIS["Easting",EAST],AXIS["Northing",NORTH]` + code + "]")
		return b.String()
	case c.Kind == KindGeographic || c.Kind == KindGeocentric:
		if g, ok := tableGeodetic(c.Horizontal.EPSG); ok {
			if c.Kind == KindGeocentric {
				return "GEOCCS[" + quote(name) + "," + datumWKT(g.datum, g.ellipsoid) + "," + primemWKT(g.pmDeg) + "," + unitWKT(c.Horizontal.Unit) + code + "]"
			}
			return "GEOGCS[" + quote(name) + "," + datumWKT(g.datum, g.ellipsoid) + "," + primemWKT(g.pmDeg) + "," + degreeWKT + code + "]"
		}
	}
	return "LOCAL_CS[" + quote(name) + `,LOCAL_DATUM["unknown",0],` + unitWKT(c.Horizontal.Unit) + `,AXIS["Easting",EAST],AXIS["Northing",NORTH]` + code + "]"
}

const degreeWKT = `UNIT["degree",0.0174532925199433,AUTHORITY["EPSG","9122"]]`

func datumWKT(name string, e Ellipsoid) string {
	return "DATUM[" + quote(name) + ",SPHEROID[" + quote(e.Name) + "," + number(e.A) + "," + number(e.InvF) + "]]"
}

func primemWKT(deg float64) string {
	if deg == 0 {
		return `PRIMEM["Greenwich",0]`
	}
	return `PRIMEM["unnamed",` + number(deg) + "]"
}

func (c *CRS) geogWKT(e Ellipsoid, pmRad float64) string {
	name, datum, code := "unknown", c.Datum, ""
	if f := fields("P", c.Horizontal.EPSG, 7); f != nil {
		if g, ok := tableGeodetic(atoi(f[0])); ok {
			name, datum, code = g.name, g.datum, authority(atoi(f[0]))
		}
	}
	if datum == "" {
		datum = "unknown"
	}
	return "GEOGCS[" + quote(name) + "," + datumWKT(datum, e) + "," + primemWKT(roundTo(pmRad*180/math.Pi, 1e12)) + "," + degreeWKT + code + "]"
}

func unitWKT(u Unit) string {
	code := 0
	switch {
	case u.Equal(metre):
		code = unitMetre
	case u.Equal(internationalFoot):
		code = unitInternationalFoot
	case u.Equal(surveyFoot):
		code = unitSurveyFoot
	}
	size := u.M
	if size == 0 {
		size = u.Rad
	}
	return "UNIT[" + quote(u.Name) + "," + number(size) + authority(code) + "]"
}

func authority(code int) string {
	if code == 0 {
		return ""
	}
	return `,AUTHORITY["EPSG","` + strconv.Itoa(code) + `"]`
}

func quote(s string) string { return `"` + strings.ReplaceAll(s, `"`, `""`) + `"` }

func number(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

func roundTo(v, steps float64) float64 { return math.Round(v*steps) / steps }
