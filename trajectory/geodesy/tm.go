package geodesy

import (
	"fmt"
	"math"

	"sidelap/las/crs"
)

// transverseMercator is the ellipsoidal transverse Mercator by Krueger's series to
// sixth order in the third flattening.
type transverseMercator struct {
	e           float64 // eccentricity
	rectifying  float64 // scale factor times the rectifying radius, m
	k0          float64 // scale factor on the central meridian
	radiusRatio float64 // rectifying radius over semi-major axis
	n0          float64 // northing of the latitude of origin without false northing
	alpha, beta [7]float64
}

// tmMaxFlattening keeps the series where sixth order is enough.
const tmMaxFlattening = 1.0 / 150

func newTransverseMercator(p *crs.Projection) (*transverseMercator, error) {
	f := p.Ellipsoid.F()
	if f > tmMaxFlattening {
		return nil, fmt.Errorf("flattening 1/%g is too strong for the transverse Mercator series", p.Ellipsoid.InvF)
	}
	if !(p.ScaleFactor > 0.5 && p.ScaleFactor < 2) {
		return nil, fmt.Errorf("transverse Mercator scale factor %g is not plausible", p.ScaleFactor)
	}
	if !(math.Abs(p.LatOriginRad) < math.Pi/2) {
		return nil, fmt.Errorf("transverse Mercator latitude of origin %g degrees is not plausible", p.LatOriginRad*180/math.Pi)
	}
	n := f / (2 - f)
	t := &transverseMercator{e: math.Sqrt(f * (2 - f))}
	n2 := n * n
	t.k0 = p.ScaleFactor
	t.radiusRatio = (1 + n2*(1.0/4+n2*(1.0/64+n2/256))) / (1 + n) // Karney 2011, equation 14
	t.rectifying = t.k0 * t.radiusRatio * p.Ellipsoid.A
	t.alpha, t.beta = kruegerSeries(n)
	_, t.n0 = t.raw(p.LatOriginRad, 0)
	return t, nil
}

// kruegerSeries returns the coefficients of the series from conformal to rectifying
// coordinates and back. Source: Karney 2011, equations 35 and 36.
func kruegerSeries(n float64) (alpha, beta [7]float64) {
	p := [7]float64{1, n, n * n, n * n * n, 0, 0, 0}
	p[4], p[5], p[6] = p[2]*p[2], p[2]*p[3], p[3]*p[3]
	alpha = [7]float64{
		1: p[1]/2 - 2*p[2]/3 + 5*p[3]/16 + 41*p[4]/180 - 127*p[5]/288 + 7891*p[6]/37800,
		2: 13*p[2]/48 - 3*p[3]/5 + 557*p[4]/1440 + 281*p[5]/630 - 1983433*p[6]/1935360,
		3: 61*p[3]/240 - 103*p[4]/140 + 15061*p[5]/26880 + 167603*p[6]/181440,
		4: 49561*p[4]/161280 - 179*p[5]/168 + 6601661*p[6]/7257600,
		5: 34729*p[5]/80640 - 3418889*p[6]/1995840,
		6: 212378941 * p[6] / 319334400,
	}
	beta = [7]float64{
		1: p[1]/2 - 2*p[2]/3 + 37*p[3]/96 - p[4]/360 - 81*p[5]/512 + 96199*p[6]/604800,
		2: p[2]/48 + p[3]/15 - 437*p[4]/1440 + 46*p[5]/105 - 1118711*p[6]/3870720,
		3: 17*p[3]/480 - 37*p[4]/840 - 209*p[5]/4480 + 5569*p[6]/90720,
		4: 4397*p[4]/161280 - 11*p[5]/504 - 830251*p[6]/7257600,
		5: 4583*p[5]/161280 - 108847*p[6]/3991680,
		6: 20648693 * p[6] / 638668800,
	}
	return alpha, beta
}

// conformalTan returns the tangent of the conformal latitude (Karney 2011, equations 7-9).
func (t *transverseMercator) conformalTan(tau float64) float64 {
	s := math.Sinh(t.e * math.Atanh(t.e*tau/math.Hypot(1, tau)))
	return tau*math.Hypot(1, s) - s*math.Hypot(1, tau)
}

// geodeticTan inverts conformalTan by Newton's method (Karney 2011, equations 19-21).
func (t *transverseMercator) geodeticTan(conformal float64) float64 {
	e2 := t.e * t.e
	tau := conformal / (1 - e2)
	for range 8 {
		c := t.conformalTan(tau)
		d := (conformal - c) / math.Hypot(1, c) * (1 + (1-e2)*tau*tau) / ((1 - e2) * math.Hypot(1, tau))
		tau += d
		if math.Abs(d) <= 1e-15*math.Hypot(1, tau) {
			break
		}
	}
	return tau
}

// spherical returns the coordinates of the spherical transverse Mercator of the
// conformal latitude.
func (t *transverseMercator) spherical(lat, dlon float64) (xi, eta, tauC float64) {
	tauC = t.conformalTan(math.Tan(lat))
	s, c := math.Sincos(dlon)
	return math.Atan2(tauC, c), math.Asinh(s / math.Hypot(tauC, c)), tauC
}

func (t *transverseMercator) raw(lat, dlon float64) (e, n float64) {
	xi, eta, _ := t.spherical(lat, dlon)
	x, y := xi, eta
	for j := 1; j <= 6; j++ {
		s, c := math.Sincos(2 * float64(j) * xi)
		x += t.alpha[j] * s * math.Cosh(2*float64(j)*eta)
		y += t.alpha[j] * c * math.Sinh(2*float64(j)*eta)
	}
	return t.rectifying * y, t.rectifying * x
}

func (t *transverseMercator) forward(lat, dlon float64) (e, n float64) {
	e, n = t.raw(lat, dlon)
	return e, n - t.n0
}

func (t *transverseMercator) inverse(e, n float64) (lat, dlon float64) {
	xi, eta := (n+t.n0)/t.rectifying, e/t.rectifying
	if math.Abs(xi) > math.Pi/2 || math.Abs(eta) > 2 {
		return math.NaN(), math.NaN()
	}
	x, y := xi, eta
	for j := 1; j <= 6; j++ {
		s, c := math.Sincos(2 * float64(j) * xi)
		x -= t.beta[j] * s * math.Cosh(2*float64(j)*eta)
		y -= t.beta[j] * c * math.Sinh(2*float64(j)*eta)
	}
	sx, cx := math.Sincos(x)
	sh := math.Sinh(y)
	return math.Atan(t.geodeticTan(sx / math.Hypot(sh, cx))), math.Atan2(sh, cx)
}

// local follows Karney 2011, equations 23-25.
func (t *transverseMercator) local(lat, dlon float64) (convergence, scale float64) {
	xi, eta, tauC := t.spherical(lat, dlon)
	p, q := 1.0, 0.0
	for j := 1; j <= 6; j++ {
		s, c := math.Sincos(2 * float64(j) * xi)
		p += 2 * float64(j) * t.alpha[j] * c * math.Cosh(2*float64(j)*eta)
		q += 2 * float64(j) * t.alpha[j] * s * math.Sinh(2*float64(j)*eta)
	}
	sinLat := math.Sin(lat)
	tau := math.Tan(lat)
	s, c := math.Sincos(dlon)
	convergence = math.Atan2(tauC*s, c*math.Hypot(1, tauC)) + math.Atan2(q, p)
	scale = t.k0 * t.radiusRatio * math.Hypot(p, q) *
		math.Sqrt(1-t.e*t.e*sinLat*sinLat) * math.Hypot(1, tau) / math.Hypot(tauC, c)
	return convergence, scale
}
