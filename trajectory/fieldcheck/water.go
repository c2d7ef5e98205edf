package fieldcheck

import (
	"math"
	"slices"
	"sort"
)

// wet says of a cell whether it is water.
type wet uint8

const (
	wetNot     wet = iota
	wetPerhaps     // looks like water, and nobody said so
	wetKnown       // by class, by outline, or confirmed by the crew
)

// wetness holds the water of a raster; nil is a raster without any.
type wetness []wet

func (w wetness) of(k int) wet {
	if w == nil {
		return wetNot
	}
	return w[k]
}

// Still water mirrors the beam away: it gives no returns but near the vertical.
// Numbers of the search for it; proposals, checked on invented ponds.
const (
	levelM     = 0.3 // heights of a shore agree within
	levelShare = 0.8 // on this share of it
	gatherCell = 2   // empty cells as far apart are one water
	thinShare  = 0.2 // of the usual returns in a cell are in half the cells of a water at most
)

// findWater tells water from holes. Known: cells inside an outline or of class
// water, and empty ones that the latter enclose by half at least. Perhaps: a group of empty cells that two
// strips or more looked at, so that no pause of the scanner explains them, and
// whose shore is level. nil without any.
func (r *runner) findWater(c *Coverage, inside []bool) wetness {
	w := make(wetness, len(c.First))
	any := false
	if len(c.Water) == len(c.First) {
		for k, x := range c.Water {
			if x {
				w[k], any = wetKnown, true
			}
		}
	}
	if len(r.in.Water) > 0 {
		outline, _ := c.mask(r.in.Water)
		for k, x := range outline {
			if x {
				w[k], any = wetKnown, true
			}
		}
	}
	usual := thinShare * c.usual()
	for _, g := range c.emptyGroups(inside) {
		kind := wetNot
		switch {
		case g.wet > 0 && g.wet >= g.dry:
			kind = wetKnown
		case float64(len(g.cells)) > r.lim.HoleCells && g.median() <= usual &&
			c.levelShore(g.cells) && r.looksOf(c, g.cells) >= 2:
			kind = wetPerhaps
			if r.in.WaterSeen {
				kind = wetKnown
			}
		default:
			continue
		}
		var marked []int
		for _, k := range g.cells {
			if w[k] == wetNot {
				w[k], any = kind, true
				marked = append(marked, k)
			}
		}
		if kind == wetPerhaps && len(marked) > 0 {
			r.ponds = append(r.ponds, c.placeOf(marked))
		}
	}
	if !any {
		return nil
	}
	return w
}

// placeOf is the middle and the size of some cells.
func (c *Coverage) placeOf(cells []int) (p Place) {
	for _, k := range cells {
		e, n := c.centre(k)
		p.EM, p.NM = p.EM+e, p.NM+n
	}
	m := float64(len(cells))
	return Place{EM: p.EM / m, NM: p.NM / m, AreaM2: m * c.CellM * c.CellM, Water: true}
}

// emptyGroup is a set of cells without a return that lie near each other.
type emptyGroup struct {
	cells    []int
	beside   []uint32 // first returns of the cells beside them, each once
	wet, dry int      // sides shared with cells of water, and with other cells with returns
}

// median is that of the first returns in the cells and beside them.
func (g *emptyGroup) median() float64 {
	k := (len(g.cells) + len(g.beside)) / 2
	if k < len(g.cells) {
		return 0
	}
	slices.Sort(g.beside)
	return float64(g.beside[k-len(g.cells)])
}

// usual is the median of the first returns in the cells that have any.
func (c *Coverage) usual() float64 {
	var v []uint32
	for _, n := range c.First {
		if n > 0 {
			v = append(v, n)
		}
	}
	if len(v) == 0 {
		return 0
	}
	slices.Sort(v)
	return float64(v[len(v)/2])
}

// emptyGroups returns the groups of empty cells in the area; without an area,
// those that are not open to the border of the raster.
func (c *Coverage) emptyGroups(inside []bool) []emptyGroup {
	seen := make([]bool, len(c.First))
	mark := make([]int32, len(c.First)) // group that counted a cell as beside it
	known := len(c.Water) == len(c.First)
	var out []emptyGroup
	for k := range seen {
		if seen[k] || c.First[k] > 0 || inside != nil && !inside[k] {
			continue
		}
		g, open, id := emptyGroup{cells: []int{k}}, false, int32(len(out)+1)
		seen[k] = true
		for i := 0; i < len(g.cells); i++ {
			col, row := g.cells[i]%c.Cols, g.cells[i]/c.Cols
			for dr := -gatherCell; dr <= gatherCell; dr++ {
				for dc := -gatherCell; dc <= gatherCell; dc++ {
					cc, rr := col+dc, row+dr
					near := max(dc, -dc)+max(dr, -dr) == 1
					if cc < 0 || rr < 0 || cc >= c.Cols || rr >= c.Rows {
						open = open || near
						continue
					}
					y := rr*c.Cols + cc
					switch {
					case c.First[y] > 0:
						if near && known && c.Water[y] {
							g.wet++
						} else if near {
							g.dry++
						}
						if max(dc, -dc, dr, -dr) == 1 && mark[y] != id {
							mark[y] = id
							g.beside = append(g.beside, c.First[y])
						}
					case !seen[y] && (inside == nil || inside[y]):
						seen[y] = true
						g.cells = append(g.cells, y)
					}
				}
			}
		}
		if inside != nil || !open {
			out = append(out, g)
		} else {
			out = append(out, emptyGroup{}) // keeps the numbers apart
		}
	}
	kept := out[:0]
	for _, g := range out {
		if len(g.cells) > 0 {
			kept = append(kept, g)
		}
	}
	return kept
}

// levelShore reports whether the ground beside empty cells is level: the lowest
// heights within two cells of each agree.
func (c *Coverage) levelShore(cells []int) bool {
	if len(c.LowM) != len(c.First) {
		return false
	}
	var z []float64
	for _, k := range cells {
		col, row := k%c.Cols, k/c.Cols
		low := math.Inf(1)
		for rr := max(0, row-2); rr <= min(c.Rows-1, row+2); rr++ {
			for cc := max(0, col-2); cc <= min(c.Cols-1, col+2); cc++ {
				if v := float64(c.LowM[rr*c.Cols+cc]); v < low { // NaN is not
					low = v
				}
			}
		}
		if !math.IsInf(low, 1) {
			z = append(z, low)
		}
	}
	if len(z) < 8 {
		return false
	}
	sort.Float64s(z)
	level, n := z[len(z)/5], 0
	for _, v := range z {
		if math.Abs(v-level) <= levelM {
			n++
		}
	}
	return float64(n) >= levelShare*float64(len(z))
}

// looksOf is the median number of strips that looked at some of the cells.
func (r *runner) looksOf(c *Coverage, cells []int) int {
	const most = 15
	var v []int
	for i := 0; i < len(cells); i += max(1, len(cells)/most) {
		e, n := c.centre(cells[i])
		v = append(v, r.looks(e, n))
	}
	sort.Ints(v)
	return v[len(v)/2]
}
