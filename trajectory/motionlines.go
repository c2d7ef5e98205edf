package trajectory

import (
	"math"
	"slices"
)

// Line is a straight stretch of flight that may be a strip.
type Line struct {
	Interval
	LengthM, SpeedMPS float64
}

// ChooseLines tells strips from the other straight stretches of a flight: the run before the figure-eights, the
// return after them, transits. It is used where nothing else tells: with a path alone, and with a recording that
// never stopped. Common practice:
//
//   - figure-eights part a stay in the air; up to two stretches before or behind the part with the most of them
//     are no strips;
//   - a stretch shorter than 0.7 of the usual one, and flown a fifth faster or slower, is a transit.
//
// keep has one entry for each of all.
func ChooseLines(m *Motion, all []Line) (keep []bool) {
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
			lengths, speeds = append(lengths, c.LengthM), append(speeds, c.SpeedMPS)
		}
	}
	if len(lengths) < 3 {
		return keep
	}
	length, speed := median(lengths), median(speeds)
	for i, c := range all {
		if c.LengthM < 0.7*length && math.Abs(c.SpeedMPS-speed) > 0.2*speed {
			keep[i] = false
		}
	}
	return keep
}

// aroundEights returns the stretches of a stay in the air that lie before or behind its figure-eights.
func aroundEights(m *Motion, air Air, all []Line) (out []int) {
	var middles []float64
	for _, e := range m.Of(EventFigureEight) {
		if e.StartS >= air.TakeOffS && e.EndS <= air.LandingS+1 {
			middles = append(middles, (e.StartS+e.EndS)/2)
		}
	}
	parts := make([][]int, len(middles)+1) // stretches before, between and after them
	lengths := make([]float64, len(parts))
	for i, c := range all {
		if c.EndS > air.TakeOffS && c.StartS < air.LandingS {
			k, _ := slices.BinarySearch(middles, c.StartS)
			parts[k], lengths[k] = append(parts[k], i), lengths[k]+c.LengthM
		}
	}
	most := 0
	for k := range parts {
		if n, best := len(parts[k]), len(parts[most]); n > best || n == best && lengths[k] > lengths[most] {
			most = k
		}
	}
	for _, side := range [2][][]int{parts[:most], parts[most+1:]} {
		if list := slices.Concat(side...); len(list) <= 2 {
			out = append(out, list...)
		}
	}
	return out
}

// trim takes the ends of a stretch off where the aircraft gains or loses speed:
// beyond a tenth from its median, up to 0.3 of the stretch at each end.
func (g *grid) trim(a, b int) (int, int) {
	v := median(g.v[a : b+1])
	off := func(i int) bool { return math.Abs(g.v[i]-v) > 0.1*v }
	most := (b - a) * 3 / 10
	i, j := a, b
	for ; i < a+most && off(i); i++ {
	}
	for ; j > b-most && off(j); j-- {
	}
	return i, j
}

// linesOf returns the strips among the events of a path alone.
func linesOf(m *Motion) []Interval {
	strips := chosen(m, EventStrip)
	if len(strips) < 2 && m.StartsOnGround { // slow strips look like transits beside a fast run
		if more := chosen(m, EventStrip, EventTransit, EventStraightRun); len(more) > 2 {
			strips = more
		}
	}
	return strips
}

// lineTurnRad is how much a stretch of straight flight may turn in all, to either side.
const lineTurnRad = 60 * math.Pi / 180

// chosen returns the stretches of these kinds that are strips: straight ones of at least five seconds.
func chosen(m *Motion, kinds ...EventKind) (strips []Interval) {
	var all []Line
	for _, e := range m.Events {
		if slices.Contains(kinds, e.Kind) && e.DurationS() >= 5 && e.LengthM > 0 && max(e.LeftRad, e.RightRad) < lineTurnRad {
			all = append(all, Line{Interval{StartS: e.StartS, EndS: e.EndS}, e.LengthM, e.SpeedMPS})
		}
	}
	for i, keep := range ChooseLines(m, all) {
		if keep {
			strips = append(strips, all[i].Interval)
		}
	}
	return strips
}
