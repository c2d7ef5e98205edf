package simulate

import (
	"math"
	"math/rand/v2"
)

// house is a prism with vertical walls and a gabled or flat roof: a convex body, the
// meeting of half spaces in its own axes u (along the ridge), v (across), z.
type house struct {
	e, n, dirE, dirN float64 // centre and ridge direction
	halfL, halfW     float64
	baseM            float64 // lowest ground, where walls start
	eavesM, ridgeM   float64 // absolute heights
	tan              float64 // of the roof pitch
}

func (h *house) local(e, n float64) (u, v float64) {
	return (e-h.e)*h.dirE + (n-h.n)*h.dirN, (e-h.e)*h.dirN - (n-h.n)*h.dirE
}

// roof returns the height of the roof over (e, n), and whether it is over the house.
func (h *house) roof(e, n float64) (float64, bool) {
	u, v := h.local(e, n)
	if math.Abs(u) > h.halfL || math.Abs(v) > h.halfW {
		return 0, false
	}
	return h.ridgeM - math.Abs(v)*h.tan, true
}

// hit returns the distance along the ray o + t d at which it enters the house,
// whether through the roof, and the component of the surface normal against the ray.
func (h *house) hit(o, d Vec) (t float64, roof bool, cosInc float64, ok bool) {
	ou, ov := h.local(o[0], o[1])
	du := d[0]*h.dirE + d[1]*h.dirN
	dv := d[0]*h.dirN - d[1]*h.dirE
	in, out := 0.0, math.Inf(1)
	enter := -1
	clip := func(face int, dist, rate float64) bool { // inside where dist + t rate <= 0
		if rate == 0 {
			return dist <= 0
		}
		x := -dist / rate
		if rate < 0 {
			if x > in {
				in, enter = x, face
			}
		} else {
			out = math.Min(out, x)
		}
		return in <= out
	}
	if !clip(0, ou-h.halfL, du) || !clip(1, -ou-h.halfL, -du) ||
		!clip(2, ov-h.halfW, dv) || !clip(3, -ov-h.halfW, -dv) ||
		!clip(4, o[2]+ov*h.tan-h.ridgeM, d[2]+dv*h.tan) ||
		!clip(5, o[2]-ov*h.tan-h.ridgeM, d[2]-dv*h.tan) {
		return 0, false, 0, false
	}
	switch enter {
	case 0, 1:
		cosInc = math.Abs(du)
	case 2, 3:
		cosInc = math.Abs(dv)
	case 4:
		cosInc = math.Abs(d[2]+dv*h.tan) / math.Hypot(1, h.tan)
	case 5:
		cosInc = math.Abs(d[2]-dv*h.tan) / math.Hypot(1, h.tan)
	default:
		return 0, false, 0, false
	}
	return in, enter >= 4, cosInc, true
}

// plant is a tree crown or a bush: an ellipsoid with vertical axis.
type plant struct {
	e, n, z   float64 // centre, absolute height
	r, rz     float64 // semi-axes
	class     uint8   // 3 low, 4 medium, 5 high vegetation
	meanFreeM float64 // mean path between intercepting leaves
	groundM   float64
}

func (p *plant) over(e, n float64) bool { return math.Hypot(e-p.e, n-p.n) <= p.r }

// hit returns where the ray enters and leaves the crown.
func (p *plant) hit(o, d Vec) (in, out float64, ok bool) {
	q := p.r / p.rz
	x, y, z := o[0]-p.e, o[1]-p.n, (o[2]-p.z)*q
	dz := d[2] * q
	a := d[0]*d[0] + d[1]*d[1] + dz*dz
	b := x*d[0] + y*d[1] + z*dz
	c := x*x + y*y + z*z - p.r*p.r
	disc := b*b - a*c
	if disc <= 0 {
		return 0, 0, false
	}
	s := math.Sqrt(disc)
	return (-b - s) / a, (-b + s) / a, true
}

