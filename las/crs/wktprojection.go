package crs

import (
	"math"
	"strings"
)

// methodNames maps the names of methods in WKT 1, its dialects and WKT 2, reduced
// to lower-case letters and digits, to EPSG method codes.
var methodNames = map[string]Method{
	"transversemercator":                     TransverseMercator,
	"gausskruger":                            TransverseMercator,
	"transversemercatorsouthorientated":      TransverseMercatorSouth,
	"transversemercatorsouthoriented":        TransverseMercatorSouth,
	"lambertconformalconic1sp":               LambertConformal1SP,
	"lambertconicconformal1sp":               LambertConformal1SP,
	"lambertconformalconic2sp":               LambertConformal2SP,
	"lambertconicconformal2sp":               LambertConformal2SP,
	"lambertconformalconic":                  LambertConformal2SP, // one or two parallels: see readProjection
	"lambertconformalconic2spbelgium":        LambertConformal2SPBelg,
	"lambertconicconformal2spbelgium":        LambertConformal2SPBelg,
	"lambertconformalconic2spmichigan":       LambertConformal2SPMich,
	"lambertconicconformal2spmichigan":       LambertConformal2SPMich,
	"mercator1sp":                            MercatorA,
	"mercatorvarianta":                       MercatorA,
	"mercator2sp":                            MercatorB,
	"mercatorvariantb":                       MercatorB,
	"mercator":                               MercatorB,
	"obliquestereographic":                   ObliqueStereographic,
	"doublestereographic":                    ObliqueStereographic,
	"polarstereographicvarianta":             PolarStereographicA,
	"polarstereographicvariantb":             PolarStereographicB,
	"polarstereographic":                     PolarStereographicA,
	"hotineobliquemercator":                  HotineObliqueMercatorA,
	"hotineobliquemercatorvarianta":          HotineObliqueMercatorA,
	"hotineobliquemercatorazimuthcenter":     HotineObliqueMercatorB,
	"hotineobliquemercatorvariantb":          HotineObliqueMercatorB,
	"rectifiedskeworthomorphiccenter":        HotineObliqueMercatorB,
	"rectifiedskeworthomorphicnaturalorigin": HotineObliqueMercatorA,
	"krovak":                                 Krovak,
	"krovaknorthorientated":                  KrovakNorth,
	"lambertazimuthalequalarea":              LambertAzimuthalEqualArea,
	"albersconicequalarea":                   AlbersEqualArea,
	"albersequalarea":                        AlbersEqualArea,
	"albers":                                 AlbersEqualArea,
	"cassinisoldner":                         CassiniSoldner,
	"cassini":                                CassiniSoldner,
	"popularvisualisationpseudomercator":     PseudoMercator,
	"mercatorauxiliarysphere":                PseudoMercator,
	"polyconic":                              AmericanPolyconic,
	"americanpolyconic":                      AmericanPolyconic,
	"newzealandmapgrid":                      NewZealandMapGrid,
}

// parameterNames maps names of parameters, reduced likewise, to EPSG parameter
// codes of the role they play (the field of Projection they go to).
var parameterNames = map[string]int{
	"latitudeoforigin":                    pLatNatural,
	"latitudeofnaturalorigin":             pLatNatural,
	"latitudeoffalseorigin":               pLatFalse,
	"latitudeofcenter":                    pLatCentre,
	"latitudeofcentre":                    pLatCentre,
	"latitudeofprojectioncentre":          pLatCentre,
	"centralmeridian":                     pLonNatural,
	"longitudeoforigin":                   pLonOrigin,
	"longitudeofnaturalorigin":            pLonNatural,
	"longitudeoffalseorigin":              pLonFalse,
	"longitudeofcenter":                   pLonCentre,
	"longitudeofcentre":                   pLonCentre,
	"longitudeofprojectioncentre":         pLonCentre,
	"scalefactor":                         pScaleNatural,
	"scalefactoratnaturalorigin":          pScaleNatural,
	"scalefactoroninitialline":            pScaleInitial,
	"scalefactoratprojectioncentre":       pScaleInitial,
	"standardparallel1":                   pStdPar1,
	"latitudeof1ststandardparallel":       pStdPar1,
	"latitudeofstandardparallel":          pLatStdPar,
	"standardparallel2":                   pStdPar2,
	"latitudeof2ndstandardparallel":       pStdPar2,
	"falseeasting":                        pFalseEasting,
	"eastingatfalseorigin":                pEastFalse,
	"eastingatprojectioncentre":           pEastCentre,
	"falsenorthing":                       pFalseNorthing,
	"northingatfalseorigin":               pNorthFalse,
	"northingatprojectioncentre":          pNorthCentre,
	"azimuth":                             pAzimuth,
	"azimuthofinitialline":                pAzimuth,
	"azimuthatprojectioncentre":           pAzimuth,
	"rectifiedgridangle":                  pRectified,
	"anglefromrectifiedtoskewgrid":        pRectified,
	"colatitudeofconeaxis":                pColatCone,
	"pseudostandardparallel1":             pPseudoPar,
	"latitudeofpseudostandardparallel":    pPseudoPar,
	"scalefactoronpseudostandardparallel": pPseudoScale,
	"ellipsoidscalingfactor":              pEllScale,
	"ellipsoidscalefactor":                pEllScale,
}

