package las

import (
	"fmt"
	"math"
	"math/bits"
	"time"
)

// WeekS is the number of seconds of a GPS week.
const WeekS = 604800

// AdjustedOffsetS is what adjusted standard GPS time leaves out of the GPS seconds.
//
// Source: LAS 1.4 R16, global encoding bit 0.
const AdjustedOffsetS = 1e9

// gpsEpoch is the start of GPS time. A time.Time made from it is on the GPS time scale: it runs
// ahead of UTC by the leap seconds since 1980.
var gpsEpoch = time.Date(1980, 1, 6, 0, 0, 0, 0, time.UTC)

// TimeBase says what the GPS times of a file count from.
type TimeBase uint8

// The bases of GPS time.
const (
	TimeNone     TimeBase = iota // no usable times
	TimeWeek                     // seconds of the GPS week, 0..604800
	TimeAdjusted                 // GPS seconds minus 10^9
	TimeOffset                   // GPS seconds minus Header.TimeOffset * 10^6 (LAS 1.5)
)

// String returns the base in words.
func (b TimeBase) String() string {
	switch b {
	case TimeWeek:
		return "GPS week seconds"
	case TimeAdjusted:
		return "adjusted standard GPS time"
	case TimeOffset:
		return "GPS time with the file's offset"
	}
	return "no GPS time"
}

// StatedTime returns the base of GPS time that the header claims. LAS 1.0 and 1.1 have no field for
// it; week seconds are taken.
func (h *Header) StatedTime() TimeBase {
	switch {
	case !HasGPSTime(h.Format):
		return TimeNone
	case h.GlobalEncoding&EncodingAdjustedTime == 0:
		return TimeWeek
	case h.GlobalEncoding&EncodingTimeOffset != 0 && h.Version.Minor >= 5:
		return TimeOffset
	}
	return TimeAdjusted
}

// AdjustedTime returns the adjusted standard GPS time of a second of a GPS week (weeks counted from
// 1980-01-06 without rollover).
func AdjustedTime(week int, secondS float64) float64 {
	return float64(week)*WeekS - AdjustedOffsetS + secondS
}

// WeekTime is the inverse of AdjustedTime.
func WeekTime(adjustedS float64) (week int, secondS float64) {
	w := math.Floor((adjustedS + AdjustedOffsetS) / WeekS)
	return int(w), adjustedS - (w*WeekS - AdjustedOffsetS)
}

// TimeRange gathers what AuditTime needs to know about the GPS times of points. The zero value is
// empty. Ranges of parts of a file merge, in any order, to the range of the whole.
type TimeRange struct {
	N         int64 // finite times
	NonFinite int64 // NaN or infinite
	Min, Max  float64
	hours     [3]uint64 // hours of the week that hold times of 0..604800
}

// Add gathers times.
func (r *TimeRange) Add(t []float64) {
	if len(t) == 0 {
		return
	}
	// One simple loop for the usual chunk: all finite, within one hour.
	lo, hi, odd := t[0], t[0], 0.0
	for _, v := range t {
		odd += v - v // NaN when v is not finite
		if v < lo {
			lo = v
		}
		if v > hi {
			hi = v
		}
	}
	inWeek := lo <= WeekS && hi >= 0
	if odd != 0 || inWeek && !(lo >= 0 && hi <= WeekS && hourOf(lo) == hourOf(hi)) {
		r.addEach(t)
		return
	}
	if r.N == 0 {
		r.Min, r.Max = lo, hi
	}
	r.N += int64(len(t))
	r.Min, r.Max = min(r.Min, lo), max(r.Max, hi)
	if inWeek {
		r.occupy(lo)
	}
}

// addEach is Add for times that are not all finite, or lie in several hours.
func (r *TimeRange) addEach(t []float64) {
	for _, v := range t {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			r.NonFinite++
			continue
		}
		if r.N == 0 {
			r.Min, r.Max = v, v
		}
		r.N++
		r.Min, r.Max = min(r.Min, v), max(r.Max, v)
		r.occupy(v)
	}
}

// occupy notes the hour of the week of v.
func (r *TimeRange) occupy(v float64) {
	if v >= 0 && v <= WeekS {
		h := hourOf(v)
		r.hours[h>>6] |= 1 << (h & 63)
	}
}

// hourOf is the hour of the week of 0..604800 s.
func hourOf(v float64) uint { return uint(v * (1. / 3600)) }

// Merge adds what o has gathered.
func (r *TimeRange) Merge(o TimeRange) {
	r.NonFinite += o.NonFinite
	if o.N == 0 {
		return
	}
	if r.N == 0 {
		r.Min, r.Max = o.Min, o.Max
	}
	r.N += o.N
	r.Min, r.Max = min(r.Min, o.Min), max(r.Max, o.Max)
	for i := range r.hours {
		r.hours[i] |= o.hours[i]
	}
}

