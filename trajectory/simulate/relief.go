package simulate

import (
	"math"
	"math/rand/v2"
)

// wave is one plane wave of the natural relief.
type wave struct{ kE, kN, phase, ampM float64 }

// relief is the undisturbed ground, analytic: a tilted plane and plane waves
// in random directions. Coordinates are metres from the block's centre.
type relief struct {
	groundM, slopeE, slopeN float64
	waves                   []wave
}

// newRelief draws the waves: four for each octave, the amplitudes scaled so that
// the sum has the standard deviation Terrain.ReliefM.
func newRelief(s *Scenario) *relief {
	t := &s.Terrain
	r := &relief{groundM: s.Site.GroundM, slopeE: t.SlopeE, slopeN: t.SlopeN}
	if t.ReliefM <= 0 || t.Octaves < 1 {
		return r
	}
	rng := rand.New(rand.NewPCG(s.Seed, 0x7e11ef))
	var power float64
	for o := range t.Octaves {
		f := math.Pow(2, float64(o))
		for j := range 4 {
			// directions spread over the half circle, jittered: slopes in every aspect
			az := (float64(j) + rng.Float64()) * math.Pi / 4
			k := 2 * math.Pi * f / t.WavelengthM * (0.85 + 0.3*rng.Float64())
			w := wave{kE: k * math.Sin(az), kN: k * math.Cos(az), phase: 2 * math.Pi * rng.Float64(), ampM: 1 / f}
			power += w.ampM * w.ampM / 2
			r.waves = append(r.waves, w)
		}
	}
	scale := t.ReliefM / math.Sqrt(power)
	for i := range r.waves {
		r.waves[i].ampM *= scale
	}
	return r
}

// height returns the undisturbed ground at (e, n) from the centre, m.
func (r *relief) height(e, n float64) float64 {
	h := r.groundM + r.slopeE*e + r.slopeN*n
	for i := range r.waves {
		w := &r.waves[i]
		h += w.ampM * math.Sin(w.kE*e+w.kN*n+w.phase)
	}
	return h
}

// grid is a bilinear height field with square cells.
type grid struct {
	e0, n0, cell, inv float64
	cols, rows        int
	z                 []float64
}

func newGrid(e0, n0, e1, n1, cell float64) *grid {
	g := &grid{e0: e0, n0: n0, cell: cell, inv: 1 / cell}
	g.cols = int(math.Ceil((e1-e0)/cell)) + 2
	g.rows = int(math.Ceil((n1-n0)/cell)) + 2
	g.z = make([]float64, g.cols*g.rows)
	return g
}

// at returns the height and its gradient at (e, n); outside, the edge height goes on level.
func (g *grid) at(e, n float64) (z, ge, gn float64) {
	u, v := (e-g.e0)*g.inv, (n-g.n0)*g.inv
	i, j := int(u), int(v)
	i, j = min(max(i, 0), g.cols-2), min(max(j, 0), g.rows-2)
	u = min(max(u-float64(i), 0), 1)
	v = min(max(v-float64(j), 0), 1)
	k := j*g.cols + i
	a, b := g.z[k], g.z[k+1]
	c, d := g.z[k+g.cols], g.z[k+g.cols+1]
	ba, dc := b-a, d-c
	lo, hi := a+ba*u, c+dc*u
	return lo + (hi-lo)*v, (ba + (dc-ba)*v) * g.inv, (hi - lo) * g.inv
}
