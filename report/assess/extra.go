package assess

import (
	"math"

	"sidelap/control"
)

// extra holds the returns that are looked at beside those at the check points. A part is nil when there is nothing
// to look for.
type extra struct {
	targets *control.Collector
	ridges  *control.Collector
}

// list returns the parts in a fixed order.
func (e *extra) list() []*control.Collector {
	var out []*control.Collector
	for _, c := range []*control.Collector{e.targets, e.ridges} {
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
	e.targets = made(j.targets, j.o.Target.SizeM+j.o.Target.SearchM+0.1)
	e.ridges = made(j.ridges, ridgeRadiusM)
	return e
}

// places lists, one after the other, all places where the ground is looked at: the check points, the spots of the
// rules, and where the points would lie after each of the moves. One collector serves them in one test a return.
func (j *job) places() []control.Point {
	p := append([]control.Point{}, j.checks.Points...)
	p = append(p, j.spots...)
	for _, m := range j.moved {
		p = append(p, m.Points...)
	}
	return p
}

// checkPart is the part of the collector that belongs to the check points.
func (j *job) checkPart(c *control.Collector) *control.Collector {
	return c.Part(0, len(j.checks.Points))
}

// spotPart is the part of the spots, nil without.
func (j *job) spotPart(c *control.Collector) *control.Collector {
	if len(j.spots) == 0 {
		return nil
	}
	n := len(j.checks.Points)
	return c.Part(n, n+len(j.spots))
}

// movedPart is the part of move i.
func (j *job) movedPart(c *control.Collector, i int) *control.Collector {
	n := len(j.checks.Points) + len(j.spots)
	for _, m := range j.moved[:i] {
		n += len(m.Points)
	}
	return c.Part(n, n+len(j.moved[i].Points))
}

// Moves are tried from this many points on, and when one of them moves by this much: less is below what the surface shows.
const (
	minMovedPoints = 6
	minMoveM       = 0.05
)

// worthMoving reports whether the other kind of foot moves the points by more than their noise.
func worthMoving(points []control.Point) bool {
	most := 0.0
	for i := range points {
		most = math.Max(most, math.Hypot(points[i].EM, points[i].NM))
	}
	return len(points) >= minMovedPoints && most*2e-6 > minMoveM
}
