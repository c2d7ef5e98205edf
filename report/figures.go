package report

import (
	"fmt"
	"math"
	"strings"

	"github.com/paulmach/orb"
)

// plot is a frame with axes on a canvas.
type plot struct {
	c              canvas
	x0, y0, w, h   float64 // frame, y0 at the top
	xlo, xhi       float64
	ylo, yhi       float64
	size           float64 // of the texts
	xlabel, ylabel string
}

func (p *plot) x(v float64) float64 { return p.x0 + (v-p.xlo)/(p.xhi-p.xlo)*p.w }
func (p *plot) y(v float64) float64 { return p.y0 + p.h - (v-p.ylo)/(p.yhi-p.ylo)*p.h }

// axes draws frame, grid, ticks and labels.
func (p *plot) axes(xTicks, yTicks int) {
	xs, xd := ticks(p.xlo, p.xhi, xTicks)
	for _, t := range xs {
		x := p.x(t)
		p.c.path([][2]float64{{x, p.y0}, {x, p.y0 + p.h}}, false, ink{stroke: lineColor, width: 0.5})
		p.c.write(x, p.y0+p.h+p.size*1.3, fixed(t, xd), p.size, "middle", ink{fill: mutedColor})
	}
	ys, yd := ticks(p.ylo, p.yhi, yTicks)
	for _, t := range ys {
		y := p.y(t)
		p.c.path([][2]float64{{p.x0, y}, {p.x0 + p.w, y}}, false, ink{stroke: lineColor, width: 0.5})
		p.c.write(p.x0-4, y+p.size*0.35, fixed(t, yd), p.size, "end", ink{fill: mutedColor})
	}
	p.c.path([][2]float64{{p.x0, p.y0}, {p.x0, p.y0 + p.h}, {p.x0 + p.w, p.y0 + p.h}}, false, ink{stroke: inkColor, width: 0.8})
	if p.xlabel != "" {
		p.c.write(p.x0+p.w/2, p.y0+p.h+p.size*2.7, p.xlabel, p.size, "middle", ink{fill: inkColor})
	}
	if p.ylabel != "" {
		p.c.write(p.x0, p.y0-p.size*0.6, p.ylabel, p.size, "start", ink{fill: inkColor})
	}
}

// limitLines marks zero and the limits on both sides of a horizontal axis.
func (p *plot) limitLines(limitM float64, judged bool) {
	if p.xlo < 0 && p.xhi > 0 {
		p.c.path([][2]float64{{p.x(0), p.y0}, {p.x(0), p.y0 + p.h}}, false, ink{stroke: inkColor, width: 0.8})
	}
	if !judged {
		return
	}
	for _, s := range []float64{-1, 1} {
		if x := s * limitM; x > p.xlo && x < p.xhi {
			p.c.path([][2]float64{{p.x(x), p.y0 - 2}, {p.x(x), p.y0 + p.h}}, false, ink{stroke: limitColor, width: 1, dash: "4 3"})
			p.c.write(p.x(x), p.y0-4, "limit", p.size*0.9, "middle", ink{fill: limitColor})
		}
	}
}

// drawHistogram draws a histogram of differences in the colours of the
// differences, so that figure and map read alike.
func drawHistogram(c canvas, w, h, size float64, g *Histogram, limitM float64, judged bool, label string) {
	first, last, top := len(g.Counts), -1, int64(1)
	for i, n := range g.Counts {
		if n > 0 {
			first, last, top = min(first, i), i, max(top, n)
		}
	}
	if last < 0 {
		return
	}
	reach := max(math.Abs(g.LowM+float64(first)*g.StepM), math.Abs(g.LowM+float64(last+1)*g.StepM))
	if judged {
		reach = max(reach, 1.25*limitM)
	}
	left := size * 3.6
	if top >= 10000 {
		left = size * 4.6
	}
	p := &plot{c: c, x0: left, y0: size * 2.2, w: w - left - size, h: h - size*5.6, xlo: -reach, xhi: reach, ylo: 0, yhi: float64(top) * 1.08, size: size, xlabel: label, ylabel: "count"}
	p.axes(6, 4)
	for i, n := range g.Counts {
		if n == 0 {
			continue
		}
		lo := g.LowM + float64(i)*g.StepM
		a, b, y := p.x(lo), p.x(lo+g.StepM), p.y(float64(n))
		p.c.path([][2]float64{{a, p.y0 + p.h}, {a, y}, {b, y}, {b, p.y0 + p.h}}, true, ink{fill: hexOf(separationColor(lo+g.StepM/2, limitM)), stroke: mutedColor, width: 0.4,
			hint: fmt.Sprintf("%s to %s m: %s", fixed(lo, 3), fixed(lo+g.StepM, 3), group(n))})
	}
	p.limitLines(limitM, judged)
	if out := g.Under + g.Over; out > 0 {
		p.c.write(p.x0+p.w, p.y0+p.h+p.size*2.7, group(out)+" beyond the frame", size, "end", ink{fill: mutedColor})
	}
}

// mostPairs is how many pairs the figure of pairs shows, the largest RMSD first
// when there are more.
const mostPairs = 40

