package field

import (
	"fmt"
	"math"
	"slices"

	"sidelap/overlap"
	"sidelap/trajectory"
	"sidelap/trajectory/fieldcheck"
)

// candidate is a straight stretch of flight that may be a strip.
type candidate struct {
	trajectory.Interval
	lengthM, speedMPS float64
}

// chooseLines tells strips from the other straight stretches of a flight: the run before the figure-eights, the
// return after them, transits. It is used where nothing else tells: with a path alone, and with a recording that
// never stopped. Common practice:
//
//   - before the figure-eights that precede the longest stretch of a stay in the air, or after those that follow
//     it, at most two stretches lie, and they are no strips;
//   - a stretch shorter than 0.7 of the usual one, and flown a fifth faster or slower, is a transit.
func chooseLines(m *trajectory.Motion, all []candidate) (keep []bool) {
	keep = make([]bool, len(all))
	for i := range keep {
		keep[i] = true
	}
	for _, air := range m.Air {
		for _, i := range aroundEights(m, air, all) {
			keep[i] = false
		}
	}
	var lengths, speeds []float64
	for i, c := range all {
		if keep[i] {
			lengths, speeds = append(lengths, c.lengthM), append(speeds, c.speedMPS)
		}
	}
	if len(lengths) < 3 {
		return keep
	}
	length, speed := median(lengths), median(speeds)
	for i, c := range all {
		if c.lengthM < 0.7*length && math.Abs(c.speedMPS-speed) > 0.2*speed {
			keep[i] = false
		}
	}
	return keep
}

// aroundEights returns the stretches of a stay in the air that lie before or behind its figure-eights.
func aroundEights(m *trajectory.Motion, air trajectory.Air, all []candidate) (out []int) {
	var in []int
	longest := -1
	for i, c := range all {
		if c.EndS > air.TakeOffS && c.StartS < air.LandingS {
			in = append(in, i)
			if longest < 0 || c.lengthM > all[longest].lengthM {
				longest = i
			}
		}
	}
	if longest < 0 {
		return nil
	}
	before, after := math.Inf(-1), math.Inf(1) // middle of the last eights before, and of the first behind it
	for _, e := range m.Of(trajectory.EventFigureEight) {
		if e.StartS < air.TakeOffS || e.EndS > air.LandingS+1 {
			continue
		}
		if mid := (e.StartS + e.EndS) / 2; mid < all[longest].StartS {
			before = max(before, mid)
		} else if mid > all[longest].EndS {
			after = min(after, mid)
		}
	}
	var early, late []int
	for _, i := range in {
		switch {
		case all[i].StartS < before:
			early = append(early, i)
		case all[i].EndS > after:
			late = append(late, i)
		}
	}
	for _, list := range [2][]int{early, late} {
		if len(list) <= 2 {
			out = append(out, list...)
		}
	}
	return out
}

func median(v []float64) float64 {
	s := slices.Clone(v)
	slices.Sort(s)
	return s[len(s)/2]
}

// settleLines decides the strips where the motion has to tell them. Times are those of the report.
func (j *job) settleLines() {
	if j.in.Path == nil || len(j.in.Strips) > 0 && j.survey.Mode != overlap.StripsByTime {
		return
	}
	m, err := trajectory.FindEvents(j.in.Path, trajectory.MotionOptions{RunMPS: j.lim.RunMPS, RunS: j.lim.RunS})
	if err != nil {
		return
	}
	if len(j.in.Strips) == 0 {
		j.linesOfMotion(m)
		return
	}
	var all []candidate
	for _, s := range j.in.Strips {
		all = append(all, candidate{trajectory.Interval{StartS: s.StartS, EndS: s.EndS}, s.LengthM, s.LengthM / (s.EndS - s.StartS)})
	}
	keep := chooseLines(m, all)
	var out []fieldcheck.Strip
	var left []string
	for i, s := range j.in.Strips {
		if keep[i] {
			out = append(out, s)
		} else {
			left = append(left, s.ID)
		}
	}
	if len(left) > 0 && len(out) > 0 {
		j.in.Strips = out
		j.notes = append(j.notes, fmt.Sprintf("straight stretches of the recording that are taken for runs and transits, not for strips: %d of %d", len(left), len(all)))
	}
}

// linesOfMotion gives the strips of a path alone.
func (j *job) linesOfMotion(m *trajectory.Motion) {
	strips := chosen(m, trajectory.EventStrip)
	if len(strips) < 2 && m.StartsOnGround { // slow strips look like transits beside a fast run
		if more := chosen(m, trajectory.EventStrip, trajectory.EventTransit, trajectory.EventStraightRun); len(more) > 2 {
			strips = more
		}
	}
	if len(strips) == 0 {
		j.in.Motion = m
		return
	}
	if again, err := trajectory.FindEvents(j.in.Path, trajectory.MotionOptions{Strips: strips, RunMPS: j.lim.RunMPS, RunS: j.lim.RunS}); err == nil {
		j.in.Motion = again
	}
}

// straightRad is how much a stretch of straight flight may turn in all, to either side.
const straightRad = 60 / toDeg

// chosen returns the stretches of these kinds that are strips: straight ones of at least five seconds.
func chosen(m *trajectory.Motion, kinds ...trajectory.EventKind) (strips []trajectory.Interval) {
	var all []candidate
	for _, e := range m.Events {
		if slices.Contains(kinds, e.Kind) && e.DurationS() >= 5 && e.LengthM > 0 && max(e.LeftRad, e.RightRad) < straightRad {
			all = append(all, candidate{trajectory.Interval{StartS: e.StartS, EndS: e.EndS}, e.LengthM, e.SpeedMPS})
		}
	}
	for i, keep := range chooseLines(m, all) {
		if keep {
			strips = append(strips, all[i].Interval)
		}
	}
	return strips
}
