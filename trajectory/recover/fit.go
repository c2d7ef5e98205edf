package recover

import (
	"fmt"
	"math"
	"sort"
)

// What the fit assumes, all common practice rather than published figures.
const (
	knotS          = 0.5   // distance of the knots
	jerkHorizontal = 1.5   // standard deviation of the third derivative, m/s3
	jerkUp         = 0.7   //
	pitchPriorRad  = 0.08  // mean pitch of a drone at survey speed, and of a tilted mount
	pitchJitterRad = 0.02  // about that mean
	pitchJitterS   = 1.0   // time over which the jitter is alike
	rayFloorRad    = 1e-4  // direction of the best ray
	scatterLimit   = 0.06  // off the scan line over the height: more is no line scanner
	wobbleRad      = 0.001 // error of a scan angle that is alike for a second (roll not quite in it)
	scaleLimit     = 3     // residuals along the flight this many times larger than the jitter: no line scanner
	fineOffsetRad  = 0.002 // systematic error of finely stored angles
	fineScale      = 0.003
	wholeOffsetRad = 0.006 // of angles in whole degrees, which some writers cut off and others round
	wholeScale     = 0.02
	minRays        = 20  // a leg with fewer rests on its angles
	huberRounds    = 3   // with weights that drop nothing
	rounds         = 12  // at most
	minLegS        = 1.0 // shorter legs are not fitted
)

// The further unknowns of a leg.
const (
	unknownPitch  = iota // tangent of the mean pitch
	unknownOffset        // scan angle offset, radians
	unknownScale         // scan angle scale
)

// fitted is one leg with its spline.
type fitted struct {
	leg    Leg
	solved bool
	s      *spline
	origin vec
	sweep  []sweep // usable ones in time order
	startS float64
	endS   float64

	// fromRays: there are enough rays to find the further unknowns. Without them the
	// wiggle of the scan lines would seem to tell the pitch, and the curve of the tangent the
	// scale, through errors that no one knows: they are then held at zero and what
	// that may cost is in systematic.
	fromRays   bool
	systematic struct{ along, across, up float64 } // shares of the height
}

// fitter holds the observations of one leg.
type fitter struct {
	e         *evidence
	f         *fitted
	angles    bool // the scan angles are used
	stepRad   float64
	resM      float64
	rayScale  float64
	sideScale float64
	foreScale float64
}

func (e *evidence) fit(resM float64) *fitted {
	f := &fitted{startS: e.startS(), endS: e.endS()}
	f.leg = Leg{Sources: e.sources, StartS: f.startS, EndS: f.endS, Level: LevelNone, PitchSigmaRad: math.NaN()}
	rays := 0
	for i := range e.bins {
		f.leg.Pulses += len(e.bins[i].pulses)
		rays += len(e.bins[i].rays)
	}
	if f.endS-f.startS < minLegS {
		f.leg.Reason = fmt.Sprintf("only %.1f s long", f.endS-f.startS)
		return f
	}
	x := &fitter{e: e, f: f, resM: max(resM, 1e-4), rayScale: 1, sideScale: 1, foreScale: 1}
	x.useAngles()
	f.fromRays = rays >= minRays
	if !x.angles && !f.fromRays {
		if f.leg.Reason == "" {
			f.leg.Reason = "the scan angles do not vary"
		}
		f.leg.Reason += fmt.Sprintf(", and only %d pulses have returns far apart", rays)
		return f
	}
	f.origin = e.bins[len(e.bins)/2].anyPlace()
	f.s = newSpline(f.startS, f.endS, knotS)
	ok := x.iterate()
	if ok && x.angles && x.foreScale > scaleLimit {
		f.leg.Reason = fmt.Sprintf("the returns lie off straight scan lines by %.0f times the jitter of a line scanner", x.foreScale)
		if !f.fromRays {
			return f
		}
		x.angles, f.sweep = false, nil
		f.s.y = nil
		ok = x.iterate()
	}
	if !ok {
		f.leg.Reason = "the evidence does not determine a path"
		return f
	}
	x.judge()
	return f
}

func (b *timeBin) anyPlace() vec {
	if len(b.pulses) > 0 {
		return b.pulses[0].last
	}
	return b.rays[0].last
}

