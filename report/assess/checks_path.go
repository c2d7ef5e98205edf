package assess

import (
	"math"
	"slices"

	"sidelap/control"
	"sidelap/las"
	"sidelap/trajectory"
)

// clockStep is which share of the points a clock looks at: one in so many, by their number in the file.
const clockStep = 32

// maxClockSeconds bounds a clock: a day of seconds for each of ten flights. More are no times of a flight.
const maxClockSeconds = 864000

// clock gathers the seconds that hold points, where no strips tell them. It wants las.ColGPSTime; merge is exact for any order.
type clock struct {
	seconds    map[int64]struct{}
	minS, maxS float64
}

func newClock() *clock {
	return &clock{seconds: map[int64]struct{}{}, minS: math.Inf(1), maxS: math.Inf(-1)}
}

// Add implements sink.
func (c *clock) Add(ch *las.Chunk, _ int) {
	if len(ch.GPSTime) < ch.N {
		return
	}
	first := int((clockStep - ch.First%clockStep) % clockStep)
	for i := first; i < ch.N; i += clockStep {
		t := ch.GPSTime[i]
		if math.IsNaN(t) || math.Abs(t) > 1e11 {
			continue
		}
		c.minS, c.maxS = min(c.minS, t), max(c.maxS, t)
		if len(c.seconds) <= maxClockSeconds {
			c.seconds[int64(math.Floor(t))] = struct{}{}
		}
	}
}

func (c *clock) merge(o *clock) {
	for k := range o.seconds {
		c.seconds[k] = struct{}{}
	}
	c.minS, c.maxS = min(c.minS, o.minS), max(c.maxS, o.maxS)
}

// runs are the stretches of time that hold points, in order; pauses of up to two seconds do not part them. None when there are
// too many seconds to be a flight's.
func (c *clock) runs() []trajectory.Interval {
	if len(c.seconds) > maxClockSeconds {
		return nil
	}
	keys := make([]int64, 0, len(c.seconds))
	for k := range c.seconds {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	var out []trajectory.Interval
	for _, k := range keys {
		a, b := max(float64(k), c.minS), min(float64(k+1), c.maxS)
		if n := len(out); n > 0 && a-out[n-1].EndS <= 2 {
			out[n-1].EndS = b
			continue
		}
		out = append(out, trajectory.Interval{StartS: a, EndS: b})
	}
	return out
}

// pathOfChecks brings the path into the cloud's time, grid and height where strips are not looked at: the times of the
// points stand for those of the strips.
func (j *job) pathOfChecks(g *gathered) (err error) {
	j.stage("path")
	runs := g.clock.runs()
	j.timesMatched = len(runs) > 0
	j.path, err = pathFromFile(j.rec, j.track, j.inGrid, runs, g.sample.List(), j.audits, &j.o)
	return err
}

// heightAboveGround is the median height of the path over the returns that were sampled, NaN without.
func heightAboveGround(p *trajectory.Path, returns []trajectory.Return) float64 {
	if p == nil {
		return math.NaN()
	}
	var h []float64
	cursor := p.NewCursor()
	for i := range returns {
		if pose, ok := cursor.At(returns[i].TimeS); ok {
			h = append(h, pose.HM-returns[i].HM)
		}
	}
	return control.Median(h)
}
