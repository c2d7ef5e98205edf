package crs

import "math"

// geoMethods maps GeoTIFF coordinate transformation codes (key 3075) to EPSG methods.
//
// Source: GeoTIFF 1.0, section 6.3.3.3.
var geoMethods = map[int]Method{
	1:  TransverseMercator,
	3:  HotineObliqueMercatorA,
	7:  MercatorA,
	8:  LambertConformal2SP,
	9:  LambertConformal1SP,
	10: LambertAzimuthalEqualArea,
	11: AlbersEqualArea,
	15: PolarStereographicA,
	16: ObliqueStereographic,
	18: CassiniSoldner,
	22: AmericanPolyconic,
	26: NewZealandMapGrid,
	27: TransverseMercatorSouth,
}

// Keys of projection parameters, in the order in which they are tried. Writers
// take any of the variants whatever the method.
var (
	latKeys      = []int{3081, 3085, 3089} // natural origin, false origin, centre
	lonKeys      = []int{3080, 3084, 3088, 3095}
	eastingKeys  = []int{3082, 3086, 3090}
	northingKeys = []int{3083, 3087, 3091}
	scaleKeys    = []int{3092, 3093}
)

const (
	keyStdParallel1 = 3078
	keyStdParallel2 = 3079
	keyAzimuth      = 3094
	keyRectified    = 3096
)

// projectionFromKeys reads a user-defined projection, or returns nil.
func (c *CRS) projectionFromKeys(k geoKeys) *Projection {
	var p *Projection
	if q, ok := tableConversion(k.code(keyConversion)); ok {
		p = q
	} else if m, ok := geoMethods[k.short[keyMethod]]; ok {
		p = c.parametersFromKeys(k, m)
	} else {
		return nil
	}
	p.Ellipsoid = c.ellipsoidFromKeys(k)
	if p.PrimeMeridianRad == 0 {
		p.PrimeMeridianRad = k.double[keyPrimeMeridianLn] * angularFactor(k)
	}
	c.settleFalseOrigin(p)
	return p
}

func angularFactor(k geoKeys) float64 {
	if u, ok := unitByCode(k.code(keyAngularUnit)); ok && u.Rad > 0 {
		return u.Rad
	}
	if v := k.double[keyAngularSize]; v > 0 && v <= 1 && k.short[keyAngularUnit] == userDefined {
		return v
	}
	return degree.Rad
}

func (c *CRS) parametersFromKeys(k geoKeys, m Method) *Projection {
	first := func(keys ...int) (float64, bool) {
		for _, id := range keys {
			if v, ok := k.double[id]; ok {
				return v, true
			}
			if v, ok := k.short[id]; ok { // some writers store whole numbers in place
				return float64(v), true
			}
		}
		return 0, false
	}
	p := &Projection{Method: m, Name: table()["M"][int(m)], ScaleFactor: 1}
	angle := angularFactor(k)
	length := c.Horizontal.Unit.M
	if length == 0 {
		length = 1
	}
	lat, _ := first(latKeys...)
	lon, _ := first(lonKeys...)
	east, _ := first(eastingKeys...)
	north, _ := first(northingKeys...)
	sp1, _ := first(keyStdParallel1)
	sp2, _ := first(keyStdParallel2)
	p.LatOriginRad, p.LonOriginRad = lat*angle, lon*angle
	p.StdParallel1Rad, p.StdParallel2Rad = sp1*angle, sp2*angle
	p.FalseEastingM, p.FalseNorthingM = east*length, north*length
	if s, ok := first(scaleKeys...); ok && s > 0.1 && s < 10 { // 0 occurs for "not used"
		p.ScaleFactor = s
	}
	if a, ok := first(keyAzimuth); ok {
		p.Other = append(p.Other, Parameter{pAzimuth, a * angle})
		if r, ok := first(keyRectified); ok {
			p.Other = append(p.Other, Parameter{pRectified, r * angle})
		}
	}
	return p
}

// settleFalseOrigin decides whether false easting and northing of a system in feet
// were written in feet, as GeoTIFF asks, or in metres, as some writers do: the
// reading that is a projection of the EPSG table wins.
func (c *CRS) settleFalseOrigin(p *Projection) {
	u := c.Horizontal.Unit.M
	if u == 0 || u == 1 || p.FalseEastingM == 0 && p.FalseNorthingM == 0 || len(c.sameAs(p)) > 0 {
		return
	}
	q := *p
	q.FalseEastingM, q.FalseNorthingM = p.FalseEastingM/u, p.FalseNorthingM/u
	if len(c.sameAs(&q)) > 0 {
		p.FalseEastingM, p.FalseNorthingM = q.FalseEastingM, q.FalseNorthingM
		c.note("false easting and northing are stored in metres although the unit is %s: read as %.3f m and %.3f m", plural(c.Horizontal.Unit), p.FalseEastingM, p.FalseNorthingM)
	}
}

func (c *CRS) sameAs(p *Projection) []int {
	t := CRS{Horizontal: c.Horizontal, Projection: p}
	return t.SameProjection()
}

func (c *CRS) ellipsoidFromKeys(k geoKeys) Ellipsoid {
	if g, ok := tableGeodetic(k.code(keyGeodeticCRS)); ok {
		return g.ellipsoid
	}
	if _, e, _, ok := tableDatum(k.code(keyGeodeticDatum)); ok {
		return e
	}
	if e, ok := tableEllipsoid(k.code(keyEllipsoid)); ok {
		return e
	}
	a, invF, b := k.double[keySemiMajor], k.double[keyInvFlattening], k.double[keySemiMinor]
	if a > 1e6 && a < 1e8 {
		switch {
		case invF > 100:
		case b > 1e6 && b < a:
			invF = a / (a - b)
		default:
			invF = 0
		}
		return Ellipsoid{Name: "user-defined", A: a, InvF: math.Abs(invF)}
	}
	c.note("no ellipsoid stated: GRS 1980 assumed")
	return Ellipsoid{Name: "GRS 1980", A: 6378137, InvF: 298.257222101}
}
