package fieldcheck

import (
	"fmt"
	"math"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"
)

// hole is a connected group of cells without a return.
type hole struct {
	cells  []int // row*cols+col
	areaM2 float64
	widthM float64 // of the widest place: twice the largest distance to a cell that is none
	e, n   float64
}

// coverageChecks judges the raster of first returns in the planned area, and
// for holes where there is none.
func (r *runner) coverageChecks() {
	cov := r.in.Coverage
	if cov == nil || cov.Cols*cov.Rows == 0 || len(cov.First) != cov.Cols*cov.Rows || cov.CellM <= 0 {
		r.missing("coverage", "cells of the area with a return", false, "no cloud given")
		r.missing("holes", "largest hole", true, "no cloud given")
		r.missing("density", "first returns", false, "no cloud given")
		return
	}
	inside := r.areaMask(cov)
	r.covered(cov, inside)
	r.holes(cov, inside)
	r.density(cov, inside)
}

func (c *Coverage) centre(k int) (e, n float64) {
	return c.EM + (float64(k%c.Cols)+0.5)*c.CellM, c.NM + (float64(k/c.Cols)+0.5)*c.CellM
}

func (c *Coverage) water(k int) bool { return len(c.Water) == len(c.First) && c.Water[k] }

// areaMask marks the cells whose centres lie in the planned area; nil without one.
func (r *runner) areaMask(c *Coverage) []bool {
	if r.in.Plan == nil || len(r.in.Plan.Area) == 0 || r.in.Plan.Geographic {
		return nil
	}
	m := make([]bool, len(c.First))
	for _, p := range r.in.Plan.Area {
		b := p.Bound()
		c0, c1 := max(0, int((b.Min[0]-c.EM)/c.CellM)), min(c.Cols-1, int((b.Max[0]-c.EM)/c.CellM))
		r0, r1 := max(0, int((b.Min[1]-c.NM)/c.CellM)), min(c.Rows-1, int((b.Max[1]-c.NM)/c.CellM))
		for row := r0; row <= r1; row++ {
			for col := c0; col <= c1; col++ {
				k := row*c.Cols + col
				e, n := c.centre(k)
				if !m[k] && planar.PolygonContains(p, orb.Point{e, n}) {
					m[k] = true
				}
			}
		}
	}
	return m
}

func (r *runner) covered(c *Coverage, inside []bool) {
	ch := Check{ID: "coverage", Title: "cells of the area with a return", Unit: "%", Limit: r.lim.CoveragePct, Sense: AtLeast, Basis: "no voids: engineering course text after an Army manual; share: " + proposal}
	if inside == nil {
		note := "no area given"
		if r.in.Plan != nil && r.in.Plan.Geographic && len(r.in.Plan.Area) > 0 {
			note = "the area is in degrees and the cloud's coordinate system is not known"
		}
		r.missing(ch.ID, ch.Title, false, "%s", note)
		return
	}
	// The part of the area outside the raster has no return.
	area := 0.0
	for _, p := range r.in.Plan.Area {
		area += math.Abs(planar.Area(p))
	}
	all, with := 0.0, 0.0
	for k, in := range inside {
		if !in || c.water(k) && c.First[k] == 0 {
			continue
		}
		all++
		if c.First[k] > 0 {
			with++
		}
	}
	cells := 0.0
	for _, in := range inside {
		if in {
			cells++
		}
	}
	outside := max(0, area/(c.CellM*c.CellM)-cells)
	if outside < 0.005*cells+4 { // the outline cuts cells
		outside = 0
	}
	ch.Value = 100 * with / max(1, all+outside)
	ch.Result = result(ch.Value >= r.lim.CoveragePct, Refly)
	ch.Note = fmt.Sprintf("%.2f %% of cells of %g m", ch.Value, c.CellM)
	if outside > 0 {
		ch.Note += fmt.Sprintf("; %.0f m² of the area lie outside all points", outside*c.CellM*c.CellM)
	}
	if ch.Result == Refly {
		ch.Note += ": see the holes, and whether they are water"
		if len(r.in.Plan.Lines) == 0 && outside > 0 {
			ch.Note += "; repeat the lines of the plan that cross there"
		}
	}
	r.add(ch)
}

