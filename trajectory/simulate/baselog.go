package simulate

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"time"
)

// gpsEpoch is the origin of GPS time.
var gpsEpoch = time.Date(1980, 1, 6, 0, 0, 0, 0, time.UTC)

// DateOf returns the calendar date and time, GPS time scale, of a GPS second of the flight's week.
func (f *Flight) DateOf(sowS float64) time.Time {
	ns := math.Round(sowS * 1e7)
	return gpsEpoch.Add(time.Duration(f.Scenario.Site.GPSWeek) * 7 * 24 * time.Hour).Add(time.Duration(ns) * 100)
}

// PowerOffS returns the time of the last pose, GPS seconds of week.
func (f *Flight) PowerOffS() float64 { return f.True.TimeS[f.True.Len()-1] }

// baseEpochs returns the epochs of the base log, GPS seconds of week.
func (f *Flight) baseEpochs() []float64 {
	b := &f.Scenario.Base
	on := f.Scenario.Site.PowerOnS
	var out []float64
	for k := math.Ceil((on - b.LeadS) / b.IntervalS); k*b.IntervalS <= f.PowerOffS()+b.TrailS; k++ {
		if t := k * b.IntervalS; !inGap(b.Gaps, t-on) {
			out = append(out, t)
		}
	}
	return out
}

func inGap(gaps []Gap, t float64) bool {
	for _, g := range gaps {
		if t >= g.StartS && t < g.StartS+g.DurationS {
			return true
		}
	}
	return false
}

// baseCovers tells whether the base logs at tS.
func (f *Flight) baseCovers(tS float64) bool {
	b := &f.Scenario.Base
	on := f.Scenario.Site.PowerOnS
	return tS >= on-b.LeadS && tS <= f.PowerOffS()+b.TrailS && !inGap(b.Gaps, tS-on)
}

// WriteBaseLog writes the base station's log as a RINEX 3.04 observation file with code,
// phase and signal strength on two frequencies of two systems. Ranges are geometric,
// to satellites on nominal circular orbits, with receiver clock and noise: enough for
// every check of epochs, gaps, satellites and header, not for positioning.
//
// Source: RINEX 3.04 (IGS and RTCM SC-104, 2018), columns as in reference section 12.
func (f *Flight) WriteBaseLog(path string) error {
	return writeAtomic(path, func(w io.Writer) error {
		bw := bufio.NewWriter(w)
		epochs := f.baseEpochs()
		f.rinexHeader(bw, epochs)
		f.rinexEpochs(bw, epochs)
		return bw.Flush()
	})
}

func rinexLine(w io.Writer, body, label string) { fmt.Fprintf(w, "%-60.60s%s\n", body, label) }

func (f *Flight) rinexHeader(w io.Writer, epochs []float64) {
	b, st := &f.Scenario.Base, &f.Station
	xyz := ECEF(st.LatRad, st.LonRad, st.EllipsoidalM)
	for i := range xyz {
		xyz[i] += b.ApproxPositionOff / math.Sqrt(3)
	}
	interval := b.HeaderIntervalS
	if interval == 0 {
		interval = b.IntervalS
	}
	rinexLine(w, fmt.Sprintf("%9.2f%11s%-20s%-20s", 3.04, "", "OBSERVATION DATA", "M: MIXED"), "RINEX VERSION / TYPE")
	rinexLine(w, fmt.Sprintf("%-20s%-20s%s UTC", "sidelap simulate", "invented", f.DateOf(f.PowerOffS()).Format("20060102 150405")), "PGM / RUN BY / DATE")
	rinexLine(w, "Invented observations: nominal orbits, no real satellites", "COMMENT")
	rinexLine(w, b.Marker, "MARKER NAME")
	rinexLine(w, "GEODETIC", "MARKER TYPE")
	rinexLine(w, fmt.Sprintf("%-20s%-40s", "invented", "invented"), "OBSERVER / AGENCY")
	rinexLine(w, fmt.Sprintf("%-20s%-20s%-20s", "000001", "INVENTED RECEIVER", "1.0"), "REC # / TYPE / VERS")
	rinexLine(w, fmt.Sprintf("%-20s%-20s", "000001", "INVENTED ANTENNA NONE"), "ANT # / TYPE")
	rinexLine(w, fmt.Sprintf("%14.4f%14.4f%14.4f", xyz[0], xyz[1], xyz[2]), "APPROX POSITION XYZ")
	rinexLine(w, fmt.Sprintf("%14.4f%14.4f%14.4f", b.AntennaHeightM, 0.0, 0.0), "ANTENNA: DELTA H/E/N")
	rinexLine(w, "G    6 C1C L1C S1C C2W L2W S2W", "SYS / # / OBS TYPES")
	rinexLine(w, "E    6 C1C L1C S1C C5Q L5Q S5Q", "SYS / # / OBS TYPES")
	for _, p := range []string{"G L1C", "G L2W", "E L1C", "E L5Q"} {
		rinexLine(w, p, "SYS / PHASE SHIFT")
	}
	rinexLine(w, fmt.Sprintf("%10.3f", interval), "INTERVAL")
	if len(epochs) > 0 {
		rinexLine(w, rinexTime(f.DateOf(epochs[0])), "TIME OF FIRST OBS")
		rinexLine(w, rinexTime(f.DateOf(epochs[len(epochs)-1])), "TIME OF LAST OBS")
	}
	rinexLine(w, "", "END OF HEADER")
}

