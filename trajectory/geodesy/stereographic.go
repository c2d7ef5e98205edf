package geodesy

import (
	"fmt"
	"math"

	"sidelap/las/crs"
)

// obliqueStereographic is the double stereographic projection (Netherlands, Romania).
//
// Source: EPSG Guidance Note 7-2, Oblique Stereographic.
type obliqueStereographic struct {
	e, n, c    float64 // eccentricity and constants of the conformal sphere
	size       float64 // twice the radius of the sphere times the scale factor, m
	chi0       float64 // conformal latitude of the origin
	sin0, cos0 float64
}

func newObliqueStereographic(p *crs.Projection) (*obliqueStereographic, error) {
	if !(math.Abs(p.LatOriginRad) > 1e-3 && math.Abs(p.LatOriginRad) < math.Pi/2-1e-3) {
		return nil, fmt.Errorf("oblique stereographic latitude of origin %g degrees is not plausible", p.LatOriginRad*180/math.Pi)
	}
	if !(p.ScaleFactor > 0.5 && p.ScaleFactor < 2) {
		return nil, fmt.Errorf("oblique stereographic scale factor %g is not plausible", p.ScaleFactor)
	}
	f := p.Ellipsoid.F()
	o := &obliqueStereographic{e: math.Sqrt(f * (2 - f))}
	e2 := o.e * o.e
	s, c := math.Sincos(p.LatOriginRad)
	o.n = math.Sqrt(1 + e2*c*c*c*c/(1-e2))
	w1 := math.Pow((1+s)/(1-s)*math.Pow((1-o.e*s)/(1+o.e*s), o.e), o.n)
	sinChi := (w1 - 1) / (w1 + 1)
	o.c = (o.n + s) * (1 - sinChi) / ((o.n - s) * (1 + sinChi))
	o.chi0 = math.Asin((o.c*w1 - 1) / (o.c*w1 + 1))
	o.sin0, o.cos0 = math.Sincos(o.chi0)
	o.size = 2 * MeanRadius(p.Ellipsoid, p.LatOriginRad) * p.ScaleFactor
	return o, nil
}

func (o *obliqueStereographic) forward(lat, dlon float64) (e, n float64) {
	s := math.Sin(lat)
	w := o.c * math.Pow((1+s)/(1-s)*math.Pow((1-o.e*s)/(1+o.e*s), o.e), o.n)
	sinChi := (w - 1) / (w + 1)
	cosChi := math.Sqrt(max(1-sinChi*sinChi, 0))
	sl, cl := math.Sincos(o.n * dlon)
	b := 1 + sinChi*o.sin0 + cosChi*o.cos0*cl
	return o.size * cosChi * sl / b, o.size * (sinChi*o.cos0 - cosChi*o.sin0*cl) / b
}

func (o *obliqueStereographic) inverse(e, n float64) (lat, dlon float64) {
	g := o.size * math.Tan(math.Pi/4-o.chi0/2)
	h := 2*o.size*math.Tan(o.chi0) + g
	i := math.Atan2(e, h+n)
	j := math.Atan2(e, g-n) - i
	chi := o.chi0 + 2*math.Atan((n-e*math.Tan(j/2))/o.size)
	dlon = (j + 2*i) / o.n
	s := math.Sin(chi)
	psi := 0.5 * math.Log((1+s)/(o.c*(1-s))) / o.n
	return latitudeOf(psi, o.e), dlon
}

// latitudeOf returns the latitude of an isometric latitude.
func latitudeOf(psi, e float64) float64 {
	lat := 2*math.Atan(math.Exp(psi)) - math.Pi/2
	for range 10 {
		es := e * math.Sin(lat)
		next := 2*math.Atan(math.Exp(psi)*math.Pow((1+es)/(1-es), e/2)) - math.Pi/2
		done := math.Abs(next-lat) < 1e-15
		lat = next
		if done {
			break
		}
	}
	return lat
}

// isometric returns the isometric latitude.
func isometric(lat, e float64) float64 {
	es := e * math.Sin(lat)
	return math.Log(math.Tan(math.Pi/4+lat/2) * math.Pow((1-es)/(1+es), e/2))
}
