package fieldcheck

import (
	"fmt"
	"math"

	"github.com/paulmach/orb"
)

// presenceChecks looks for strips that should be there: planned lines that no
// strip follows, and strips flown that the cloud does not hold.
func (r *runner) presenceChecks() {
	r.plannedLines()
	r.flownStrips()
}

// plannedLines compares the lines of the plan with the strips.
func (r *runner) plannedLines() {
	c := Check{ID: "planned_lines", Title: "planned lines flown", Unit: "lines missing", Limit: 0, Sense: AtMost, Basis: practice}
	if r.in.Plan == nil || len(r.in.Plan.Lines) == 0 {
		r.missing(c.ID, c.Title, false, "no planned lines given")
		return
	}
	if len(r.shots) == 0 {
		r.missing(c.ID, c.Title, false, "no strip found")
		return
	}
	tol := r.lineTol()
	for _, l := range r.in.Plan.Lines {
		share := r.followed(l.Line, tol)
		if share >= 0.95 {
			continue
		}
		c.Value++
		c.Strips = append(c.Strips, l.ID)
		c.Result = Refly
		reason := "planned and not flown"
		if share > 0.02 {
			reason = fmt.Sprintf("planned and flown to %.0f %%", 100*share)
		}
		r.rep.Refly = append(r.rep.Refly, Item{Strip: l.ID, Reasons: []string{reason}, Line: l.Line, Planned: true})
		r.lost = append(r.lost, mid(l.Line))
	}
	if c.Result == "" {
		c.Result, c.Note = Go, "flown: "+counted(len(r.in.Plan.Lines), "planned line", "planned lines")
	} else {
		c.Note = fmt.Sprintf("not flown, or not to the end: %s of the plan", names(c.Strips))
	}
	r.add(c)
}

// lineTol is how far from a planned line a strip still follows it.
func (r *runner) lineTol() float64 { return max(5, 0.4*lineSpacing(r.in.Plan.Lines)) }

// followStepM is the distance of the places at which a planned line is compared with the strips.
const followStepM = 5.0

// followed returns the share of a planned line that lies within tol of a strip.
func (r *runner) followed(l orb.LineString, tol float64) float64 {
	n, hit := 0, 0
	for i := 1; i < len(l); i++ {
		d := math.Hypot(l[i][0]-l[i-1][0], l[i][1]-l[i-1][1])
		k := max(1, int(d/followStepM))
		for j := range k {
			u := (float64(j) + 0.5) / float64(k)
			e, m := l[i-1][0]+u*(l[i][0]-l[i-1][0]), l[i-1][1]+u*(l[i][1]-l[i-1][1])
			n++
			if r.near(e, m, tol) {
				hit++
			}
		}
	}
	if n == 0 {
		return 1
	}
	return float64(hit) / float64(n)
}

func (r *runner) near(e, n, tol float64) bool {
	for i := range r.shots {
		if len(r.shots[i].poses) == 0 {
			if a := axisOf(&r.shots[i]); a.ok {
				if u := a.along(e, n); u > -tol && u < a.length+tol && math.Abs(a.across(e, n)) < tol {
					return true
				}
			}
			continue
		}
		for _, o := range r.shots[i].poses {
			if math.Abs(o.EM-e) < tol && math.Abs(o.NM-n) < tol && math.Hypot(o.EM-e, o.NM-n) < tol {
				return true
			}
		}
	}
	return false
}

// lineSpacing is the median distance of the middles of neighbouring lines.
func lineSpacing(lines []PlannedLine) float64 {
	var v []float64
	for i, l := range lines {
		best := math.Inf(1)
		for j, m := range lines {
			if i == j || len(l.Line) < 2 || len(m.Line) < 2 {
				continue
			}
			best = min(best, math.Hypot(mid(l.Line)[0]-mid(m.Line)[0], mid(l.Line)[1]-mid(m.Line)[1]))
		}
		if !math.IsInf(best, 1) {
			v = append(v, best)
		}
	}
	if len(v) == 0 {
		return 20
	}
	return quantile(v, 0.5)
}

func mid(l orb.LineString) orb.Point {
	a, b := l[0], l[len(l)-1]
	return orb.Point{(a[0] + b[0]) / 2, (a[1] + b[1]) / 2}
}
