package crs

import "math"

// Method is a map projection method by its EPSG code.
type Method int

// Methods whose parameters have their own fields in Projection. All others are
// known by name and carry their parameters in Projection.Other.
//
// Source: EPSG Guidance Note 7-2.
const (
	MethodUnknown             Method = 0
	LambertConformal1SP       Method = 9801
	LambertConformal2SP       Method = 9802
	LambertConformal2SPBelg   Method = 9803 // two standard parallels, Belgium
	LambertConformal2SPMich   Method = 1051 // two standard parallels, Michigan: with an ellipsoid scale
	TransverseMercator        Method = 9807
	TransverseMercatorSouth   Method = 9808 // south orientated: westing, southing
	MercatorA                 Method = 9804
	MercatorB                 Method = 9805
	ObliqueStereographic      Method = 9809
	PolarStereographicA       Method = 9810
	PolarStereographicB       Method = 9829
	HotineObliqueMercatorA    Method = 9812
	HotineObliqueMercatorB    Method = 9815
	Krovak                    Method = 9819
	KrovakNorth               Method = 1041
	LambertAzimuthalEqualArea Method = 9820
	AlbersEqualArea           Method = 9822
	CassiniSoldner            Method = 9806
	PseudoMercator            Method = 1024
	AmericanPolyconic         Method = 9818
	NewZealandMapGrid         Method = 9811
)

// Ellipsoid is an ellipsoid of revolution.
type Ellipsoid struct {
	Name string
	A    float64 // semi-major axis, metres
	InvF float64 // inverse flattening; 0 for a sphere
}

// F returns the flattening.
func (e Ellipsoid) F() float64 {
	if e.InvF == 0 {
		return 0
	}
	return 1 / e.InvF
}

// Projection is a map projection with its parameters, angles in radians, lengths in
// metres whatever the unit of the CRS. Longitudes count from the prime meridian.
// LatOriginRad and LonOriginRad are those of the natural origin, or of the false
// origin for two standard parallels; ScaleFactor is 1 where the method has none.
type Projection struct {
	Method           Method
	Name             string // of the method, e.g. "Transverse Mercator"
	Ellipsoid        Ellipsoid
	PrimeMeridianRad float64 // east of Greenwich
	LatOriginRad     float64
	LonOriginRad     float64
	StdParallel1Rad  float64
	StdParallel2Rad  float64
	ScaleFactor      float64
	FalseEastingM    float64
	FalseNorthingM   float64
	Other            []Parameter // parameters of the method that have no field above
}

// Parameter is a further parameter of a projection.
type Parameter struct {
	EPSG  int     // parameter code
	Value float64 // radians, metres or a ratio
}

// Codes of projection parameters.
//
// Source: EPSG Guidance Note 7-2.
const (
	pLatNatural    = 8801
	pLonNatural    = 8802
	pScaleNatural  = 8805
	pFalseEasting  = 8806
	pFalseNorthing = 8807
	pLatCentre     = 8811
	pLonCentre     = 8812
	pAzimuth       = 8813
	pRectified     = 8814
	pScaleInitial  = 8815
	pEastCentre    = 8816
	pNorthCentre   = 8817
	pPseudoPar     = 8818
	pPseudoScale   = 8819
	pLatFalse      = 8821
	pLonFalse      = 8822
	pStdPar1       = 8823
	pStdPar2       = 8824
	pEastFalse     = 8826
	pNorthFalse    = 8827
	pLatStdPar     = 8832
	pLonOrigin     = 8833
	pColatCone     = 1036
	pEllScale      = 1038
)

// parameterKind says what a parameter is: 'a' angle, 'l' length, 's' ratio.
func parameterKind(code int) byte {
	switch code {
	case pScaleNatural, pScaleInitial, pPseudoScale, pEllScale:
		return 's'
	case pFalseEasting, pFalseNorthing, pEastCentre, pNorthCentre, pEastFalse, pNorthFalse, 8837, 8838, 8825, 1039, 1040:
		return 'l'
	case pLatNatural, pLonNatural, pLatCentre, pLonCentre, pAzimuth, pRectified, pPseudoPar, pLatFalse, pLonFalse,
		pStdPar1, pStdPar2, pLatStdPar, pLonOrigin, pColatCone, 8830, 8831, 8834, 8835, 8836:
		return 'a'
	}
	return 's'
}

// set stores a parameter given in radians, metres or as a ratio.
func (p *Projection) set(code int, v float64) {
	switch code {
	case pLatNatural, pLatFalse, pLatCentre:
		p.LatOriginRad = v
	case pLonNatural, pLonFalse, pLonCentre, pLonOrigin:
		p.LonOriginRad = v
	case pScaleNatural, pScaleInitial, pPseudoScale:
		p.ScaleFactor = v
	case pFalseEasting, pEastFalse, pEastCentre:
		p.FalseEastingM = v
	case pFalseNorthing, pNorthFalse, pNorthCentre:
		p.FalseNorthingM = v
	case pStdPar1, pLatStdPar:
		p.StdParallel1Rad = v
	case pStdPar2:
		p.StdParallel2Rad = v
	default:
		p.Other = append(p.Other, Parameter{code, v})
	}
}

// other returns a parameter that has no field, or def.
func (p *Projection) other(code int, def float64) float64 {
	if v, ok := p.Parameter(code); ok {
		return v
	}
	return def
}

// Parameter returns a parameter that has no field of its own, by its EPSG code.
func (p *Projection) Parameter(epsg int) (value float64, ok bool) {
	for _, o := range p.Other {
		if o.EPSG == epsg {
			return o.Value, true
		}
	}
	return 0, false
}

// EllipsoidScale returns the scale of the ellipsoid, 1 but for the Michigan method.
func (p *Projection) EllipsoidScale() float64 { return p.other(pEllScale, 1) }

// sameMap reports whether two projections are the same but for the rounding that
// files do: 0.05 m in false origins, 1e-7 degrees (1 cm) in angles, 5e-7 in scale.
func (p *Projection) sameMap(q *Projection) bool {
	const angle = 1e-7 * math.Pi / 180
	eq := func(a, b, tol float64) bool { return math.Abs(a-b) <= tol }
	if p.Method != q.Method || len(p.Other) != len(q.Other) {
		return false
	}
	for i := range p.Other {
		if p.Other[i].EPSG != q.Other[i].EPSG || !eq(p.Other[i].Value, q.Other[i].Value, angle) {
			return false
		}
	}
	lo1, hi1 := math.Min(p.StdParallel1Rad, p.StdParallel2Rad), math.Max(p.StdParallel1Rad, p.StdParallel2Rad)
	lo2, hi2 := math.Min(q.StdParallel1Rad, q.StdParallel2Rad), math.Max(q.StdParallel1Rad, q.StdParallel2Rad)
	return eq(p.LatOriginRad, q.LatOriginRad, angle) && eq(p.LonOriginRad, q.LonOriginRad, angle) &&
		eq(lo1, lo2, angle) && eq(hi1, hi2, angle) && eq(p.ScaleFactor, q.ScaleFactor, 5e-7) &&
		eq(p.FalseEastingM, q.FalseEastingM, 0.05) && eq(p.FalseNorthingM, q.FalseNorthingM, 0.05)
}
