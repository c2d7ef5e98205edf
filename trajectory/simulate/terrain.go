package simulate

import (
	"math"
	"math/rand/v2"
)

// Cover is what lies at a place.
type Cover uint8

// The covers.
const (
	CoverHard      Cover = iota // asphalt, concrete, gravel: returns come from the surface
	CoverGrass                  // returns lie a little above the soil
	CoverVegetated              // brush or trees over soil
	CoverRoof
	CoverWater
	CoverWall
)

func (c Cover) String() string {
	return [...]string{"hard", "grass", "vegetated", "roof", "water", "wall"}[c]
}

// Surface is the true surface: ground as a bilinear grid, covers, houses, trees.
// Its methods take map coordinates; fields are metres from the block's centre.
type Surface struct {
	centreE, centreN float64
	ground           *grid
	cover            []Cover
	coverE0, coverN0 float64
	coverCols        int
	coverRows        int
	houses           []house
	plants           []plant
	index            *index
	roads            []road
	pads             []pad
	woods            []disc
	pond             *disc
	tallM            float64 // height of the tallest object above its ground
	hard             bool
	natural          *relief
}

const coverCellM = 0.5

type road struct{ e, n, dirE, dirN, halfM float64 }
type pad struct{ e, n, dirE, dirN, halfL, halfW, z, slope float64 }
type disc struct{ e, n, r, z float64 }

// newSurface lays out the terrain over the box [e0, e1] x [n0, n1] (metres from the
// centre), within which objects stand in the inner box of half sizes inE, inN turned by headingRad.
func newSurface(s *Scenario, b box) *Surface {
	sf := &Surface{centreE: s.Site.CentreEM, centreN: s.Site.CentreNM, hard: s.Terrain.AllHard, natural: newRelief(s)}
	rng := rand.New(rand.NewPCG(s.Seed, 0x1a40))
	sf.layRoads(s, b, rng)
	sf.layWoods(s, b, rng)
	sf.ground = newGrid(b.e0, b.n0, b.e1, b.n1, s.Terrain.CellM)
	for j := range sf.ground.rows {
		for i := range sf.ground.cols {
			e, n := b.e0+float64(i)*s.Terrain.CellM, b.n0+float64(j)*s.Terrain.CellM
			sf.ground.z[j*sf.ground.cols+i] = sf.shape(e, n)
		}
	}
	sf.layCover(b)
	sf.layHouses(s, b, rng)
	sf.layPlants(s, b, rng)
	sf.index = newIndex(sf, b, s.maxBeamAngle())
	return sf
}

// layRoads places roads and pads through the block, in its own turned axes.
func (sf *Surface) layRoads(s *Scenario, b box, rng *rand.Rand) {
	t := &s.Terrain
	for i := range t.Roads {
		az := s.Plan.HeadingDeg*math.Pi/180 + 0.45 + float64(i)*1.35 + 0.3*rng.NormFloat64()
		f, r := (rng.Float64()-0.5)*b.alongM*0.5, (rng.Float64()-0.5)*b.acrossM*0.5
		e, n := b.toMap(f, r)
		sf.roads = append(sf.roads, road{e, n, math.Sin(az), math.Cos(az), t.RoadWidthM / 2})
	}
	for range t.Pads {
		az := rng.Float64() * math.Pi
		p := pad{dirE: math.Sin(az), dirN: math.Cos(az), halfL: t.PadLengthM / 2, halfW: t.PadLengthM * 0.35}
		for range 60 {
			p.e, p.n = b.toMap((rng.Float64()-0.5)*(b.alongM-t.PadLengthM), (rng.Float64()-0.5)*(b.acrossM-t.PadLengthM))
			if sf.padsApart(p) {
				break
			}
		}
		p.z, p.slope = sf.natural.height(p.e, p.n), 0.01
		sf.pads = append(sf.pads, p)
	}
	if t.WaterRadiusM > 0 {
		e, n := b.toMap(-b.alongM*0.25, b.acrossM*0.2)
		sf.pond = &disc{e, n, t.WaterRadiusM, sf.natural.height(e, n) - 0.8}
	}
}

func (sf *Surface) padsApart(p pad) bool {
	for _, q := range sf.pads {
		if math.Hypot(p.e-q.e, p.n-q.n) < p.halfL+q.halfL+8 {
			return false
		}
	}
	return true
}

// layWoods places the patches of wood, away from pads.
func (sf *Surface) layWoods(s *Scenario, b box, rng *rand.Rand) {
	t := &s.Terrain
	for range t.Woods {
		w := disc{r: t.WoodRadiusM * (0.7 + 0.6*rng.Float64())}
		for range 60 {
			w.e, w.n = b.toMap((rng.Float64()-0.5)*b.alongM, (rng.Float64()-0.5)*b.acrossM)
			if sf.clearOfPads(w.e, w.n, w.r) {
				break
			}
		}
		sf.woods = append(sf.woods, w)
	}
}

func (sf *Surface) clearOfPads(e, n, r float64) bool {
	for _, p := range sf.pads {
		if math.Hypot(e-p.e, n-p.n) < p.halfL+r {
			return false
		}
	}
	if sf.pond != nil && math.Hypot(e-sf.pond.e, n-sf.pond.n) < sf.pond.r+r {
		return false
	}
	return true
}

