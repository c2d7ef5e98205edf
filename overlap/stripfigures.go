package overlap

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// usableShare is the central part of the swath on which density is judged.
//
// Source: USGS Lidar Base Specification 2025 rev. A: the geometrically usable
// centre part, about 95 %, of each swath.
const usableShare = 0.95

// finish computes what needs the facets: outliers, hulls, sizes, densities.
func (s *Survey) finish(a *Accumulator) {
	cell := a.o.CellM
	for i := range s.Strips {
		st := &s.Strips[i]
		s.dropOutliers(st)
		st.WidthM, st.LengthM, st.DensityPerM2, st.ANPSM = math.NaN(), math.NaN(), math.NaN(), math.NaN()
		if len(st.Facets) == 0 {
			continue
		}
		st.AreaM2 = float64(len(st.Facets)) * cell * cell
		st.axis = newFrame(st.Facets, st.HeadingRad, cell)
		st.hull = newHull(st.axis, st.Facets, cell)
		if st.Kind == Line {
			st.WidthM = st.hull.widthM()
			st.LengthM = st.hull.length
			st.checkHeading()
		}
		st.density(cell)
		if st.Looks == 2 {
			st.Notes = append(st.Notes, fmt.Sprintf("most of its ground was seen twice, %.1f s apart: two scan directions of one sensor, kept as one strip", st.LookGapS))
		}
	}
	s.ANPSM = a.o.ANPSM
	if s.ANPSM == 0 {
		var v []float64
		for _, st := range s.Lines() {
			if !math.IsNaN(st.ANPSM) {
				v = append(v, st.ANPSM)
			}
		}
		s.ANPSM = median(v)
	}
	s.setLimits()
	s.noteFacetless()
	if c := s.Counts; c.Absurd > 0 {
		s.Notes = append(s.Notes, fmt.Sprintf("%d points have coordinates no survey can have (beyond 1e8 m, or heights beyond 100 km): left out", c.Absurd))
	}
	if n := len(s.Outliers); n > 0 {
		o := s.Outliers[0]
		s.Notes = append(s.Notes, fmt.Sprintf("%d cells with a few points lie far from their strip (the first at E %.1f, N %.1f): left out of all figures", n, o.EM, o.NM))
	}
}

// noteFacetless names lines that the choice of classes leaves with hardly any
// facet: without a word they would look as if nothing overlapped.
func (s *Survey) noteFacetless() {
	if s.Options.Classes == nil && !s.Options.Classified {
		return
	}
	for _, st := range s.Lines() {
		var n int64
		for i := range st.Facets {
			n += int64(st.Facets[i].N)
		}
		if 50*n < st.Points {
			few := fmt.Sprintf("only %d of its %d points are last returns", n, st.Points)
			if n == 0 {
				few = fmt.Sprintf("none of its %d points is a last return", st.Points)
			}
			s.Notes = append(s.Notes, fmt.Sprintf("strip %s: %s of the classes compared; name its classes if it is not classified like the others", st.ID, few))
		}
	}
}

// checkHeading compares the direction to the right with the movement.
func (st *Strip) checkHeading() {
	if st.SpeedMPS > 0.5 && st.LengthM > 0 && st.SpeedMPS > 150 {
		st.Notes = append(st.Notes, fmt.Sprintf("a speed of %.0f m/s is not plausible: check the GPS times and the unit of x and y", st.SpeedMPS))
		st.RefusedMPS = st.SpeedMPS
		st.SpeedMPS = math.NaN()
	}
}

// density fills first returns per m2 over the usable central part.
func (st *Strip) density(cellM float64) {
	var first, cells float64
	bins := len(st.hull.lo)
	for i := range st.Facets {
		f := &st.Facets[i]
		e, n := cellCentre(f, cellM)
		along := st.axis.along(e, n)
		if b := st.hull.bin(along); bins > 4 && (b == 0 || b == bins-1) {
			continue // the ends cut through cells
		}
		if st.hull.inside(along, st.axis.across(e, n), usableShare) && f.First > 0 {
			first += float64(f.First)
			cells++
		}
	}
	if cells > 0 {
		st.DensityPerM2 = first / (cells * cellM * cellM)
		st.ANPSM = 1 / math.Sqrt(st.DensityPerM2)
	}
}

