package recover

import (
	"fmt"
	"math"

	"sidelap/trajectory"
)

// judge fills in what the leg is worth and drops a path that is worth nothing.
func (x *fitter) judge() {
	f := x.f
	var along, across, up, height, speed []float64
	for i := range x.e.bins {
		for j := range x.e.bins[i].pulses {
			p := &x.e.bins[i].pulses[j]
			height = append(height, f.s.at(p.timeS)[2]+f.origin[2]-p.last[2])
		}
		for j := range x.e.bins[i].rays {
			f.leg.Rays++
			if len(x.e.bins[i].pulses) == 0 {
				p := &x.e.bins[i].rays[j]
				height = append(height, f.s.at(p.timeS)[2]+f.origin[2]-p.last[2])
			}
		}
	}
	f.leg.HeightM = median(height)
	x.systematic()
	step := max((f.endS-f.startS)/40, knotS)
	for t := f.startS; t <= f.endS; t += step {
		c := f.covariance(t)
		v := f.s.speed(t)
		l := math.Hypot(v[0], v[1])
		speed = append(speed, l)
		fwd := [2]float64{0, 1}
		if l > 0.5 {
			fwd = [2]float64{v[0] / l, v[1] / l}
		}
		along = append(along, math.Sqrt(max(quadratic(c, fwd), 0)))
		across = append(across, math.Sqrt(max(quadratic(c, [2]float64{fwd[1], -fwd[0]}), 0)))
		up = append(up, math.Sqrt(max(c[2][2], 0)))
	}
	l := &f.leg
	l.SigmaAlongM, l.SigmaAcrossM, l.SigmaUpM = median(along), median(across), median(up)
	l.SpeedMPS = median(speed)
	pitchSigma := math.Sqrt(max(f.s.schur.At(unknownPitch, unknownPitch), 0))
	if !f.fromRays {
		pitchSigma = pitchPriorRad
	}
	limit := max(10, 0.1*l.HeightM) // a tenth of the height changes a correction by a tenth
	switch {
	case !(l.HeightM > 3):
		l.Reason = fmt.Sprintf("the path would lie %.1f m above the points", l.HeightM)
	case !(l.SigmaUpM < limit && l.SigmaAcrossM < limit && l.SigmaAlongM < limit):
		l.Reason = fmt.Sprintf("the position would be uncertain by %.0f m along, %.0f m across and %.0f m in height", l.SigmaAlongM, l.SigmaAcrossM, l.SigmaUpM)
	case l.SpeedMPS > 150:
		l.Reason = fmt.Sprintf("the path would move at %.0f m/s", l.SpeedMPS)
	default:
		f.solved = true
	}
	if !f.solved {
		if x.angles {
			l.Level = LevelNadir
		}
		return
	}
	l.HeadingFromLines = x.angles
	l.Level = LevelAngles
	if !x.angles || pitchSigma < pitchPriorRad/2 {
		l.Level = LevelRays
	}
	if x.angles {
		l.PitchSigmaRad = pitchSigma
		if l.Level == LevelRays {
			l.PitchRad = math.Atan(f.s.y[unknownPitch])
			if f.flipped() {
				l.PitchRad = -l.PitchRad
			}
		}
	}
}

// What the model leaves out, as a share of the height above ground: the LAS angle is
// the mirror angle less the roll to first order only, and jitter is faster than the spline.
const (
	floorHorizontal = 0.0005
	floorUp         = 0.001
)

// covariance returns the covariance of the position with that floor.
func (f *fitted) covariance(t float64) [3][3]float64 {
	c := f.s.covariance(t)
	for i, share := range [3]float64{floorHorizontal, floorHorizontal, floorUp} {
		s := share * max(f.leg.HeightM, 0)
		c[i][i] += s * s
	}
	if len(f.sweep) > 0 {
		r, h := f.right(t), max(f.leg.HeightM, 0)
		axes := [2][2]float64{{-r[1], r[0]}, r}
		for k, share := range [2]float64{f.systematic.along, f.systematic.across} {
			for i := range 2 {
				for j := range 2 {
					c[i][j] += share * share * h * h * axes[k][i] * axes[k][j]
				}
			}
		}
		c[2][2] += f.systematic.up * f.systematic.up * h * h
	}
	return c
}

// systematic fills in what errors of the angles may do to a path that rests on them.
//
// Where a strip is clipped to a tile, the noise e of angles with the spread s within a
// leg also flattens the regression: the height is too low by up to the share e²/s².
// Twice that share is taken.
func (x *fitter) systematic() {
	f := x.f
	if f.fromRays || !x.angles {
		return
	}
	offset, scale := x.anglePrior()
	var n, sum, square float64
	for i := range x.e.bins {
		for j := range x.e.bins[i].pulses {
			a := float64(x.e.bins[i].pulses[j].angle) * stepRad
			n++
			sum += a
			square += a * a
		}
	}
	noise := x.sideScale * math.Hypot(x.stepRad/math.Sqrt(12), wobbleRad)
	spread := square/n - sum*sum/(n*n)
	f.systematic.along, f.systematic.across = pitchPriorRad, offset
	f.systematic.up = math.Hypot(scale, 2*noise*noise/spread)
}

