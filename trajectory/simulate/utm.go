package simulate

import "math"

// WGS 84 ellipsoid and UTM constants. Source: NGA.STND.0036 (WGS 84), EPSG method 9807.
const (
	wgs84A    = 6378137.0
	wgs84F    = 1 / 298.257223563
	utmScale  = 0.9996
	utmFalseE = 500000.0
	utmFalseN = 10000000.0 // southern hemisphere
)

// UTM projects between WGS 84 and one UTM zone by Krueger's series in the third
// flattening to the fourth order, better than a micrometre inside a zone.
//
// It is written apart from trajectory/geodesy on purpose: the known truth of tests
// must not stand on the code under test. Source: Krueger 1912 as given by Karney,
// "Transverse Mercator with an accuracy of a few nanometers", J. Geodesy 85 (2011), equations 35 and 36.
type UTM struct {
	Zone  int
	South bool
}

type kruger struct {
	a, e        float64
	alpha, beta [4]float64
}

var wgs84 = newKruger()

func newKruger() kruger {
	n := wgs84F / (2 - wgs84F)
	n2, n3, n4 := n*n, n*n*n, n*n*n*n
	return kruger{
		a: wgs84A / (1 + n) * (1 + n2/4 + n4/64),
		e: math.Sqrt(wgs84F * (2 - wgs84F)),
		alpha: [4]float64{
			n/2 - 2*n2/3 + 5*n3/16 + 41*n4/180,
			13*n2/48 - 3*n3/5 + 557*n4/1440,
			61*n3/240 - 103*n4/140,
			49561 * n4 / 161280,
		},
		beta: [4]float64{
			n/2 - 2*n2/3 + 37*n3/96 - n4/360,
			n2/48 + n3/15 - 437*n4/1440,
			17*n3/480 - 37*n4/840,
			4397 * n4 / 161280,
		},
	}
}

// CentralMeridianRad returns the longitude of the zone's axis.
func (u UTM) CentralMeridianRad() float64 { return float64(u.Zone*6-183) * math.Pi / 180 }

// Forward projects a geodetic position, radians, to grid metres.
func (u UTM) Forward(latRad, lonRad float64) (eM, nM float64) {
	k := &wgs84
	sin := math.Sin(latRad)
	t := math.Sinh(math.Atanh(sin) - k.e*math.Atanh(k.e*sin))
	sl, cl := math.Sincos(lonRad - u.CentralMeridianRad())
	xi1 := math.Atan2(t, cl)
	eta1 := math.Asinh(sl / math.Hypot(t, cl))
	xi, eta := xi1, eta1
	for j := range 4 {
		m := 2 * float64(j+1)
		xi += k.alpha[j] * math.Sin(m*xi1) * math.Cosh(m*eta1)
		eta += k.alpha[j] * math.Cos(m*xi1) * math.Sinh(m*eta1)
	}
	eM, nM = utmFalseE+utmScale*k.a*eta, utmScale*k.a*xi
	if u.South {
		nM += utmFalseN
	}
	return eM, nM
}

// Inverse returns the geodetic position, radians, of grid metres.
func (u UTM) Inverse(eM, nM float64) (latRad, lonRad float64) {
	k := &wgs84
	if u.South {
		nM -= utmFalseN
	}
	xi, eta := nM/(utmScale*k.a), (eM-utmFalseE)/(utmScale*k.a)
	xi1, eta1 := xi, eta
	for j := range 4 {
		m := 2 * float64(j+1)
		xi1 -= k.beta[j] * math.Sin(m*xi) * math.Cosh(m*eta)
		eta1 -= k.beta[j] * math.Cos(m*xi) * math.Sinh(m*eta)
	}
	sx, cx := math.Sincos(xi1)
	sh := math.Sinh(eta1)
	tau1 := sx / math.Hypot(sh, cx)
	tau := tau1
	e2 := k.e * k.e
	for range 6 { // Newton, Karney 2011, equations 19 to 21
		h := math.Hypot(1, tau)
		sigma := math.Sinh(k.e * math.Atanh(k.e*tau/h))
		t := tau*math.Hypot(1, sigma) - sigma*h
		d := (tau1 - t) / math.Hypot(1, t) * (1 + (1-e2)*tau*tau) / ((1 - e2) * h)
		tau += d
		if math.Abs(d) < 1e-15 {
			break
		}
	}
	return math.Atan(tau), u.CentralMeridianRad() + math.Atan2(sh, cx)
}

// Convergence returns the true azimuth of grid north, radians: grid heading is
// true heading minus it.
func (u UTM) Convergence(latRad, lonRad float64) float64 {
	const d = 2e-6
	e1, n1 := u.Forward(latRad-d, lonRad)
	e2, n2 := u.Forward(latRad+d, lonRad)
	return -math.Atan2(e2-e1, n2-n1)
}

// PointScale returns the grid length of one metre on the ellipsoid.
func (u UTM) PointScale(latRad, lonRad float64) float64 {
	const d = 2e-6
	e1, n1 := u.Forward(latRad-d, lonRad)
	e2, n2 := u.Forward(latRad+d, lonRad)
	s := wgs84.e * math.Sin(latRad)
	rm := wgs84A * (1 - wgs84.e*wgs84.e) / math.Pow(1-s*s, 1.5)
	return math.Hypot(e2-e1, n2-n1) / (2 * d * rm)
}

// ECEF returns the Earth-centred coordinates of a geodetic position, m.
func ECEF(latRad, lonRad, heightM float64) Vec {
	sl, cl := math.Sincos(latRad)
	so, co := math.Sincos(lonRad)
	e2 := wgs84.e * wgs84.e
	n := wgs84A / math.Sqrt(1-e2*sl*sl)
	return Vec{(n + heightM) * cl * co, (n + heightM) * cl * so, (n*(1-e2) + heightM) * sl}
}
