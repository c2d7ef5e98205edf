package report

import (
	"cmp"
	"math"
	"slices"

	"sidelap/adjust"
	"sidelap/overlap"
)

// The figures of the diagnosis: separations across the overlap of pairs and along strips, as they are and with the causes
// that were found taken out. A sound model leaves flat lines near zero; what it leaves over is seen here first.

// mostPanels is how many pairs and how many strips are shown, those with the largest separations.
const mostPanels = 9

// panel is one small figure of medians with quartiles.
type panel struct {
	title, axis string
	bins        []adjust.Bin
}

// size is how far the medians lie from zero, as rms.
func (p *panel) size() float64 {
	sum := 0.0
	for _, b := range p.bins {
		sum += b.BeforeM.MedianM * b.BeforeM.MedianM
	}
	return math.Sqrt(sum / float64(max(len(p.bins), 1)))
}

// largest keeps the panels of largest size, in the order they had.
func largest(all []panel) []panel {
	all = slices.DeleteFunc(all, func(p panel) bool { return len(p.bins) < 2 })
	if len(all) <= mostPanels {
		return all
	}
	order := make([]int, len(all))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(all[b].size(), all[a].size()) })
	order = order[:mostPanels]
	slices.Sort(order)
	out := make([]panel, len(order))
	for i, k := range order {
		out[i] = all[k]
	}
	return out
}

// panelGroup is a group of panels with one caption.
type panelGroup struct {
	title, caption string
	panels         []panel
}

// diagnosisPanels are the groups of panels that there are numbers for.
func (v *view) diagnosisPanels(l *Layers) []panelGroup {
	f := l.Diagnosis
	if f == nil {
		return nil
	}
	var pairs, strips []panel
	for i := range f.Pairs {
		p := &f.Pairs[i]
		pairs = append(pairs, panel{p.IDA + " – " + p.IDB, "m right of the path of " + p.IDA, p.Across})
	}
	for i := range f.Strips {
		strips = append(strips, panel{"strip " + f.Strips[i].ID, "seconds from its start", f.Strips[i].Time})
	}
	read := " Line: medians as they are, with the middle half of the cells as a band."
	if len(v.rec.Causes) > 0 {
		read += " Dots: medians with the causes of the table taken out."
	}
	many := func(shown, all int, what string) string {
		if shown == all {
			return ""
		}
		return " The " + group(int64(shown)) + " " + what + " of largest separation out of " + group(int64(all)) + "."
	}
	var out []panelGroup
	if p := largest(pairs); len(p) > 0 {
		out = append(out, panelGroup{"Separation across the overlap of pairs", "Separation across the overlap, " + v.later() + " minus " + v.earlier() + " strip." + read + many(len(p), len(f.Pairs), "pairs"), p})
	}
	if p := largest(strips); len(p) > 0 {
		out = append(out, panelGroup{"Each strip against all others, along its flight", "Height of a strip over the strips it meets, along its flight: up where the strip lies higher." + read + many(len(p), len(f.Strips), "strips"), p})
	}
	return out
}

// drawPanels draws a group in columns, all panels on one scale of heights; it returns the height used.
func drawPanels(c canvas, w, size float64, columns int, g panelGroup, limitM float64, judged, after bool) (height float64) {
	reach := 0.0
	for _, p := range g.panels {
		for _, b := range p.bins {
			for _, x := range []float64{b.BeforeM.LowM, b.BeforeM.HighM, b.AfterM.MedianM} {
				reach = max(reach, math.Abs(x))
			}
		}
	}
	if reach == 0 || math.IsInf(reach, 0) {
		return 0
	}
	if judged && limitM < 3*reach {
		reach = max(reach, 1.1*limitM)
	}
	columns = min(columns, len(g.panels))
	cw := w / float64(max(columns, 2))
	h := min(cw*0.5, size*13)
	for i := range g.panels {
		q := &g.panels[i]
		p := &plot{c: c, x0: float64(i%columns)*cw + size*3.8, y0: float64(i/columns)*(h+size*5.6) + size*2.2, w: cw - size*5, h: h,
			xlo: q.bins[0].At, xhi: q.bins[len(q.bins)-1].At, ylo: -1.05 * reach, yhi: 1.05 * reach, size: size, xlabel: q.axis, ylabel: q.title + " [m]"}
		drawPanel(p, q.bins, limitM, judged, after)
	}
	rows := (len(g.panels) + columns - 1) / columns
	return float64(rows) * (h + size*5.6)
}

