package rinex

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"strings"
	"time"

	"sidelap/trajectory/geodesy"
)

// Observation is one satellite at one epoch, with one value for each code of
// its system in the header; NaN is a missing one.
type Observation struct {
	Sat    string // "G07"
	Values []float64
}

// ObservationEpoch is what WriteObs writes for one instant.
type ObservationEpoch struct {
	GPSS float64
	Sats []Observation
}

// WriteObs writes a RINEX 3.04 observation file in GPS time. The header's
// Types say which codes each system has; interval, first and last observation
// are taken from the epochs.
func WriteObs(w io.Writer, h Header, epochs []ObservationEpoch) error {
	if len(epochs) == 0 {
		return fmt.Errorf("no epochs to write")
	}
	b := bufio.NewWriter(w)
	line := func(body, label string) { fmt.Fprintf(b, "%-60.60s%s\n", body, label) }
	line(fmt.Sprintf("%9.2f           OBSERVATION DATA    M: MIXED", 3.04), "RINEX VERSION / TYPE")
	line(fmt.Sprintf("%-20s%-20s%-20s", "sidelap", "", calendar(epochs[0].GPSS).Format("20060102 150405")+" UTC"), "PGM / RUN BY / DATE")
	line(h.Marker, "MARKER NAME")
	line(fmt.Sprintf("%-20s%-20s%-20s", "", h.Receiver, ""), "REC # / TYPE / VERS")
	line(fmt.Sprintf("%-20s%-20s", h.AntennaNumber, h.AntennaType), "ANT # / TYPE")
	line(fmt.Sprintf("%14.4f%14.4f%14.4f", h.XYZM[0], h.XYZM[1], h.XYZM[2]), "APPROX POSITION XYZ")
	line(fmt.Sprintf("%14.4f%14.4f%14.4f", h.DeltaHENM[0], h.DeltaHENM[1], h.DeltaHENM[2]), "ANTENNA: DELTA H/E/N")
	for _, sys := range []byte(Systems) {
		codes := h.Types[sys]
		for i := 0; i < len(codes); i += 13 {
			lead := "      "
			if i == 0 {
				lead = fmt.Sprintf("%c  %3d", sys, len(codes))
			}
			line(lead+" "+strings.Join(codes[i:min(i+13, len(codes))], " "), "SYS / # / OBS TYPES")
		}
	}
	var e []Epoch
	for _, x := range epochs {
		e = append(e, Epoch{GPSS: x.GPSS})
	}
	line(fmt.Sprintf("%10.3f", commonStep(e)), "INTERVAL")
	line(stamp(epochs[0].GPSS)+"     GPS", "TIME OF FIRST OBS")
	line(stamp(epochs[len(epochs)-1].GPSS)+"     GPS", "TIME OF LAST OBS")
	line("", "END OF HEADER")
	for _, x := range epochs {
		t := calendar(x.GPSS)
		fmt.Fprintf(b, "> %s%11.7f  0%3d\n", t.Format("2006 01 02 15 04"), float64(t.Second())+float64(t.Nanosecond())*1e-9, len(x.Sats))
		for _, s := range x.Sats {
			if len(s.Sat) != 3 || len(s.Values) != len(h.Types[s.Sat[0]]) {
				return fmt.Errorf("satellite %q has %d values, its system %d codes", s.Sat, len(s.Values), len(h.Types[s.Sat[0]]))
			}
			row := s.Sat
			for _, v := range s.Values {
				if math.IsNaN(v) {
					row += strings.Repeat(" ", 16)
				} else {
					row += fmt.Sprintf("%14.3f  ", v)
				}
			}
			fmt.Fprintln(b, strings.TrimRight(row, " "))
		}
	}
	return b.Flush()
}

func calendar(gps float64) time.Time {
	s := math.Floor(gps)
	return time.Unix(int64(s)+315964800, int64(math.Round((gps-s)*1e7))*100).UTC()
}