// smooth is the smooth step from 0 (x <= 0) to 1 (x >= 1).
func smooth(x float64) float64 {
	x = min(max(x, 0), 1)
	return x * x * (3 - 2*x)
}

// shape returns the ground with roads, pads and pond worked into the relief.
func (sf *Surface) shape(e, n float64) float64 {
	h := sf.natural.height(e, n)
	for _, r := range sf.roads {
		along := (e-r.e)*r.dirE + (n-r.n)*r.dirN
		across := math.Abs((e-r.e)*r.dirN - (n-r.n)*r.dirE)
		const shoulderM = 5
		if w := smooth(1 - (across-r.halfM-1.5)/shoulderM); w > 0 {
			h += w * (sf.natural.height(r.e+along*r.dirE, r.n+along*r.dirN) - h)
		}
	}
	for _, p := range sf.pads {
		u, v := p.local(e, n)
		d := math.Max(math.Abs(u)-p.halfL, math.Abs(v)-p.halfW)
		if w := smooth(1 - (d-1.5)/6); w > 0 {
			h += w * (p.z + p.slope*u - h)
		}
	}
	if p := sf.pond; p != nil {
		if w := smooth(1 - (math.Hypot(e-p.e, n-p.n)-p.r)/8); w > 0 {
			h += w * (p.z - h)
		}
	}
	return h
}

func (p *pad) local(e, n float64) (u, v float64) {
	return (e-p.e)*p.dirE + (n-p.n)*p.dirN, (e-p.e)*p.dirN - (n-p.n)*p.dirE
}

// layCover fills the cover raster.
func (sf *Surface) layCover(b box) {
	sf.coverE0, sf.coverN0 = b.e0, b.n0
	sf.coverCols = int((b.e1-b.e0)/coverCellM) + 1
	sf.coverRows = int((b.n1-b.n0)/coverCellM) + 1
	sf.cover = make([]Cover, sf.coverCols*sf.coverRows)
	if sf.hard {
		return
	}
	for j := range sf.coverRows {
		for i := range sf.coverCols {
			sf.cover[j*sf.coverCols+i] = sf.coverOf(b.e0+(float64(i)+0.5)*coverCellM, b.n0+(float64(j)+0.5)*coverCellM)
		}
	}
}

func (sf *Surface) coverOf(e, n float64) Cover {
	for i := range sf.pads {
		if u, v := sf.pads[i].local(e, n); math.Abs(u) <= sf.pads[i].halfL && math.Abs(v) <= sf.pads[i].halfW {
			return CoverHard
		}
	}
	if p := sf.pond; p != nil && math.Hypot(e-p.e, n-p.n) <= p.r {
		return CoverWater
	}
	for _, r := range sf.roads {
		if math.Abs((e-r.e)*r.dirN-(n-r.n)*r.dirE) <= r.halfM {
			return CoverHard
		}
	}
	for _, w := range sf.woods {
		if math.Hypot(e-w.e, n-w.n) <= w.r {
			return CoverVegetated
		}
	}
	return CoverGrass
}

// groundCover returns the cover of the ground at (e, n) from the centre.
func (sf *Surface) groundCover(e, n float64) Cover {
	i, j := int((e-sf.coverE0)*(1/coverCellM)), int((n-sf.coverN0)*(1/coverCellM))
	i, j = min(max(i, 0), sf.coverCols-1), min(max(j, 0), sf.coverRows-1)
	return sf.cover[j*sf.coverCols+i]
}

// GroundM returns the height of the ground (soil, road, water) at map coordinates, m above the geoid.
func (sf *Surface) GroundM(eM, nM float64) float64 {
	z, _, _ := sf.ground.at(eM-sf.centreE, nM-sf.centreN)
	return z
}

// GroundGradient returns the slope of the ground, metres per metre east and north.
func (sf *Surface) GroundGradient(eM, nM float64) (gE, gN float64) {
	_, gE, gN = sf.ground.at(eM-sf.centreE, nM-sf.centreN)
	return gE, gN
}

// HeightM returns the height of the hard surface at map coordinates: the roof
// where a house stands, the ground elsewhere, also under trees.
func (sf *Surface) HeightM(eM, nM float64) float64 {
	e, n := eM-sf.centreE, nM-sf.centreN
	z, _, _ := sf.ground.at(e, n)
	for _, k := range sf.index.near(e, n) {
		if k >= 0 {
			if r, ok := sf.houses[k].roof(e, n); ok {
				z = math.Max(z, r)
			}
		}
	}
	return z
}

// CoverAt returns the cover at map coordinates.
func (sf *Surface) CoverAt(eM, nM float64) Cover {
	e, n := eM-sf.centreE, nM-sf.centreN
	c := sf.groundCover(e, n)
	for _, k := range sf.index.near(e, n) {
		if k >= 0 {
			if _, ok := sf.houses[k].roof(e, n); ok {
				return CoverRoof
			}
		} else if p := &sf.plants[-k-1]; c == CoverGrass && p.over(e, n) {
			c = CoverVegetated
		}
	}
	return c
}
