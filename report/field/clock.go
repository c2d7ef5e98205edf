package field

import (
	"math"

	"sidelap/las"
	"sidelap/trajectory"
	"sidelap/trajectory/rinex"
)

// clock says how times become GPS seconds since 1980.
type clock struct {
	offsetS  float64
	absolute bool   // offsetS is known
	dayOnly  bool   // without offset: times are at least seconds of a GPS week or day
	assumed  string // what of the date is taken from the base log, "week" or "day"; "" = none
	note     string // how it became known, if it was not stated
}

// settleClock finds the offset of the common time base, from the cloud, the path or the base log.
func settleClock(c *cloud, t *trajectory.Track, shiftS float64, log *rinex.Log, startS, endS float64) clock {
	if c != nil && c.got != nil {
		for _, s := range c.files {
			if s.times.N > 0 && (s.audit.Base == las.TimeAdjusted || s.audit.Base == las.TimeOffset) {
				return clock{offsetS: s.audit.OffsetS, absolute: true}
			}
		}
	}
	stepS, what := trajectory.WeekS, "week"
	utc := 0.0
	if t != nil {
		t0, _ := t.Span()
		if g, ok := t.TimeKind.AbsoluteGPS(t0); ok {
			return clock{offsetS: g - (t0 + shiftS), absolute: true}
		}
		if t.TimeKind == trajectory.DaySeconds && shiftS == 0 {
			stepS, what = 86400, "day"
		}
		if t.TimeIsUTC && shiftS == 0 && log != nil {
			b0, _ := log.Span()
			utc = trajectory.LeapSeconds(trajectory.CalendarFromGPS(b0))
		}
	}
	if log == nil || len(log.Epochs) == 0 || !(endS >= startS) {
		return clock{dayOnly: endS >= startS && startS >= 0 && endS < 2*trajectory.WeekS}
	}
	b0, b1 := log.Span()
	near := math.Floor(b0/stepS) * stepS
	best, most := near+utc, math.Inf(-1)
	for k := -1.0; k <= 1; k++ {
		w := near + k*stepS + utc
		if both := min(endS+w, b1) - max(startS+w, b0); both > most {
			best, most = w, both
		}
	}
	return clock{offsetS: best, absolute: true, assumed: what, note: "the recording counts seconds of the " + what + " only; the " + what + " is taken from the base log"}
}

// sameDayS is how far the computer's clock may be from a base log that it calls today's.
const sameDayS = 86400

// askDate wants a look at the date where it is only that of the base log, and the computer's clock shows another.
func (j *job) askDate() {
	if j.clock.assumed == "" {
		return
	}
	b0, b1 := j.log.Span()
	if now := j.o.Now; !now.IsZero() {
		g := trajectory.GPSFromCalendar(now.UTC())
		if g > b0-sameDayS && g < b1+sameDayS {
			return
		}
		j.in.Today = now.UTC().Format("2 January 2006")
	}
	j.in.DateAssumed = j.clock.assumed
}