// drawPanel draws the bins of one panel.
func drawPanel(p *plot, bins []adjust.Bin, limitM float64, judged, after bool) {
	p.axes(5, 4)
	p.c.path([][2]float64{{p.x0, p.y(0)}, {p.x0 + p.w, p.y(0)}}, false, ink{stroke: inkColor, width: 0.8})
	for _, s := range []float64{-1, 1} {
		if y := s * limitM; judged && y > p.ylo && y < p.yhi {
			p.c.path([][2]float64{{p.x0, p.y(y)}, {p.x0 + p.w, p.y(y)}}, false, ink{stroke: limitColor, width: 0.8, dash: "4 3"})
		}
	}
	var band, line [][2]float64
	for _, b := range bins {
		band = append(band, [2]float64{p.x(b.At), p.y(b.BeforeM.HighM)})
		line = append(line, [2]float64{p.x(b.At), p.y(b.BeforeM.MedianM)})
	}
	for i := len(bins) - 1; i >= 0; i-- {
		band = append(band, [2]float64{p.x(bins[i].At), p.y(bins[i].BeforeM.LowM)})
	}
	p.c.path(band, true, ink{fill: barColor, opacity: 0.35})
	p.c.path(line, false, ink{stroke: highColor, width: 1.6})
	if !after {
		return
	}
	for _, b := range bins {
		p.c.circle(p.x(b.At), p.y(b.AfterM.MedianM), p.size*0.18, ink{fill: lowColor, stroke: paperColor, width: 0.5,
			hint: "median " + fixed(b.BeforeM.MedianM, 3) + " m, without the causes " + fixed(b.AfterM.MedianM, 3) + " m, " + group(int64(b.Cells)) + " cells"})
	}
}

// residualGrids are the map of rms separations as they are and with the causes taken out; nil without any.
func residualGrids(f *adjust.Figures) (before, after *Grid) {
	if f == nil || len(f.Map) == 0 || !(f.MapM > 0) {
		return nil, nil
	}
	at := func(m float64) int32 { return int32(math.Floor(m / f.MapM)) }
	c0, r0, c1, r1 := int32(math.MaxInt32), int32(math.MaxInt32), int32(math.MinInt32), int32(math.MinInt32)
	for _, c := range f.Map {
		c0, r0, c1, r1 = min(c0, at(c.EM)), min(r0, at(c.NM)), max(c1, at(c.EM)), max(r1, at(c.NM))
	}
	cols, rows := int(c1)-int(c0)+1, int(r1)-int(r0)+1
	if cols > 1<<12 || rows > 1<<12 { // far parts: too large to be a map
		return nil, nil
	}
	grid := func(value func(*adjust.MapCell) float64) *Grid {
		g := &overlap.Grid{Col0: c0, Row0: r0, Cols: cols, Rows: rows, CellM: f.MapM, Values: make([]float32, cols*rows)}
		for i := range g.Values {
			g.Values[i] = float32(math.NaN())
		}
		for i := range f.Map {
			c := &f.Map[i]
			g.Values[int(at(c.NM)-r0)*cols+int(at(c.EM)-c0)] = float32(value(c))
		}
		return g
	}
	return grid(func(c *adjust.MapCell) float64 { return c.BeforeM }), grid(func(c *adjust.MapCell) float64 { return c.AfterM })
}