func reduce(s string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r >= 'a' && r <= 'z', r >= '0' && r <= '9':
			return r
		case r >= 'A' && r <= 'Z':
			return r + 'a' - 'A'
		}
		return -1
	}, s)
}

// readProjection reads the projection of a projected system, or returns nil.
func (c *CRS) readProjection(n *node) *Projection {
	holder, m := n, n.find("PROJECTION", "METHOD")
	if conv := n.find("CONVERSION"); conv != nil {
		holder = conv
	}
	if m == nil {
		return nil
	}
	p := &Projection{Name: strings.ReplaceAll(m.name(), "_", " "), ScaleFactor: 1}
	p.Method = methodNames[reduce(m.name())]
	if name, ok := table()["M"][m.epsg()]; ok {
		p.Method, p.Name = Method(m.epsg()), name
	}
	p.Ellipsoid = c.readEllipsoid(n)
	p.PrimeMeridianRad = readPrimeMeridian(n)
	angle := degree.Rad
	if g := n.find(append(append([]string{"BASEGEOGCRS", "BASEGEODCRS"}, geographicWords...), geodeticWords...)...); g != nil {
		if rad, _, ok := angleUnit(g); ok {
			angle = rad
		}
	}
	length := c.Horizontal.Unit.M
	if length == 0 {
		length = 1
	}
	seen := map[int]bool{}
	for _, k := range holder.kids {
		if k.keyword == "PARAMETER" {
			c.readParameter(p, k, angle, length, seen)
		}
	}
	if reduce(m.name()) == "lambertconformalconic" && (!seen[pStdPar2] || p.StdParallel1Rad == p.StdParallel2Rad) {
		p.Method = LambertConformal1SP
		if seen[pStdPar1] && !seen[pLatNatural] {
			p.LatOriginRad = p.StdParallel1Rad
		}
		if math.Abs(p.StdParallel1Rad-p.LatOriginRad) > 1e-12 {
			// One parallel that is not the origin is the case of two equal parallels.
			p.Method, p.StdParallel2Rad = LambertConformal2SP, p.StdParallel1Rad
		} else {
			p.StdParallel1Rad, p.StdParallel2Rad = 0, 0
		}
	}
	return p
}

func (c *CRS) readParameter(p *Projection, k *node, angle, length float64, seen map[int]bool) {
	v, ok := k.number(1)
	if !ok {
		c.note("projection parameter %q has no usable value", clip(k.name()))
		return
	}
	code := k.epsg()
	if code == 0 {
		code = parameterNames[reduce(k.name())]
	}
	if code == 0 {
		if v != 0 { // dialects add parameters that do nothing when zero
			c.note("projection parameter %q is not known here and was left out", clip(k.name()))
		}
		return
	}
	factor := 1.0
	switch parameterKind(code) {
	case 'a':
		factor = angle
	case 'l':
		factor = length
	}
	if u := k.kid("ANGLEUNIT", "LENGTHUNIT", "SCALEUNIT", "UNIT"); u != nil {
		if f, ok := u.number(1); ok && f > 0 {
			factor = f
		}
	}
	switch { // 15 digits of pi/180 and of the survey foot in files
	case near(factor, degree.Rad, 1e-9):
		factor = degree.Rad
	case near(factor, SurveyFootM, 1e-8):
		factor = SurveyFootM
	}
	seen[code] = true
	p.set(code, v*factor)
}

func (c *CRS) readEllipsoid(n *node) Ellipsoid {
	s := n.find("SPHEROID", "ELLIPSOID")
	if s == nil {
		c.note("no ellipsoid stated: GRS 1980 assumed")
		return Ellipsoid{Name: "GRS 1980", A: 6378137, InvF: 298.257222101}
	}
	e := Ellipsoid{Name: s.name()}
	a, okA := s.number(1)
	invF, okF := s.number(2)
	if u := s.kid("LENGTHUNIT"); u != nil {
		if f, ok := u.number(1); ok && f > 0 {
			a *= f
		}
	}
	if okA && okF && a > 1e6 && a < 1e8 && (invF == 0 || invF > 100) {
		e.A, e.InvF = a, invF
		return e
	}
	if t, ok := tableEllipsoid(s.epsg()); ok {
		return t
	}
	c.note("the ellipsoid %q has no usable axes: GRS 1980 assumed", clip(e.Name))
	return Ellipsoid{Name: "GRS 1980", A: 6378137, InvF: 298.257222101}
}

// readPrimeMeridian returns the longitude of the prime meridian. WKT 1 writers give
// it in degrees whatever the unit of the system, but some give Paris in grads.
func readPrimeMeridian(n *node) float64 {
	m := n.find("PRIMEM", "PRIMEMERIDIAN")
	if m == nil {
		return 0
	}
	v, _ := m.number(1)
	if u := m.kid("ANGLEUNIT", "UNIT"); u != nil {
		if f, ok := u.number(1); ok && f > 0 {
			return v * f
		}
	}
	if math.Abs(v-2.5969213) < 1e-5 {
		return v * math.Pi / 200
	}
	return v * degree.Rad
}
