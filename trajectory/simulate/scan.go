package simulate

import (
	"math"
	"math/rand/v2"
)

// batch holds returns as columns, map coordinates in metres from the block's centre.
type batch struct {
	n                 int
	time              []float64 // true GPS seconds of week
	x, y, z           []float64 // as computed with the used path and mount
	tx, ty, tz        []float64 // where the return came from
	angle             []float64 // used angle relative to nadir, roll included, radians
	rangeM            []float64 // used range
	raw               []float64 // used mirror angle
	ret, nret, class  []uint8
	flags             []uint8
	intensity         []uint16
	cover             []Cover
	strip             int
	lineDirectionFlag uint8
}

const batchSize = 8192 // las.MaxChunk

func newBatch() *batch {
	b := &batch{}
	for _, c := range []*[]float64{&b.time, &b.x, &b.y, &b.z, &b.tx, &b.ty, &b.tz, &b.angle, &b.rangeM, &b.raw} {
		*c = make([]float64, batchSize)
	}
	for _, c := range []*[]uint8{&b.ret, &b.nret, &b.class, &b.flags} {
		*c = make([]uint8, batchSize)
	}
	b.intensity, b.cover = make([]uint16, batchSize), make([]Cover, batchSize)
	return b
}

// tracer computes the pulses of one strip. One goroutine.
type tracer struct {
	f        *Flight
	st       *Strip
	pcg      *rand.PCG
	rng      *rand.Rand
	b        *batch
	emit     func(*batch) bool
	boreTrue Mat
	boreUsed Mat
	centreE  float64
	centreN  float64
	lastRho  float64
	gaps     []Gap
	angSigma float64
	echoes   [16]echo
}

// echo is one return before it is computed.
type echo struct {
	rho   float64
	class uint8
	cover Cover
	gain  float64
}

// scan streams the returns of a strip in time order to emit, which stops the scan by returning false.
func (f *Flight) scan(st *Strip, emit func(*batch) bool) {
	if st.Missing {
		return
	}
	s := &f.Scenario
	tr := &tracer{f: f, st: st, b: newBatch(), emit: emit, pcg: rand.NewPCG(0, 0), lastRho: s.Plan.HeightM,
		centreE: s.Site.CentreEM, centreN: s.Site.CentreNM}
	tr.rng = rand.New(tr.pcg)
	tr.boreTrue = Rotation(f.trueMount.RollRad, f.trueMount.PitchRad, f.trueMount.HeadingRad)
	tr.boreUsed = Rotation(f.usedMount.RollRad, f.usedMount.PitchRad, f.usedMount.HeadingRad)
	tr.angSigma = math.Hypot(s.Scanner.AngleNoiseDeg*math.Pi/180, s.Scanner.BeamDivergenceMrad/4000)
	tr.b.strip = st.Number
	for _, sf := range s.Faults.Strips {
		if sf.Strip == st.Number {
			tr.gaps = append(tr.gaps, sf.Gaps...)
		}
	}
	if tr.lines() && tr.b.n > 0 {
		emit(tr.b)
	}
}

// lines runs over the scan lines that overlap the strip's recording.
func (tr *tracer) lines() bool {
	s := &tr.f.Scenario
	sc := &s.Scanner
	fov := sc.FieldOfViewDeg * math.Pi / 180
	origin := s.Site.PowerOnS // the mirror turns from power-on
	dt := 1 / sc.PulseRateHz
	step := 2 * math.Pi * sc.LineRateHz * dt // rotating: angle between pulses
	if sc.Oscillating {
		step = fov * sc.LineRateHz * dt
	}
	pulses := int(fov/step + 1e-9)
	first := int64(math.Floor((tr.st.RecordStartS - origin) * sc.LineRateHz))
	last := int64(math.Ceil((tr.st.RecordES - origin) * sc.LineRateHz))
	for line := first; line <= last; line++ {
		// each line has its own random stream and first guess: its points depend on nothing before it
		tr.pcg.Seed(s.Seed*0x9e3779b97f4a7c15+uint64(tr.st.Number)<<40, uint64(line)*0xbf58476d1ce4e5b9+0x5ca9)
		tr.lastRho = s.Plan.HeightM
		t0 := origin + float64(line)/sc.LineRateHz
		back := sc.Oscillating && line&1 == 1
		tr.b.lineDirectionFlag = flagScanDirection
		if back {
			tr.b.lineDirectionFlag = 0
		}
		for i := range pulses {
			t := t0 + (float64(i)+0.5)*dt
			if t < tr.st.RecordStartS || t >= tr.st.RecordES || tr.paused(t) {
				continue
			}
			a := -fov/2 + (float64(i)+0.5)*step
			if back {
				a = -a
			}
			edge := i == pulses-1
			if !tr.pulse(t, a, edge) {
				return false
			}
		}
	}
	return true
}

