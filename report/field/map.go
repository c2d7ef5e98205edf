package field

import (
	"fmt"
	"math"

	"github.com/paulmach/orb"

	"sidelap/overlap"
	"sidelap/trajectory/fieldcheck"
)

// Map is what is drawn: lines in the grid, metres.
type Map struct {
	Path   []orb.LineString
	Strips []MapLine // as flown
	Again  []MapLine // to fly again
	Area   orb.MultiPolygon
	Points []MapPoint // check points that were not seen well
	Places []fieldcheck.Place
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
	m.Places = rep.Places
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
				l = fieldcheck.Flown(j.in.Path, s.StartS, s.EndS)
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
			out = append(out, MapLine{fmt.Sprint(k + 1), fieldcheck.Flown(j.in.Path, e.StartS, e.EndS)})
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
