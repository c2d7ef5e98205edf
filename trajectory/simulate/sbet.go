package simulate

import (
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"sidelap/las/disk"
)

// WriteTrajectory writes the used path as SBET: records of 17 little-endian
// doubles (time, latitude, longitude, ellipsoidal height, velocity x y z, roll, pitch,
// platform heading, wander angle, body acceleration, body rates). It is written apart
// from package trajectory so that its reader is checked against something else.
//
// Times are GPS seconds of week, from 0 again after the end of the week. Velocity is in the wander frame (north, east, down at
// wander 0). Accelerations are kinematic, without gravity, by central differences.
//
// Source: order of the fields as in reference section 12; units common practice.
func (f *Flight) WriteTrajectory(path string) error {
	return writeAtomic(path, func(w io.Writer) error {
		var rec [17]float64
		buf := make([]byte, 17*8)
		k := f.kinematics(f.Used)
		for i := range f.Used.TimeS {
			f.sbetRecord(&rec, i, k)
			for j, v := range rec {
				binary.LittleEndian.PutUint64(buf[8*j:], math.Float64bits(v))
			}
			if _, err := w.Write(buf); err != nil {
				return err
			}
		}
		return nil
	})
}

// kinematics holds the derivatives of a path.
type kinematics struct{ vE, vN, vU, aE, aN, aU, roll, pitch, heading []float64 }

func (f *Flight) kinematics(p *Path) *kinematics {
	r := p.rateHz
	k := &kinematics{vE: derivative(p.EM, r), vN: derivative(p.NM, r), vU: derivative(p.HM, r),
		roll: derivative(p.RollRad, r), pitch: derivative(p.PitchRad, r), heading: derivative(p.HeadingRad, r)}
	k.aE, k.aN, k.aU = derivative(k.vE, r), derivative(k.vN, r), derivative(k.vU, r)
	return k
}

func (f *Flight) sbetRecord(rec *[17]float64, i int, k *kinematics) {
	p := f.Used
	lat, lon := f.utm.Inverse(p.EM[i], p.NM[i])
	conv := f.utm.Convergence(lat, lon)
	wander := f.Scenario.Process.WanderDeg * math.Pi / 180
	sw, cw := math.Sincos(wander)
	sc, cc := math.Sincos(conv) // grid north is at true azimuth conv
	vN, vE := k.vN[i]*cc-k.vE[i]*sc, k.vN[i]*sc+k.vE[i]*cc
	c := Rotation(p.RollRad[i], p.PitchRad[i], p.HeadingRad[i])
	acc := c.ApplyT(Vec{k.aN[i], k.aE[i], -k.aU[i]})
	sr, cr := math.Sincos(p.RollRad[i])
	sp, cp := math.Sincos(p.PitchRad[i])
	height, heading := p.HM[i], p.HeadingRad[i]+conv
	if !f.Scenario.Faults.PathHeightsAboveGeoid {
		height += f.GeoidM(p.EM[i], p.NM[i])
	}
	if !f.Scenario.Faults.PathHeadingIsTrue {
		heading += wander
	}
	*rec = [17]float64{
		f.fileTimeS(p.TimeS[i]), lat, lon, height,
		vN*cw - vE*sw, vN*sw + vE*cw, -k.vU[i],
		p.RollRad[i], p.PitchRad[i], wrapPi(heading), wander,
		acc[0], acc[1], acc[2],
		// body rates of the roll-pitch-heading sequence
		k.roll[i] - k.heading[i]*sp,
		k.pitch[i]*cr + k.heading[i]*sr*cp,
		-k.pitch[i]*sr + k.heading[i]*cr*cp,
	}
}

// WriteAccuracy writes the accuracy companion of the path: records of 10 little-endian
// doubles, ten a second (time, position RMS N E D, velocity RMS N E D, roll, pitch and
// heading RMS in minutes of arc). Heading is stated worse until the manoeuvres have
// aligned it, positions where the base log does not cover.
func (f *Flight) WriteAccuracy(path string) error {
	s := &f.Scenario.Process
	step := max(int(f.Used.rateHz/10), 1)
	return writeAtomic(path, func(w io.Writer) error {
		for i := 0; i < f.Used.Len(); i += step {
			h, v := s.StatedHorizontalM, s.StatedVerticalM
			if !f.baseCovers(f.Used.TimeS[i]) {
				h, v = 40*h, 40*v
			}
			head := math.Hypot(s.StatedHeadingDeg, s.StatedHeadingUnaligned*f.align[i])
			rec := [10]float64{f.fileTimeS(f.Used.TimeS[i]), h, h, v, 0.01, 0.01, 0.01, 60 * s.StatedRollPitchDeg, 60 * s.StatedRollPitchDeg, 60 * head}
			if err := binary.Write(w, binary.LittleEndian, rec[:]); err != nil {
				return err
			}
		}
		return nil
	})
}

// fileTimeS is the time that path files hold for tS.
func (f *Flight) fileTimeS(tS float64) float64 {
	return inWeek(tS + f.Scenario.Faults.PathTimeLabelS)
}

// inWeek brings a time to [0, 604800), seconds of week.
func inWeek(tS float64) float64 {
	if tS >= 0 && tS < weekS {
		return tS // exactly as it is
	}
	return tS - weekS*math.Floor(tS/weekS)
}

// PathTimesS returns the times of the path in the time base of the cloud (without the
// faults of the points' times), seconds, not wrapped at the end of a week.
func (f *Flight) PathTimesS() []float64 {
	out := append([]float64(nil), f.Used.TimeS...)
	for i := range out {
		out[i] += f.pathShift()
	}
	return out
}

// WriteTrajectoryText writes the used path as text with a heading line: time (GPS seconds of week),
// easting, northing, height above the geoid, roll, pitch, grid heading in degrees, every stepth pose.
func (f *Flight) WriteTrajectoryText(path string, step int) error {
	if step < 1 {
		return fmt.Errorf("simulate: text path: step %d; it must be at least 1", step)
	}
	deg := 180 / math.Pi
	return writeAtomic(path, func(w io.Writer) error {
		fmt.Fprintln(w, "time_s,easting_m,northing_m,height_m,roll_deg,pitch_deg,heading_deg")
		p := f.Used
		for i := 0; i < p.Len(); i += step {
			if _, err := fmt.Fprintf(w, "%.4f,%.4f,%.4f,%.4f,%.5f,%.5f,%.5f\n", f.fileTimeS(p.TimeS[i]), p.EM[i], p.NM[i], p.HM[i],
				p.RollRad[i]*deg, p.PitchRad[i]*deg, mod2pi(p.HeadingRad[i])*deg); err != nil {
				return err
			}
		}
		return nil
	})
}

// writeAtomic writes a file under a temporary name and renames it when all is written. Its folder is made if absent.
func writeAtomic(path string, write func(io.Writer) error) error {
	if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
		return err
	}
	return disk.Write(path, write)
}
