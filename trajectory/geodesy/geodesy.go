// Package geodesy turns geographic coordinates into grid coordinates and back.
//
// A Projector does the formulas of one map projection: forward, inverse, meridian
// convergence and point scale. The convergence is the true azimuth of grid north,
// positive east of the central meridian in the north, so that
//
//	grid heading = true heading - convergence.
//
// The point scale is grid length over ellipsoidal length. Latitudes, longitudes (from
// Greenwich, positive east) and directions are radians; eastings, northings and
// heights are metres whatever the unit of the CRS.
//
// Supported: transverse Mercator (all UTM zones, Gauss-Krueger, state plane zones
// that run north-south) and Lambert conformal conic with one or two standard
// parallels, with the variants of Belgium and Michigan; oblique stereographic
// (Netherlands, Romania), Hotine oblique Mercator (Switzerland, Hungary, Malaysia) and
// Krovak with axes to east and north (Czechia, Slovakia). Accuracy: better than 0.1 mm
// against PROJ within 10 degrees of the central meridian (tests). Others, and all that are
// not conformal, are refused with a message that says what is supported.
//
// Sources: C. F. F. Karney, Transverse Mercator with an accuracy of a few
// nanometers, J. Geodesy 85 (2011) 475, equations 7-9, 25, 35 and 36; EPSG Guidance
// Note 7-2, sections on the other methods.
//
// Not in scope: datum transformations, geoid heights, units other than metres.
package geodesy

import (
	"fmt"
	"math"

	"sidelap/las/crs"
)

// Projector holds the constants of one map projection. It is safe for concurrent use.
type Projector struct {
	lon0   float64 // longitude of the origin from Greenwich
	fe, fn float64
	ell    crs.Ellipsoid
	m      mapping
}

// mapping is a conformal projection on longitudes relative to its origin, without
// false origin.
type mapping interface {
	forward(lat, dlon float64) (e, n float64)
	inverse(e, n float64) (lat, dlon float64)
}

// localMapping has convergence and point scale in closed form.
type localMapping interface {
	local(lat, dlon float64) (convergence, scale float64)
}

// local returns convergence and point scale: in closed form, or from central
// differences of forward along the meridian, to about 1e-9.
func (q *Projector) local(lat, dlon float64) (convergence, scale float64) {
	if m, ok := q.m.(localMapping); ok {
		return m.local(lat, dlon)
	}
	const h = 3e-6
	e1, n1 := q.m.forward(lat-h, dlon)
	e2, n2 := q.m.forward(lat+h, dlon)
	f := q.ell.F()
	ecc := f * (2 - f)
	s := math.Sin(lat)
	meridian := q.ell.A * (1 - ecc) / math.Pow(1-ecc*s*s, 1.5)
	return -math.Atan2(e2-e1, n2-n1), math.Hypot(e2-e1, n2-n1) / (2 * h * meridian)
}

// maxDLonRad bounds how far from the central meridian a transverse Mercator is used;
// the series keeps nanometres to 35 degrees (Karney 2011, table 2).
const maxDLonRad = 35 * math.Pi / 180

// maxDLonConicRad bounds a conic.
const maxDLonConicRad = 120 * math.Pi / 180

