package geodesy

import (
	"fmt"
	"math"

	"sidelap/las/crs"
)

// lambertConformal is the ellipsoidal Lambert conformal conic.
//
// Source: EPSG Guidance Note 7-2, Lambert Conic Conformal (1SP), (2SP), (2SP
// Belgium) and (2SP Michigan).
type lambertConformal struct {
	e    float64 // eccentricity
	a0   float64 // semi-major axis, m
	a    float64 // the same times the ellipsoid scale of the Michigan variant
	k0   float64 // scale of the one-parallel method, 1 for the others
	n    float64 // constant of the cone
	f    float64
	r0   float64 // radius of the parallel of origin, m
	turn float64 // angle by which the Belgian variant turns the cone
}

// belgianTurnRad is 29.2985 arc-seconds. Source: EPSG Guidance Note 7-2.
const belgianTurnRad = 29.2985 / 3600 * math.Pi / 180

func newLambertConformal(p *crs.Projection) (*lambertConformal, error) {
	f := p.Ellipsoid.F()
	l := &lambertConformal{e: math.Sqrt(f * (2 - f)), a0: p.Ellipsoid.A, a: p.Ellipsoid.A, k0: 1}
	quarter := math.Pi / 2
	switch p.Method {
	case crs.LambertConformal1SP:
		l.k0 = p.ScaleFactor
		if !(l.k0 > 0.5 && l.k0 < 2) {
			return nil, fmt.Errorf("conic: scale factor %g is not plausible", p.ScaleFactor)
		}
		if !(math.Abs(p.LatOriginRad) > 1e-3 && math.Abs(p.LatOriginRad) < quarter) {
			return nil, fmt.Errorf("conic: latitude of origin %g degrees is not plausible", p.LatOriginRad*180/math.Pi)
		}
		l.n = math.Sin(p.LatOriginRad)
		l.f = l.m(p.LatOriginRad) / (l.n * math.Pow(l.t(p.LatOriginRad), l.n))
	default:
		s1, s2 := p.StdParallel1Rad, p.StdParallel2Rad
		if !(math.Abs(s1) < quarter && math.Abs(s2) < quarter && math.Abs(s1+s2) > 2e-3 && math.Abs(p.LatOriginRad) <= quarter) {
			return nil, fmt.Errorf("conic: standard parallels %g and %g degrees are not plausible", s1*180/math.Pi, s2*180/math.Pi)
		}
		if p.Method == crs.LambertConformal2SPMich {
			l.a *= p.EllipsoidScale()
		}
		if p.Method == crs.LambertConformal2SPBelg {
			l.turn = belgianTurnRad
		}
		l.n = math.Sin(s1)
		if math.Abs(s1-s2) > 1e-12 {
			l.n = (math.Log(l.m(s1)) - math.Log(l.m(s2))) / (math.Log(l.t(s1)) - math.Log(l.t(s2)))
		}
		l.f = l.m(s1) / (l.n * math.Pow(l.t(s1), l.n))
	}
	l.r0 = l.radius(p.LatOriginRad)
	if math.IsNaN(l.r0) || math.IsInf(l.r0, 0) {
		return nil, fmt.Errorf("conic: latitude of origin %g degrees lies at infinity", p.LatOriginRad*180/math.Pi)
	}
	return l, nil
}

func (l *lambertConformal) m(lat float64) float64 {
	s, c := math.Sincos(lat)
	return c / math.Sqrt(1-l.e*l.e*s*s)
}

func (l *lambertConformal) t(lat float64) float64 {
	es := l.e * math.Sin(lat)
	return math.Tan(math.Pi/4-lat/2) / math.Pow((1-es)/(1+es), l.e/2)
}

func (l *lambertConformal) radius(lat float64) float64 {
	t := l.t(lat)
	if t < 1e-15 { // the pole
		t = 0
	}
	return l.k0 * l.a * l.f * math.Pow(t, l.n)
}

func (l *lambertConformal) forward(lat, dlon float64) (e, n float64) {
	r := l.radius(lat)
	s, c := math.Sincos(l.n*dlon - l.turn)
	return r * s, l.r0 - r*c
}

func (l *lambertConformal) inverse(e, n float64) (lat, dlon float64) {
	sign := math.Copysign(1, l.n)
	r := sign * math.Hypot(e, l.r0-n)
	theta := math.Atan2(sign*e, sign*(l.r0-n))
	t := math.Pow(r/(l.k0*l.a*l.f), 1/l.n)
	lat = math.Pi/2 - 2*math.Atan(t)
	for range 12 {
		es := l.e * math.Sin(lat)
		next := math.Pi/2 - 2*math.Atan(t*math.Pow((1-es)/(1+es), l.e/2))
		done := math.Abs(next-lat) < 1e-15
		lat = next
		if done {
			break
		}
	}
	return lat, (theta + l.turn) / l.n
}

func (l *lambertConformal) local(lat, dlon float64) (convergence, scale float64) {
	return l.n*dlon - l.turn, l.n * l.radius(lat) / (l.a0 * l.m(lat))
}
