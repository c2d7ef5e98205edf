package assess

import (
	"slices"

	"sidelap/control"
)

// extra holds the returns that the rules for blunders look at beside those at the check points. A part is nil
// when there is nothing to look for.
type extra struct {
	spots   *control.Collector // ground at the base mark and where the sensor stood
	targets *control.Collector
	ridges  *control.Collector
	moved   []*control.Collector // where the points would lie had the list been converted with the other foot
}

// list returns the parts in a fixed order.
func (e *extra) list() []*control.Collector {
	out := slices.Clone(e.moved)
	for _, c := range []*control.Collector{e.spots, e.targets, e.ridges} {
		if c != nil {
			out = append(out, c)
		}
	}
	return out
}

func (e *extra) merge(o *extra) {
	theirs := o.list()
	for i, c := range e.list() {
		c.Merge(theirs[i])
	}
}

// newExtra makes one worker's part of the reading.
func (j *job) newExtra() extra {
	var e extra
	made := func(p []control.Point, radiusM float64) *control.Collector {
		if len(p) == 0 {
			return nil
		}
		return control.NewCollector(p, radiusM)
	}
	e.spots = made(j.spots, j.checkRadiusM())
	e.targets = made(j.targets, j.o.Target.SizeM+j.o.Target.SearchM+0.1)
	e.ridges = made(j.ridges, ridgeRadiusM)
	for _, m := range j.moved {
		e.moved = append(e.moved, control.NewCollector(m.Points, j.checkRadiusM()))
	}
	return e
}
