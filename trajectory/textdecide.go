package trajectory

import (
	"math"
	"strconv"
	"strings"
)

func itoa(n int) string { return strconv.Itoa(n) }

// movingSpeed returns the median speed of x and y, in their units a second,
// over steps of at least half a second that move at all.
func movingSpeed(times, x, y []float64) float64 {
	var v []float64
	last := 0
	for i := range times {
		if dt := times[i] - times[last]; dt >= 0.5 || i == len(times)-1 && dt > 0 {
			if d := math.Hypot(x[i]-x[last], y[i]-y[last]) / dt; d > 0 {
				v = append(v, d)
			}
			last = i
		}
	}
	return median(v)
}

const degreeM = 111_200.0 // metres in a degree of a great circle, rounded

// plausibleSpeed: from a slow multirotor to a fast survey aircraft, m/s.
func plausibleSpeed(v float64) bool { return v > 0.3 && v < 350 }

// looksGeodetic reports whether x and y named as coordinates are degrees.
func (t *Track) looksGeodetic(x, y []float64) bool {
	if maxAbs(x) > 360 || maxAbs(y) > 90 {
		return false
	}
	v := movingSpeed(t.TimeS, x, y)
	return v > 0 && v < 0.02 && plausibleSpeed(v*degreeM)
}

// anglesToRadians converts all angles of the file to radians and reports
// whether a heading without a stated unit was taken as radians.
func (t *Track) anglesToRadians(l *layout) (headingByRange bool) {
	scale := func(v []float64) {
		for i := range v {
			v[i] *= math.Pi / 180
		}
	}
	if t.Geodetic {
		if t.positionDegrees(l) {
			scale(t.LatRad)
			scale(t.LonRad)
		}
		t.checkLatitude()
	}
	deg, stated := t.attitudeDegrees(l)
	if deg {
		for _, c := range [][]float64{t.RollRad, t.PitchRad, t.HeadingRad, t.WanderRad} {
			scale(c)
		}
	}
	return !deg && !stated
}

// positionDegrees settles the unit of latitude and longitude.
func (t *Track) positionDegrees(l *layout) bool {
	switch l.unitOf(roleLat) {
	case unitDegrees:
		return true
	case unitRadians:
		return false
	}
	lat, lon := maxAbs(t.LatRad), maxAbs(t.LonRad)
	if lat > math.Pi/2 || lon > 2*math.Pi {
		t.decide(true, "latitude and longitude are degrees", "up to %.3f and %.3f: no radians", lat, lon)
		return true
	}
	v := movingSpeed(t.TimeS, t.LonRad, t.LatRad)
	asDeg, asRad := v*degreeM, v*degreeM*toDeg
	switch {
	case plausibleSpeed(asRad) && !plausibleSpeed(asDeg):
		t.decide(true, "latitude and longitude are radians", "speed %.1f m/s, as degrees %.2f m/s", asRad, asDeg)
		return false
	case plausibleSpeed(asDeg) && !plausibleSpeed(asRad):
		t.decide(true, "latitude and longitude are degrees", "speed %.1f m/s, as radians %.0f m/s", asDeg, asRad)
		return true
	}
	t.decide(false, "latitude and longitude are radians", "values up to %.3f and %.3f; the speed is %.2f m/s as radians, %.2f as degrees", lat, lon, asRad, asDeg)
	t.warn("latitude and longitude are taken as radians: values and speed do not settle it; state the unit in the heading line")
	return false
}

// checkLatitude exchanges two columns when only that is possible.
func (t *Track) checkLatitude() {
	lat, lon := maxAbs(t.LatRad), maxAbs(t.LonRad)
	if lat > math.Pi/2 && lon <= math.Pi/2 {
		t.LatRad, t.LonRad = t.LonRad, t.LatRad
		t.decide(true, "longitude stands before latitude", "the column read as latitude reaches %.3f°", lat*toDeg)
		t.warn("latitude and longitude were exchanged: %.3f° cannot be a latitude", lat*toDeg)
	}
}

// attitudeDegrees settles the unit of roll, pitch and heading together.
func (t *Track) attitudeDegrees(l *layout) (degrees, stated bool) {
	for _, r := range []role{roleHeading, roleRoll, rolePitch} {
		switch l.unitOf(r) {
		case unitDegrees:
			return true, true
		case unitRadians:
			return false, true
		}
	}
	if t.RollRad == nil && t.PitchRad == nil && t.HeadingRad == nil {
		return false, true
	}
	h, a := maxAbs(t.HeadingRad), max(maxAbs(t.RollRad), maxAbs(t.PitchRad))
	if h > 2*math.Pi+0.02 || a > math.Pi+0.01 {
		t.decide(true, "attitude is degrees", "heading up to %.3f, roll and pitch up to %.3f: no radians", h, a)
		return true, false
	}
	// All of it fits radians. A path in degrees that never leaves ±6.3 flies
	// north all the time with angles below a few degrees.
	t.decide(h > 0.2, "attitude is radians", "heading up to %.3f, roll and pitch up to %.3f", h, a)
	return false, false
}

// finishSigma brings the accuracy columns of a text file into their units.
// Attitude accuracies take the unit their heading states, else minutes of arc
// if named RMS as in the companion format, else degrees.
func (t *Track) finishSigma(l *layout) {
	s := t.Sigma
	if s.EastM == nil && s.NorthM == nil && s.DownM == nil && s.RollRad == nil && s.PitchRad == nil && s.HeadingRad == nil {
		t.Sigma = nil
		return
	}
	s.TimeS, s.Path = t.TimeS, "columns of the path file"
	for r, c := range map[role][]float64{roleSRoll: s.RollRad, roleSPitch: s.PitchRad, roleSHeading: s.HeadingRad} {
		if c == nil {
			continue
		}
		k := math.Pi / 180
		w, u := plainWord(l.names[l.at[r]])
		switch {
		case l.unitOf(r) == unitRadians:
			k = 1
		case strings.HasPrefix(u, "arcmin") || u == "'" || strings.Contains(w, "rms") && u == "":
			k = arcmin
		}
		for i := range c {
			c[i] *= k
		}
	}
}

// decideOrder exchanges easting and northing (or latitude and longitude) of a
// file without heading words when only then the heading follows the course.
func (t *Track) decideOrder(l *layout) {
	if !l.byRange || l.orderSure || len(t.HeadingRad) != t.Len() {
		return
	}
	rms := func() (float64, int) {
		e, n := t.local()
		f := fitOffset(legs(t.TimeS, e, n), func(i int) float64 { return t.HeadingRad[i] })
		return f.rmsRad, f.legs
	}
	as, k := rms()
	if k == 0 {
		return
	}
	swap := func() { t.EM, t.NM, t.LatRad, t.LonRad = t.NM, t.EM, t.LonRad, t.LatRad }
	swap()
	other, _ := rms()
	if const25 := 25 * math.Pi / 180; as > const25 && other < const25 && maxAbs(t.LatRad) <= math.Pi/2 {
		t.decide(true, "northing (latitude) stands before easting (longitude)", "only then the heading follows the course: %.1f° (rms) instead of %.1f°", other*toDeg, as*toDeg)
		return
	}
	swap()
	if as < 25*math.Pi/180 {
		t.decide(true, "easting (longitude) and northing (latitude) in the order read", "the heading follows the course within %.1f° (rms)", as*toDeg)
	}
}