// holes finds connected cells without a return: in the area, or without one,
// enclosed by returns.
func (r *runner) holes(c *Coverage, inside []bool) {
	ch := Check{ID: "holes", Title: "largest hole", Unit: "m²", Limit: r.lim.HoleCells * c.CellM * c.CellM, Sense: AtMost, Required: true, Result: Go,
		Basis: fmt.Sprintf("%s: %g cells; refly from %g m² and a width of %g m", proposal, r.lim.HoleCells, r.lim.HoleReflyM2, r.lim.HoleReflyWidthM)}
	found, shadows := 0, 0
	for _, h := range c.findHoles(inside) {
		// A house or a wood hides ground from the beams of a strip; to fly the
		// same line again would hide it again. Narrow holes are taken for such
		// shadows, and so is, at the rim that one strip alone sees, any hole if
		// no area says that the rim matters.
		rim := r.looks(h) == 1 && r.atRim(h)
		if c.width(&h); h.widthM < r.lim.HoleWidthM || inside == nil && rim {
			if h.areaM2 > ch.Limit {
				shadows++
			}
			continue
		}
		if h.areaM2 > ch.Value {
			ch.Value = h.areaM2
			ch.Note = fmt.Sprintf("%.0f m² at %.1f E, %.1f N", h.areaM2, h.e, h.n)
		}
		if h.areaM2 <= ch.Limit {
			continue
		}
		found++
		res := Caution
		if !rim && h.areaM2 >= r.lim.HoleReflyM2 && h.widthM >= r.lim.HoleReflyWidthM {
			res = Refly
		}
		if ch.Result != Refly {
			ch.Result = res
		}
		ch.Strips = append(ch.Strips, r.holeStrips(h, c, res == Refly)...)
	}
	ch.Strips = unique(ch.Strips)
	if ch.Note == "" {
		ch.Note = "none"
	}
	if found > 0 {
		ch.Note = fmt.Sprintf("%d holes, the largest %s; still water gives no returns: look before you fly", found, ch.Note)
		if len(ch.Strips) > 0 {
			ch.Note += "; it would be covered by " + names(ch.Strips)
		}
	}
	if shadows > 0 {
		ch.Note += fmt.Sprintf("; %d more are taken as shadows of houses and trees (narrower than %g m, or at the rim that one strip sees)", shadows, r.lim.HoleWidthM)
	}
	r.add(ch)
}

// looks counts the strips whose swath covers the middle of a hole; -1 when no swath is known.
func (r *runner) looks(h hole) int {
	n, known := 0, false
	for i := range r.shots {
		if s := r.shots[i].Swath; len(s) > 0 {
			known = true
			if planar.PolygonContains(s, orb.Point{h.e, h.n}) {
				n++
			}
		}
	}
	if !known {
		return -1
	}
	return n
}

// atRim reports whether a hole lies beside the block: no two parallel strips
// have it between them, and none has it under its axis.
func (r *runner) atRim(h hole) bool {
	var ax []axis
	for i := range r.shots {
		if a := axisOf(&r.shots[i]); a.ok {
			if u := a.along(h.e, h.n); u > 0 && u < a.length {
				ax = append(ax, a)
			}
		}
	}
	for _, a := range ax {
		w := a.across(h.e, h.n)
		if math.Abs(w) < 5 {
			return false
		}
		for _, b := range ax {
			// Across a, on the side of the hole, and beyond it.
			if math.Abs(a.s*b.s+a.c*b.c) > parallelCos {
				m := b.at(b.along(h.e, h.n))
				if v := a.across(m[0], m[1]); v/w > 1 {
					return false
				}
			}
		}
	}
	return true
}

// findHoles returns the connected groups of cells without a return, water apart.
func (c *Coverage) findHoles(inside []bool) []hole {
	seen := make([]bool, len(c.First))
	for k := range seen {
		seen[k] = c.First[k] > 0 || c.water(k) || inside != nil && !inside[k]
	}
	if inside == nil { // what is open to the border is outside
		for k := range seen {
			col, row := k%c.Cols, k/c.Cols
			if !seen[k] && (col == 0 || row == 0 || col == c.Cols-1 || row == c.Rows-1) {
				c.flood(seen, k)
			}
		}
	}
	var out []hole
	for k := range seen {
		if !seen[k] {
			out = append(out, c.flood(seen, k))
		}
	}
	return out
}

// width measures the widest place of a hole by peeling it, a ring of cells at a time.
func (c *Coverage) width(h *hole) {
	in := make(map[int]bool, len(h.cells))
	for _, k := range h.cells {
		in[k] = true
	}
	rings := 0
	for rim := h.cells; len(in) > 0; rings++ {
		var peel []int
		for _, k := range rim {
			if in[k] && !(in[k-1] && in[k+1] && in[k-c.Cols] && in[k+c.Cols]) {
				peel = append(peel, k)
			}
		}
		var next []int
		for _, k := range peel {
			delete(in, k)
			next = append(next, k-1, k+1, k-c.Cols, k+c.Cols)
		}
		rim = next
	}
	h.widthM = (2*float64(rings) - 1) * c.CellM
}

