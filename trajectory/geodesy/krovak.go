package geodesy

import (
	"fmt"
	"math"

	"sidelap/las/crs"
)

// krovak is the oblique conic of Czechia and Slovakia with axes to east and north,
// whose coordinates are negative there.
//
// Source: EPSG Guidance Note 7-2, Krovak (North Orientated).
type krovak struct {
	e, b, t0, n, r0 float64
	sinC, cosC      float64 // of the co-latitude of the cone axis
	tanP            float64 // tan(pi/4 + pseudo standard parallel / 2)
}

func newKrovak(p *crs.Projection) (*krovak, error) {
	colat, ok1 := p.Parameter(1036)
	parallel, ok2 := p.Parameter(8818)
	if !ok1 || !ok2 || !(p.ScaleFactor > 0.5 && p.ScaleFactor < 2) || !(parallel > 0.1 && parallel < 1.57) {
		return nil, fmt.Errorf("krovak projection without plausible co-latitude of the cone axis, pseudo standard parallel and scale")
	}
	f := p.Ellipsoid.F()
	k := &krovak{e: math.Sqrt(f * (2 - f))}
	e2 := k.e * k.e
	s, c := math.Sincos(p.LatOriginRad)
	a := p.Ellipsoid.A * math.Sqrt(1-e2) / (1 - e2*s*s)
	k.b = math.Sqrt(1 + e2*c*c*c*c/(1-e2))
	gamma := math.Asin(s / k.b)
	k.t0 = math.Tan(math.Pi/4+gamma/2) * math.Exp(-k.b*isometric(p.LatOriginRad, k.e))
	k.n = math.Sin(parallel)
	k.r0 = p.ScaleFactor * a / math.Tan(parallel)
	k.sinC, k.cosC = math.Sincos(colat)
	k.tanP = math.Tan(math.Pi/4 + parallel/2)
	return k, nil
}

func (k *krovak) forward(lat, dlon float64) (e, n float64) {
	u := 2 * (math.Atan(k.t0*math.Exp(k.b*isometric(lat, k.e))) - math.Pi/4)
	su, cu := math.Sincos(u)
	sv, cv := math.Sincos(-k.b * dlon)
	st := k.cosC*su + k.sinC*cu*cv
	ct := math.Sqrt(max(1-st*st, 0))
	d := math.Asin(cu * sv / ct)
	r := k.r0 * math.Pow(k.tanP/math.Tan(math.Asin(st)/2+math.Pi/4), k.n)
	s, c := math.Sincos(k.n * d)
	return -r * s, -r * c
}

func (k *krovak) inverse(e, n float64) (lat, dlon float64) {
	r := math.Hypot(e, n)
	d := math.Atan2(-e, -n) / k.n
	t := 2 * (math.Atan(math.Pow(k.r0/r, 1/k.n)*k.tanP) - math.Pi/4)
	st, ct := math.Sincos(t)
	sd, cd := math.Sincos(d)
	su := k.cosC*st - k.sinC*ct*cd
	u := math.Asin(su)
	v := math.Asin(ct * sd / math.Cos(u))
	psi := math.Log(math.Tan(u/2+math.Pi/4)/k.t0) / k.b
	return latitudeOf(psi, k.e), -v / k.b
}
