package control

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// ClusterM is the distance within which points count as one place: our proposal.
const ClusterM = 50

// Places groups points into places: a point belongs to the nearest place whose first point lies within distanceM, and
// else begins a new place. It returns the place of each point, numbered from 0 in the order of the points, and
// the number of places. Points that a chain of short steps joins across a site are several places.
func Places(points []Point, distanceM float64) (group []int, places int) {
	group = make([]int, len(points))
	type cell struct{ e, n int64 }
	first := map[cell][]int{} // the points that began a place
	for i := range points {
		p := &points[i]
		at := cell{int64(math.Floor(p.EM / distanceM)), int64(math.Floor(p.NM / distanceM))}
		best := distanceM
		group[i] = -1
		for k := range 9 {
			for _, j := range first[cell{at.e + int64(k%3) - 1, at.n + int64(k/3) - 1}] {
				d := math.Hypot(points[j].EM-p.EM, points[j].NM-p.NM)
				if d < best || d == best && (group[i] < 0 || group[j] < group[i]) {
					best, group[i] = d, group[j]
				}
			}
		}
		if group[i] < 0 {
			group[i] = places
			first[at] = append(first[at], i)
			places++
		}
	}
	return group, places
}

// nearestM returns the distance of each point to its nearest neighbour, infinite for a single point.
func nearestM(points []Point) []float64 {
	order := make([]int, len(points))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int { return cmp.Compare(points[a].EM, points[b].EM) })
	out := make([]float64, len(points))
	for k, i := range order {
		best := math.Inf(1)
		for _, step := range []int{-1, 1} { // outwards in easting, until that alone is farther
			for j := k + step; j >= 0 && j < len(order) && math.Abs(points[order[j]].EM-points[i].EM) < best; j += step {
				best = min(best, math.Hypot(points[order[j]].EM-points[i].EM, points[order[j]].NM-points[i].NM))
			}
		}
		out[i] = best
	}
	return out
}

// Distribution tests whether points spread over an area.
type Distribution struct {
	N            int
	Places       int
	Quadrants    [4]int // SW, SE, NW, NE of the area's centre
	DiagonalM    float64
	MinSpacingM  float64 // smallest distance between neighbours
	CloseShare   float64 // share of points nearer to their neighbour than 10 % of the diagonal
	QuadrantsOK  bool    // at least 20 % of the points in each quadrant
	SpacingOK    bool    // all spacings at least 10 % of the diagonal
	CoveredShare float64 // area of the points' rectangle over the area's
	Text         string
}

// TestDistribution compares the points with the rectangle of the area.
//
// Source: FGDC-STD-007.3-1998, appendix 3-C: 20 % in each quadrant, spacing at least 10 % of the diagonal;
// the USGS Lidar Base Specification names it as a fallback.
func TestDistribution(points []Point, area Box) Distribution {
	d := Distribution{N: len(points)}
	if len(points) == 0 || area.Empty() {
		d.Text = "not judged: no points or no area"
		return d
	}
	_, d.Places = Places(points, ClusterM)
	d.DiagonalM = math.Hypot(area.MaxEM-area.MinEM, area.MaxNM-area.MinNM)
	ce, cn := (area.MinEM+area.MaxEM)/2, (area.MinNM+area.MaxNM)/2
	nearest := nearestM(points)
	d.MinSpacingM = slices.Min(nearest)
	near := 0
	own := Box{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
	for i := range points {
		p := &points[i]
		q := 0
		if p.EM >= ce {
			q++
		}
		if p.NM >= cn {
			q += 2
		}
		d.Quadrants[q]++
		own = Box{min(own.MinEM, p.EM), min(own.MinNM, p.NM), max(own.MaxEM, p.EM), max(own.MaxNM, p.NM)}
		if nearest[i] < 0.1*d.DiagonalM {
			near++
		}
	}
	if a := (area.MaxEM - area.MinEM) * (area.MaxNM - area.MinNM); a > 0 {
		d.CoveredShare = (own.MaxEM - own.MinEM) * (own.MaxNM - own.MinNM) / a
	}
	d.CloseShare = float64(near) / float64(d.N)
	d.QuadrantsOK = 5*slices.Min(d.Quadrants[:]) >= d.N
	d.SpacingOK = near == 0
	d.Text = fmt.Sprintf("%d points at %d places; quadrants SW %d, SE %d, NW %d, NE %d (20 %% each asked); smallest spacing %.1f m (10 %% of the diagonal is %.1f m)",
		d.N, d.Places, d.Quadrants[0], d.Quadrants[1], d.Quadrants[2], d.Quadrants[3], d.MinSpacingM, 0.1*d.DiagonalM)
	return d
}

// Independence says what the check points can and cannot show.
type Independence struct {
	Sources  map[Source]int
	Relative bool   // all or some come from the base that served the cloud: dz is relative to it
	Known    bool   // every point names its source
	Text     string // what to print beside the RMSE
}

// TestIndependence looks at how the used points were surveyed. Errors of the base coordinate, its
// antenna height, datum and geoid are common to cloud and check points from one base, and cancel in dz.
func TestIndependence(points []Point) Independence {
	t := Independence{Sources: map[Source]int{}, Known: true}
	for i := range points {
		s := points[i].Source
		if s == "" {
			s = SourceUnknown
		}
		t.Sources[s]++
	}
	n, base, unknown := len(points), t.Sources[SourceBase], t.Sources[SourceUnknown]
	t.Relative, t.Known = base > 0, unknown == 0
	switch {
	case n == 0:
		t.Known, t.Text = false, "no check points"
	case base == n:
		t.Text = "all check points come from the base that served the cloud: the figures are relative to this base, not absolute"
	case base > 0:
		t.Text = fmt.Sprintf("%d of %d check points come from the base that served the cloud: errors of the base cancel in them", base, n)
	case unknown > 0:
		t.Text = fmt.Sprintf("the source of %d of %d check points is not stated: if they come from the base that served the cloud, the figures are relative to this base", unknown, n)
	default:
		t.Text = "check points surveyed independently of the base"
	}
	return t
}