// tilePlace is a tile of the survey's grid.
type tilePlace struct{ col, row int32 }

func tileOf(f *Facet) tilePlace { return tilePlace{f.Col >> tileBits, f.Row >> tileBits} }

// dropOutliers moves cells that lie far from the rest of the strip, and hold
// hardly any points, to Survey.Outliers. A strip with more than one such cell in
// a hundred is thin, and stays as it is.
func (s *Survey) dropOutliers(st *Strip) {
	lost := outlyingTiles(st.Facets)
	if len(lost) == 0 {
		return
	}
	n := 0
	for i := range st.Facets {
		if lost[tileOf(&st.Facets[i])] {
			n++
		}
	}
	if 100*n > len(st.Facets) {
		return
	}
	st.Facets = slices.DeleteFunc(st.Facets, func(f Facet) bool {
		if !lost[tileOf(&f)] {
			return false
		}
		e, n := cellCentre(&f, s.Options.CellM)
		s.Outliers = append(s.Outliers, Outlier{Strip: st.Index, Points: int(f.First), EM: e, NM: n, ZM: f.ZM})
		return true
	})
}

// outlyingTiles returns the tiles of groups with a handful of points. Tiles
// belong together when at most one empty tile lies between them.
func outlyingTiles(facets []Facet) map[tilePlace]bool {
	points := map[tilePlace]int64{}
	var order []tilePlace
	var total, sum int64
	for i := range facets {
		f := &facets[i]
		p := tileOf(f)
		sum += int64(f.First) + int64(f.N)
		if i+1 < len(facets) && tileOf(&facets[i+1]) == p {
			continue
		}
		if _, ok := points[p]; !ok {
			order = append(order, p)
		}
		points[p] += sum
		total += sum
		sum = 0
	}
	done := make(map[tilePlace]bool, len(order))
	lost := map[tilePlace]bool{}
	var group []tilePlace
	for _, p := range order {
		if done[p] {
			continue
		}
		done[p] = true
		group = append(group[:0], p)
		var n int64
		for i := 0; i < len(group); i++ {
			n += points[group[i]]
			for dr := int32(-2); dr <= 2; dr++ {
				for dc := int32(-2); dc <= 2; dc++ {
					q := tilePlace{group[i].col + dc, group[i].row + dr}
					if _, ok := points[q]; ok && !done[q] {
						done[q] = true
						group = append(group, q)
					}
				}
			}
		}
		if n < 40 && 1000*n < total {
			for _, q := range group {
				lost[q] = true
			}
		}
	}
	return lost
}

// RoughLimitM is the plane residual above which a cell counts as rough in the
// separation: three times the first quartile of the residuals of gently sloping
// cells, held between 0.03 and 0.15 m. It lets short grass pass and keeps
// shrubs out. Our choice.
func (s *Survey) RoughLimitM() float64 { return s.roughLimitM }

// SmoothLimitM is the plane residual up to which a cell counts as smooth in the
// repeatability: twice the 2nd percentile of the residuals of gently sloping
// cells, at least 0.01 m. It keeps the smoothest surfaces of the scene, roads and
// roofs where they are a tenth of it, with nearly all the spread of their
// residuals. Our choice.
func (s *Survey) SmoothLimitM() float64 { return s.smoothLimitM }

// setLimits finds the two limits. The quantiles are taken over cells of 12 and
// more points, whose residuals scatter by a fifth only, when there are 50 such.
func (s *Survey) setLimits() {
	var v, well []float64
	for _, st := range s.Lines() {
		for i := range st.Facets {
			f := &st.Facets[i]
			if !f.Plane || f.N < 6 || f.SlopeRad() > 10*degree {
				continue
			}
			v = append(v, f.RoughM)
			if f.N >= 12 {
				well = append(well, f.RoughM)
			}
		}
	}
	s.roughLimitM, s.smoothLimitM = 0.15, 0.15
	if len(v) == 0 {
		return
	}
	slices.SortFunc(v, cmp.Compare[float64])
	s.roughLimitM = min(max(3*quantileSorted(v, 0.25), 0.03), 0.15)
	if len(well) < 50 {
		well = v
	}
	slices.SortFunc(well, cmp.Compare[float64])
	s.smoothLimitM = min(max(2*quantileSorted(well, 0.02), 0.01), s.roughLimitM)
}