func quadratic(c [3][3]float64, u [2]float64) float64 {
	return u[0]*u[0]*c[0][0] + 2*u[0]*u[1]*c[0][1] + u[1]*u[1]*c[1][1]
}

// outputS is the distance of the samples of a recovered path.
const outputS = 0.25

// sigmaSamples bounds how many covariances of a leg are computed; between them sigma is linear.
const sigmaSamples = 200

// Standard deviations of the attitude that a recovered path assumes: level in roll,
// which a drone in light wind keeps within a few degrees.
const (
	rollSigmaRad    = 0.05
	headingFloorRad = 0.01
	courseSigmaRad  = 0.1 // of a course that stands for the heading: the crab is unknown
)

// pathBuilder joins the legs.
type pathBuilder struct {
	p       trajectory.Path
	sigma   trajectory.PathSigma
	heading bool // at least one leg has it from the scan lines
	legs    int
}

func (b *pathBuilder) add(f *fitted) {
	n := max(int(math.Ceil((f.endS-f.startS)/outputS)), 2)
	every := max(n/sigmaSamples, 1)
	b.heading = b.heading || f.leg.HeadingFromLines
	b.legs++
	flip := f.flipped()
	var next, last [3]float64
	for i := 0; i <= n; i++ {
		t := f.startS + (f.endS-f.startS)*float64(i)/float64(n)
		if i%every == 0 {
			last = sigmas(f.covariance(t))
			next = last
			if i+every <= n {
				next = sigmas(f.covariance(f.startS + (f.endS-f.startS)*float64(i+every)/float64(n)))
			}
		}
		if m := len(b.p.TimeS); m > 0 && t <= b.p.TimeS[m-1] {
			continue // legs that touch share a time
		}
		u := float64(i%every) / float64(every)
		p := f.s.at(t).add(f.origin)
		b.p.TimeS = append(b.p.TimeS, t)
		b.p.EM, b.p.NM, b.p.HM = append(b.p.EM, p[0]), append(b.p.NM, p[1]), append(b.p.HM, p[2])
		b.sigma.EastM = append(b.sigma.EastM, last[0]+u*(next[0]-last[0]))
		b.sigma.NorthM = append(b.sigma.NorthM, last[1]+u*(next[1]-last[1]))
		b.sigma.UpM = append(b.sigma.UpM, last[2]+u*(next[2]-last[2]))
		v := f.s.speed(t)
		heading, hs := trajectory.Wrap2Pi(math.Atan2(v[0], v[1])), courseSigmaRad
		if f.leg.HeadingFromLines {
			r := f.right(t)
			if flip {
				r[0], r[1] = -r[0], -r[1]
			}
			heading = trajectory.Wrap2Pi(math.Atan2(-r[1], r[0]))
			hs = math.Hypot(f.headingSigma(t), headingFloorRad)
		}
		b.p.HeadingRad = append(b.p.HeadingRad, heading)
		b.p.RollRad = append(b.p.RollRad, 0)
		b.p.PitchRad = append(b.p.PitchRad, f.leg.PitchRad)
		b.sigma.RollRad = append(b.sigma.RollRad, rollSigmaRad)
		ps := f.leg.PitchSigmaRad
		if math.IsNaN(ps) {
			ps = pitchPriorRad
		}
		b.sigma.PitchRad = append(b.sigma.PitchRad, math.Hypot(ps, pitchJitterRad))
		b.sigma.HeadingRad = append(b.sigma.HeadingRad, hs)
	}
}

func sigmas(c [3][3]float64) [3]float64 {
	var s [3]float64
	for i := range s {
		s[i] = math.Sqrt(max(c[i][i], 0))
	}
	return s
}

// flipped reports whether the scan angles grow to the left: the heading from them
// would point backward.
func (f *fitted) flipped() bool {
	against := 0
	for i := range f.sweep {
		v := f.s.speed(f.sweep[i].timeS)
		r := f.sweep[i].right
		if -r[1]*v[0]+r[0]*v[1] < 0 {
			against++
		}
	}
	return 2*against > len(f.sweep)
}

// headingSigma returns the standard deviation of the direction of the scan lines near t.
func (f *fitted) headingSigma(t float64) float64 {
	i := f.sweepAfter(t)
	return f.sweep[min(i, len(f.sweep)-1)].sigma
}

// path returns all legs as one path, or nil. Legs without scan lines take the course
// for the heading; a path of such legs alone has no attitude.
func (b *pathBuilder) path() *trajectory.Path {
	if b.legs == 0 {
		return nil
	}
	if !b.heading {
		b.p.RollRad, b.p.PitchRad, b.p.HeadingRad = nil, nil, nil
		b.sigma.RollRad, b.sigma.PitchRad, b.sigma.HeadingRad = nil, nil, nil
	}
	b.p.Sigma = &b.sigma
	b.p.Source = "recovered"
	return &b.p
}
