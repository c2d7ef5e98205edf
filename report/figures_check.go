package report

import (
	"cmp"
	"math"
	"slices"

	"sidelap/control"

	"github.com/paulmach/orb"
)

// The figures of check points. Like the maps they show sign by side and hue (ochre and up: the cloud lies above), limits
// by dashed lines, cover by the mark: disc open, triangle vegetated.

// comparison rebuilds from the record what control needs for the figures; group "" is all points.
func (v *view) comparison(group string) *control.Comparison {
	c := &control.Comparison{}
	for i := range v.rec.Checkpoints.Points {
		p := &v.rec.Checkpoints.Points[i]
		if !p.Used || p.DzM == nil || group == "open" && p.Cover == "vegetated" {
			continue
		}
		q := control.PointResult{Point: control.Point{ID: p.ID, EM: p.EM, NM: p.NM, ZM: Get(p.ZM)}, DzM: *p.DzM, SlopePct: math.NaN(), Used: true}
		if p.Cover == "vegetated" {
			q.Cover = control.CoverVegetated
		}
		if p.SlopePct != nil {
			q.SlopePct = *p.SlopePct
		}
		c.Points = append(c.Points, q)
	}
	return c
}

// fewestForLine is how many points a normal curve or a least squares line needs: fewer always seem to lie on one. Our proposal.
const fewestForLine = 8

// noReachM is what an axis shows of differences that are all zero.
const noReachM = 0.01

// drawCheckHistogram draws the differences with the normal curve of the same mean and standard deviation (from
// fewestForLine points), and the limit.
func drawCheckHistogram(c canvas, w, h, size float64, g *control.Histogram, limitM float64, judged bool) {
	top, reach, all := 1.0, 0.0, 0
	for i, n := range g.Counts {
		all += n
		top = max(top, float64(n))
		if n > 0 {
			reach = max(reach, math.Abs(g.LowM+float64(i)*g.WidthM), math.Abs(g.LowM+float64(i+1)*g.WidthM))
		}
	}
	if all < fewestForLine {
		g = &control.Histogram{LowM: g.LowM, WidthM: g.WidthM, Counts: g.Counts}
	}
	for i, x := range g.CurveM {
		top = max(top, g.CurveCount[i])
		if g.CurveCount[i] > 0.01*top {
			reach = max(reach, math.Abs(x))
		}
	}
	if judged && limitM < 4*reach { // a limit far beyond the differences would leave them no room
		reach = max(reach, 1.25*limitM)
	}
	if reach == 0 {
		reach = noReachM
	}
	p := &plot{c: c, x0: size * 3.6, y0: size * 2.2, w: w - size*4.6, h: h - size*5.6, xlo: -1.02 * reach, xhi: 1.02 * reach, ylo: 0, yhi: 1.12 * top, size: size, xlabel: "cloud minus check point [m]", ylabel: "points"}
	p.axes(6, 4)
	for i, n := range g.Counts {
		if n == 0 {
			continue
		}
		lo := g.LowM + float64(i)*g.WidthM
		a, b, y := p.x(lo), p.x(lo+g.WidthM), p.y(float64(n))
		c.path([][2]float64{{a, p.y0 + p.h}, {a, y}, {b, y}, {b, p.y0 + p.h}}, true, ink{fill: hexOf(separationColor(lo+g.WidthM/2, limitM)), stroke: mutedColor, width: 0.4,
			hint: fixed(lo, 3) + " to " + fixed(lo+g.WidthM, 3) + " m: " + group(int64(n))})
	}
	var curve [][2]float64
	for i, x := range g.CurveM {
		if math.Abs(x) <= 1.02*reach {
			curve = append(curve, [2]float64{p.x(x), p.y(g.CurveCount[i])})
		}
	}
	if len(curve) > 1 {
		c.path(curve, false, ink{stroke: inkColor, width: 1.3})
	}
	p.limitLines(limitM, judged)
}

