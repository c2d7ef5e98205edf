package fieldcheck

import "fmt"

// coverageChecks judges the raster of first returns in the planned area, and
// for holes where there is none.
func (r *runner) coverageChecks() {
	cov := r.in.Coverage
	if !usable(cov) {
		note := "no cloud given"
		if r.farPlan > 0 {
			note = r.otherSite()
		}
		r.missing("coverage", "cells of the area with a return", false, "%s", note)
		r.missing("holes", "largest hole", true, "no cloud given")
		r.missing("density", "first returns", false, "no cloud given")
		return
	}
	judged := r.judgeHoles(cov, r.inside)
	r.covered(cov, r.inside, r.beyond)
	r.holes(cov, judged)
	r.density(cov, r.inside)
}

// prepareCoverage finds the cells of the area and the water, which several checks ask for.
func (r *runner) prepareCoverage() {
	if c := r.in.Coverage; usable(c) {
		r.inside, r.beyond = r.areaMask(c)
		r.wet = r.findWater(c, r.inside)
	}
}

func usable(c *Coverage) bool {
	return c != nil && c.Cols*c.Rows > 0 && len(c.First) == c.Cols*c.Rows && c.CellM > 0
}

func (c *Coverage) centre(k int) (e, n float64) {
	return c.EM + (float64(k%c.Cols)+0.5)*c.CellM, c.NM + (float64(k/c.Cols)+0.5)*c.CellM
}

// areaMask marks the cells whose centres lie in the planned area, and counts
// those that lie outside the raster; nil without an area.
func (r *runner) areaMask(c *Coverage) (inside []bool, beyond int) {
	if r.in.Plan == nil || len(r.in.Plan.Area) == 0 || r.in.Plan.Geographic {
		return nil, 0
	}
	return c.mask(r.in.Plan.Area)
}

func (r *runner) covered(c *Coverage, inside []bool, beyond int) {
	ch := Check{ID: "coverage", Title: "cells of the area with a return", Unit: "%", Limit: r.lim.CoveragePct, Sense: AtLeast, Basis: "no voids: engineering course text after an Army manual; share: " + proposal}
	if r.farPlan > 0 {
		ch.Value, ch.Limit, ch.Result, ch.Note = nan, nan, Caution, r.otherSite()
		r.add(ch)
		return
	}
	if inside == nil {
		note := "no area given"
		if r.in.Plan != nil && r.in.Plan.Geographic && len(r.in.Plan.Area) > 0 {
			note = "the area is in degrees and the cloud's coordinate system is not known"
		}
		r.missing(ch.ID, ch.Title, false, "%s", note)
		return
	}
	all, with, perhaps := 0.0, 0.0, 0.0
	for k, in := range inside {
		if !in {
			continue
		}
		switch {
		case c.First[k] > 0:
			all++
			with++
		case r.wet.of(k) == wetKnown:
		case r.wet.of(k) == wetPerhaps:
			perhaps++
		default:
			all++
		}
	}
	outside := float64(beyond) // no return there
	if all+outside+perhaps == 0 {
		r.missing(ch.ID, ch.Title, false, "the area is water, or smaller than a cell of %g m: nothing in it gives returns", c.CellM)
		return
	}
	ch.Value = 100 * with / (all + outside + perhaps)
	ch.Result = result(ch.Value >= r.lim.CoveragePct, Refly)
	ch.Note = fmt.Sprintf("%.2f %% of cells of %g m", ch.Value, c.CellM)
	switch dry := 100 * with / (all + outside); { // NaN if all of it looks like water
	case ch.Result != Refly:
	case all+outside == 0:
		ch.Result = Caution
		ch.Note += ", all of it looks like water"
	case dry >= r.lim.CoveragePct:
		ch.Result = Caution
		ch.Note += fmt.Sprintf(", %.2f %% without what looks like water", dry)
	}
	if outside > 0 {
		ch.Note += fmt.Sprintf("; %.0f m² of the area lie outside all points", outside*c.CellM*c.CellM)
	}
	if ch.Result == Refly {
		ch.Note += ": see the holes"
		if len(r.in.Plan.Lines) == 0 && outside > 0 {
			ch.Note += "; repeat the lines of the plan that cross there"
		}
	}
	r.add(ch)
}

func (r *runner) density(c *Coverage, inside []bool) {
	ch := Check{ID: "density", Title: "first returns", Unit: "/m²", Limit: r.lim.DensityPerM2, Sense: AtLeast, Basis: "limit of the contract; 5th percentile of cells: " + proposal}
	if ch.Limit == 0 && r.in.Plan != nil {
		ch.Limit = r.in.Plan.DensityPerM2
	}
	var v []float64
	for k, n := range c.First {
		if inside != nil && !inside[k] || n == 0 || r.wet.of(k) != wetNot {
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
