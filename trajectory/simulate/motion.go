package simulate

import (
	"math"
	"math/rand/v2"
)

const gravityMPS2 = 9.80665 // standard gravity, CGPM 1901

// motion is the true flight before faults.
type motion struct {
	path   *Path
	events []Event // of each pose
	turned []float64
}

// fly walks the legs at the path's rate and adds the attitude; it sets the times of the strips.
func (s *Scenario) fly(strips []Strip, sf *Surface) *motion {
	homeAt := s.home(strips)
	homeZ := sf.GroundM(homeAt.e, homeAt.n) + s.Plan.GroundClearanceM
	start, legs := s.route(strips, homeZ)
	w := s.walk(start, homeZ, legs, strips, sf)
	rate := s.Process.RateHz
	half := int(0.25*rate + 0.5)
	boxSmooth(w.e, half)
	boxSmooth(w.n, half)
	boxSmooth(w.z, 2*half)
	boxSmooth(w.az, half)
	boxSmooth(w.air, 2*half)
	p := newPath(len(w.e), s.Site.PowerOnS, rate)
	p.EM, p.NM, p.HM = w.e, w.n, w.z
	s.attitude(p, w)
	return &motion{path: p, events: w.events, turned: w.turned}
}

// walked holds the samples of the flight without attitude.
type walked struct {
	e, n, z, az, air []float64
	turned           []float64 // radians turned since power-on, any direction
	events           []Event
}

// walk steps along the legs with limited acceleration and climb.
func (s *Scenario) walk(at place, z float64, legs []leg, strips []Strip, sf *Surface) *walked {
	p := &s.Plan
	dt := 1 / s.Process.RateHz
	entry := entrySpeeds(legs, p.AccelMPS2)
	w := &walked{}
	var v, turned float64
	emit := func(q place, l *leg) {
		target := l.z
		if p.FollowTerrain && !l.ground && l.event != EventTakeOff && l.event != EventLanding {
			target += sf.GroundM(q.e, q.n) - s.Site.GroundM
		}
		z += min(max(target-z, -p.ClimbMPS*dt), p.ClimbMPS*dt)
		air := 1.0
		if l.ground {
			air = 0
		}
		w.e, w.n, w.z = append(w.e, q.e), append(w.n, q.n), append(w.z, z)
		w.az, w.air = append(w.az, q.az), append(w.air, air)
		w.events, w.turned = append(w.events, l.event), append(w.turned, turned)
	}
	now := func() float64 { return s.Site.PowerOnS + float64(len(w.e))*dt }
	var carry float64 // distance already flown into the next leg
	for i := range legs {
		l := &legs[i]
		if l.durS > 0 {
			v, carry = 0, 0
			for range int(l.durS*s.Process.RateHz + 0.5) {
				emit(at, l)
			}
			continue
		}
		markStrip(strips, l.strip, now, carry, v, true)
		d := carry
		for d < l.lenM {
			emit(at.along(d, l.curv), l)
			limit := math.Sqrt(entry[i+1]*entry[i+1] + 2*p.AccelMPS2*(l.lenM-d))
			v += min(max(min(l.speed, limit)-v, -1.5*p.AccelMPS2*dt), p.AccelMPS2*dt)
			v = math.Max(v, 0.15)
			d += v * dt
			turned += math.Abs(l.curv) * v * dt
		}
		carry = d - l.lenM
		markStrip(strips, l.strip, now, carry, v, false)
		at = at.along(l.lenM, l.curv)
	}
	return w
}

// markStrip notes when a strip starts or ends: now, less the time since its end point.
func markStrip(strips []Strip, number int, now func() float64, pastM, v float64, start bool) {
	if number == 0 {
		return
	}
	st := &strips[number-1]
	t := now()
	if v > 0 {
		t -= pastM / v
	}
	if start && st.StartS == 0 {
		st.StartS = t
	} else if !start {
		st.EndS = t
	}
}

