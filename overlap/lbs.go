package overlap

import (
	"cmp"
	"math"
	"slices"
)

// lbsCell is a cell of the LBS rule in one strip: smooth, with single returns only.
type lbsCell struct {
	id         cellID // on the grid of LBS cells
	low, high  float64
	plane      planeSum
	precisionM float64 // slope-corrected range, NaN while not known
}

// minNeighbours is the number of neighbours on the same surface that an LBS cell
// needs for a slope: an area's inside and its straight edges. The rule names 8.
const minNeighbours = 5

// lbsCells finds the strip's smooth cells of k by k cells of the survey, and
// their slope-corrected ranges. The rule wants hard surfaces picked by a person;
// here a cell counts when each of its parts is a smooth plane or empty, at least
// half have points, all returns are single, and one plane fits the whole.
func (s *Survey) lbsCells(st *Strip, k int, sideM float64, o RepeatabilityOptions) []lbsCell {
	groups := map[cellID][]*Facet{}
	var ids []cellID
	for i := range st.Facets {
		f := &st.Facets[i]
		id := cellID{int32(floorDiv(int64(f.Col), int64(k))), int32(floorDiv(int64(f.Row), int64(k)))}
		if groups[id] == nil {
			ids = append(ids, id)
		}
		groups[id] = append(groups[id], f)
	}
	slices.SortFunc(ids, func(x, y cellID) int { return cmp.Or(cmp.Compare(x.row, y.row), cmp.Compare(x.col, y.col)) })
	var out []lbsCell
	at := map[cellID]int{}
	for _, id := range ids {
		if c, ok := lbsCellOf(id, groups[id], k, o); ok {
			at[id] = len(out)
			out = append(out, c)
		}
	}
	for i := range out {
		out[i].correct(out, at, sideM, 2*o.RoughLimitM)
	}
	return out
}

func lbsCellOf(id cellID, parts []*Facet, k int, o RepeatabilityOptions) (lbsCell, bool) {
	c := lbsCell{id: id, low: math.Inf(1), high: math.Inf(-1), precisionM: math.NaN()}
	sum := &c.plane
	single := 0
	for _, f := range parts {
		if f.Multi > 0 {
			return c, false
		}
		if f.N > 0 && !(f.N >= 4 && f.RoughM <= o.RoughLimitM && f.SlopeRad() <= o.MaxSlopeRad) {
			return c, false
		}
		if f.Single > 0 {
			c.low, c.high = min(c.low, f.SingleLowM), max(c.high, f.SingleHighM)
			single += int(f.Single)
		}
		sum.add(f)
	}
	if 2*len(parts) < k*k || single < o.MinPoints {
		return c, false
	}
	return c, sum.solve() <= o.RoughLimitM
}

// planeSum joins facets with planes to one plane.
type planeSum struct {
	n, e, nn, z             float64 // about the first facet's mean
	ee, en, nnn, ez, nz, zz float64
	e0, n0, z0              float64
	a, b                    float64 // gradient, by solve
}

// add restores a facet's moments from its plane and residual.
func (p *planeSum) add(f *Facet) {
	if !f.Plane || f.N < 4 {
		return
	}
	if p.n == 0 {
		p.e0, p.n0, p.z0 = f.EM, f.NM, f.ZM
	}
	n := float64(f.N)
	dE, dN, dZ := f.EM-p.e0, f.NM-p.n0, f.ZM-p.z0
	cez := f.VarE*f.SlopeE + f.CovEN*f.SlopeN
	cnz := f.CovEN*f.SlopeE + f.VarN*f.SlopeN
	czz := f.SlopeE*cez + f.SlopeN*cnz + f.RoughM*f.RoughM*(n-3)/n
	p.n += n
	p.e += n * dE
	p.nn += n * dN
	p.z += n * dZ
	p.ee += n * (f.VarE + dE*dE)
	p.en += n * (f.CovEN + dE*dN)
	p.nnn += n * (f.VarN + dN*dN)
	p.ez += n * (cez + dE*dZ)
	p.nz += n * (cnz + dN*dZ)
	p.zz += n * (czz + dZ*dZ)
}