// The bits of las.Chunk.Flags that a scanner sets.
const (
	flagScanDirection = 1 << 4
	flagEdge          = 1 << 5
)

func (tr *tracer) paused(t float64) bool {
	for _, g := range tr.gaps {
		if d := t - tr.st.StartS; d >= g.StartS && d < g.StartS+g.DurationS {
			return true
		}
	}
	return false
}

// ray is a beam in map axes (east, north, up) from the block's centre: point = o + range d.
type ray struct{ o, d Vec }

// beam returns the ray of a unit beam b (scanner axes) from pose p, whose rotation is c, through a mount.
func (tr *tracer) beam(p *Pose, c *Mat, m *Mount, bore *Mat, b Vec) ray {
	v := bore.Apply(b)
	d := c.Apply(v)
	a := c.Apply(m.LeverM)
	k := m.MapScale
	return ray{
		o: Vec{p.EM - tr.centreE + k*a[1], p.NM - tr.centreN + k*a[0], p.HM - a[2]},
		d: Vec{k * d[1], k * d[0], -d[2]},
	}
}

// pulse fires one pulse at true time t and mirror angle a; false stops the scan.
func (tr *tracer) pulse(t, a float64, edge bool) bool {
	f := tr.f
	s := &f.Scenario
	ft := &s.Faults
	beam := Vec{0, 0, 0}
	at := a
	if tr.angSigma > 0 {
		beam[0] = tr.angSigma * tr.rng.NormFloat64()
		at += tr.angSigma * tr.rng.NormFloat64()
	}
	beam[1], beam[2] = math.Sincos(at)
	pose := f.True.At(t)
	rot := Rotation(pose.RollRad, pose.PitchRad, pose.HeadingRad)
	r := tr.beam(&pose, &rot, &f.trueMount, &tr.boreTrue, beam)
	n := tr.trace(&r, at)
	if n == 0 {
		return true
	}
	ua := a * (1 + ft.ScanAngleScale)
	used := f.Used.At(t + ft.TimeOffsetS)
	us, uc := math.Sincos(ua)
	if used.RollRad != pose.RollRad || used.PitchRad != pose.PitchRad || used.HeadingRad != pose.HeadingRad {
		rot = Rotation(used.RollRad, used.PitchRad, used.HeadingRad)
	}
	u := tr.beam(&used, &rot, &f.usedMount, &tr.boreUsed, Vec{0, us, uc})
	b := tr.b
	for i := range n {
		e := &tr.echoes[i]
		rho := e.rho + s.Scanner.RangeNoiseM*tr.rng.NormFloat64()
		rho = rho*(1+ft.RangeScale) + ft.RangeOffsetM
		k := b.n
		b.time[k] = t
		b.x[k], b.y[k], b.z[k] = u.o[0]+rho*u.d[0], u.o[1]+rho*u.d[1], u.o[2]+rho*u.d[2]
		b.tx[k], b.ty[k], b.tz[k] = r.o[0]+e.rho*r.d[0], r.o[1]+e.rho*r.d[1], r.o[2]+e.rho*r.d[2]
		b.angle[k], b.raw[k], b.rangeM[k] = ua-used.RollRad, ua, rho
		b.ret[k], b.nret[k] = uint8(i+1), uint8(n)
		b.class[k], b.cover[k] = e.class, e.cover
		b.flags[k] = b.lineDirectionFlag
		if edge {
			b.flags[k] |= flagEdge
		}
		b.intensity[k] = uint16(min(max(e.gain*(1+0.08*tr.rng.NormFloat64()), 0), 1) * 65535)
		b.n++
	}
	if b.n > batchSize-len(tr.echoes) {
		ok := tr.emit(b)
		b.n = 0
		return ok
	}
	return true
}
