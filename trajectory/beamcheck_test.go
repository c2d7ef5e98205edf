package trajectory

import (
	"math"
	"math/rand/v2"
	"testing"
)

// around invents returns of a scanner that turns about the vertical: beams 20 to 50 degrees from nadir, all around.
func around(p *Path, strips []Interval, seed uint64) []Return {
	rng := rand.New(rand.NewPCG(seed, 9))
	var out []Return
	for _, s := range strips {
		for t := s.StartS + 1; t < s.EndS-1; t += 0.2 {
			if o, ok := p.At(t); ok {
				r, a := 80*math.Tan((20+30*rng.Float64())*deg), 2*math.Pi*rng.Float64()
				out = append(out, Return{t, o.EM + r*math.Cos(a), o.NM + r*math.Sin(a), o.HM - 80, math.NaN()})
			}
		}
	}
	return out
}

// Known truth: a path beside the flight, a heading column that holds another angle, a path that is right,
// an aircraft flown sideways; several seeds.
func TestCheckBeams(t *testing.T) {
	for seed := uint64(1); seed <= 5; seed++ {
		f, strips := survey(seed, 20, 20, 1)
		rets := scan(f, strips, 400, seed)
		p := pathOf(f)
		b, ok := CheckBeams(p, rets)
		if !ok || b.Displaced || b.HeadingRefuted || !b.Planar || b.ThickM > 0.5 {
			t.Errorf("seed %d: a right path: %+v", seed, b)
		}
		for _, d := range [][2]float64{{3, -20}, {-40, 0}, {1.5, 5}} {
			q := *p
			q.EM, q.NM = plus(p.EM, d[0]), plus(p.NM, d[1])
			b, ok := CheckBeams(&q, rets)
			// Directions that were not flown are not estimated: the part along those that were must fit.
			if !ok || !b.Displaced || math.Hypot(b.ShiftEM, b.ShiftNM) > math.Hypot(d[0], d[1])+0.3 || b.AfterM > 0.6 {
				t.Errorf("seed %d: moved by %v: %+v", seed, d, b)
			}
		}
		q := *p
		q.HeadingRad = plus(p.HeadingRad, math.Pi/2)
		if b, ok := CheckBeams(&q, rets); !ok || !b.HeadingRefuted || b.Displaced || math.Abs(math.Abs(b.TurnedRad)-math.Pi/2) > 0.05 {
			t.Errorf("seed %d: heading turned by 90 degrees: %+v", seed, b)
		}
		q.HeadingRad = plus(p.HeadingRad, 40*math.Pi/180)
		if b, ok := CheckBeams(&q, rets); !ok || !b.HeadingRefuted || math.Abs(b.TurnedRad+40*math.Pi/180) > 0.05 {
			t.Errorf("seed %d: heading turned by 40 degrees clockwise, so that the beams stand 40 anticlockwise: %+v", seed, b)
		}
		crab := &Path{TimeS: p.TimeS, EM: p.EM, NM: p.NM, HM: p.HM, RollRad: p.RollRad, PitchRad: p.PitchRad, HeadingRad: plus(p.HeadingRad, math.Pi/3)}
		side := sweep(crab, strips, 400, seed)
		if b, ok := CheckBeams(crab, side); !ok || b.HeadingRefuted || b.Displaced {
			t.Errorf("seed %d: flown sideways, the beams follow the heading: %+v", seed, b)
		}
		if b, ok := CheckBeams(p, around(p, strips, seed)); !ok || b.HeadingRefuted || b.Displaced || b.Planar {
			t.Errorf("seed %d: a scanner with beams all around: %+v", seed, b)
		}
		if _, ok := CheckBeams(p.Shifted(1e6, 0), rets); ok {
			t.Error("judged without common time")
		}
	}
}

// A path that ends early covers less than a fault of the time would: that is no evidence of the fault.
func TestTruncatedPathKeepsItsTime(t *testing.T) {
	f, strips := survey(1, 20, 20, 1)
	rets := scan(f, strips, 400, 1)
	end := strips[len(strips)/2].StartS - 5
	n := 0
	for n < len(f.T) && f.T[n] < end {
		n++
	}
	tr := &Track{Path: "p", TimeS: f.T[:n], EM: f.E[:n], NM: f.N[:n], HM: f.H[:n], RollRad: f.Roll[:n], PitchRad: f.Pitch[:n], HeadingRad: f.Head[:n], HeadingFrom: GridNorth, TimeKind: WeekSeconds}
	m, err := MatchTime(tr, strips, nil, MatchOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if m.ShiftS != 0 || m.Fault || m.Sure {
		t.Errorf("without the beams: %s", m.Text)
	}
	p, err := tr.ToPath(nil, PathOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if m, err = MatchTime(tr, strips, BeamPlaneCost(p, 0, rets), MatchOptions{}); err != nil {
		t.Fatal(err)
	}
	if math.Abs(m.ShiftS) > 0.01 || m.Fault || !m.Sure || m.Overlap > 0.6 {
		t.Errorf("with the beams: %s", m.Text)
	}
}
