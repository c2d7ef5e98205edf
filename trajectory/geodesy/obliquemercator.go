package geodesy

import (
	"fmt"
	"math"

	"sidelap/las/crs"
)

// obliqueMercator is Hotine's oblique Mercator, variants A and B (Switzerland,
// Hungary, Malaysia, Alaska zone 1, Michigan).
//
// Source: EPSG Guidance Note 7-2, Hotine Oblique Mercator.
type obliqueMercator struct {
	e, a, b, h float64
	lon0       float64 // longitude of the natural origin less that of the centre
	sin0, cos0 float64 // of the azimuth at the natural origin
	sinC, cosC float64 // of the angle from rectified to skew grid
	uc         float64 // variant B: distance of the centre along the initial line
}

func newObliqueMercator(p *crs.Projection) (*obliqueMercator, error) {
	azimuth, ok1 := p.Parameter(8813)
	rectified, ok2 := p.Parameter(8814)
	if !ok1 {
		return nil, fmt.Errorf("oblique Mercator without the azimuth of its initial line")
	}
	if !ok2 {
		rectified = azimuth
	}
	lat := p.LatOriginRad
	if !(math.Abs(lat) > 1e-3 && math.Abs(lat) < math.Pi/2-1e-3) || !(p.ScaleFactor > 0.5 && p.ScaleFactor < 2) {
		return nil, fmt.Errorf("oblique Mercator with latitude of centre %g degrees and scale %g is not plausible", lat*180/math.Pi, p.ScaleFactor)
	}
	f := p.Ellipsoid.F()
	o := &obliqueMercator{e: math.Sqrt(f * (2 - f))}
	e2 := o.e * o.e
	s, c := math.Sincos(lat)
	o.b = math.Sqrt(1 + e2*c*c*c*c/(1-e2))
	o.a = p.Ellipsoid.A * o.b * p.ScaleFactor * math.Sqrt(1-e2) / (1 - e2*s*s)
	d := o.b * math.Sqrt(1-e2) / (c * math.Sqrt(1-e2*s*s))
	root := math.Sqrt(max(d*d-1, 0))
	ff := d + math.Copysign(root, lat)
	o.h = ff * math.Exp(-o.b*isometric(lat, o.e))
	g := (ff - 1/ff) / 2
	gamma0 := math.Asin(math.Sin(azimuth) / max(d, 1))
	square := math.Abs(math.Abs(azimuth)-math.Pi/2) < 1e-12
	if square { // the sine below is 1 then, and its inverse loses half of the digits
		o.lon0 = -math.Copysign(math.Pi/2, azimuth*lat) / o.b
	} else {
		o.lon0 = -math.Asin(max(-1, min(g*math.Tan(gamma0), 1))) / o.b
	}
	o.sin0, o.cos0 = math.Sincos(gamma0)
	o.sinC, o.cosC = math.Sincos(rectified)
	if p.Method == crs.HotineObliqueMercatorB {
		if square {
			o.uc = -o.a * o.lon0
		} else {
			o.uc = math.Copysign(o.a/o.b*math.Atan2(root, math.Cos(azimuth)), lat)
		}
	}
	return o, nil
}

func (o *obliqueMercator) forward(lat, dlon float64) (e, n float64) {
	q := o.h * math.Exp(o.b*isometric(lat, o.e))
	s, t := (q-1/q)/2, (q+1/q)/2
	v, cos := math.Sincos(o.b * (dlon - o.lon0))
	u := (-v*o.cos0 + s*o.sin0) / t
	across := o.a * math.Log((1-u)/(1+u)) / (2 * o.b)
	along := o.a*math.Atan2(s*o.cos0+v*o.sin0, cos)/o.b - o.uc
	return across*o.cosC + along*o.sinC, along*o.cosC - across*o.sinC
}

func (o *obliqueMercator) inverse(e, n float64) (lat, dlon float64) {
	across := e*o.cosC - n*o.sinC
	along := n*o.cosC + e*o.sinC + o.uc
	q := math.Exp(-o.b * across / o.a)
	s, t := (q-1/q)/2, (q+1/q)/2
	v, cos := math.Sincos(o.b * along / o.a)
	u := (v*o.cos0 + s*o.sin0) / t
	psi := -math.Log(o.h/math.Sqrt((1+u)/(1-u))) / o.b
	return latitudeOf(psi, o.e), o.lon0 - math.Atan2(s*o.cos0-v*o.sin0, cos)/o.b
}
