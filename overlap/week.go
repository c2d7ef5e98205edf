package overlap

import "math"

// weekS is the length of a GPS week in seconds.
const weekS = 604800

// unwrapWeek moves times after the end of a GPS week behind those before it: a
// flight over Saturday midnight, in GPS time, whose times are seconds of the
// week. It is one when all times lie in a week, some in its first and some in its
// last day, and none in the three days or more between them. The segments come
// back as copies where they move, in the new order.
func (a *Accumulator) unwrapWeek(segments []*segment) ([]*segment, bool) {
	shift := weekS / a.o.SegmentS
	if shift != math.Trunc(shift) {
		return segments, false
	}
	const day = weekS / 7
	early, late := 0, 0
	for _, s := range segments {
		switch {
		case s.key.index == noTime:
		case s.tMin >= 0 && s.tMax < day:
			early++
		case s.tMin > weekS-day && s.tMax <= weekS:
			late++
		default:
			return segments, false
		}
	}
	if early == 0 || late == 0 {
		return segments, false
	}
	var before, out []*segment
	for _, s := range segments {
		if s.key.index == noTime || s.tMin > weekS/2 {
			out = append(out, s)
			continue
		}
		c := *s
		c.key.index += int64(shift)
		c.startS, c.tMin, c.tMax = s.startS+weekS, s.tMin+weekS, s.tMax+weekS
		c.unwrapped = int64(shift)
		before = append(before, &c)
	}
	return append(out, before...), true
}

// stored is the key under which points with the times of the files find the segment.
func (s *segment) stored() segmentKey {
	k := s.key
	k.index -= s.unwrapped
	return k
}
