package assess

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"github.com/paulmach/orb"

	"sidelap/overlap"
	"sidelap/report"
)

// maxProfiles and profileHalfM bound the cuts that the reports draw.
const (
	maxProfiles  = 4
	profileHalfM = 6.0
)

// What a profile shows, at the end of its title.
const (
	ofPlanes  = ": planes of cells"
	ofReturns = ": returns"
)

// profiles cuts across the places where strips differ most, over smooth, level cells and over slopes such as
// roofs, each in another pair. They show the planes of the strips' cells, a point at each end of a cell along the cut, until
// profileReturns puts the returns in their place.
func profiles(s *overlap.Survey, pairs []overlap.Pair) []report.Profile {
	type place struct {
		pair, cell int
		steep      bool
		size       float64
	}
	var places []place
	for i := range pairs {
		best := [2]place{{pair: -1}, {pair: -1}}
		for k := range pairs[i].Cells {
			c := &pairs[i].Cells[k]
			kind := -1
			switch c.Flag {
			case 0:
				kind = 0
			case overlap.Steep:
				if math.Hypot(c.SlopeE, c.SlopeN) <= 1 { // roofs and banks, not walls
					kind = 1
				}
			}
			if kind >= 0 && math.Abs(c.DzM) > best[kind].size {
				best[kind] = place{i, k, kind == 1, math.Abs(c.DzM)}
			}
		}
		for _, b := range best {
			if b.pair >= 0 {
				places = append(places, b)
			}
		}
	}
	slices.SortStableFunc(places, func(a, b place) int { return cmp.Compare(b.size, a.size) })
	var out []report.Profile
	used := map[[2]int]bool{} // one profile of each kind in a pair, half of each kind
	count := [2]int{}
	for _, p := range places {
		kind := 0
		if p.steep {
			kind = 1
		}
		if used[[2]int{p.pair, kind}] || count[kind] == maxProfiles/2 {
			continue
		}
		used[[2]int{p.pair, kind}] = true
		count[kind]++
		out = append(out, cut(s, &pairs[p.pair], &pairs[p.pair].Cells[p.cell]))
	}
	return out
}

// cut makes the profile through a cell: down the slope on steep ground, else across the earlier strip.
func cut(s *overlap.Survey, p *overlap.Pair, c *overlap.PairCell) report.Profile {
	a := &s.Strips[p.A]
	de, dn := math.Cos(a.HeadingRad), -math.Sin(a.HeadingRad)
	if g := math.Hypot(c.SlopeE, c.SlopeN); c.Flag != 0 && g > 0 {
		de, dn = c.SlopeE/g, c.SlopeN/g
	}
	if math.IsNaN(de) {
		de, dn = 1, 0
	}
	what := "a smooth, nearly level surface" // of that cell; along the cut there may be trees
	if c.Flag != 0 {
		what = "a sloping surface"
	}
	prof := report.Profile{
		Title: fmt.Sprintf("strips %s and %s, largest separation on %s"+ofPlanes, p.IDA, p.IDB, what),
		From:  orb.Point{c.EM - profileHalfM*de, c.NM - profileHalfM*dn}, To: orb.Point{c.EM + profileHalfM*de, c.NM + profileHalfM*dn},
		WidthM: s.Options.CellM, Strips: []string{p.IDA, p.IDB},
	}
	for k, st := range []*overlap.Strip{a, &s.Strips[p.B]} {
		prof.Points = append(prof.Points, alongCut(s, st, c, de, dn, k)...)
	}
	return prof
}

// alongCut samples a strip's planes on the line through c, twice in each cell.
func alongCut(s *overlap.Survey, st *overlap.Strip, c *overlap.PairCell, de, dn float64, strip int) []report.ProfilePoint {
	step := s.Options.CellM / 2
	var points []report.ProfilePoint
	for d := -profileHalfM; d <= profileHalfM; d += step {
		e, n := c.EM+d*de, c.NM+d*dn
		f := facetAt(st, int32(math.Floor(e/s.Options.CellM)), int32(math.Floor(n/s.Options.CellM)))
		if f == nil || !f.Plane || f.SlopeRad() > 1.2 {
			continue
		}
		points = append(points, report.ProfilePoint{DistM: d + profileHalfM, ZM: f.At(e, n), Strip: strip})
	}
	return points
}

// facetAt finds a strip's facet in a cell; facets are sorted by row, then column.
func facetAt(st *overlap.Strip, col, row int32) *overlap.Facet {
	i, ok := slices.BinarySearchFunc(st.Facets, [2]int32{row, col}, func(f overlap.Facet, k [2]int32) int {
		return cmp.Or(cmp.Compare(f.Row, k[0]), cmp.Compare(f.Col, k[1]))
	})
	if !ok {
		return nil
	}
	return &st.Facets[i]
}
