package fieldcheck

import (
	"fmt"
	"math"
	"slices"

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

// judged is a hole with what explains it.
type judged struct {
	hole
	rim    bool // beside the block, seen by one strip
	shadow bool // taken for that of a house or a tree
	cause
}

// judgeHoles finds connected cells without a return, in the area or, without
// one, enclosed by returns, and asks the strips as flown what explains them.
func (r *runner) judgeHoles(c *Coverage, inside []bool) []judged {
	var out []judged
	lanes := r.lanes()
	for _, h := range c.findHoles(inside, r.wet) {
		x := judged{hole: h}
		// A house or a wood hides ground from the beams of a strip; to fly the
		// same line again would hide it again. Narrow holes are taken for such
		// shadows, and so is, at the rim that one strip alone sees, any hole if
		// no area says that the rim matters.
		x.rim = r.looks(h.e, h.n) == 1 && r.atRim(h)
		c.width(&x.hole)
		x.shadow = x.widthM < r.lim.HoleWidthM || inside == nil && x.rim
		if !x.shadow && h.areaM2 > r.lim.HoleCells*c.CellM*c.CellM {
			x.cause = r.causeOf(&x.hole, c, lanes)
		}
		out = append(out, x)
	}
	return out
}

// holes judges the holes.
func (r *runner) holes(c *Coverage, all []judged) {
	ch := Check{ID: "holes", Title: "largest hole", Unit: "m²", Limit: r.lim.HoleCells * c.CellM * c.CellM, Sense: AtMost, Required: true, Result: Go,
		Basis: fmt.Sprintf("%s: %g cells; refly from %g m² and a width of %g m, where fewer than two strips looked", proposal, r.lim.HoleCells, r.lim.HoleReflyM2, r.lim.HoleReflyWidthM)}
	found, shadows := 0, 0
	var why holeNotes
	for i := range all {
		h := &all[i]
		if h.shadow {
			if h.areaM2 > ch.Limit {
				shadows++
			}
			continue
		}
		if h.areaM2 > ch.Value {
			ch.Value = h.areaM2
			ch.Note = fmt.Sprintf("%.0f m² %s", h.areaM2, r.placeText(Place{EM: h.e, NM: h.n}))
		}
		if h.areaM2 <= ch.Limit {
			continue
		}
		found++
		r.rep.Places = append(r.rep.Places, Place{EM: h.e, NM: h.n, AreaM2: h.areaM2})
		res := Caution
		if h.areaM2 >= r.lim.HoleReflyM2 && h.widthM >= r.lim.HoleReflyWidthM && (len(h.lacking) > 0 || h.looks < 2 && !h.rim) {
			res = Refly
		}
		if ch.Result != Refly {
			ch.Result = res
		}
		ch.Strips = append(ch.Strips, r.mend(h, res == Refly, &why)...)
	}
	ch.Strips = unique(ch.Strips)
	switch {
	case ch.Note == "":
		ch.Note = "none"
	case found == 1:
		ch.Note = "1 hole: " + ch.Note
	case found > 1:
		ch.Note = fmt.Sprintf("%d holes, the largest %s", found, ch.Note)
	}
	ch.Note += why.text(found)
	r.waterNote(&ch, c)
	if shadows > 0 {
		ch.Note += fmt.Sprintf("; %s taken as %s of houses and trees (narrower than %g m, or at the rim that one strip sees)",
			counted(shadows, "more is", "more are"), plural(shadows, "the shadow", "shadows"), r.lim.HoleWidthM)
	}
	r.add(ch)
}

// looks counts the strips whose swath covers a place; -1 when no swath is known.
func (r *runner) looks(e, n float64) int {
	count, known := 0, false
	for i := range r.shots {
		if s := r.shots[i].Swath; len(s) > 0 {
			known = true
			if planar.PolygonContains(s, orb.Point{e, n}) {
				count++
			}
		}
	}
	if !known {
		return -1
	}
	return count
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
func (c *Coverage) findHoles(inside []bool, wet wetness) []hole {
	seen := make([]bool, len(c.First))
	for k := range seen {
		seen[k] = c.First[k] > 0 || wet.of(k) != wetNot || inside != nil && !inside[k]
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

// width measures the widest place of a hole by peeling it, a ring of cells at a
// time. Rings of four neighbours measure along rows and columns: across an edge
// at 45° a hole counts as up to 1.4 times as wide as it is.
func (c *Coverage) width(h *hole) {
	in := make(map[int]bool, len(h.cells))
	for _, k := range h.cells {
		in[k] = true
	}
	rings := 0
	for rim := h.cells; len(in) > 0; rings++ {
		var peel, next []int
		for _, k := range rim {
			y := c.beside(k)
			if in[k] && !(in[y[0]] && in[y[1]] && in[y[2]] && in[y[3]]) {
				peel = append(peel, k)
				next = append(next, y[:]...)
			}
		}
		for _, k := range peel {
			delete(in, k)
		}
		slices.Sort(next) // each cell once: along a slanted edge two cells of a ring share a neighbour
		rim = slices.Compact(next)
	}
	h.widthM = (2*float64(rings) - 1) * c.CellM
}

// beside returns the four neighbours of a cell, -1 for one outside the raster.
func (c *Coverage) beside(k int) [4]int {
	y := [4]int{k - 1, k + 1, k - c.Cols, k + c.Cols}
	for i, out := range [4]bool{k%c.Cols == 0, (k+1)%c.Cols == 0, k < c.Cols, k >= c.Cols*(c.Rows-1)} {
		if out {
			y[i] = -1
		}
	}
	return y
}

// flood marks the cells connected with k, four neighbours each, and returns them.
func (c *Coverage) flood(seen []bool, k int) hole {
	h := hole{cells: []int{k}}
	seen[k] = true
	for i := 0; i < len(h.cells); i++ {
		x := h.cells[i]
		e, n := c.centre(x)
		h.e, h.n = h.e+e, h.n+n
		for _, y := range c.beside(x) {
			if y < 0 || seen[y] {
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