// New returns the projector of p. Methods without formulas here are an error that
// names the method and what is supported.
func New(p *crs.Projection) (*Projector, error) {
	if p == nil {
		return nil, fmt.Errorf("the map projection is not known: state the coordinate reference system by an EPSG code or with its projection parameters")
	}
	if !(p.Ellipsoid.A > 0) || p.Ellipsoid.InvF < 0 || p.Ellipsoid.InvF > 0 && p.Ellipsoid.InvF < 10 {
		return nil, fmt.Errorf("ellipsoid with semi-major axis %g m and inverse flattening %g cannot be used", p.Ellipsoid.A, p.Ellipsoid.InvF)
	}
	q := &Projector{lon0: p.LonOriginRad + p.PrimeMeridianRad, fe: p.FalseEastingM, fn: p.FalseNorthingM, ell: p.Ellipsoid}
	var err error
	switch p.Method {
	case crs.TransverseMercator:
		q.m, err = newTransverseMercator(p)
	case crs.LambertConformal1SP, crs.LambertConformal2SP, crs.LambertConformal2SPBelg, crs.LambertConformal2SPMich:
		q.m, err = newLambertConformal(p)
	case crs.ObliqueStereographic:
		q.m, err = newObliqueStereographic(p)
	case crs.HotineObliqueMercatorA, crs.HotineObliqueMercatorB:
		q.m, err = newObliqueMercator(p)
	case crs.KrovakNorth:
		q.m, err = newKrovak(p)
	default:
		name := p.Name
		if name == "" {
			name = fmt.Sprintf("EPSG method %d", p.Method)
		}
		return nil, fmt.Errorf("map projection %q is not supported here (supported: transverse Mercator, UTM, Lambert conformal conic, oblique stereographic, oblique Mercator, Krovak with axes to east and north); deliver path and cloud in the same projected system, or project the path with another program", name)
	}
	if err != nil {
		return nil, err
	}
	return q, nil
}

// dlon returns the longitude from the central meridian in -pi..pi.
func (q *Projector) dlon(lonRad float64) float64 { return math.Remainder(lonRad-q.lon0, 2*math.Pi) }

func (q *Projector) check(lat, dlon float64) error {
	limit := maxDLonConicRad
	if _, tm := q.m.(*transverseMercator); tm {
		limit = maxDLonRad
	}
	switch {
	case !(math.Abs(lat) < math.Pi/2):
		return fmt.Errorf("latitude %.9g degrees cannot be projected", lat*180/math.Pi)
	case !(math.Abs(dlon) <= limit):
		return fmt.Errorf("longitude is %.6g degrees from the central meridian: wrong zone or wrong coordinate reference system", dlon*180/math.Pi)
	}
	return nil
}

// Forward returns easting and northing in metres of a place in radians.
func (q *Projector) Forward(latRad, lonRad float64) (eM, nM float64, err error) {
	d := q.dlon(lonRad)
	if err := q.check(latRad, d); err != nil {
		return 0, 0, err
	}
	e, n := q.m.forward(latRad, d)
	if math.IsNaN(e) || math.IsNaN(n) {
		return 0, 0, fmt.Errorf("latitude %.9g, longitude %.9g degrees cannot be projected", latRad*180/math.Pi, lonRad*180/math.Pi)
	}
	return e + q.fe, n + q.fn, nil
}

// Inverse returns latitude and longitude in radians of grid coordinates in metres.
func (q *Projector) Inverse(eM, nM float64) (latRad, lonRad float64, err error) {
	lat, d := q.m.inverse(eM-q.fe, nM-q.fn)
	if math.IsNaN(lat) || math.IsNaN(d) || q.check(lat, d) != nil {
		return 0, 0, fmt.Errorf("easting %.3f m, northing %.3f m lie outside the projection: wrong coordinate reference system or unit", eM, nM)
	}
	return lat, math.Remainder(d+q.lon0, 2*math.Pi), nil
}

// Convergence returns the true azimuth of grid north in radians: grid heading is
// true heading minus convergence.
func (q *Projector) Convergence(latRad, lonRad float64) float64 {
	c, _ := q.local(latRad, q.dlon(lonRad))
	return c
}

// PointScale returns the length on the grid of a unit length on the ellipsoid.
func (q *Projector) PointScale(latRad, lonRad float64) float64 {
	_, k := q.local(latRad, q.dlon(lonRad))
	return k
}

// CombinedScale returns the length on the grid of a unit length measured at
// ellipsoidal height hM: point scale times R/(R+h), R being the mean radius of
// curvature at the latitude.
func (q *Projector) CombinedScale(latRad, lonRad, hM float64) float64 {
	r := MeanRadius(q.ell, latRad)
	return q.PointScale(latRad, lonRad) * r / (r + hM)
}
