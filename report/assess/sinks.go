package assess

import (
	"sidelap/control"
	"sidelap/las"
	"sidelap/overlap"
	"sidelap/trajectory"
	"sidelap/trajectory/recover"
)

// times gathers the GPS times of each file and what the points are like.
type times struct {
	ranges []las.TimeRange
}

func newTimes(files int) *times { return &times{make([]las.TimeRange, files)} }

// Add implements sink.
func (t *times) Add(c *las.Chunk, file int) {
	if len(c.GPSTime) > 0 {
		t.ranges[file].Add(c.GPSTime)
	}
}

func (t *times) merge(o *times) {
	for i := range t.ranges {
		t.ranges[i].Merge(o.ranges[i])
	}
}

// gathered is what the one reading of the points leaves.
type gathered struct {
	strips *overlap.Accumulator
	times  *times
	checks *control.Collector  // at the check points and the other places of job.places; nil without a list
	clock  *clock              // times of the points, where strips are not looked at but a path is
	extra  extra               // for the rules about blunders
	sample *trajectory.Sampler // nil without a path file
	rays   *recover.Collector  // nil with a path file
	light  *intensity          // nil unless the swath separation image is wanted
	places *outlines           // where runs of points lie; nil when strips are not looked at
}

// sinks lists the parts that take points.
func (g *gathered) sinks() []sink {
	s := []sink{g.times}
	if g.strips != nil {
		s = append(s, g.strips)
	}
	if g.checks != nil {
		s = append(s, g.checks)
	}
	if g.clock != nil {
		s = append(s, g.clock)
	}
	for _, c := range g.extra.list() {
		s = append(s, c)
	}
	if g.sample != nil {
		s = append(s, g.sample)
	}
	if g.rays != nil {
		s = append(s, g.rays)
	}
	if g.light != nil {
		s = append(s, g.light)
	}
	if g.places != nil {
		s = append(s, g.places)
	}
	return s
}

// merge adds another worker's part, but the sums of cells: see joinSums.
func (g *gathered) merge(o *gathered) {
	g.times.merge(o.times)
	if g.checks != nil {
		g.checks.Merge(o.checks)
	}
	if g.clock != nil {
		g.clock.merge(o.clock)
	}
	g.extra.merge(&o.extra)
	if g.sample != nil {
		g.sample.Merge(o.sample)
	}
	if g.rays != nil {
		g.rays.Merge(o.rays)
	}
	if g.light != nil {
		g.light.merge(o.light)
	}
	if g.places != nil {
		g.places.merge(o.places)
	}
}
