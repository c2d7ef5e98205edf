package field

import (
	"math"
	"slices"
	"sort"

	"github.com/paulmach/orb"

	"sidelap/overlap"
	"sidelap/trajectory"
	"sidelap/trajectory/fieldcheck"
)

const (
	binLengthM  = 4.0 // stretches of a swath's outline
	leastPauseS = 0.3 // shorter pauses of points are not listed
)

// summary makes what the checks need of every line of the survey. Times stay the cloud's.
func (c *cloud) summary(s *overlap.Survey, cov *overlap.Coverage) (strips []fieldcheck.Strip, withoutTime int) {
	for i, st := range s.Lines() {
		if math.IsNaN(st.StartGPSS) || !(st.EndGPSS > st.StartGPSS) {
			withoutTime++
			continue
		}
		x := fieldcheck.Strip{ID: st.ID, StartS: st.StartGPSS, EndS: st.EndGPSS, Points: st.Points, LengthM: known(st.LengthM), HeightAboveGroundM: known(st.HeightAGLM),
			HeadingRad: known(st.HeadingRad), DensityPerM2: known(st.DensityPerM2), Swath: swath(&st, s.Options.CellM)}
		if i < len(cov.Strips) {
			x.LowDensityPerM2 = known(cov.Strips[i].LowDensity)
		}
		if !c.got.bins.overflow {
			x.GapsKnown = true
			x.Gaps = c.got.bins.pauses(func(k binKey) bool {
				return slices.Contains(st.Files, int(k.file)) && slices.Contains(st.Sources, int(k.source))
			}, st.StartGPSS, st.EndGPSS, leastPauseS)
		}
		strips = append(strips, x)
	}
	return strips, withoutTime
}

// known turns "not known" of package overlap (NaN) into that of fieldcheck (0).
func known(v float64) float64 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return 0
	}
	return v
}

// swath outlines the ground of a strip: from stretch to stretch along the flight, the outermost cells with a
// first return on both sides. The first and last stretch, which are cut anyhow, are left out. The edges are
// those of cell centres: the error of half a cell has either sign.
func swath(st *overlap.Strip, cellM float64) orb.Polygon {
	if math.IsNaN(st.HeadingRad) {
		return nil
	}
	sin, cos := math.Sincos(st.HeadingRad)
	binM := max(binLengthM, 3*cellM)
	type edge struct{ lo, hi float64 }
	edges := map[int]edge{}
	for i := range st.Facets {
		f := &st.Facets[i]
		if f.First == 0 {
			continue
		}
		e, n := (float64(f.Col)+0.5)*cellM, (float64(f.Row)+0.5)*cellM
		w := e*cos - n*sin
		b := int(math.Floor((e*sin + n*cos) / binM))
		if x, had := edges[b]; had {
			edges[b] = edge{min(x.lo, w), max(x.hi, w)}
		} else {
			edges[b] = edge{w, w}
		}
	}
	if len(edges) < 4 {
		return nil
	}
	var bins []int
	for b := range edges {
		bins = append(bins, b)
	}
	sort.Ints(bins)
	var left, right orb.Ring
	for _, b := range bins[1 : len(bins)-1] {
		u, x := binM*(float64(b)+0.5), edges[b]
		left = append(left, orb.Point{u*sin + x.lo*cos, u*cos - x.lo*sin})
		right = append(right, orb.Point{u*sin + x.hi*cos, u*cos - x.hi*sin})
	}
	slices.Reverse(left)
	ring := append(right, left...)
	return orb.Polygon{append(ring, ring[0])}
}

// heightsOver replaces the height above ground of a strip by that of the path over the strip's own facets,
// and finds how much it changes along the strip. It needs a path in the heights of the cloud.
func heightsOver(x *fieldcheck.Strip, st *overlap.Strip, p *trajectory.Path, cellM float64) {
	ground := map[cellID]float64{}
	for i := range st.Facets {
		if f := &st.Facets[i]; f.N > 0 && !math.IsNaN(f.ZM) {
			ground[cellID{f.Col, f.Row}] = f.ZM
		}
	}
	reach := int32(max(1, math.Round(4/cellM)))
	lowest := func(e, n float64) float64 {
		col, row := int32(math.Floor(e/cellM)), int32(math.Floor(n/cellM))
		z := math.Inf(1)
		for r := row - reach; r <= row+reach; r++ {
			for c := col - reach; c <= col+reach; c++ {
				if v, ok := ground[cellID{c, r}]; ok {
					z = min(z, v)
				}
			}
		}
		return z
	}
	var h []float64
	cur := p.NewCursor()
	for t := st.StartGPSS; t <= st.EndGPSS; t++ {
		o, ok := cur.At(t)
		if !ok {
			continue
		}
		if z := lowest(o.EM, o.NM); !math.IsInf(z, 1) {
			h = append(h, o.HM-z)
		}
	}
	if len(h) < 3 {
		return
	}
	sort.Float64s(h)
	if m := h[len(h)/2]; m > 1 {
		// The extremes of a strip of a few seconds are its extremes; of a long one the outermost fiftieth is left out.
		cut := len(h) / 50
		x.HeightAboveGroundM, x.HeightSpreadM = m, h[len(h)-1-cut]-h[cut]
	}
}
