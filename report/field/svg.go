package field

import (
	"fmt"
	"math"
	"strings"

	"github.com/paulmach/orb"
)

// mapW is the width of the drawing in its own units; heights are bounded to mapH.
const mapW, mapH, mapPad = 520.0, 420.0, 30.0

// SVG draws the map, "" when there is nothing to draw. Strips are thin, what is to be flown again is thick and
// dashed with a number in a box: colour is never alone.
func (m *Map) SVG() string {
	b, ok := m.bound()
	if !ok {
		return ""
	}
	w, h := b.Max[0]-b.Min[0], b.Max[1]-b.Min[1]
	if !(w+h > 1) {
		return ""
	}
	k := min((mapW-2*mapPad)/max(w, 1), (mapH-2*mapPad)/max(h, 1))
	height := h*k + 2*mapPad + 26
	x0 := (mapW - w*k) / 2
	at := func(p orb.Point) (float64, float64) { return x0 + (p[0]-b.Min[0])*k, mapPad + (b.Max[1]-p[1])*k }
	d := &drawer{at: at}
	s := &d.s
	fmt.Fprintf(s, `<svg viewBox="0 0 %.0f %.0f" role="img" aria-label="map of the strips, north is up" xmlns="http://www.w3.org/2000/svg">`, mapW, height)
	fmt.Fprintf(s, `<clipPath id="frame"><rect x="0" y="0" width="%.0f" height="%.0f"/></clipPath><g clip-path="url(#frame)">`, mapW, height-26)
	for _, p := range m.Area {
		for _, r := range p {
			d.line(orb.LineString(r), "area")
		}
	}
	for _, l := range m.Path {
		d.line(l, "path")
	}
	for _, l := range m.Again {
		d.line(l.Line, "redo")
	}
	for _, l := range m.Strips {
		d.line(l.Line, "strip")
	}
	for _, p := range m.Places {
		x, y := d.at(orb.Point{p.EM, p.NM})
		radius := max(8, k*math.Sqrt(p.AreaM2/math.Pi))
		fmt.Fprintf(s, `<circle class="place" cx="%.1f" cy="%.1f" r="%.1f"/>`, x, y, radius)
	}
	s.WriteString("</g>")
	d.names(m)
	for i, p := range m.Places {
		if i == 12 { // more would hide the strips
			break
		}
		x, y := d.at(orb.Point{p.EM, p.NM})
		fmt.Fprintf(s, `<text class="name" x="%.1f" y="%.1f">%s</text>`, x, y+5, map[bool]string{false: "hole", true: "water?"}[p.Water])
	}
	bar(s, k, height)
	s.WriteString("</svg>")
	return s.String()
}

// drawer writes parts of the map.
type drawer struct {
	s  strings.Builder
	at func(orb.Point) (x, y float64)
}

func (d *drawer) line(l orb.LineString, class string) {
	if len(l) < 2 {
		return
	}
	d.s.WriteString(`<polyline class="` + class + `" points="`)
	for i, p := range l {
		x, y := d.at(p)
		if i > 0 {
			d.s.WriteByte(' ')
		}
		fmt.Fprintf(&d.s, "%.1f,%.1f", x, y)
	}
	d.s.WriteString(`"/>`)
}

// names writes the names of strips, the numbers of the list, and the check points.
func (d *drawer) names(m *Map) {
	s, at := &d.s, d.at
	for _, l := range m.Strips {
		if len(l.Line) < 2 {
			continue
		}
		x, y := labelAt(at, l.Line, 14)
		fmt.Fprintf(s, `<text class="name" x="%.1f" y="%.1f">%s</text>`, x, y+5, escape(l.ID))
	}
	for _, l := range m.Again {
		if len(l.Line) < 2 {
			continue
		}
		x, y := at(l.Line[len(l.Line)/2])
		w := 14 + 9*float64(len(l.ID))
		fmt.Fprintf(s, `<rect class="box" x="%.1f" y="%.1f" width="%.1f" height="24"/><text class="number" x="%.1f" y="%.1f">%s</text>`, x-w/2, y-12, w, x, y+6, escape(l.ID))
	}
	var named [][2]float64
	for _, p := range m.Points {
		x, y := at(p.At)
		below := y + 20
		for _, q := range named { // names do not lie on one another
			if math.Abs(q[0]-x) < 52 && math.Abs(q[1]-below) < 16 {
				below = y - 11
			}
		}
		named = append(named, [2]float64{x, below})
		fmt.Fprintf(s, `<path class="point" d="M%.1f %.1fl7 12h-14z"/><text class="name" x="%.1f" y="%.1f">%s</text>`, x, y-7, x, below, escape(p.ID))
	}
}

// labelAt is a place before the start of a line, against its direction.
func labelAt(at func(orb.Point) (float64, float64), l orb.LineString, off float64) (x, y float64) {
	x, y = at(l[0])
	x1, y1 := at(l[len(l)-1])
	if d := math.Hypot(x1-x, y1-y); d > 0 {
		x, y = x-(x1-x)/d*off, y-(y1-y)/d*off
	}
	return min(max(x, 20), mapW-20), y
}

// bar draws the scale and says that north is up.
func bar(s *strings.Builder, k, height float64) {
	const most = 160.0
	step := math.Pow(10, math.Floor(math.Log10(most/k)))
	for _, f := range []float64{5, 2} {
		if f*step*k <= most {
			step *= f
			break
		}
	}
	y := height - 12
	fmt.Fprintf(s, `<path class="bar" d="M20 %.1fv6h%.1fv-6"/><text class="name" style="text-anchor:start" x="%.1f" y="%.1f">%s m, north is up</text>`, y-3, step*k, 28+step*k, y+4, number(step))
}

func escape(t string) string {
	return strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;", `"`, "&quot;").Replace(t)
}
