package assess

import (
	"fmt"

	"sidelap/control"
)

// dropControl takes check points that are control points too out of the figures: they show the fit to them, not the
// accuracy.
func dropControl(cmp *control.Comparison, used []control.Point) {
	n := 0
	for i := range cmp.Points {
		p := &cmp.Points[i]
		c, d := control.SamePoint(&p.Point, used)
		if c == nil {
			continue
		}
		n++
		if p.Used {
			cmp.NUsed--
			cmp.NExcluded++
		}
		p.Used, p.Reason = false, control.ReasonControl
		p.Detail = fmt.Sprintf("control %s, %.3f m away", c.ID, d)
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
