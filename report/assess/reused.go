package assess

import (
	"fmt"
	"math"

	"sidelap/control"
)

// How near a check point lies to a control point to be the same one: by place, or by name and place. As in rule B15.
const (
	reusedM      = 0.05
	reusedNamedM = 1.0
)

// dropControl takes check points that are control points too out of the figures: they show the fit to them, not the
// accuracy.
func dropControl(cmp *control.Comparison, used []control.Point) {
	n := 0
	for i := range cmp.Points {
		p := &cmp.Points[i]
		c := reusedAs(&p.Point, used)
		if c == nil {
			continue
		}
		n++
		if p.Used {
			cmp.NUsed--
			cmp.NExcluded++
		}
		p.Used, p.Reason = false, control.ReasonControl
		p.Detail = fmt.Sprintf("control %s, %.3f m away", c.ID, math.Hypot(p.EM-c.EM, p.NM-c.NM))
	}
	if n == 0 {
		return
	}
	cmp.NVA, cmp.VVA = nil, nil
	if a, err := control.Summarize(cmp.DzM(control.CoverOpen)); err == nil {
		cmp.NVA = &a
	}
	if a, err := control.Summarize(cmp.DzM(control.CoverVegetated)); err == nil {
		cmp.VVA = &a
	}
	cmp.Warnings = append(cmp.Warnings, fmt.Sprintf("%d of %d check points stand in the list of control points too: left out of every figure, since they show the fit to them and not the accuracy", n, cmp.NRead))
}

// reusedAs is the control point that a check point is, nil when there is none.
func reusedAs(p *control.Point, used []control.Point) *control.Point {
	for k := range used {
		c := &used[k]
		if d := math.Hypot(p.EM-c.EM, p.NM-c.NM); d < reusedM || p.ID != "" && p.ID == c.ID && d < reusedNamedM {
			return c
		}
	}
	return nil
}