// flood marks the cells connected with k, four neighbours each, and returns them.
func (c *Coverage) flood(seen []bool, k int) hole {
	h := hole{cells: []int{k}}
	seen[k] = true
	for i := 0; i < len(h.cells); i++ {
		x := h.cells[i]
		e, n := c.centre(x)
		h.e, h.n = h.e+e, h.n+n
		col := x % c.Cols
		for _, y := range [4]int{x - 1, x + 1, x - c.Cols, x + c.Cols} {
			if y < 0 || y >= len(seen) || seen[y] || (y == x-1 && col == 0) || (y == x+1 && col == c.Cols-1) {
				continue
			}
			seen[y] = true
			h.cells = append(h.cells, y)
		}
	}
	m := float64(len(h.cells))
	h.areaM2, h.e, h.n = m*c.CellM*c.CellM, h.e/m, h.n/m
	return h
}

// holeStrips returns the strips to repeat for a hole: of all strips that pass
// by it, the one whose axis is nearest; with want the stretch beside the hole
// goes onto the list.
func (r *runner) holeStrips(h hole, c *Coverage, want bool) []string {
	best, dist := -1, math.Inf(1)
	var ax axis
	for i := range r.shots {
		a := axisOf(&r.shots[i])
		if !a.ok {
			continue
		}
		u := a.along(h.e, h.n)
		if u < -20 || u > a.length+20 {
			continue
		}
		if d := math.Abs(a.across(h.e, h.n)); d < dist {
			best, dist, ax = i, d, a
		}
	}
	if best < 0 {
		return nil
	}
	s := &r.shots[best]
	if !want {
		return []string{s.ID}
	}
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, k := range h.cells {
		e, n := c.centre(k)
		lo, hi = min(lo, ax.along(e, n)), max(hi, ax.along(e, n))
	}
	t0, t1 := s.StartS, s.EndS
	for _, o := range s.poses {
		u := ax.along(o.EM, o.NM)
		if u < lo {
			t0 = max(t0, o.TimeS)
		}
		if u > hi {
			t1 = min(t1, o.TimeS)
		}
	}
	if t1 < t0 {
		t0, t1 = t1, t0
	}
	whole := hi-lo > 0.7*ax.length
	a, b := max(s.StartS, t0-r.lim.LeadS), min(s.EndS, t1+r.lim.LeadS)
	if whole {
		a, b = s.StartS, s.EndS
	}
	r.want(s.ID, a, b, fmt.Sprintf("hole of %.0f m² at %.0f E, %.0f N", h.areaM2, h.e, h.n), !whole)
	return []string{s.ID}
}

func (r *runner) density(c *Coverage, inside []bool) {
	ch := Check{ID: "density", Title: "first returns", Unit: "/m²", Limit: r.lim.DensityPerM2, Sense: AtLeast, Basis: "limit of the contract; 5th percentile of cells: " + proposal}
	if ch.Limit == 0 && r.in.Plan != nil {
		ch.Limit = r.in.Plan.DensityPerM2
	}
	var v []float64
	for k, n := range c.First {
		if inside != nil && !inside[k] || n == 0 {
			continue
		}
		if inside == nil && c.atEdge(k) {
			continue
		}
		v = append(v, float64(n)/(c.CellM*c.CellM))
	}
	if len(v) == 0 {
		r.missing(ch.ID, ch.Title, false, "no cell with a return")
		return
	}
	ch.Value = quantile(v, 0.05)
	ch.Note = fmt.Sprintf("95 %% of cells have at least %.1f /m², half of them %.1f", ch.Value, quantile(v, 0.5))
	if ch.Limit == 0 {
		ch.Limit, ch.Result = nan, NotJudged
		ch.Note += "; no limit given"
		r.add(ch)
		return
	}
	ch.Result = result(ch.Value >= ch.Limit, Caution)
	if ch.Result != Go {
		for _, s := range r.shots {
			if s.LowDensityPerM2 > 0 && s.LowDensityPerM2 < ch.Limit {
				ch.Strips = append(ch.Strips, s.ID)
			}
		}
		if quantile(v, 0.5) < ch.Limit {
			ch.Result = Refly
			ch.Note += ": too thin as a whole; the same flight again would be as thin"
		}
	}
	r.add(ch)
}

// atEdge reports whether a cell touches one without a return: strips fade at their edges.
func (c *Coverage) atEdge(k int) bool {
	col, row := k%c.Cols, k/c.Cols
	if col == 0 || row == 0 || col == c.Cols-1 || row == c.Rows-1 {
		return true
	}
	return c.First[k-1] == 0 || c.First[k+1] == 0 || c.First[k-c.Cols] == 0 || c.First[k+c.Cols] == 0
}
