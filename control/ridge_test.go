package control

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Known truth: gable roofs in several directions, shifted as a cloud would be; chimneys and a gutter beside. Offsets lie within
// the stated standard deviations, the shift is recovered.
func TestRidges(t *testing.T) {
	rng := rand.New(rand.NewPCG(51, 52))
	var normal, size []float64
	for range 12 {
		var cl cloud
		var points []Point
		te, tn, tz := 0.1*rng.NormFloat64(), 0.1*rng.NormFloat64(), 0.05*rng.NormFloat64()
		for h := range 6 {
			e, n := site0E+100*float64(h), site0N
			az := 2 * math.Pi * rng.Float64()
			pitch := math.Tan((25 + 20*rng.Float64()) * math.Pi / 180)
			sin, cos := math.Sincos(az)
			for range 1800 {
				x, y := 8*rng.Float64()-4, 8*rng.Float64()-4
				across := x*cos + y*sin
				z := 8 - pitch*math.Abs(across)
				if math.Hypot(x-1, y-1) < 0.25 { // chimney
					z += 0.8
				}
				cl.add(e+x+te, n+y+tn, z+tz+0.012*rng.NormFloat64(), 6, 1)
			}
			points = append(points, Point{EM: e, NM: n, ZM: 8})
		}
		fixes := collect(points, 2.5, cl.chunks(inOrder(len(cl.x)), 4096, metreFrame())).Ridges()
		for _, f := range fixes {
			if !f.OK {
				t.Errorf("ridge not found: %s", f.Reason)
				continue
			}
			d := f.AcrossM - f.NormalE*te - f.NormalN*tn
			normal, size = append(normal, d/f.SigmaAcrossM), append(size, d)
		}
		s, ok := SolveRidges(fixes)
		if !ok || !s.Horizontal || math.Hypot(s.EM-te, s.NM-tn) > 0.02 || math.Abs(s.ZM-tz) > 0.01 {
			t.Errorf("shift %+v, want %.3f %.3f %.3f", s, te, tn, tz)
		}
	}
	a := must(t, normal)
	t.Logf("offset across: error %.4f m, normalised %.2f", RMS(size), a.RMSEM)
	if a.RMSEM > 1.6 || RMS(size) > 0.012 {
		t.Errorf("offset across: error %.4f m, %.2f of the stated sigma", RMS(size), a.RMSEM)
	}
}

func TestNoRidge(t *testing.T) {
	rng := rand.New(rand.NewPCG(53, 54))
	var cl cloud
	cl.flat(rng, site0E, site0N, 4, 30, 0.012, func(x, y float64) float64 { return 8 + 0.3*x })
	fixes := collect([]Point{{EM: site0E, NM: site0N, ZM: 8}, {EM: site0E + 90, NM: site0N}}, 2.5, cl.chunks(inOrder(len(cl.x)), 4096, metreFrame())).Ridges()
	for _, f := range fixes {
		if f.OK || f.Reason == "" {
			t.Errorf("a single plane is no ridge: %+v", f)
		}
	}
	if _, ok := SolveRidges(fixes); ok {
		t.Error("no ridge, no shift")
	}
	parallel := []RidgeFix{{OK: true, NormalE: 1, AcrossM: 0.1}, {OK: true, NormalE: 1, AcrossM: 0.12}, {OK: true, NormalE: -1, AcrossM: -0.11}}
	if s, ok := SolveRidges(parallel); !ok || s.Horizontal || !math.IsNaN(s.EM) {
		t.Errorf("parallel ridges give one direction only: %+v", s)
	}
}
