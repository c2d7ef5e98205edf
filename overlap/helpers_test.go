package overlap_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"sidelap/las"
	"sidelap/overlap"
)

// scene builds chunks by hand: a millimetre frame, points appended one by one.
type scene struct {
	frame las.Frame
	c     *las.Chunk
	out   []*las.Chunk
}

// pulse is one return to be added to a scene.
type pulse struct {
	e, n, z  float64
	t        float64
	id       uint16
	angleDeg float64
	ret, of  uint8
	class    uint8
	flags    uint8
	channel  uint8
}

func newScene() *scene {
	return &scene{frame: las.Frame{Scale: [3]float64{0.001, 0.001, 0.001}, Offset: [3]float64{400000, 5600000, 0}, HorizontalM: 1, VerticalM: 1}}
}

func (s *scene) add(p pulse) {
	if s.c == nil || s.c.N == las.MaxChunk {
		s.c = &las.Chunk{Frame: &s.frame}
		s.out = append(s.out, s.c)
	}
	c, f := s.c, &s.frame
	c.N++
	to := func(v float64, axis int, unit float64) int32 {
		return int32(math.Round((v/unit - f.Offset[axis]) / f.Scale[axis]))
	}
	c.X = append(c.X, to(p.e, 0, f.HorizontalM))
	c.Y = append(c.Y, to(p.n, 1, f.HorizontalM))
	c.Z = append(c.Z, to(p.z, 2, f.VerticalM))
	if p.of == 0 {
		p.ret, p.of = 1, 1
	}
	c.ReturnNumber, c.NumReturns = append(c.ReturnNumber, p.ret), append(c.NumReturns, p.of)
	c.Flags, c.Channel, c.Class = append(c.Flags, p.flags), append(c.Channel, p.channel), append(c.Class, p.class)
	c.ScanAngle = append(c.ScanAngle, int16(math.Round(p.angleDeg/las.ScanAngleStepDeg)))
	c.Source, c.GPSTime = append(c.Source, p.id), append(c.GPSTime, p.t)
}

// withoutTime drops the GPS time column, as in formats 0 and 2.
func (s *scene) withoutTime() *scene {
	for _, c := range s.out {
		c.GPSTime = nil
	}
	return s
}

// line is a straight pass of a line scanner over a surface.
type line struct {
	id             uint16
	startS         float64
	e, n           float64 // nadir at the start
	headingDeg     float64
	speed          float64
	lengthM        float64
	heightM        float64 // above 100 m
	fanDeg         float64 // full angle
	density        float64 // per m2 at nadir
	noiseM         float64
	surface        func(e, n float64) float64
	offsetM        float64 // of the strip in height
	shiftE, shiftN float64
	skip           func(e, n float64) bool
	class          uint8
	jitter         *rand.Rand
	channel        uint8
	lookAheadM     float64 // fan leans forward by this distance on the ground
	backward       bool    // flown tail first, without turning round
}

// fly adds a line's returns. Places are random inside the strip, so the density
// is exact on average everywhere: pulses are spread evenly over the ground.
func (s *scene) fly(l line) {
	r := l.jitter
	half := l.heightM * math.Tan(l.fanDeg/2*math.Pi/180)
	n := int(l.density * l.lengthM * 2 * half)
	sin, cos := math.Sincos(l.headingDeg * math.Pi / 180)
	for i := range n {
		along := (float64(i) + r.Float64()) / float64(n) * l.lengthM
		y := (2*r.Float64() - 1) * half
		a := along + l.lookAheadM
		if l.backward {
			a = l.lengthM - along
		}
		e, nn := l.e+a*sin+y*cos, l.n+a*cos-y*sin
		z := 100.0
		if l.surface != nil {
			z = l.surface(e-l.shiftE, nn-l.shiftN)
		}
		z += l.offsetM + l.noiseM*r.NormFloat64()
		if l.skip != nil && l.skip(e, nn) {
			continue
		}
		s.add(pulse{e: e, n: nn, z: z, t: l.startS + along/l.speed, id: l.id, class: l.class, channel: l.channel,
			angleDeg: math.Atan(y/l.heightM) * 180 / math.Pi})
	}
}

func rng(seed uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, 7)) }

func sum(t testing.TB, o overlap.Options, chunks []*las.Chunk) *overlap.Accumulator {
	t.Helper()
	a, err := overlap.NewAccumulator(o)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range chunks {
		a.Add(c, 0)
	}
	return a
}

func mustSurvey(t testing.TB, a *overlap.Accumulator) *overlap.Survey {
	t.Helper()
	s, err := a.Survey(overlap.DefaultSurveyOptions())
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func bytesOf(t testing.TB, a *overlap.Accumulator) string {
	t.Helper()
	b, err := a.MarshalBinary()
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}