func rinexTime(t time.Time) string {
	sec := float64(t.Second()) + float64(t.Nanosecond())/1e9
	return fmt.Sprintf("%6d%6d%6d%6d%6d%13.7f     GPS", t.Year(), t.Month(), t.Day(), t.Hour(), t.Minute(), sec)
}

func (f *Flight) rinexEpochs(w *bufio.Writer, epochs []float64) {
	s := &f.Scenario
	st := &f.Station
	rng := rand.New(rand.NewPCG(s.Seed, 0xba5e))
	sats := constellation()
	phase := make([][2]float64, len(sats)) // ambiguities, cycles
	for i := range phase {
		phase[i] = [2]float64{math.Round(1e6 * rng.NormFloat64()), math.Round(1e6 * rng.NormFloat64())}
	}
	at := ECEF(st.LatRad, st.LonRad, st.EllipsoidalM+s.Base.AntennaHeightM)
	sl, cl := math.Sincos(st.LatRad)
	so, co := math.Sincos(st.LonRad)
	up := Vec{cl * co, cl * so, sl}
	mask := math.Sin(s.Base.MinElevationDeg * math.Pi / 180)
	type seen struct {
		sat  int
		rho  float64
		sinE float64
	}
	var list []seen
	for _, t := range epochs {
		list = list[:0]
		for i := range sats {
			p := sats[i].position(float64(s.Site.GPSWeek)*weekS + t)
			d := Vec{p[0] - at[0], p[1] - at[1], p[2] - at[2]}
			rho := math.Sqrt(d[0]*d[0] + d[1]*d[1] + d[2]*d[2])
			if sinE := (d[0]*up[0] + d[1]*up[1] + d[2]*up[2]) / rho; sinE > mask {
				list = append(list, seen{i, rho, sinE})
			}
		}
		d := f.DateOf(t)
		fmt.Fprintf(w, "> %04d %02d %02d %02d %02d %10.7f  0%3d\n", d.Year(), d.Month(), d.Day(), d.Hour(), d.Minute(),
			float64(d.Second())+float64(d.Nanosecond())/1e9, len(list))
		clock := 1200 + 0.35*(t-epochs[0]) // receiver clock, m
		for _, o := range list {
			sat := &sats[o.sat]
			snr := 34 + 16*o.sinE
			fmt.Fprintf(w, "%s", sat.id)
			for k, freq := range [2]float64{sat.freq1, sat.freq2} {
				code := o.rho + clock + 0.3*rng.NormFloat64()
				ph := (o.rho+clock+0.002*rng.NormFloat64())*freq/lightMPS + phase[o.sat][k]
				strength := min(max(int(snr/6), 1), 9)
				fmt.Fprintf(w, "%14.3f %d%14.3f %d%14.3f  ", code, strength, ph, strength, snr-3*float64(k)+0.4*rng.NormFloat64())
			}
			w.WriteByte('\n')
		}
	}
}
