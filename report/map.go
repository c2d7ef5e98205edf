package report

import (
	"math"
	"slices"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"
)

// mapOptions say what a map shows over its picture.
type mapOptions struct {
	strips, voids, checks, findings bool
	exaggeration                    float64 // points of a residual bar per metre
}

// drawMap draws a picture with overlays in a width; it returns the height used.
// Layers are groups of their own class, so that the page can switch them.
func (v *view) drawMap(c canvas, l *Layers, pic *picture, w, maxH, size float64, o mapOptions) (height float64, f *mapFrame) {
	b := pic.bounds
	if l, ok := l.mapBounds(); ok {
		b = b.Union(l)
	}
	f = &mapFrame{bounds: b, scale: min((w-2)/(b.Max[0]-b.Min[0]), maxH/(b.Max[1]-b.Min[1]))}
	width := (b.Max[0] - b.Min[0]) * f.scale
	height = (b.Max[1] - b.Min[1]) * f.scale
	f.x0 = (w - width) / 2
	nw := f.at(orb.Point{pic.bounds.Min[0], pic.bounds.Max[1]})
	c.image(nw[0], nw[1], (pic.bounds.Max[0]-pic.bounds.Min[0])*f.scale, (pic.bounds.Max[1]-pic.bounds.Min[1])*f.scale, pic, ink{class: "pixels"})
	frame := [][2]float64{{f.x0, 0}, {f.x0 + width, 0}, {f.x0 + width, height}, {f.x0, height}}
	c.path(frame, true, ink{stroke: mutedColor, width: 0.8})
	if o.strips {
		drawStrips(c, l, f, size)
	}
	if o.voids {
		drawVoids(c, l, f, size)
	}
	if o.findings {
		v.drawFindings(c, f, size)
	}
	if o.checks {
		v.drawChecks(c, f, size, o.exaggeration)
	}
	drawBar(c, f, width, height+size*2.6, size)
	return height + size*3, f
}

func drawStrips(c canvas, l *Layers, f *mapFrame, size float64) {
	for i := range l.Strips {
		s := &l.Strips[i]
		for _, p := range s.Area {
			for _, r := range p {
				c.path(f.points(r), true, ink{stroke: inkColor, width: 0.6, dash: "5 3", opacity: 0.55, class: "on-strips", hint: "strip " + s.ID})
			}
		}
		if len(s.Line) < 2 {
			continue
		}
		line := f.points(s.Line)
		c.path(line, false, ink{stroke: inkColor, width: 0.7, opacity: 0.8, class: "on-strips"})
		a, b := line[len(line)-2], line[len(line)-1]
		d := math.Hypot(b[0]-a[0], b[1]-a[1])
		if d == 0 {
			continue
		}
		ux, uy := (b[0]-a[0])/d, (b[1]-a[1])/d
		t := size * 0.7
		c.path([][2]float64{b, {b[0] - t*ux - t*0.5*uy, b[1] - t*uy + t*0.5*ux}, {b[0] - t*ux + t*0.5*uy, b[1] - t*uy - t*0.5*ux}}, true, ink{fill: inkColor, class: "on-strips"})
		at := line[0] // the name where the strip begins, inside the frame
		c.write(at[0]+(b[0]-a[0])/d*size*1.6, at[1]+uy*size*1.6+size*0.35, s.ID, size, "middle", ink{fill: inkColor, halo: true, bold: true, class: "on-strips"})
	}
}

// namedVoids is how many voids are named on the map, the largest first: names of
// all would hide what they name.
const namedVoids = 8

func drawVoids(c canvas, l *Layers, f *mapFrame, size float64) {
	sizes := make([]float64, len(l.Voids))
	for i := range l.Voids {
		sizes[i] = planar.Area(l.Voids[i].Area)
	}
	order := slices.Clone(sizes)
	slices.Sort(order)
	least := 0.0
	if len(order) > namedVoids {
		least = order[len(order)-namedVoids]
	}
	for i := range l.Voids {
		s := &l.Voids[i]
		for _, p := range s.Area {
			for _, r := range p {
				c.path(f.points(r), true, ink{stroke: inkColor, width: 1.2, dash: "1.5 2", class: "on-voids", hint: "void " + s.ID})
			}
		}
		if len(s.Area) > 0 && sizes[i] >= least {
			at := f.at(s.Area.Bound().Center())
			c.write(at[0], at[1]+size*0.35, s.ID, size*0.9, "middle", ink{fill: inkColor, halo: true, class: "on-voids"})
		}
	}
}