// solve fits one plane through all and returns its residual (n-3), +Inf without one.
func (p *planeSum) solve() float64 {
	if p.n < 4 {
		return math.Inf(1)
	}
	xx, xy, yy := p.ee-p.e*p.e/p.n, p.en-p.e*p.nn/p.n, p.nnn-p.nn*p.nn/p.n
	xz, yz, zz := p.ez-p.e*p.z/p.n, p.nz-p.nn*p.z/p.n, p.zz-p.z*p.z/p.n
	det := xx*yy - xy*xy
	if !(det > 0) {
		return math.Inf(1)
	}
	p.a, p.b = (xz*yy-yz*xy)/det, (yz*xx-xz*xy)/det
	return math.Sqrt(max(zz-p.a*xz-p.b*yz, 0) / (p.n - 3))
}

// offset is how far the mean of q lies off the plane of p.
func (p *planeSum) offset(q *planeSum) float64 {
	dE := q.e0 + q.e/q.n - p.e0 - p.e/p.n
	dN := q.n0 + q.nn/q.n - p.n0 - p.nn/p.n
	return q.z0 + q.z/q.n - p.z0 - p.z/p.n - p.a*dE - p.b*dN
}

// correct takes off the largest slope to the neighbours on the same surface,
// from lowest to lowest point, over the distance of the cells' centres. A smooth
// neighbour more than stepM off the cell's plane is another surface: the road
// beside the pavement, the roof above the yard.
func (c *lbsCell) correct(cells []lbsCell, at map[cellID]int, sideM, stepM float64) {
	slope, n := 0.0, 0
	for dr := int32(-1); dr <= 1; dr++ {
		for dc := int32(-1); dc <= 1; dc++ {
			i, ok := at[cellID{c.id.col + dc, c.id.row + dr}]
			if !ok || dr == 0 && dc == 0 || math.Abs(c.plane.offset(&cells[i].plane)) > stepM {
				continue
			}
			n++
			slope = max(slope, math.Abs(cells[i].low-c.low)/(sideM*math.Hypot(float64(dr), float64(dc))))
		}
	}
	if n >= minNeighbours {
		c.precisionM = LBSPrecision(c.high-c.low, slope, sideM)
	}
}

func precisions(cells []lbsCell) []float64 {
	var out []float64
	for i := range cells {
		if !math.IsNaN(cells[i].precisionM) {
			out = append(out, cells[i].precisionM)
		}
	}
	return out
}

// minAreaShare is the share of an area's cells that must be judged.
const minAreaShare = 0.3

// lbsAreas gathers judged cells into square sample areas of side by side cells.
func (st *Strip) lbsAreas(cells []lbsCell, sideM float64, side int) []LBSArea {
	groups := map[cellID][]*lbsCell{}
	var ids []cellID
	for i := range cells {
		c := &cells[i]
		if math.IsNaN(c.precisionM) {
			continue
		}
		id := cellID{int32(floorDiv(int64(c.id.col), int64(side))), int32(floorDiv(int64(c.id.row), int64(side)))}
		if groups[id] == nil {
			ids = append(ids, id)
		}
		groups[id] = append(groups[id], c)
	}
	slices.SortFunc(ids, func(x, y cellID) int { return cmp.Or(cmp.Compare(x.row, y.row), cmp.Compare(x.col, y.col)) })
	var out []LBSArea
	for _, id := range ids {
		g := groups[id]
		if float64(len(g)) < minAreaShare*float64(side*side) {
			continue
		}
		a := LBSArea{Strip: st.Index, Cells: len(g), MinM: math.Inf(1), MaxM: math.Inf(-1)}
		var v []float64
		var e, n float64
		for _, c := range g {
			v = append(v, c.precisionM)
			a.MinM, a.MaxM = min(a.MinM, c.precisionM), max(a.MaxM, c.precisionM)
			ce, cn := c.id.centre(sideM)
			e, n = e+ce/float64(len(g)), n+cn/float64(len(g))
		}
		a.RMSDM = rms(v)
		a.Part = st.part(e, n)
		w := float64(side) * sideM
		e0, n0 := float64(id.col)*w, float64(id.row)*w
		a.Ring = [][2]float64{{e0, n0}, {e0 + w, n0}, {e0 + w, n0 + w}, {e0, n0 + w}, {e0, n0}}
		out = append(out, a)
	}
	return out
}

// part names the third of the swath, seen in the direction of flight.
func (st *Strip) part(e, n float64) string {
	lo, hi, ok := st.hull.rangeAt(st.axis.along(e, n))
	x := (st.axis.across(e, n) - lo) / (hi - lo)
	switch {
	case !ok || math.IsNaN(st.HeadingRad):
		return ""
	case x < 1.0/3:
		return "left"
	case x < 2.0/3:
		return "centre"
	}
	return "right"
}