func stamp(gps float64) string {
	t := calendar(gps)
	return fmt.Sprintf("%6d%6d%6d%6d%6d%13.7f", t.Year(), t.Month(), t.Day(), t.Hour(), t.Minute(), float64(t.Second())+float64(t.Nanosecond())*1e-9)
}

// constellation is a family of circular orbits.
type constellation struct {
	sys          byte
	planes, each int
	radiusM      float64
	inclination  float64
	codes        []string
	hz           [2]float64
}

// Orbits and carriers of the interface documents, rounded; from memory. They
// only need to look like a sky.
var constellations = []constellation{
	{'G', 6, 5, 26.56e6, 55, []string{"C1C", "L1C", "S1C", "C2W", "L2W", "S2W"}, [2]float64{1575.42e6, 1227.60e6}},
	{'R', 3, 8, 25.51e6, 64.8, []string{"C1C", "L1C", "S1C", "C2P", "L2P", "S2P"}, [2]float64{1602.0e6, 1246.0e6}},
	{'E', 3, 8, 29.60e6, 56, []string{"C1C", "L1C", "S1C", "C5Q", "L5Q", "S5Q"}, [2]float64{1575.42e6, 1176.45e6}},
}

// InventedTypes are the codes of the observations that Invent makes.
func InventedTypes() map[byte][]string {
	m := map[byte][]string{}
	for _, c := range constellations {
		m[c.sys] = c.codes
	}
	return m
}

// Invent makes observations of an invented sky over a place (Earth-centred,
// metres): satellites on circular orbits above 10 degrees, two frequencies,
// ranges of the right size with some noise. They serve demos and tests; no
// position can be computed from them.
func Invent(xyzM [3]float64, startGPSS, endGPSS, stepS float64, seed uint64) []ObservationEpoch {
	rng := rand.New(rand.NewPCG(seed, 0x52494e4558))
	lat, lon, _ := geodesy.FromECEF(geodesy.WGS84, xyzM[0], xyzM[1], xyzM[2])
	up := [3]float64{math.Cos(lat) * math.Cos(lon), math.Cos(lat) * math.Sin(lon), math.Sin(lat)}
	var out []ObservationEpoch
	for k := 0; startGPSS+float64(k)*stepS <= endGPSS+1e-9; k++ {
		t := startGPSS + float64(k)*stepS
		e := ObservationEpoch{GPSS: t}
		for _, c := range constellations {
			for n := range c.planes * c.each {
				d := c.place(n, t)
				for i := range d {
					d[i] -= xyzM[i]
				}
				r := math.Sqrt(d[0]*d[0] + d[1]*d[1] + d[2]*d[2])
				sinEl := (d[0]*up[0] + d[1]*up[1] + d[2]*up[2]) / r
				if sinEl < math.Sin(10*math.Pi/180) {
					continue
				}
				o := Observation{Sat: fmt.Sprintf("%c%02d", c.sys, n+1)}
				for _, hz := range c.hz {
					o.Values = append(o.Values, r+0.3*rng.NormFloat64(), r*hz/299792458+0.01*rng.NormFloat64(), math.Round((30+20*sinEl+rng.NormFloat64())*4)/4)
				}
				e.Sats = append(e.Sats, o)
			}
		}
		out = append(out, e)
	}
	return out
}

// place returns satellite n of the constellation at a time, Earth-fixed, metres.
func (c constellation) place(n int, t float64) [3]float64 {
	const gm, earth = 3.986005e14, 7.2921151467e-5
	plane, slot := n/c.each, n%c.each
	w := math.Sqrt(gm / (c.radiusM * c.radiusM * c.radiusM))
	u := 2*math.Pi*(float64(slot)/float64(c.each)+float64(plane)/float64(c.planes*c.each)) + w*t
	node := 2*math.Pi*float64(plane)/float64(c.planes) - earth*t
	si, ci := math.Sincos(c.inclination * math.Pi / 180)
	su, cu := math.Sincos(u)
	sn, cn := math.Sincos(node)
	return [3]float64{c.radiusM * (cu*cn - su*ci*sn), c.radiusM * (cu*sn + su*ci*cn), c.radiusM * su * si}
}