func (v *view) drawFindings(c canvas, f *mapFrame, size float64) {
	for i := range v.rec.Findings {
		q := &v.rec.Findings[i]
		for _, p := range q.Places {
			at := f.at(orb.Point{p.EM, p.NM})
			r := size * 0.8
			c.path([][2]float64{{at[0], at[1] - r}, {at[0] + r, at[1]}, {at[0], at[1] + r}, {at[0] - r, at[1]}}, true,
				ink{stroke: inkColor, fill: paperColor, width: 1.2, class: "on-findings", hint: q.Text})
			c.write(at[0], at[1]+size*0.35, "!", size, "middle", ink{fill: inkColor, bold: true, class: "on-findings"})
		}
	}
}

// drawChecks draws the check points with bars of their differences: up and
// ochre when the cloud lies above, down and indigo when below. Open ground is a
// disc, vegetation a triangle, an excluded point a cross. The worst is named.
func (v *view) drawChecks(c canvas, f *mapFrame, size, perM float64) {
	if v.rec.Checkpoints == nil {
		return
	}
	worst := v.worst()
	for i := range v.rec.Checkpoints.Points {
		p := &v.rec.Checkpoints.Points[i]
		at := f.at(orb.Point{p.EM, p.NM})
		if !f.bounds.Contains(orb.Point{p.EM, p.NM}) {
			continue
		}
		k := ink{fill: markColor, stroke: haloColor, width: 0.8, class: "on-checks", hint: v.checkHint(i)}
		r := size * 0.3
		if p.DzM != nil && p.Used {
			name := highColor
			if *p.DzM < 0 {
				name = lowColor
			}
			end := at[1] - max(min(*p.DzM*perM, size*5), -size*5)
			c.path([][2]float64{{at[0], at[1]}, {at[0], end}}, false, ink{stroke: haloColor, width: 4, class: "on-checks"})
			c.path([][2]float64{{at[0], at[1]}, {at[0], end}}, false, ink{stroke: name, width: 2.2, class: "on-checks", hint: v.checkHint(i)})
		}
		switch {
		case !p.Used:
			for _, s := range []float64{-1, 1} {
				line := [][2]float64{{at[0] - r, at[1] - s*r}, {at[0] + r, at[1] + s*r}}
				c.path(line, false, ink{stroke: haloColor, width: 3, class: "on-checks"})
				c.path(line, false, ink{stroke: markColor, width: 1.4, class: "on-checks", hint: v.checkHint(i)})
			}
		case p.Cover == "vegetated":
			mark(c, at[0], at[1], r*1.1, 2, k)
		default:
			c.circle(at[0], at[1], r, k)
		}
		if i == worst {
			c.circle(at[0], at[1], size*0.75, ink{stroke: markColor, width: 1.2, class: "on-checks"})
			c.write(at[0]+size, at[1]+size*0.35, p.ID, size, "start", ink{fill: inkColor, halo: true, bold: true, class: "on-checks"})
		}
	}
}

func (v *view) checkHint(i int) string {
	k := keyf("checkpoints.points[%d]", i)
	s := v.text(k+".id") + ", " + v.text(k+".cover") + ": dz " + v.withUnit(k+".dz_m")
	if !v.rec.Checkpoints.Points[i].Used {
		s += ", excluded: " + v.text(k+".reason")
	}
	return s
}

// drawBar draws scale bar and north arrow below the map, ending at height.
func drawBar(c canvas, f *mapFrame, width, height, size float64) {
	step, _ := roundStep(width / f.scale / 8)
	x, y := f.x0+size, height-size*0.3
	w := step * f.scale
	c.path([][2]float64{{x, y - size*0.4}, {x, y}, {x + w, y}, {x + w, y - size*0.4}}, false, ink{stroke: inkColor, width: 1.4})
	c.write(x+w/2, y-size*0.4, trimmed(step, 3)+" m", size, "middle", ink{fill: inkColor})
	nx, ny := x+w+size*1.6, y
	c.path([][2]float64{{nx, ny - size*1.3}, {nx + size*0.45, ny}, {nx, ny - size*0.4}, {nx - size*0.45, ny}}, true, ink{fill: inkColor})
	c.write(nx+size, ny-size*0.2, "N", size, "middle", ink{fill: inkColor})
}