// layHouses places the houses, off roads, pads, woods and each other.
func (sf *Surface) layHouses(s *Scenario, b box, rng *rand.Rand) {
	t := &s.Terrain
	reach := math.Hypot(t.HouseLengthM, t.HouseWidthM) / 2
	for i := range t.Houses {
		h := house{halfL: t.HouseLengthM / 2 * (0.8 + 0.4*rng.Float64()), halfW: t.HouseWidthM / 2 * (0.85 + 0.3*rng.Float64())}
		az := cycle(t.HouseAzimuthsDeg, i) * math.Pi / 180
		h.dirE, h.dirN = math.Sin(az), math.Cos(az)
		placed := false
		for range 80 {
			h.e, h.n = b.toMap((rng.Float64()-0.5)*(b.alongM-2*reach), (rng.Float64()-0.5)*(b.acrossM-2*reach))
			if placed = sf.houseFits(&h, reach); placed {
				break
			}
		}
		if !placed {
			continue // the block is full; fewer houses stand, Truth lists them
		}
		g, _, _ := sf.ground.at(h.e, h.n)
		h.baseM = g - 3
		h.tan = math.Tan(cycle(t.HousePitchesDeg, i) * math.Pi / 180)
		h.eavesM = g + t.EavesM*(0.9+0.4*rng.Float64())
		h.ridgeM = h.eavesM + h.tan*h.halfW
		sf.tallM = math.Max(sf.tallM, h.ridgeM-g+2)
		sf.houses = append(sf.houses, h)
	}
}

func cycle(v []float64, i int) float64 {
	if len(v) == 0 {
		return 0
	}
	return v[i%len(v)]
}

func (sf *Surface) houseFits(h *house, reach float64) bool {
	for _, o := range sf.houses {
		if math.Hypot(h.e-o.e, h.n-o.n) < 2*reach+4 {
			return false
		}
	}
	for _, r := range sf.roads {
		if math.Abs((h.e-r.e)*r.dirN-(h.n-r.n)*r.dirE) < r.halfM+reach+2 {
			return false
		}
	}
	for _, w := range sf.woods {
		if math.Hypot(h.e-w.e, h.n-w.n) < w.r+reach {
			return false
		}
	}
	return sf.clearOfPads(h.e, h.n, reach+2)
}

// layPlants grows trees and brush in the woods and single trees over the block.
func (sf *Surface) layPlants(s *Scenario, b box, rng *rand.Rand) {
	t := &s.Terrain
	inDisc := func(w disc) (float64, float64) {
		r, a := w.r*math.Sqrt(rng.Float64()), 2*math.Pi*rng.Float64()
		return w.e + r*math.Cos(a), w.n + r*math.Sin(a)
	}
	for _, w := range sf.woods {
		ha := math.Pi * w.r * w.r / 1e4
		for range int(t.TreesPerHa*ha + 0.5) {
			e, n := inDisc(w)
			sf.addTree(s, e, n, rng)
		}
		for range int(t.BrushPerHa*ha + 0.5) {
			e, n := inDisc(disc{w.e, w.n, w.r * 1.15, 0})
			sf.addBush(s, e, n, rng)
		}
	}
	for range t.ScatteredTrees {
		e, n := b.toMap((rng.Float64()-0.5)*b.alongM, (rng.Float64()-0.5)*b.acrossM)
		sf.addTree(s, e, n, rng)
	}
}

func (sf *Surface) addTree(s *Scenario, e, n float64, rng *rand.Rand) {
	h := s.Terrain.TreeHeightM * (0.6 + 0.7*rng.Float64())
	r := h * (0.16 + 0.1*rng.Float64())
	g, _, _ := sf.ground.at(e, n)
	if sf.blocked(s, e, n, r) {
		return
	}
	sf.tallM = math.Max(sf.tallM, h)
	sf.plants = append(sf.plants, plant{e: e, n: n, z: g + 0.62*h, r: r, rz: 0.38 * h, class: 5, meanFreeM: 1.8, groundM: g})
}

func (sf *Surface) addBush(s *Scenario, e, n float64, rng *rand.Rand) {
	h := 0.5 + 1.6*rng.Float64()
	r := 0.5 + 0.8*rng.Float64()
	g, _, _ := sf.ground.at(e, n)
	if sf.blocked(s, e, n, r) {
		return
	}
	class := uint8(3)
	if h > 1.2 {
		class = 4
	}
	sf.plants = append(sf.plants, plant{e: e, n: n, z: g + h/2, r: r, rz: h / 2, class: class, meanFreeM: 0.7, groundM: g})
}

// blocked tells whether a crown of radius r at (e, n) would stand on hard ground or over a roof.
func (sf *Surface) blocked(s *Scenario, e, n, r float64) bool {
	for _, o := range sf.roads {
		if math.Abs((e-o.e)*o.dirN-(n-o.n)*o.dirE) < o.halfM+r {
			return true
		}
	}
	if !sf.clearOfPads(e, n, r) {
		return true
	}
	if s.Terrain.KeepHousesOffTree {
		for i := range sf.houses {
			u, v := sf.houses[i].local(e, n)
			if math.Abs(u) < sf.houses[i].halfL+r && math.Abs(v) < sf.houses[i].halfW+r {
				return true
			}
		}
	}
	return false
}