// drawCheckScatter draws the differences against another quantity, with the limits and the least squares line.
func drawCheckScatter(c canvas, w, h, size float64, s *control.Scatter, points []control.PointResult, limitM float64, judged bool) {
	lo, hi, reach := math.Inf(1), math.Inf(-1), 0.0
	for i, x := range s.X {
		lo, hi, reach = min(lo, x), max(hi, x), max(reach, math.Abs(s.DzM[i]))
	}
	if judged && limitM < 4*reach {
		reach = max(reach, limitM)
	}
	if reach == 0 { // no difference at any point
		reach = noReachM
	}
	pad := max(0.04*(hi-lo), 0.1)
	if lo >= 0 && lo-pad < 0 {
		lo = pad
	}
	p := &plot{c: c, x0: size * 4.4, y0: size * 2.2, w: w - size*5.4, h: h - size*5.6, xlo: lo - pad, xhi: hi + pad, ylo: -1.15 * reach, yhi: 1.15 * reach, size: size, xlabel: s.XName, ylabel: "cloud minus check point [m]"}
	p.axes(6, 6)
	level := func(y float64, k ink) {
		c.path([][2]float64{{p.x0, p.y(y)}, {p.x0 + p.w, p.y(y)}}, false, k)
	}
	level(0, ink{stroke: inkColor, width: 0.8})
	if judged && limitM < 1.15*reach {
		for _, sign := range []float64{-1, 1} {
			level(sign*limitM, ink{stroke: limitColor, width: 1, dash: "4 3"})
		}
		c.write(p.x0+p.w, p.y(limitM)-size*0.3, "limit", size*0.9, "end", ink{fill: limitColor, halo: true})
	}
	if s.OK && len(s.X) >= fewestForLine {
		k := ink{stroke: mutedColor, width: 1.4}
		if math.Abs(s.Slope) <= 2*s.SlopeSigma {
			k.dash = "2 3"
		}
		c.path([][2]float64{{p.x(slices.Min(s.X)), p.y(s.InterceptM + s.Slope*slices.Min(s.X))}, {p.x(slices.Max(s.X)), p.y(s.InterceptM + s.Slope*slices.Max(s.X))}}, false, k)
	}
	cover := map[string]control.Cover{}
	for i := range points {
		cover[points[i].ID] = points[i].Cover
	}
	for i, x := range s.X {
		name := highColor
		if s.DzM[i] < 0 {
			name = lowColor
		}
		k := ink{fill: name, stroke: paperColor, width: 0.6, hint: s.ID[i] + ": " + fixed(s.DzM[i], 3) + " m"}
		if cover[s.ID[i]] == control.CoverVegetated {
			mark(c, p.x(x), p.y(s.DzM[i]), size*0.36, 2, k)
			continue
		}
		c.circle(p.x(x), p.y(s.DzM[i]), size*0.34, k)
	}
}

// mostNamedChecks is how many points the residual map names.
const mostNamedChecks = 8

// residualFrame places the points, over the outlines where there are any. False when there is nothing to place.
func (v *view) residualFrame(l *Layers, points []control.PointResult, w, most float64) (f *mapFrame, width, height float64, ok bool) {
	b, found := l.mapBounds()
	if !found {
		for i := range points {
			at := orb.Point{points[i].EM, points[i].NM}
			if i == 0 {
				b = orb.Bound{Min: at, Max: at}
			}
			b = b.Extend(at)
		}
	}
	pad := max(0.06*max(b.Max[0]-b.Min[0], b.Max[1]-b.Min[1]), 2)
	b = orb.Bound{Min: orb.Point{b.Min[0] - pad, b.Min[1] - pad}, Max: orb.Point{b.Max[0] + pad, b.Max[1] + pad}}
	f = &mapFrame{bounds: b, scale: min((w-2)/(b.Max[0]-b.Min[0]), most/(b.Max[1]-b.Min[1]))}
	width, height = (b.Max[0]-b.Min[0])*f.scale, (b.Max[1]-b.Min[1])*f.scale
	f.x0 = (w - width) / 2
	return f, width, height, len(points) > 0
}

// drawResiduals draws each used point with an arrow: up and ochre when the cloud lies above, down and indigo when below, to the
// scale that is drawn beside the scale of the map. Flagged sites have a ring; a thin arrow is the difference in plan.
func (v *view) drawResiduals(c canvas, l *Layers, w, most, size, limitM float64, judged bool) (height float64) {
	cm := v.comparison("")
	f, width, mapHeight, ok := v.residualFrame(l, cm.Points, w, most)
	if !ok {
		return 0
	}
	c.path([][2]float64{{f.x0, 0}, {f.x0 + width, 0}, {f.x0 + width, mapHeight}, {f.x0, mapHeight}}, true, ink{stroke: mutedColor, width: 0.8})
	for _, p := range l.Boundary {
		for _, r := range p {
			c.path(f.points(r), true, ink{stroke: mutedColor, width: 0.8, dash: "5 3"})
		}
	}
	var sizes []float64
	for i := range cm.Points {
		sizes = append(sizes, math.Abs(cm.Points[i].DzM))
	}
	reference := control.Quantile(sizes, 0.95)
	if judged && limitM < 4*reference {
		reference = max(reference, limitM)
	}
	if !(reference > 0) {
		reference = 0.01
	}
	step, decimals := roundStep(reference)
	perM := size * 4 / step
	for i := range v.rec.Checkpoints.Points {
		v.drawResidual(c, f, i, size, perM)
	}
	order := make([]int, len(cm.Points))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(sizes[b], sizes[a]) })
	for _, i := range order[:min(mostNamedChecks, len(order))] {
		p := &cm.Points[i]
		at := f.at(orb.Point{p.EM, p.NM})
		if f.bounds.Contains(orb.Point{p.EM, p.NM}) {
			c.write(at[0]+size*0.7, at[1]+size*0.35, p.ID, size*0.9, "start", ink{fill: inkColor, halo: true})
		}
	}
	height = mapHeight + size*6
	drawBar(c, f, width*0.6, height-size*0.6, size)
	x := f.x0 + width - size*9
	arrow(c, x, height-size*0.8, x, height-size*0.8-size*4, size, ink{stroke: highColor, fill: highColor, width: 2})
	c.write(x+size, height-size*2.4, fixed(step, max(decimals, 2))+" m", size, "start", ink{fill: inkColor})
	c.write(x+size, height-size*1.1, "cloud above", size, "start", ink{fill: inkColor})
	return height
}

