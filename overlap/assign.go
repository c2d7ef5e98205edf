package overlap

import (
	"math"

	"sidelap/las"
)

// NoStrip is what Assign gives for points that belong to no strip: withheld,
// noise, absurd coordinates, and segments that were never accumulated.
const NoStrip = -1

// Assign appends, for each point of a chunk, the index in Strips of the strip
// that the point belongs to, or NoStrip. file is the number that the file had in
// Accumulator.Add. The chunk needs the columns source, GPS time and channel, and
// flags and class to tell points that were left out.
//
// Points of one second of one source share a strip, so this is exact for every
// point that was accumulated, whatever rule told the strips apart.
func (s *Survey) Assign(dst []int32, c *las.Chunk, file int) []int32 {
	v := view(c)
	last, strip, known := segmentKey{}, int32(NoStrip), false
	for i := range c.N {
		k := segmentKey{source: source{file: int32(file)}, index: noTime}
		if v.hasSource {
			k.id = c.Source[i]
		}
		if v.hasChannel {
			k.channel = c.Channel[i]
		}
		if v.hasTime {
			k.index = timeIndex(c.GPSTime[i], s.Options.SegmentS)
		}
		if !known || k != last {
			last, known = k, true
			var ok bool
			if strip, ok = s.strip[k]; !ok {
				strip = NoStrip
			}
		}
		out := strip
		if v.hasFlags && c.Flags[i]&las.FlagWithheld != 0 || v.hasClass && (c.Class[i] == 7 || c.Class[i] == 18) {
			out = NoStrip
		}
		dst = append(dst, out)
	}
	return dst
}

// maxTimeS bounds GPS times; beyond it a time is unusable.
const maxTimeS = 4e9

// timeIndex is the time segment of a GPS time, noTime for an unusable one.
func timeIndex(timeS, segmentS float64) int64 {
	if !(math.Abs(timeS) < maxTimeS) {
		return noTime
	}
	if segmentS != 1 {
		timeS /= segmentS
	}
	return int64(math.Floor(timeS))
}