// useAngles decides whether the scan angles are those of a line scanner.
func (x *fitter) useAngles() {
	step, varies := x.e.angleStepRad()
	x.stepRad = step
	if !varies {
		x.f.leg.Reason = "the scan angles do not vary"
		return
	}
	var scatter []float64
	for _, s := range x.e.sweeps() {
		if s.ok {
			x.f.sweep = append(x.f.sweep, s)
			scatter = append(scatter, s.scatter)
		}
	}
	x.f.sweep = smooth(steady(x.f.sweep))
	switch m := median(scatter); {
	case len(scatter) == 0:
		x.f.leg.Reason = "too few pulses or too narrow a sweep to see scan lines"
	case m > scatterLimit:
		x.f.leg.Reason = fmt.Sprintf("the returns scatter by %.0f %% of the height along the flight: no line scanner, or several", 100*m)
		x.f.sweep = nil
	default:
		x.angles = true
	}
}

// sweepAfter returns the index of the first sweep after t.
func (f *fitted) sweepAfter(t float64) int {
	return sort.Search(len(f.sweep), func(i int) bool { return f.sweep[i].timeS > t })
}

// right returns the unit vector to the right at t, between the sweeps on both sides.
func (f *fitted) right(t float64) [2]float64 {
	n, i := len(f.sweep), f.sweepAfter(t)
	a, b := f.sweep[max(i-1, 0)], f.sweep[min(i, n-1)]
	u := 0.0
	if b.timeS > a.timeS {
		u = min(max((t-a.timeS)/(b.timeS-a.timeS), 0), 1)
	}
	e, no := (1-u)*a.right[0]+u*b.right[0], (1-u)*a.right[1]+u*b.right[1]
	if l := math.Hypot(e, no); l > 0.1 {
		return [2]float64{e / l, no / l}
	}
	return a.right
}

// iterate solves with weights that follow from the solution before.
func (x *fitter) iterate() bool {
	at := x.start()
	var before []float64
	for round := range rounds {
		x.equations(at, round)
		if !x.f.s.solve() {
			return false
		}
		if round > huberRounds && settled(before, x.f.s.x) {
			return true
		}
		before = x.f.s.x
		at = x.f.s.at
	}
	return true
}

// settled reports whether no coefficient moved by more than a millimetre.
func settled(a, b []float64) bool {
	for i := range a {
		if math.Abs(a[i]-b[i]) > 1e-3 {
			return false
		}
	}
	return len(a) == len(b)
}

// start returns a first position at any time: from the sweeps, or from the point
// that all rays of the leg pass best.
func (x *fitter) start() func(t float64) vec {
	if x.angles {
		return func(t float64) vec {
			i := x.f.sweepAfter(t)
			a, b := x.f.sweep[max(i-1, 0)], x.f.sweep[min(i, len(x.f.sweep)-1)]
			if math.Abs(b.timeS-t) < math.Abs(a.timeS-t) {
				a = b
			}
			return a.nadir.sub(x.f.origin)
		}
	}
	var all []pulse
	for i := range x.e.bins {
		all = append(all, x.e.bins[i].rays...)
	}
	p, v, _, ok := Intersect(rayLines(all), (x.f.startS+x.f.endS)/2)
	if !ok {
		p, v = x.f.origin.add(vec{0, 0, 100}), vec{}
	}
	mid := (x.f.startS + x.f.endS) / 2
	return func(t float64) vec { return vec(p).add(vec(v).times(t - mid)).sub(x.f.origin) }
}

// equations builds the normal equations about the position given.
func (x *fitter) equations(at func(t float64) vec, round int) {
	offset, scale := x.anglePrior()
	x.f.s.reset(vec{jerkHorizontal, jerkHorizontal, jerkUp}, [extra]float64{pitchPriorRad, offset, scale})
	var y [extra]float64
	copy(y[:], x.f.s.y)
	weight := func(r float64) float64 {
		if round < huberRounds { // Huber first: from afar no observation may be dropped
			return 1 / max(1, math.Abs(r)/1.5)
		}
		return tukey(r)
	}
	var rayRes, sideRes, foreRes []float64
	for i := range x.e.bins {
		b := &x.e.bins[i]
		for j := range b.rays {
			x.ray(&b.rays[j], at, weight, &rayRes)
		}
		if !x.angles {
			continue
		}
		together := math.Sqrt(float64(max(len(b.pulses), 1)) * max(pitchJitterS/x.e.binS, 1))
		for j := range b.pulses {
			x.angle(&b.pulses[j], at, y, together, weight, &sideRes, &foreRes)
		}
	}
	x.rayScale = rescale(x.rayScale, rayRes)
	x.sideScale = rescale(x.sideScale, sideRes)
	x.foreScale = rescale(x.foreScale, foreRes)
}