// hoursIn counts the occupied hours of the week from lo to below hi.
func (r *TimeRange) hoursIn(lo, hi uint) (n int) {
	for h := lo; h < hi; h++ {
		n += bits.OnesCount64(r.hours[h>>6] >> (h & 63) & 1)
	}
	return n
}

// TimeAudit says what the GPS times of a file are, judged by their values.
type TimeAudit struct {
	Stated      TimeBase // what the header claims
	Base        TimeBase // what the values say
	Mislabelled bool     // Base and Stated differ: go by Base
	WeekEnd     bool     // week seconds on both sides of the week's end; see Unwrap
	OffsetS     float64  // GPS seconds since 1980-01-06 = time + OffsetS, unless Base is TimeWeek or TimeNone
	Notes       []string
}

// AuditTime compares the header's statement about GPS time with the values.
//
// Adjusted time is claimed, but all values lie in 0..604800: week seconds in truth (an adjusted
// time there would be of 14 to 21 September 2011). Week seconds are claimed, but a value is
// negative or above 604800: adjusted time in truth, except that a range that crosses 604800 by
// less than a day is taken for week seconds counted on over the end of the week.
//
// Rules: practice B17 (mislabelled time) and B18 (midnight at the week's end); common practice.
func AuditTime(h *Header, r TimeRange) TimeAudit {
	a := TimeAudit{Stated: h.StatedTime()}
	if r.NonFinite > 0 {
		a.note("%d points have no finite GPS time", r.NonFinite)
	}
	if a.Stated == TimeNone || r.N == 0 || r.Min == 0 && r.Max == 0 {
		if a.Stated != TimeNone && r.N > 0 {
			a.note("all GPS times are 0")
		}
		return a
	}
	if r.N > 1 && r.Min == r.Max {
		a.note("all %d points have the same GPS time %v", r.N, r.Min)
	}
	inWeek := r.Min >= 0 && r.Max <= WeekS
	switch {
	case a.Stated == TimeOffset:
		a.Base = TimeOffset
	case inWeek:
		a.Base = TimeWeek
	case a.Stated == TimeWeek && r.Min >= WeekS-86400 && r.Min <= WeekS && r.Max <= WeekS+86400:
		a.Base = TimeWeek
		a.note("GPS week seconds run on over the end of the week, up to %.0f", r.Max)
	default:
		a.Base = TimeAdjusted
	}
	if h.Version.Minor < 2 { // the header has no field that could be wrong
		a.Stated = a.Base
	}
	a.Mislabelled = a.Base != a.Stated
	if a.Mislabelled {
		a.note("the header says %s, but the values %.3f to %.3f are %s", a.Stated, r.Min, r.Max, a.Base)
	}
	a.finish(h, r)
	return a
}

// finish adds what depends on the base that was found.
func (a *TimeAudit) finish(h *Header, r TimeRange) {
	switch a.Base {
	case TimeWeek:
		if r.hoursIn(0, 24) > 0 && r.hoursIn(144, 168) > 0 && r.hoursIn(24, 144) == 0 {
			a.WeekEnd = true
			a.note("the points were taken on both sides of the end of the GPS week: times of the new week are counted on from the old one")
		}
		return
	case TimeAdjusted:
		a.OffsetS = AdjustedOffsetS
	case TimeOffset:
		a.OffsetS = float64(h.TimeOffset) * 1e6
	}
	last, _ := a.Time(r.Max)
	if h.CreationYear >= 1980 && h.CreationDay >= 1 && h.CreationDay <= 366 {
		created := time.Date(int(h.CreationYear), 1, int(h.CreationDay), 0, 0, 0, 0, time.UTC)
		if last.Sub(created) > 48*time.Hour { // a day of tolerance after the end of the day of creation
			a.note("the last GPS time is of %s, but the header says the file was made on %s", last.Format(time.DateOnly), created.Format(time.DateOnly))
		}
	}
}

func (a *TimeAudit) note(format string, args ...any) {
	a.Notes = append(a.Notes, fmt.Sprintf(format, args...))
}

// Unwrap returns the time with the seconds of the week after the week's end counted on, so that
// it never falls in flight. It changes nothing unless WeekEnd is set.
func (a *TimeAudit) Unwrap(tS float64) float64 {
	if a.WeekEnd && tS < WeekS/2 {
		return tS + WeekS
	}
	return tS
}

// Time returns a stored time as date and time of day on the GPS time scale (ahead of UTC by the
// leap seconds, 18 s since 2017). ok is false for week seconds, which know no week, and for times
// outside the years 1980 to 2261.
func (a *TimeAudit) Time(tS float64) (t time.Time, ok bool) {
	if a.Base != TimeAdjusted && a.Base != TimeOffset {
		return time.Time{}, false
	}
	s := tS + a.OffsetS
	if !(s >= 0 && s < math.MaxInt64/1e9) {
		return time.Time{}, false
	}
	whole, part := math.Modf(s)
	return gpsEpoch.Add(time.Duration(whole)*time.Second + time.Duration(part*1e9)), true
}
