package simulate

import "math"

// trace finds the returns of a ray, nearest first, in tr.echoes, and returns their number.
func (tr *tracer) trace(r *ray, mirrorRad float64) int {
	sf := tr.f.Surface
	s := &tr.f.Scenario
	rho, cos := tr.ground(r)
	e, n := r.o[0]+rho*r.d[0], r.o[1]+rho*r.d[1]
	if tr.inHole(e, n) {
		return 0
	}
	solid := echo{rho: rho, class: 2, cover: sf.groundCover(e, n)}
	near := sf.index.near(e, n)
	for _, k := range near {
		if k < 0 {
			continue
		}
		if t, roof, c, ok := sf.houses[k].hit(r.o, r.d); ok && t < solid.rho {
			solid = echo{rho: t, class: 6, cover: CoverWall}
			if roof {
				solid.cover = CoverRoof
			}
			cos = c
		}
	}
	count := 0
	energy := 1.0
	if len(near) > 0 {
		count, energy = tr.leaves(r, near, solid.rho)
	}
	if !tr.solidReturns(r, &solid, cos, mirrorRad) {
		energy = 0
	}
	const threshold = 0.15
	sep := s.Scanner.ReturnSeparationM
	if energy >= threshold && count < s.Scanner.MaxReturns && (count == 0 || solid.rho-tr.echoes[count-1].rho >= sep) {
		solid.gain *= energy
		tr.echoes[count] = solid
		count++
	}
	return count
}

// ground intersects the ray with the ground by Newton's method from the previous
// pulse's range; it returns the range and the cosine of incidence.
func (tr *tracer) ground(r *ray) (rho, cos float64) {
	g := tr.f.Surface.ground
	rho = tr.lastRho
	var ge, gn float64
	for range 20 {
		var z float64
		z, ge, gn = g.at(r.o[0]+rho*r.d[0], r.o[1]+rho*r.d[1])
		d := r.o[2] + rho*r.d[2] - z
		rate := r.d[2] - ge*r.d[0] - gn*r.d[1]
		if rate > -0.05 { // near-grazing facet: step as over level ground
			rate = math.Min(r.d[2], -0.05)
		}
		step := d / rate
		rho -= step
		if math.Abs(step) < 1e-7 {
			break
		}
	}
	tr.lastRho = rho
	return rho, math.Abs(r.d[2]-ge*r.d[0]-gn*r.d[1]) / math.Sqrt(1+ge*ge+gn*gn)
}

func (tr *tracer) inHole(e, n float64) bool {
	for _, h := range tr.f.Scenario.Faults.Holes {
		if de, dn := e-h.EastM, n-h.NorthM; de*de+dn*dn < h.RadiusM*h.RadiusM {
			return true
		}
	}
	return false
}

// reflectance of covers at a near-infrared wavelength, rough values for a
// plausible picture; common practice, no source.
var reflectance = [...]float64{CoverHard: 0.22, CoverGrass: 0.5, CoverVegetated: 0.42, CoverRoof: 0.3, CoverWater: 0.08, CoverWall: 0.35}

// solidReturns completes the return of a solid surface: whether there is one, its
// strength, and the lift by grass.
func (tr *tracer) solidReturns(r *ray, e *echo, cos, mirrorRad float64) bool {
	s := &tr.f.Scenario
	if s.Scanner.DropoutShare > 0 && tr.rng.Float64() < s.Scanner.DropoutShare {
		return false
	}
	e.gain = reflectance[e.cover] * math.Min(cos, 1)
	switch e.cover {
	case CoverWater: // mirror-like: returns only near the vertical
		e.class = 9
		p := math.Exp(-math.Pow(mirrorRad/(6*math.Pi/180), 2))
		return tr.rng.Float64() < 0.02+0.9*p
	case CoverGrass, CoverVegetated:
		if h := s.Terrain.GrassHeightM; h > 0 {
			e.rho -= h * math.Min(tr.rng.ExpFloat64(), 4) / math.Max(-r.d[2], 0.2)
		}
	case CoverHard:
		if tr.f.onTarget(r.o[0]+e.rho*r.d[0], r.o[1]+e.rho*r.d[1]) {
			e.gain = 0.85 * math.Min(cos, 1)
		}
	}
	return true
}

// crossing is the stretch of a ray inside a crown.
type crossing struct {
	in, out float64
	p       *plant
}

// leaves sends the beam through the crowns before solidRho: at exponential
// distances leaves take part of the energy and give a return, until too little is
// left. Returns the number of returns and the energy that goes on.
func (tr *tracer) leaves(r *ray, near []int32, solidRho float64) (count int, energy float64) {
	var buf [12]crossing
	hits := buf[:0]
	for _, k := range near {
		if k >= 0 {
			continue
		}
		p := &tr.f.Surface.plants[-k-1]
		in, out, ok := p.hit(r.o, r.d)
		if !ok || in >= solidRho || len(hits) == cap(hits) {
			continue
		}
		i := len(hits)
		hits = append(hits, crossing{})
		for ; i > 0 && hits[i-1].in > in; i-- {
			hits[i] = hits[i-1]
		}
		hits[i] = crossing{in, math.Min(out, solidRho), p}
	}
	energy = 1
	s := &tr.f.Scenario.Scanner
	for i := range hits {
		h := &hits[i]
		for pos := h.in; ; {
			pos += h.p.meanFreeM * tr.rng.ExpFloat64()
			if pos >= h.out {
				break
			}
			keep := 0.35 + 0.4*tr.rng.Float64()
			if count > 0 && pos-tr.echoes[count-1].rho < s.ReturnSeparationM {
				energy *= keep
			} else {
				gain := reflectance[CoverVegetated] * energy * (1 - keep)
				tr.echoes[count] = echo{rho: pos, class: h.p.class, cover: CoverVegetated, gain: gain}
				count++
				energy *= keep
			}
			if energy < 0.15 || count >= s.MaxReturns {
				return count, 0
			}
		}
	}
	return count, energy
}
