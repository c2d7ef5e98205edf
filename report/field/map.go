package field

import (
	"fmt"
	"math"
	"strings"

	"github.com/paulmach/orb"

	"sidelap/overlap"
)

// Map is what is drawn: lines in the grid, metres.
type Map struct {
	Path   []orb.LineString
	Strips []MapLine // as flown
	Again  []MapLine // to fly again
	Area   orb.MultiPolygon
	Points []MapPoint // check points that were not seen well
}

// MapLine is a line with a name at its start.
type MapLine struct {
	ID   string
	Line orb.LineString
}

// MapPoint is a place with a name.
type MapPoint struct {
	ID string
	At orb.Point
}

// drawing gathers the map.
func (j *job) drawing(rep *Report) Map {
	m := Map{Area: j.plan.Area}
	if p := j.in.Path; p != nil {
		last := math.Inf(-1)
		var line orb.LineString
		for i, t := range p.TimeS {
			if t-last < 0.5 {
				continue
			}
			if t-last > 5 && len(line) > 0 {
				m.Path, line = append(m.Path, line), nil
			}
			line, last = append(line, orb.Point{p.EM[i], p.NM[i]}), t
		}
		if len(line) > 1 {
			m.Path = append(m.Path, line)
		}
	}
	m.Strips = j.stripLines(rep)
	rep.strips = len(m.Strips)
	for _, row := range rep.rows() {
		for _, i := range row.Items {
			m.Again = append(m.Again, MapLine{fmt.Sprint(row.N), rep.Refly[i].Line})
		}
	}
	for _, p := range j.in.Points {
		if !p.Inside || p.Returns < j.lim.PointReturns {
			m.Points = append(m.Points, MapPoint{p.ID, orb.Point{p.EM, p.NM}})
		}
	}
	return m
}

// stripLines draws the strips: along the path, else through the middle of their ground.
func (j *job) stripLines(rep *Report) (out []MapLine) {
	if len(j.in.Strips) > 0 {
		for _, s := range j.in.Strips {
			var l orb.LineString
			if j.in.Path != nil {
				l = along(j.in.Path, s.StartS, s.EndS)
			}
			if len(l) < 2 && j.survey != nil {
				for _, st := range j.survey.Lines() {
					if st.ID == s.ID {
						l = centreLine(&st)
					}
				}
			}
			out = append(out, MapLine{s.ID, l})
		}
		return out
	}
	if rep.Motion != nil && j.in.Path != nil {
		for k, e := range rep.Motion.Of("strip") {
			out = append(out, MapLine{fmt.Sprint(k + 1), along(j.in.Path, e.StartS, e.EndS)})
		}
	}
	return out
}

// centreLine runs through the middle of a strip's ground in the order of time.
func centreLine(st *overlap.Strip) (l orb.LineString) {
	const parts = 20
	var sum [parts][3]float64
	for i := range st.Facets {
		f := &st.Facets[i]
		if f.N == 0 || math.IsNaN(f.TimeS) {
			continue
		}
		k := max(0, min(parts-1, int(parts*(f.TimeS-st.StartGPSS)/(st.EndGPSS-st.StartGPSS))))
		sum[k][0], sum[k][1], sum[k][2] = sum[k][0]+f.EM, sum[k][1]+f.NM, sum[k][2]+1
	}
	for _, s := range sum {
		if s[2] > 0 {
			l = append(l, orb.Point{s[0] / s[2], s[1] / s[2]})
		}
	}
	return l
}

// bound is the extent of the strips and what is to be flown again; manoeuvres far away do not shrink it.
func (m *Map) bound() (b orb.Bound, ok bool) {
	add := func(x orb.Bound) {
		if !ok {
			b, ok = x, true
			return
		}
		b = b.Union(x)
	}
	for _, l := range append(append([]MapLine{}, m.Strips...), m.Again...) {
		if len(l.Line) > 1 {
			add(l.Line.Bound())
		}
	}
	for _, p := range m.Area {
		add(p.Bound())
	}
	if !ok {
		for _, l := range m.Path {
			add(l.Bound())
		}
	}
	return b, ok
}

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
	var s strings.Builder
	fmt.Fprintf(&s, `<svg viewBox="0 0 %.0f %.0f" role="img" aria-label="map of the strips, north is up" xmlns="http://www.w3.org/2000/svg">`, mapW, height)
	fmt.Fprintf(&s, `<clipPath id="frame"><rect x="0" y="0" width="%.0f" height="%.0f"/></clipPath><g clip-path="url(#frame)">`, mapW, height-26)
	line := func(l orb.LineString, class string) {
		if len(l) < 2 {
			return
		}
		s.WriteString(`<polyline class="` + class + `" points="`)
		for i, p := range l {
			x, y := at(p)
			if i > 0 {
				s.WriteByte(' ')
			}
			fmt.Fprintf(&s, "%.1f,%.1f", x, y)
		}
		s.WriteString(`"/>`)
	}
	for _, p := range m.Area {
		for _, r := range p {
			line(orb.LineString(r), "area")
		}
	}
	for _, l := range m.Path {
		line(l, "path")
	}
	for _, l := range m.Again {
		line(l.Line, "redo")
	}
	for _, l := range m.Strips {
		line(l.Line, "strip")
	}
	s.WriteString("</g>")
	for _, l := range m.Strips {
		if len(l.Line) < 2 {
			continue
		}
		x, y := labelAt(at, l.Line, 14)
		fmt.Fprintf(&s, `<text class="name" x="%.1f" y="%.1f">%s</text>`, x, y+5, escape(l.ID))
	}
	for _, l := range m.Again {
		if len(l.Line) < 2 {
			continue
		}
		x, y := at(l.Line[len(l.Line)/2])
		w := 14 + 9*float64(len(l.ID))
		fmt.Fprintf(&s, `<rect class="box" x="%.1f" y="%.1f" width="%.1f" height="24"/><text class="number" x="%.1f" y="%.1f">%s</text>`, x-w/2, y-12, w, x, y+6, escape(l.ID))
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
		fmt.Fprintf(&s, `<path class="point" d="M%.1f %.1fl7 12h-14z"/><text class="name" x="%.1f" y="%.1f">%s</text>`, x, y-7, x, below, escape(p.ID))
	}
	bar(&s, k, height)
	s.WriteString("</svg>")
	return s.String()
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