// drawResidual draws one point of the residual map.
func (v *view) drawResidual(c canvas, f *mapFrame, i int, size, perM float64) {
	p := &v.rec.Checkpoints.Points[i]
	if !f.bounds.Contains(orb.Point{p.EM, p.NM}) {
		return
	}
	at := f.at(orb.Point{p.EM, p.NM})
	r := size * 0.28
	if !p.Used || p.DzM == nil {
		for _, s := range []float64{-1, 1} {
			c.path([][2]float64{{at[0] - r, at[1] - s*r}, {at[0] + r, at[1] + s*r}}, false, ink{stroke: mutedColor, width: 1.2, hint: v.checkHint(i)})
		}
		return
	}
	if len(p.Flags) > 0 {
		c.circle(at[0], at[1], size*0.6, ink{stroke: mutedColor, width: 0.9})
	}
	if p.DxM != nil && p.DyM != nil {
		arrow(c, at[0], at[1], at[0]+*p.DxM*perM, at[1]-*p.DyM*perM, size*0.8, ink{stroke: inkColor, fill: inkColor, width: 0.9})
	}
	name := highColor
	if *p.DzM < 0 {
		name = lowColor
	}
	length := max(min(*p.DzM*perM, size*9), -size*9)
	arrow(c, at[0], at[1], at[0], at[1]-length, size, ink{stroke: name, fill: name, width: 2, hint: v.checkHint(i)})
	k := ink{fill: markColor, stroke: haloColor, width: 0.7, hint: v.checkHint(i)}
	if p.Cover == "vegetated" {
		mark(c, at[0], at[1], r*1.1, 2, k)
		return
	}
	c.circle(at[0], at[1], r, k)
}

// arrow draws a shaft with a head that is never longer than the arrow.
func arrow(c canvas, x0, y0, x1, y1, size float64, k ink) {
	d := math.Hypot(x1-x0, y1-y0)
	if d < 0.3 {
		return
	}
	ux, uy := (x1-x0)/d, (y1-y0)/d
	t := min(size*0.7, d)
	c.path([][2]float64{{x0, y0}, {x1 - t*0.7*ux, y1 - t*0.7*uy}}, false, k)
	k.stroke = ""
	c.path([][2]float64{{x1, y1}, {x1 - t*ux - t*0.45*uy, y1 - t*uy + t*0.45*ux}, {x1 - t*ux + t*0.45*uy, y1 - t*uy - t*0.45*ux}}, true, k)
}

// checkFigure is one figure of the check points with its caption; draw fills a canvas of width w and returns the height used.
type checkFigure struct {
	name, caption string
	draw          func(c canvas, w, size float64) float64
}

// tooFew is the one text when n points carry a line, else the other.
func tooFew(n int, line, none string) string {
	if n < fewestForLine {
		return none
	}
	return line
}

// openChecks counts the points of the histogram.
func (v *view) openChecks() int { return len(v.comparison("open").Points) }

// checkFigures lists the figures that the record has data for.
func (v *view) checkFigures(l *Layers) []checkFigure {
	all := v.comparison("")
	if len(all.Points) == 0 {
		return nil
	}
	limitM, judged := v.checkLimit()
	fig := all.Figures(limitM)
	var out []checkFigure
	if h := v.comparison("open").Figures(limitM).Histogram; h != nil {
		out = append(out, checkFigure{"Histogram of the differences at the check points on open ground", "Differences at the check points on open ground that were used." + tooFew(v.openChecks(), " Line: normal errors of the same mean and standard deviation.", " Too few points for a normal curve."),
			func(c canvas, w, size float64) float64 {
				drawCheckHistogram(c, w, size*22, size, h, limitM, judged)
				return size * 22
			}})
	}
	out = append(out, checkFigure{"Map of the differences at the check points", "Check points: arrow up, ochre, where the cloud lies above; down, indigo, where below. Disc open ground, triangle vegetation, cross in no figure, ring a flagged site; thin arrow: difference in plan, same scale. The largest are named.",
		func(c canvas, w, size float64) float64 {
			return v.drawResiduals(c, l, w, size*34, size, limitM, judged)
		}})
	for _, s := range []struct {
		scatter *control.Scatter
		what    string
	}{{&fig.ByElevation, "height"}, {&fig.BySlope, "slope of the ground"}} {
		if len(s.scatter.X) < 2 {
			continue
		}
		if s.what == "height" {
			s.scatter.XName = "height of the check point [m]"
		} else {
			s.scatter.XName = "slope of the ground [%]"
		}
		out = append(out, checkFigure{"Differences against " + s.what, "Differences against the " + s.what + ", disc open ground, triangle vegetation." + tooFew(len(s.scatter.X), " Line: least squares, dotted when its slope is within twice its standard error.", " Too few points for a line."),
			func(c canvas, w, size float64) float64 {
				drawCheckScatter(c, w, size*20, size, s.scatter, all.Points, limitM, judged)
				return size * 20
			}})
	}
	return out
}