// anglePrior returns the standard deviations of a constant error and of a scale error of the angles.
func (x *fitter) anglePrior() (offsetRad, scale float64) {
	if x.stepRad > 0.01 {
		return wholeOffsetRad, wholeScale
	}
	return fineOffsetRad, fineScale
}

// rescale follows the robust size of normalised residuals; it never falls below 1,
// so that the standard deviations assumed stay a floor.
func rescale(old float64, res []float64) float64 {
	if len(res) < 10 {
		return old
	}
	return max(1, 1.4826*old*median(res))
}

// ray adds the two equations of a ray: the scanner lies on it.
func (x *fitter) ray(p *pulse, at func(t float64) vec, weight func(r float64) float64, res *[]float64) {
	d := p.first.sub(p.last)
	sep := d.norm()
	u := d.times(1 / sep)
	if u[2] < 0.05 {
		return
	}
	toward := at(p.timeS).add(x.f.origin).sub(p.last)
	rho := max(toward.dot(u), 5)
	sigma := rho * math.Hypot(math.Sqrt2*0.29*x.resM/sep, rayFloorRad) * x.rayScale
	a := u.cross(vec{0, 0, 1})
	if a.norm() < 1e-6 {
		a = vec{1, 0, 0}
	}
	a = a.times(1 / a.norm())
	b := u.cross(a)
	ra, rb := a.dot(toward)/sigma, b.dot(toward)/sigma
	// Two normal residuals together have a Rayleigh distribution: its median is 1.1774
	// standard deviations, and rescale takes the median times 1.4826 for one.
	r := math.Hypot(ra, rb)
	*res = append(*res, r/(1.1774*1.4826))
	w := weight(r / 1.5)
	local := p.last.sub(x.f.origin)
	x.f.s.row(p.timeS, a, [extra]float64{}, a.dot(local), sigma, w)
	x.f.s.row(p.timeS, b, [extra]float64{}, b.dot(local), sigma, w)
}

// angle adds the two equations of a pulse with its scan angle: across, where the
// angle says how far to the side the return lies, and along, where the scan line does.
func (x *fitter) angle(p *pulse, at func(t float64) vec, y [extra]float64, together float64, weight func(r float64) float64, side, fore *[]float64) {
	r := x.f.right(p.timeS)
	across := vec{r[0], r[1], 0}
	along := vec{-r[1], r[0], 0}
	local := p.last.sub(x.f.origin)
	s := at(p.timeS)
	h := s[2] - local[2]
	if h < 2 {
		h = 2
	}
	a := float64(p.angle) * stepRad
	t := math.Tan(a)
	slope := 1 + t*t
	// X = S + h tan(a + offset + scale a) across + h m along
	sigma := h * slope * math.Hypot(x.stepRad/math.Sqrt(12), wobbleRad) * x.sideScale
	var b [extra]float64
	if x.f.fromRays {
		b = [extra]float64{unknownOffset: h * slope, unknownScale: h * slope * a}
	}
	rhs := across.dot(local) + t*local[2]
	eq := across.add(vec{0, 0, t})
	res := (rhs - eq.dot(s) - b[unknownOffset]*y[unknownOffset] - b[unknownScale]*y[unknownScale]) / sigma
	*side = append(*side, math.Abs(res))
	x.f.s.row(p.timeS, eq, b, rhs, h*slope*math.Hypot(x.stepRad/math.Sqrt(12), wobbleRad*together)*x.sideScale, weight(res))

	sigma = h * pitchJitterRad * x.foreScale
	b = [extra]float64{}
	if x.f.fromRays {
		b[unknownPitch] = h
	}
	res = (along.dot(local) - along.dot(s) - b[unknownPitch]*y[unknownPitch]) / sigma
	*fore = append(*fore, math.Abs(res))
	// Pulses within a second share pitch and heading: together they count as one.
	x.f.s.row(p.timeS, along, b, along.dot(local), sigma*together, weight(res))
}
