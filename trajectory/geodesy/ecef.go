package geodesy

import (
	"math"

	"sidelap/las/crs"
)

// WGS84 and GRS80 are the ellipsoids of satellite navigation and of ETRS89 and NAD83.
// Source: EPSG ellipsoids 7030 and 7019.
var (
	WGS84 = crs.Ellipsoid{Name: "WGS 84", A: 6378137, InvF: 298.257223563}
	GRS80 = crs.Ellipsoid{Name: "GRS 1980", A: 6378137, InvF: 298.257222101}
)

// ToECEF returns Earth-centred coordinates in metres of a place in radians and its
// ellipsoidal height in metres.
func ToECEF(ell crs.Ellipsoid, latRad, lonRad, hM float64) (xM, yM, zM float64) {
	e2 := ell.F() * (2 - ell.F())
	sLat, cLat := math.Sincos(latRad)
	sLon, cLon := math.Sincos(lonRad)
	n := ell.A / math.Sqrt(1-e2*sLat*sLat)
	return (n + hM) * cLat * cLon, (n + hM) * cLat * sLon, (n*(1-e2) + hM) * sLat
}

// FromECEF returns latitude and longitude in radians and ellipsoidal height in
// metres of Earth-centred coordinates in metres. Within 50 km of the centre of the
// Earth latitude is not defined: NaN.
//
// Bowring's formula, iterated; better than 1e-9 m from -10 km to 40 000 km.
// Source: B. R. Bowring, Transformation from spatial to geographical coordinates,
// Survey Review 23 (1976) 323 (from memory; the tests check it by the way back).
func FromECEF(ell crs.Ellipsoid, xM, yM, zM float64) (latRad, lonRad, hM float64) {
	f := ell.F()
	e2 := f * (2 - f)
	b := ell.A * (1 - f)
	p := math.Hypot(xM, yM)
	if math.Hypot(p, zM) < 50e3 {
		return math.NaN(), math.NaN(), math.NaN()
	}
	lonRad = math.Atan2(yM, xM)
	beta := math.Atan2(zM, (1-f)*p)
	for range 4 {
		s, c := math.Sincos(beta)
		latRad = math.Atan2(zM+e2/(1-e2)*b*s*s*s, p-e2*ell.A*c*c*c)
		sLat, cLat := math.Sincos(latRad)
		beta = math.Atan2((1-f)*sLat, cLat)
	}
	sLat, cLat := math.Sincos(latRad)
	hM = p*cLat + zM*sLat - ell.A*math.Sqrt(1-e2*sLat*sLat)
	return latRad, lonRad, hM
}

// MeanRadius returns the mean radius of curvature sqrt(M N) at a latitude, metres.
func MeanRadius(ell crs.Ellipsoid, latRad float64) float64 {
	e2 := ell.F() * (2 - ell.F())
	s := math.Sin(latRad)
	return ell.A * math.Sqrt(1-e2) / (1 - e2*s*s)
}
