package control

import (
	"fmt"
	"math"
	"slices"
)

// offGridM moves the place where the triangulation is asked by a micrometre, off the lines
// between gridded points, where the triangle would not be unique.
const offGridM = 1.3e-6

// offGridRatio is the share of that to the north: the golden section, which no line between nodes of a grid follows.
const offGridRatio = 0.6180339887498949

// edgeRadiusM is the reach of the search for a step. Source: practice, "step inside 1 m".
const edgeRadiusM = 1.0

// groundSite holds one point's returns: all, and those of the ground, relative to the point.
type groundSite struct {
	point      *Point
	all        []vertex
	ground     []vertex
	sources    []uint16 // of ground
	duplicates int
	total      int
}

// groundFilter returns the test that a return belongs to the surface.
func groundFilter(o EvaluateOptions, classified bool) func(*Return) bool {
	if classified && !o.LastReturns {
		return func(r *Return) bool { return slices.Contains(o.GroundClasses, r.Class) }
	}
	return (*Return).Last
}

// classified reports whether any return near any point has a ground class.
func (c *Collector) classified(ground []uint8) bool {
	for i := range c.sites {
		for k := range c.sites[i].returns {
			if slices.Contains(ground, c.sites[i].returns[k].Class) {
				return true
			}
		}
	}
	return false
}

// groundAt gathers the returns of point i. Copies of one return (same place, time and
// pulse) count once.
func (c *Collector) groundAt(i int, ground func(*Return) bool, _ EvaluateOptions) *groundSite {
	p := &c.points[i]
	s := &groundSite{point: p}
	returns, _ := c.Returns(i)
	s.total = len(returns)
	for k := range returns {
		r := &returns[k]
		if k > 0 && sameReturn(r, &returns[k-1]) {
			s.duplicates++
			continue
		}
		v := vertex{r.EM - p.EM - offGridM, r.NM - p.NM - offGridM*offGridRatio, r.ZM}
		s.all = append(s.all, v)
		if ground(r) {
			s.ground = append(s.ground, v)
			s.sources = append(s.sources, r.Source)
		}
	}
	return s
}

func sameReturn(a, b *Return) bool {
	return a.EM == b.EM && a.NM == b.NM && a.ZM == b.ZM && a.TimeS == b.TimeS &&
		a.Source == b.Source && a.ReturnNumber == b.ReturnNumber
}

// typicalSpacing is the median over the sites of sqrt(area / returns) of the ground.
func typicalSpacing(sites []*groundSite) float64 {
	var d []float64
	for _, s := range sites {
		if n := len(s.ground); n >= 3 {
			d = append(d, math.Sqrt(math.Pi*lift(s.ground[n-1])/float64(n)))
		}
	}
	if len(d) == 0 {
		return 0
	}
	return Median(d)
}

// result finds the surface at the point.
func (s *groundSite) result(o EvaluateOptions) PointResult {
	nan := math.NaN()
	r := PointResult{Point: *s.point, CloudZM: nan, DzM: nan, SigmaM: nan, PlaneZM: nan, PlaneRMSM: nan, EdgeM: nan,
		GradE: nan, GradN: nan, NearestM: nan, NearestZM: nan, SpreadM: nan, SlopePct: nan, P90P10M: nan,
		InReach: len(s.ground), Duplicates: s.duplicates}
	r.Returns = within(s.ground, o.WithinM)
	if len(s.ground) > 0 {
		r.NearestM, r.NearestZM = math.Sqrt(lift(s.ground[0])), s.ground[0].z
	}
	pl := s.localPlane(o)
	if pl.ok {
		r.PlaneZM, r.PlaneRMSM, r.SlopePct = pl.c, pl.rmsM, pl.slopePct()
		r.GradE, r.GradN = pl.a, pl.b
		r.PlaneRadius = s.planeRadius(o)
		r.SpreadM = spread(s.ground, &pl, 6)
		r.P90P10M = percentileRange(s.all, &pl, o.WithinM)
		if e := findEdge(s.ground, edgeRadiusM); e.shareOf > 0.5 {
			r.StepM = e.heightM
		}
	}
	r.Strips = s.strips(o)
	s.judge(&r, o)
	if r.Reason == ReasonNone || r.Reason == ReasonControl {
		r.flag(o, &pl)
	}
	return r
}

