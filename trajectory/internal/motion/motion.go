// Package motion invents the motion of a multirotor for tests: a script of
// stills, climbs, straight lines, turns and figure-eights, sampled with noise.
// It knows nothing of lidar; trajectory/simulate flies whole surveys.
package motion

import (
	"math"
	"math/rand/v2"
)

// Flight is a motion being written. Lengths metres, angles radians, times
// seconds; east, north, up; heading clockwise from north.
type Flight struct {
	RateHz                         float64
	NoiseM                         float64 // white noise of positions
	WindEMPS, WindNMPS             float64 // makes the crab angle
	T, E, N, H, Roll, Pitch, Head  []float64
	t, e, n, h, course, speed, vup float64
	rng                            *rand.Rand
	Marks                          []Mark // what the script did, the truth of the tests
}

// Mark is one step of the script.
type Mark struct {
	Kind       string
	Start, End float64
}

// New starts a flight on the ground at (e, n, h) at time t.
func New(t, e, n, h float64, seed uint64) *Flight {
	return &Flight{RateHz: 50, NoiseM: 0.005, t: t, e: e, n: n, h: h, rng: rand.New(rand.NewPCG(seed, 1))}
}

// Now returns the time reached.
func (f *Flight) Now() float64 { return f.t }

// Where returns position and course reached.
func (f *Flight) Where() (e, n, h, course float64) { return f.e, f.n, f.h, f.course }

func (f *Flight) run(kind string, d, turnRate, speedTo, climb float64) {
	dt := 1 / f.RateHz
	start := f.t
	for k := 0; k < int(math.Round(d*f.RateHz)); k++ {
		if dv := speedTo - f.speed; math.Abs(dv) > 2*dt {
			f.speed += math.Copysign(2*dt, dv)
		} else {
			f.speed = speedTo
		}
		if dv := climb - f.vup; math.Abs(dv) > 1.5*dt {
			f.vup += math.Copysign(1.5*dt, dv)
		} else {
			f.vup = climb
		}
		f.course += turnRate * dt
		s, c := math.Sincos(f.course)
		f.e, f.n, f.h = f.e+f.speed*s*dt, f.n+f.speed*c*dt, f.h+f.vup*dt
		f.t += dt
		f.sample(turnRate)
	}
	f.Marks = append(f.Marks, Mark{kind, start, f.t})
}

func (f *Flight) sample(turnRate float64) {
	g := func() float64 { return f.NoiseM * f.rng.NormFloat64() }
	s, c := math.Sincos(f.course)
	air := 0.0
	if f.speed > 1 { // nose into the relative wind
		air = math.Atan2(-f.WindEMPS*c+f.WindNMPS*s, f.speed-(f.WindEMPS*s+f.WindNMPS*c))
	}
	f.T, f.E, f.N, f.H = append(f.T, f.t), append(f.E, f.e+g()), append(f.N, f.n+g()), append(f.H, f.h+g())
	moving := min(1, f.speed)
	f.Roll = append(f.Roll, math.Atan(f.speed*turnRate/9.81)+moving*0.01*f.rng.NormFloat64())
	f.Pitch = append(f.Pitch, -0.01*f.speed+moving*0.01*f.rng.NormFloat64())
	h := math.Mod(f.course+air, 2*math.Pi)
	if h < 0 {
		h += 2 * math.Pi
	}
	f.Head = append(f.Head, h)
}

// Still stands on the ground, or hovers, for d seconds.
func (f *Flight) Still(d float64) { f.run("still", d, 0, 0, 0) }

// Climb goes up (or down) by dh metres at rate m/s.
func (f *Flight) Climb(dh, rate float64) {
	f.run("climb", math.Abs(dh)/rate, 0, 0, math.Copysign(rate, dh))
	f.run("hover", 2, 0, 0, 0)
}

// Line flies straight for d metres at speed m/s, the speed being reached first.
func (f *Flight) Line(d, speed float64) {
	f.run("accelerate", math.Abs(speed-f.speed)/2+0.1, 0, speed, 0)
	f.run("line", d/speed, 0, speed, 0)
}

// Turn turns by angle (right positive) on a circle of radius m.
func (f *Flight) Turn(angle, radius float64) {
	w := math.Copysign(f.speed/radius, angle)
	f.run("turn", angle/w, w, f.speed, 0)
}

// Eight flies a figure-eight of two full circles at speed m/s.
func (f *Flight) Eight(radius, speed float64) {
	f.run("accelerate", math.Abs(speed-f.speed)/2+0.1, 0, speed, 0)
	a := f.t
	f.Turn(2*math.Pi, radius)
	f.Turn(-2*math.Pi, radius)
	f.Marks = append(f.Marks, Mark{"eight", a, f.t})
}

// Stop brakes to a hover.
func (f *Flight) Stop() { f.run("stop", f.speed/2+1, 0, 0, 0) }

// Goto flies straight to (e, n) and stops there: a hover turn, a run, a stop.
func (f *Flight) Goto(e, n, speed float64) {
	f.Stop()
	dist, to := math.Hypot(e-f.e, n-f.n), math.Atan2(e-f.e, n-f.n)
	if dist < 1 {
		return
	}
	f.Yaw(to)
	ramp := speed * speed / 4 // distance to reach the speed at 2 m/s²
	if dist < 2*ramp+1 {
		speed = math.Sqrt(2 * (dist - 0.5))
		ramp = speed * speed / 4
	}
	f.run("transit", speed/2, 0, speed, 0)
	f.run("transit", max(0, dist-2*ramp)/speed, 0, speed, 0)
	f.Stop()
}

// Yaw turns on the spot to a course at 45 degrees a second.
func (f *Flight) Yaw(to float64) {
	d := math.Remainder(to-f.course, 2*math.Pi)
	f.run("yaw", math.Abs(d)/(math.Pi/4), math.Copysign(math.Pi/4, d), 0, 0)
	f.course = to
}
