package assess

import (
	"math"
	"slices"

	"github.com/paulmach/orb"

	"sidelap/overlap"
	"sidelap/report"
	"sidelap/trajectory"
)

// fillLayers gathers what is drawn and too large for the record.
func fillLayers(l *report.Layers, s *overlap.Survey, pairs []overlap.Pair, cov *overlap.Coverage) {
	l.Density, l.StripCount = toGrid(cov.Density), toGrid(cov.Count)
	l.Relief = relief(s)
	fillPairGrids(l, s, pairs)
	var dz []float64
	for i := range pairs {
		p := &pairs[i]
		area := orb.MultiPolygon{}
		for _, reg := range p.Regions {
			area = append(area, polygons(reg.Rings)...)
		}
		l.Overlaps = append(l.Overlaps, report.Shape{ID: p.IDA + "/" + p.IDB, A: p.IDA, B: p.IDB, Area: area})
		for k := range p.Cells {
			if p.Cells[k].Flag == 0 {
				dz = append(dz, p.Cells[k].DzM)
			}
		}
	}
	l.Separations = histogram(dz)
	for i := range s.Strips {
		st := &s.Strips[i]
		l.Strips = append(l.Strips, report.Shape{ID: st.ID, Area: polygons(s.Outline(st)), Line: lineString(centreLine(st))})
	}
	for i, v := range cov.Voids {
		l.Voids = append(l.Voids, report.Shape{ID: voidID(i), Area: polygons(v.Rings)})
	}
	l.Boundary = polygons(cov.Rings)
	l.Profiles = profiles(s, pairs)
}

// mostPairCells is how many cells the rasters of all pairs may have together to be made at once, 400 MB with their
// flags. Beyond it each is made when it is drawn or written: long strips askew to the grid have large frames.
const mostPairCells = 50_000_000

func fillPairGrids(l *report.Layers, s *overlap.Survey, pairs []overlap.Pair) {
	frames, total := make([]*overlap.Grid, len(pairs)), 0
	for i := range pairs {
		frames[i] = s.GridFrame(&pairs[i])
		total += frames[i].Cols * frames[i].Rows
	}
	for i := range pairs {
		p := &pairs[i]
		g := report.PairGrid{A: p.IDA, B: p.IDB}
		if total > mostPairCells {
			g.Frame = frames[i]
			g.DrawGrid, g.DrawFlags = func() *report.Grid { return toGrid(s.SeparationGrid(p)) }, func() *report.Grid { return toGrid(s.FlagGrid(p)) }
		} else {
			g.Grid, g.Flags = toGrid(s.SeparationGrid(p)), toGrid(s.FlagGrid(p))
		}
		l.Pairs = append(l.Pairs, g)
	}
}

// polygons sorts rings into polygons: outer rings run counter-clockwise, holes clockwise, and a
// hole belongs to the smallest outer ring that holds it.
func polygons(rings [][][2]float64) orb.MultiPolygon {
	var outer, holes []orb.Ring
	for _, r := range rings {
		ring := make(orb.Ring, len(r))
		for i, p := range r {
			ring[i] = orb.Point(p)
		}
		if ring.Orientation() == orb.CW {
			holes = append(holes, ring)
		} else {
			outer = append(outer, ring)
		}
	}
	mp := make(orb.MultiPolygon, len(outer))
	for i, o := range outer {
		mp[i] = orb.Polygon{o}
	}
	for _, h := range holes {
		best, area := -1, math.Inf(1)
		for i, o := range outer {
			if ringContains(o, h) {
				if a := ringArea(o); a < area {
					best, area = i, a
				}
			}
		}
		if best >= 0 {
			mp[best] = append(mp[best], h)
		}
	}
	return mp
}

func ringArea(r orb.Ring) float64 {
	sum := 0.0
	for i := range len(r) - 1 {
		sum += r[i][0]*r[i+1][1] - r[i+1][0]*r[i][1]
	}
	return math.Abs(sum) / 2
}

// ringContains reports whether a point just inside the hole's first edge lies in o. Rings follow cell borders,
// so the middle of an edge moved by a thousandth of its length is clear of every other edge.
func ringContains(o, h orb.Ring) bool {
	dx, dy := h[1][0]-h[0][0], h[1][1]-h[0][1]
	x, y := h[0][0]+dx/2+dy*1e-3, h[0][1]+dy/2-dx*1e-3 // to the right: inside a clockwise ring
	in := false
	for i := range len(o) - 1 {
		a, b := o[i], o[i+1]
		if (a[1] > y) != (b[1] > y) && x < a[0]+(y-a[1])/(b[1]-a[1])*(b[0]-a[0]) {
			in = !in
		}
	}
	return in
}