// judge triangulates and decides whether the point can be compared.
func (s *groundSite) judge(r *PointResult, o EvaluateOptions) {
	switch {
	case s.total == 0:
		r.Reason = ReasonOutside
		return
	case s.point.OnRidge():
		r.Reason = ReasonRidge
		return
	case len(s.ground) < max(3, o.MinReturns):
		r.Reason, r.Detail = ReasonFew, fmt.Sprintf("%d of %d returns in reach, %d needed", len(s.ground), s.total, max(3, o.MinReturns))
		return
	}
	tri, ok := facetAt(s.ground)
	if !ok {
		r.Reason = ReasonNotEnclosed
		return
	}
	p, q, t := s.ground[tri[0]], s.ground[tri[1]], s.ground[tri[2]]
	r.EdgeM = max(math.Hypot(p.x-q.x, p.y-q.y), math.Hypot(q.x-t.x, q.y-t.y), math.Hypot(t.x-p.x, t.y-p.y))
	if r.EdgeM > o.MaxEdgeM {
		r.Reason, r.Detail = ReasonVoid, fmt.Sprintf("triangle side %.2f m, limit %.2f m", r.EdgeM, o.MaxEdgeM)
		return
	}
	d := cross(q, p, t)
	wp, wq := cross(q, vertex{}, t)/d, cross(t, vertex{}, p)/d
	wt := 1 - wp - wq
	r.CloudZM = wp*p.z + wq*q.z + wt*t.z
	if r.PlaneRMSM >= 0 {
		r.SigmaM = r.PlaneRMSM * math.Sqrt(wp*wp+wq*wq+wt*wt)
	}
	switch {
	case !s.point.HasZ():
		r.Reason = ReasonNoHeight
	case s.point.Use == UseControl:
		r.Reason = ReasonControl
	}
	if s.point.HasZ() {
		r.DzM = r.CloudZM - s.point.ZM
	}
}

// flag marks what a reader of the difference should know.
func (r *PointResult) flag(o EvaluateOptions, pl *plane) {
	add := func(f Flag, when bool) {
		if when {
			r.Flags = append(r.Flags, f)
		}
	}
	add(FlagSteep, r.SlopePct > o.MaxSlopePct)
	add(FlagStep, r.StepM > o.MaxStepM)
	add(FlagRough, r.P90P10M > o.RoughM)
	add(FlagSparse, r.Returns < o.MinReturns)
	add(FlagDiffer, pl.ok && math.Abs(r.CloudZM-r.PlaneZM) > 3*math.Hypot(r.SigmaM, pl.sigmaM)+0.005)
	add(FlagSingle, len(r.Strips) == 1)
	gap, sigma := stripGap(r.Strips)
	add(FlagStrips, gap > o.MaxStripGapM && gap > 3*sigma)
}

// planeRadius is the smallest of a few radii that holds twice the returns a surface needs.
func (s *groundSite) planeRadius(o EvaluateOptions) float64 {
	for _, f := range []float64{1, 2, 4} {
		if within(s.ground, f*o.WithinM) >= 2*o.MinReturns {
			return f * o.WithinM
		}
	}
	return 8 * o.WithinM
}

func (s *groundSite) localPlane(o EvaluateOptions) plane {
	return fitPlane(s.ground, s.planeRadius(o))
}

// strips fits a plane to each strip's ground returns within twice the plane's radius.
func (s *groundSite) strips(o EvaluateOptions) []StripHeight {
	radius := s.planeRadius(o)
	groups := map[uint16][]vertex{}
	for i, v := range s.ground {
		if lift(v) <= radius*radius {
			groups[s.sources[i]] = append(groups[s.sources[i]], v)
		}
	}
	var out []StripHeight
	for src, v := range groups {
		h := StripHeight{Source: src, Returns: len(v), ZM: math.NaN(), SigmaM: math.NaN()}
		if p := fitPlane(v, math.Inf(1)); p.ok && len(v) >= o.MinReturns {
			h.ZM, h.SigmaM = p.c, p.sigmaM
		}
		out = append(out, h)
	}
	slices.SortFunc(out, func(a, b StripHeight) int { return int(a.Source) - int(b.Source) })
	return out
}

// stripGap is the largest difference between strips and its standard deviation.
func stripGap(s []StripHeight) (gapM, sigmaM float64) {
	for i := range s {
		for j := range i {
			if d := math.Abs(s[i].ZM - s[j].ZM); d > gapM {
				gapM, sigmaM = d, math.Hypot(s[i].SigmaM, s[j].SigmaM)
			}
		}
	}
	return gapM, sigmaM
}

// within counts the vertices of a list sorted by distance that lie within radiusM.
func within(v []vertex, radiusM float64) int {
	n := 0
	for _, q := range v {
		if lift(q) <= radiusM*radiusM {
			n++
		}
	}
	return n
}

// spread is the standard deviation over the plane of the nearest n vertices; NaN for fewer than 3.
func spread(v []vertex, p *plane, n int) float64 {
	var d []float64
	for _, q := range v[:min(n, len(v))] {
		d = append(d, p.residual(q))
	}
	if a, err := Summarize(d); err == nil && len(d) >= 3 {
		return *a.StdM
	}
	return math.NaN()
}

// percentileRange is p90-p10 of the heights over the plane within radiusM; NaN for fewer than 3.
func percentileRange(v []vertex, p *plane, radiusM float64) float64 {
	var d []float64
	for _, q := range v {
		if lift(q) <= radiusM*radiusM {
			d = append(d, p.residual(q))
		}
	}
	if len(d) < 3 {
		return math.NaN()
	}
	return Quantile(d, 0.9) - Quantile(d, 0.1)
}
