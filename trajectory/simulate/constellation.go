package simulate

import "math"

// satellite is one satellite on a circular orbit.
type satellite struct {
	id           string // RINEX, e.g. G07
	radiusM      float64
	inclRad      float64
	nodeRad      float64 // right ascension of the ascending node at time 0, Earth-fixed
	phaseRad     float64 // argument of latitude at time 0
	freq1, freq2 float64 // carrier frequencies, Hz
}

// Constants of WGS 84 and of the signals. Source: NGA.STND.0036; interface
// documents IS-GPS-200 and Galileo OS SIS ICD (from memory).
const (
	earthGM      = 3.986004418e14 // m3/s2
	earthRateRad = 7.292115e-5    // rad/s
	lightMPS     = 299792458.0
	freqL1       = 1575.42e6
	freqL2       = 1227.60e6
	freqE5a      = 1176.45e6
)

// constellation returns 30 satellites in six planes and 24 in three: the nominal
// geometry of two global systems, not the true satellites of any day.
func constellation() []satellite {
	var out []satellite
	add := func(system byte, planes, each int, radius, inclDeg, shift, f2 float64) {
		n := 0
		for p := range planes {
			for k := range each {
				n++
				out = append(out, satellite{
					id: string([]byte{system, byte('0' + n/10), byte('0' + n%10)}), radiusM: radius, inclRad: inclDeg * math.Pi / 180,
					nodeRad:  2 * math.Pi * (float64(p) + shift) / float64(planes),
					phaseRad: 2 * math.Pi * (float64(k)/float64(each) + float64(p)/float64(planes*each)),
					freq1:    freqL1, freq2: f2,
				})
			}
		}
	}
	add('G', 6, 5, 26559700, 55, 0.2, freqL2)
	add('E', 3, 8, 29600300, 56, 0.6, freqE5a)
	return out
}

// position returns Earth-fixed coordinates at t seconds, m.
func (s *satellite) position(t float64) Vec {
	n := math.Sqrt(earthGM / (s.radiusM * s.radiusM * s.radiusM))
	su, cu := math.Sincos(s.phaseRad + n*t)
	so, co := math.Sincos(s.nodeRad - earthRateRad*t)
	si, ci := math.Sincos(s.inclRad)
	return Vec{s.radiusM * (cu*co - su*ci*so), s.radiusM * (cu*so + su*ci*co), s.radiusM * su * si}
}