// pairsShown returns the pairs of the figure and its caption.
func (v *view) pairsShown() (pairs []Pair, caption string) {
	caption = "Each pair: median (dot), RMSD (bar), 95th percentile (line)."
	if len(v.rec.Pairs) <= mostPairs {
		return v.rec.Pairs, caption
	}
	for _, i := range v.worstPairs(mostPairs) {
		pairs = append(pairs, v.rec.Pairs[i])
	}
	return pairs, strings.TrimSuffix(caption, ".") + "; the " + group(int64(len(pairs))) + " pairs of largest RMSD out of " + group(int64(len(v.rec.Pairs))) + "."
}

// drawPairs draws one row for each pair: the median as a dot, twice the RMSD as a
// bar, the 95th percentile as ends, against zero and the limit.
func (v *view) drawPairs(c canvas, pairs []Pair, w, size float64, limitM float64, judged bool) (height float64) {
	reach := 0.0
	for i := range pairs {
		for _, x := range []*float64{pairs[i].P95AbsM, pairs[i].RMSDM, pairs[i].MedianM} {
			if x != nil {
				reach = max(reach, math.Abs(*x))
			}
		}
	}
	if reach == 0 {
		return 0
	}
	if judged {
		reach = max(reach, limitM)
	}
	line := size * 1.7
	height = size*2.4 + line*float64(len(pairs)) + size*3.4
	p := &plot{c: c, x0: size * 8, y0: size * 2.2, w: w - size*9, h: line * float64(len(pairs)), xlo: -1.1 * reach, xhi: 1.1 * reach, ylo: 0, yhi: 1, size: size, xlabel: v.later() + " minus " + v.earlier() + " strip [m]"}
	p.axes(7, 0)
	for i := range pairs {
		y := p.y0 + line*(float64(i)+0.5)
		q := &pairs[i]
		c.write(p.x0-size*0.6, y+size*0.35, q.A+" – "+q.B, size, "end", ink{fill: inkColor})
		if q.P95AbsM != nil {
			c.path([][2]float64{{p.x(-*q.P95AbsM), y}, {p.x(*q.P95AbsM), y}}, false, ink{stroke: mutedColor, width: 1})
			for _, s := range []float64{-1, 1} {
				x := p.x(s * *q.P95AbsM)
				c.path([][2]float64{{x, y - size*0.35}, {x, y + size*0.35}}, false, ink{stroke: mutedColor, width: 1})
			}
		}
		if q.RMSDM != nil {
			c.path([][2]float64{{p.x(-*q.RMSDM), y - size*0.3}, {p.x(*q.RMSDM), y - size*0.3}, {p.x(*q.RMSDM), y + size*0.3}, {p.x(-*q.RMSDM), y + size*0.3}}, true,
				ink{fill: barColor, opacity: 0.75, hint: q.A + " – " + q.B + ": RMSD " + fixed(*q.RMSDM, 3) + " m"})
		}
		if q.MedianM != nil {
			name := highColor
			if *q.MedianM < 0 {
				name = lowColor
			}
			c.circle(p.x(*q.MedianM), y, size*0.36, ink{fill: name, stroke: paperColor, width: 0.8, hint: q.A + " – " + q.B + ": median " + fixed(*q.MedianM, 3) + " m"})
		}
	}
	p.limitLines(limitM, judged)
	return height
}

// drawScale draws the key of the separation colours, with zero and limits.
func (v *view) drawScale(c canvas, x, y, w, size float64, limitM float64, judged bool) {
	const n = 60
	reach := 3 * limitM
	h := size * 0.9
	for i := range n {
		dz := -reach + (float64(i)+0.5)*2*reach/n
		a := x + w*float64(i)/n
		c.path([][2]float64{{a, y}, {a + w/n + 0.3, y}, {a + w/n + 0.3, y + h}, {a, y + h}}, true, ink{fill: hexOf(separationColor(dz, limitM))})
		if math.Abs(dz) > 2*limitM && i%2 == 0 { // the hatch of the map
			a0, a1 := a, a+w/n
			if dz > 0 {
				a0, a1 = a1, a0
			}
			c.path([][2]float64{{a0, y}, {a1, y + h}}, false, ink{stroke: hexOf(separationColor(dz/4, limitM)), width: 1})
		}
	}
	feet := v.high.ok() && w > 55*size // room for both
	name := func(k float64) (text string) {
		if feet && k != 0 {
			defer func() { text += " (" + fixed(k*limitM/v.high.m, 3) + ")" }()
		}
		switch {
		case k == 0:
			return "0"
		case !judged:
			return fixed(k*limitM, 3)
		case math.Abs(k) == 1:
			return "limit " + fixed(k*limitM, 3)
		}
		return "2× " + fixed(k*limitM, 3)
	}
	for _, k := range []float64{-2, -1, 0, 1, 2} {
		at := x + w*(k*limitM+reach)/(2*reach)
		c.path([][2]float64{{at, y - 2}, {at, y + h + 2}}, false, ink{stroke: inkColor, width: 0.8})
		c.write(at, y+h+size*1.2, name(k), size*0.9, "middle", ink{fill: inkColor})
	}
	c.write(x, y-size*0.5, v.later()+" strip lower", size, "start", ink{fill: inkColor})
	unit := "[m]"
	if feet {
		unit = "[m (" + v.high.name + ")]"
	}
	c.write(x+w, y-size*0.5, v.later()+" strip higher "+unit, size, "end", ink{fill: inkColor})
}

