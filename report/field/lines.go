package field

import (
	"fmt"

	"sidelap/overlap"
	"sidelap/trajectory"
	"sidelap/trajectory/fieldcheck"
)

// settleLines takes runs and transits out of the strips of a recording that never stopped, where time alone makes
// strips. Times are those of the report.
func (j *job) settleLines() {
	if j.in.Path == nil || len(j.in.Strips) == 0 || j.survey.Mode != overlap.StripsByTime {
		return
	}
	m, err := trajectory.FindEvents(j.in.Path, trajectory.MotionOptions{RunMPS: j.lim.RunMPS, RunS: j.lim.RunS})
	if err != nil {
		return
	}
	var all []trajectory.Line
	for _, s := range j.in.Strips {
		all = append(all, trajectory.Line{Interval: trajectory.Interval{StartS: s.StartS, EndS: s.EndS}, LengthM: s.LengthM, SpeedMPS: s.LengthM / (s.EndS - s.StartS)})
	}
	var out []fieldcheck.Strip
	left := 0
	for i, keep := range trajectory.ChooseLines(m, all) {
		if keep {
			out = append(out, j.in.Strips[i])
		} else {
			left++
		}
	}
	if left > 0 && len(out) > 0 {
		j.in.Strips = out
		j.notes = append(j.notes, fmt.Sprintf("straight stretches of the recording that are taken for runs and transits, not for strips: %d of %d", left, len(all)))
	}
}
