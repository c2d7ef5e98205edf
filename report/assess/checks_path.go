package assess

import (
	"math"

	"sidelap/control"
	"sidelap/trajectory"
)

// pathOfChecks brings the path into the cloud's time, grid and height where strips are not looked at: the times of the
// points stand for those of the strips.
func (j *job) pathOfChecks(g *gathered) (err error) {
	j.stage("path")
	var runs []trajectory.Interval
	for _, r := range g.clock.Runs() {
		runs = append(runs, trajectory.Interval{StartS: r[0], EndS: r[1]})
	}
	j.path, err = pathFromFile(j.rec, j.track, j.crs, runs, g.sample.List(), j.audits, &j.o)
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
