package blunder

import (
	"fmt"
	"math"

	"sidelap/trajectory/geodesy"
)

// frame is a reference frame against ITRF2014: coordinates in it are those in ITRF2014 of the same epoch moved by
// a Helmert transformation whose parameters change with time.
type frame struct {
	name    string
	shiftM  [3]float64
	rotMas  [3]float64 // milliarcseconds; a positive angle turns the position vector counter-clockwise
	ppb     float64
	rateM   [3]float64 // a year, like the other rates
	rateMas [3]float64
	ratePpb float64
	epoch   float64 // year that the parameters are of; 0: they do not change
}

// The frames. Sources: the EPSG dataset's transformations as PROJ's database holds them (ITRF2014 to
// NAD83(2011) and NAD83(CSRS)v7, to ETRF2000, to GDA2020, GDA94 to GDA2020), and the plate motion model of
// Altamimi et al. 2017, doi 10.1093/gji/ggx136, as in PROJ's file ITRF2014. The tests compare with PROJ.
var (
	frameNAD83 = frame{name: "NAD 83 (2011, CSRS)", shiftM: [3]float64{1.0053, -1.9092, -0.5416}, rotMas: [3]float64{-26.7814, 0.4203, -10.9321}, ppb: 0.37,
		rateM: [3]float64{0.0008, -0.0006, -0.0014}, rateMas: [3]float64{-0.0667, 0.7574, 0.0513}, ratePpb: -0.07, epoch: 2010}
	frameETRS89 = frame{name: "ETRS89 (ETRF2000)", shiftM: [3]float64{0.0547, 0.0522, -0.0741}, rotMas: [3]float64{1.701, 10.29, -16.632}, ppb: 2.12,
		rateM: [3]float64{0.0001, 0.0001, -0.0019}, rateMas: [3]float64{0.081, 0.49, -0.792}, ratePpb: 0.11, epoch: 2010}
	frameGDA2020 = frame{name: "GDA2020", rateMas: [3]float64{-1.50379, -1.18346, -1.20716}, epoch: 2020}
	frameGDA94   = frame{name: "GDA94", shiftM: [3]float64{-0.06155, 0.01087, 0.04019}, rotMas: [3]float64{-39.4924, -32.7221, -32.8979}, ppb: 9.994,
		rateMas: [3]float64{-1.50379, -1.18346, -1.20716}, epoch: 2020}
	frameITRF = frame{name: "ITRF or WGS 84 of the day"}
)

// Motions of plates, milliarcseconds a year.
var (
	plateEurasia      = [3]float64{-0.085, -0.531, 0.770}
	plateNorthAmerica = [3]float64{0.024, -0.694, -0.063}
	plateSouthAmerica = [3]float64{-0.270, -0.301, -0.140}
)

// plateFixed is ITRF2014 kept at an epoch by the motion of a plate, milliarcseconds a year.
func plateFixed(name string, epoch float64, plateMas [3]float64) frame {
	return frame{name: name, rateMas: [3]float64{-plateMas[0], -plateMas[1], -plateMas[2]}, epoch: epoch}
}

// offsetM is what the frame adds to Earth-centred coordinates in ITRF2014 of an epoch in years.
func (f *frame) offsetM(xM [3]float64, year float64) (d [3]float64) {
	t := year - f.epoch
	if f.epoch == 0 {
		t = 0
	}
	const mas = math.Pi / 180 / 3600e3
	var r [3]float64
	for i := range 3 {
		r[i] = (f.rotMas[i] + t*f.rateMas[i]) * mas
	}
	s := (f.ppb + t*f.ratePpb) * 1e-9
	d[0] = s*xM[0] - r[2]*xM[1] + r[1]*xM[2]
	d[1] = r[2]*xM[0] + s*xM[1] - r[0]*xM[2]
	d[2] = -r[1]*xM[0] + r[0]*xM[1] + s*xM[2]
	for i := range 3 {
		d[i] += f.shiftM[i] + t*f.rateM[i]
	}
	return d
}

// DatumCandidates lists what mixing two reference frames in use at the place would leave, cloud minus survey in the
// grid, for rule B8: every pair of frames in both orders. Latitude, longitude and the convergence of the grid (true azimuth of
// grid north) are radians, year is the date of the flight in years. Pairs that differ by less than 0.15 m cannot be told from none and are
// left out. None where no frames are known here (see regions).
//
// Limits: plates are taken as rigid (metres of earthquakes and decimetres at plate borders are not in it), heights
// as ellipsoidal differences that a common geoid model carries over.
func DatumCandidates(latRad, lonRad, convergenceRad, year float64) []DatumShift {
	x, y, z := geodesy.ToECEF(geodesy.GRS80, latRad, lonRad, 0)
	frames := framesAt(latRad*180/math.Pi, lonRad*180/math.Pi)
	var out []DatumShift
	for i := range frames {
		a := frames[i].offsetM([3]float64{x, y, z}, year)
		for k := range frames {
			b := frames[k].offsetM([3]float64{x, y, z}, year)
			e, n, h := localM(latRad, lonRad, [3]float64{a[0] - b[0], a[1] - b[1], a[2] - b[2]})
			if i == k || math.Sqrt(e*e+n*n+h*h) < 0.15 {
				continue
			}
			sin, cos := math.Sincos(convergenceRad)
			out = append(out, DatumShift{Name: fmt.Sprintf("cloud in %s, survey in %s", frames[i].name, frames[k].name), DEM: e*cos - n*sin, DNM: e*sin + n*cos, DHM: h})
		}
	}
	return out
}

// localM turns an Earth-centred difference into east, north and up at a place.
func localM(latRad, lonRad float64, d [3]float64) (eM, nM, hM float64) {
	sLat, cLat := math.Sincos(latRad)
	sLon, cLon := math.Sincos(lonRad)
	return -sLon*d[0] + cLon*d[1], -sLat*cLon*d[0] - sLat*sLon*d[1] + cLat*d[2], cLat*cLon*d[0] + cLat*sLon*d[1] + sLat*d[2]
}
