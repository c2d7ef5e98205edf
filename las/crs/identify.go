package crs

import (
	"fmt"
	"slices"
	"sync"
)

// allConversions holds the conversions of the table, parsed.
var allConversions = sync.OnceValue(func() map[int]*Projection {
	all := map[int]*Projection{}
	for code := range table()["X"] {
		if p, ok := tableConversion(code); ok {
			all[code] = p
		}
	}
	return all
})

// SameProjection returns the codes of the EPSG projected systems that have the same
// projection, ellipsoid and unit, not deprecated, in ascending order. They share
// every formula but not always the datum.
func (c *CRS) SameProjection() []int {
	p := c.Projection
	if p == nil || p.Method == MethodUnknown {
		return nil
	}
	conversions := map[int]bool{}
	for code, q := range allConversions() {
		if p.sameMap(q) {
			conversions[code] = true
		}
	}
	if len(conversions) == 0 {
		return nil
	}
	var codes []int
	for code := range table()["P"] {
		f := fields("P", code, 7)
		if f == nil || f[4] != "" || !conversions[atoi(f[1])] {
			continue
		}
		u, ok := unitByCode(atoi(f[2]))
		if !ok || !u.Equal(c.Horizontal.Unit) {
			continue
		}
		g, ok := tableGeodetic(atoi(f[0]))
		if !ok || !near(g.ellipsoid.A, p.Ellipsoid.A, 1e-9) || !near(g.ellipsoid.InvF, p.Ellipsoid.InvF, 1e-9) {
			continue
		}
		codes = append(codes, code)
	}
	slices.Sort(codes)
	return codes
}

// siblingProjected returns the EPSG code of the system on the same datum with the
// same projection as code but in another unit, or 0.
func siblingProjected(code int, u Unit) int {
	f := fields("P", code, 7)
	var t CRS
	if f == nil || !t.useProjected(code) || t.Projection == nil {
		return 0
	}
	t.Horizontal.Unit = u
	for _, other := range t.SameProjection() {
		if g := fields("P", other, 7); g[0] == f[0] && g[3] == "en" {
			return other
		}
	}
	return 0
}

// siblingVertical returns the EPSG code of the vertical system on the same datum,
// heights too, in another unit, or 0.
func siblingVertical(code int, u Unit) int {
	f := fields("V", code, 5)
	if f == nil {
		return 0
	}
	best := 0
	for other := range table()["V"] {
		g := fields("V", other, 5)
		v, ok := unitByCode(atoi(g[0]))
		if ok && g[3] == f[3] && g[1] == f[1] && v.Equal(u) && (best == 0 || other < best) {
			best = other
		}
	}
	return best
}

// consistentCodes returns the EPSG codes to write: those stated, or where their
// units contradict the units in use the codes of the same systems in these units,
// or 0.
func (c *CRS) consistentCodes() (horizontal, vertical int) {
	horizontal, vertical = c.Horizontal.EPSG, c.Vertical.EPSG
	var h, v CRS
	if h.useProjected(horizontal) && !h.Horizontal.Unit.Equal(c.Horizontal.Unit) {
		horizontal = siblingProjected(horizontal, c.Horizontal.Unit)
	}
	if v.useVertical(vertical) && !v.Vertical.Unit.Equal(c.Vertical.Unit) {
		vertical = siblingVertical(vertical, c.Vertical.Unit)
	}
	return horizontal, vertical
}

// unitConflict notes that a stated unit contradicts the unit of a stated code.
func (c *CRS) unitConflict(part, where string, stated Unit, code int, name string, implied Unit, sibling int) {
	same := ""
	if sibling != 0 {
		same = fmt.Sprintf("; the same system in %s is EPSG:%d", plural(stated), sibling)
	}
	c.note("%s unit: %s says %s but EPSG:%d (%s) is in %s%s. The stated unit is used; check which one the coordinates are in",
		part, where, plural(stated), code, name, plural(implied), same)
}