// drawAmountScale draws the key of an amount.
func drawAmountScale(c canvas, x, y, w, size, top float64, decimals int, label string) {
	const n = 40
	h := size * 0.9
	for i := range n {
		a := x + w*float64(i)/n
		c.path([][2]float64{{a, y}, {a + w/n + 0.3, y}, {a + w/n + 0.3, y + h}, {a, y + h}}, true, ink{fill: hexOf(between(amountStops, (float64(i)+0.5)/n))})
	}
	for k := range 5 {
		t := float64(k) / 4
		c.write(x+w*t, y+h+size*1.2, fixed(top*t, decimals), size*0.9, [5]string{"start", "middle", "middle", "middle", "end"}[k], ink{fill: inkColor})
	}
	c.write(x, y-size*0.5, label, size, "start", ink{fill: inkColor})
}

// drawProfile draws a cut through the points, to scale but for the exaggeration
// of heights that is written on it.
func drawProfile(c canvas, w, size float64, p *Profile) (height float64) {
	length := math.Hypot(p.To[0]-p.From[0], p.To[1]-p.From[1])
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, q := range p.Points {
		lo, hi = min(lo, q.ZM), max(hi, q.ZM)
	}
	if !(length > 0) || len(p.Points) == 0 {
		return 0
	}
	pad := max((hi-lo)*0.05, 0.02)
	lo, hi = lo-pad, hi+pad
	inner := w - size*6
	exaggeration := 1.0
	for _, e := range []float64{1, 2, 5, 10, 20, 50} {
		if exaggeration = e; (hi-lo)*e*inner/length >= size*9 {
			break
		}
	}
	h := (hi - lo) * exaggeration * inner / length
	if most := size * 30; h > most { // a tall profile: narrower, never flattened
		inner *= most / h
		h = most
	}
	height = h + size*6.2
	pl := &plot{c: c, x0: size * 4.4, y0: size * 2.4, w: inner, h: h, xlo: 0, xhi: length, ylo: lo, yhi: hi, size: size,
		xlabel: "along the profile [m]", ylabel: "height [m], " + exaggerated(exaggeration)}
	pl.axes(8, 5)
	step := max(1, (len(p.Points)+3999)/4000)
	places := make([][][2]float64, len(p.Strips))
	for i := 0; i < len(p.Points); i += step {
		q := p.Points[i]
		places[q.Strip] = append(places[q.Strip], [2]float64{pl.x(q.DistM), pl.y(q.ZM)})
	}
	r := size * 0.13
	if len(p.Points) < 100 { // planes: few marks
		r = size * 0.22
	}
	for i := range places {
		c.dots(places[i], r, i%2 == 1, ink{fill: stripColors[i%len(stripColors)]})
	}
	x := pl.x0 + max(pl.w, w/2)
	for i := len(p.Strips) - 1; i >= 0; i-- {
		c.write(x, pl.y0-size*0.6, "strip "+p.Strips[i], size, "end", ink{fill: inkColor})
		x -= size*0.55*float64(len(p.Strips[i])+6) + size
		mark(c, x+size*0.5, pl.y0-size*0.95, size*0.35, i, ink{fill: stripColors[i%len(stripColors)]})
		x -= size
	}
	return height
}

// exaggerated tells the scale of heights against that of lengths.
func exaggerated(by float64) string {
	if by == 1 {
		return "to scale"
	}
	return "exaggerated " + trimmed(by, 2) + "×"
}

// mark draws the mark of a strip: disc, square, triangle, diamond.
func mark(c canvas, x, y, r float64, strip int, k ink) {
	switch strip % 4 {
	case 0:
		c.circle(x, y, r, k)
	case 1:
		c.path([][2]float64{{x - r, y - r}, {x + r, y - r}, {x + r, y + r}, {x - r, y + r}}, true, k)
	case 2:
		c.path([][2]float64{{x, y - 1.2*r}, {x + 1.1*r, y + r}, {x - 1.1*r, y + r}}, true, k)
	default:
		c.path([][2]float64{{x, y - 1.3*r}, {x + 1.3*r, y}, {x, y + 1.3*r}, {x - 1.3*r, y}}, true, k)
	}
}

// mapFrame places metres on a canvas.
type mapFrame struct {
	bounds orb.Bound
	scale  float64 // points per metre
	x0, y0 float64
}

func (m *mapFrame) at(p orb.Point) [2]float64 {
	return [2]float64{m.x0 + (p[0]-m.bounds.Min[0])*m.scale, m.y0 + (m.bounds.Max[1]-p[1])*m.scale}
}

func (m *mapFrame) points(p []orb.Point) [][2]float64 {
	out := make([][2]float64, len(p))
	for i, q := range p {
		out[i] = m.at(q)
	}
	return out
}