// relief is the height of the surface in each cell: the lowest of the strips' planes at its centre, so that
// trees over the ground do not hide it.
func relief(s *overlap.Survey) *report.Grid {
	g := report.Grid{CellM: s.Options.CellM}
	c0, r0, c1, r1 := int32(math.MaxInt32), int32(math.MaxInt32), int32(math.MinInt32), int32(math.MinInt32)
	lines := s.Lines()
	for i := range lines {
		for k := range lines[i].Facets {
			f := &lines[i].Facets[k]
			if f.N > 0 {
				c0, r0, c1, r1 = min(c0, f.Col), min(r0, f.Row), max(c1, f.Col), max(r1, f.Row)
			}
		}
	}
	if c0 > c1 {
		return nil
	}
	g.Col0, g.Row0, g.Cols, g.Rows = c0, r0, int(c1-c0)+1, int(r1-r0)+1
	g.Values = make([]float32, g.Cols*g.Rows)
	for i := range g.Values {
		g.Values[i] = float32(math.NaN())
	}
	for i := range lines {
		for k := range lines[i].Facets {
			f := &lines[i].Facets[k]
			if f.N == 0 {
				continue
			}
			z := f.ZM
			if f.Plane && f.SlopeRad() < 1 {
				z = f.At((float64(f.Col)+0.5)*g.CellM, (float64(f.Row)+0.5)*g.CellM)
			}
			at := int(f.Row-r0)*g.Cols + int(f.Col-c0)
			if !(float64(g.Values[at]) <= z) {
				g.Values[at] = float32(z)
			}
		}
	}
	return &g
}

// centreLine runs along a strip's ground in time order, a point each twentieth of its time: below the scanner where
// scan angles are known, else through the middle of the ground.
func centreLine(st *overlap.Strip) [][2]float64 {
	const parts = 20
	var sum [parts][3]float64
	nadir := 4 / degrees
	if !slices.ContainsFunc(st.Facets, func(f overlap.Facet) bool { return math.Abs(f.AngleRad) > nadir }) {
		nadir = math.Inf(1) // all angles alike: they say nothing
	}
	d := st.EndGPSS - st.StartGPSS
	if !(d > 0) {
		return nil
	}
	for i := range st.Facets {
		f := &st.Facets[i]
		if f.N == 0 || math.IsNaN(f.TimeS) || math.Abs(f.AngleRad) > nadir {
			continue
		}
		k := max(0, min(parts-1, int(parts*(f.TimeS-st.StartGPSS)/d)))
		sum[k][0] += f.EM
		sum[k][1] += f.NM
		sum[k][2]++
	}
	var line [][2]float64
	for _, s := range sum {
		if s[2] > 0 {
			line = append(line, [2]float64{s[0] / s[2], s[1] / s[2]})
		}
	}
	return line
}

func lineString(points [][2]float64) orb.LineString {
	l := make(orb.LineString, len(points))
	for i, p := range points {
		l[i] = orb.Point(p)
	}
	return l
}

// fillPathLayer draws the path, thinned to about one point each half second and split at gaps.
func fillPathLayer(l *report.Layers, p *trajectory.Path) {
	var line orb.LineString
	last := math.Inf(-1)
	for i, t := range p.TimeS {
		if t-last < 0.5 {
			continue
		}
		if t-last > 5 && len(line) > 0 {
			l.Path = append(l.Path, line)
			line = nil
		}
		line = append(line, orb.Point{p.EM[i], p.NM[i]})
		last = t
	}
	if len(line) > 1 {
		l.Path = append(l.Path, line)
	}
}

// histogram counts differences in classes whose width suits their spread; nil without any.
func histogram(dz []float64) *report.Histogram {
	st := overlap.Describe(dz, 1)
	if st.Cells == 0 || !(st.P95AbsM > 0) {
		return nil
	}
	half := 1.5 * st.P95AbsM
	step := niceStep(2 * half / 40)
	n := int(math.Ceil(half/step)) * 2
	h := &report.Histogram{LowM: -float64(n/2) * step, StepM: step, Counts: make([]int64, n)}
	for _, v := range dz {
		switch k := int(math.Floor((v - h.LowM) / step)); {
		case k < 0:
			h.Under++
		case k >= n:
			h.Over++
		default:
			h.Counts[k]++
		}
	}
	return h
}

// niceStep is the next of 1, 2, 5 times a power of ten.
func niceStep(x float64) float64 {
	p := math.Pow(10, math.Floor(math.Log10(x)))
	for _, m := range []float64{1, 2, 5} {
		if m*p >= x {
			return m * p
		}
	}
	return 10 * p
}