// entrySpeeds returns the speed at which each leg may be entered so that all later ones can be met.
func entrySpeeds(legs []leg, accel float64) []float64 {
	v := make([]float64, len(legs)+1)
	for i := len(legs) - 1; i >= 0; i-- {
		if legs[i].durS > 0 {
			continue // enter at rest
		}
		v[i] = math.Min(legs[i].speed, math.Sqrt(v[i+1]*v[i+1]+2*accel*legs[i].lenM))
	}
	return v
}

// attitude derives heading, bank and pitch from the motion and adds jitter, wander and crab.
func (s *Scenario) attitude(p *Path, w *walked) {
	m, rate := &s.Motion, s.Process.RateHz
	ve, vn := derivative(p.EM, rate), derivative(p.NM, rate)
	ae, an := derivative(ve, rate), derivative(vn, rate)
	rng := rand.New(rand.NewPCG(s.Seed, 0xa771))
	rad := math.Pi / 180
	roll := newJitter(rng, 0.08, 4, m.RollRMSDeg*rad, 1/rate)
	pitch := newJitter(rng, 0.08, 4, m.PitchRMSDeg*rad, 1/rate)
	head := newJitter(rng, 0.05, 1.5, m.HeadingRMSDeg*rad, 1/rate)
	east := newJitter(rng, 0.03, 0.4, m.TrackRMSM, 1/rate)
	north := newJitter(rng, 0.03, 0.4, m.TrackRMSM, 1/rate)
	up := newJitter(rng, 0.03, 0.4, m.HeightRMSM, 1/rate)
	wind := m.WindFromDeg * rad
	for i := range p.TimeS {
		sin, cos := math.Sincos(w.az[i])
		fwd := ae[i]*sin + an[i]*cos
		right := ae[i]*cos - an[i]*sin
		v := math.Hypot(ve[i], vn[i])
		a := w.air[i]
		moving := math.Min(v/math.Max(s.Plan.SpeedMPS, 0.1), 1.5)
		p.RollRad[i] = a * (m.Bank*math.Atan(right/gravityMPS2) + roll.next())
		p.PitchRad[i] = a * (m.PitchTrimDeg*rad*moving - 0.5*m.Bank*math.Atan(fwd/gravityMPS2) + pitch.next())
		p.HeadingRad[i] = w.az[i] + a*(m.CrabDeg*rad*math.Sin(wind-w.az[i])*math.Min(moving, 1)+head.next())
		p.EM[i] += a * east.next()
		p.NM[i] += a * north.next()
		p.HM[i] += a * up.next()
	}
}

// jitter is a sum of sines with a falling spectrum, stepped by rotation.
type jitter struct{ re, im, c, s []float64 }

// newJitter spreads 14 sines of random phase over [f0, f1] Hz, log-spaced, amplitude
// falling as f^-0.6, with the given standard deviation.
func newJitter(rng *rand.Rand, f0, f1, rms, dt float64) *jitter {
	const n = 14
	j := &jitter{}
	if rms == 0 {
		return j
	}
	var power float64
	for k := range n {
		f := f0 * math.Pow(f1/f0, (float64(k)+rng.Float64())/n)
		a := math.Pow(f/f0, -0.6)
		power += a * a / 2
		ph := 2 * math.Pi * rng.Float64()
		s, c := math.Sincos(2 * math.Pi * f * dt)
		j.re, j.im = append(j.re, a*math.Sin(ph)), append(j.im, a*math.Cos(ph))
		j.c, j.s = append(j.c, c), append(j.s, s)
	}
	scale := rms / math.Sqrt(power)
	for k := range n {
		j.re[k] *= scale
		j.im[k] *= scale
	}
	return j
}

func (j *jitter) next() float64 {
	var sum float64
	for k := range j.re {
		sum += j.re[k]
		j.re[k], j.im[k] = j.re[k]*j.c[k]+j.im[k]*j.s[k], j.im[k]*j.c[k]-j.re[k]*j.s[k]
	}
	return sum
}
