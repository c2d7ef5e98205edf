package trajectory

import (
	"fmt"
	"time"
)

// Numbers of the GPS time scale.
const (
	WeekS             = 604800.0
	adjustedOffsetS   = 1e9       // what adjusted standard GPS time leaves out; LAS 1.4, global encoding bit 0
	gpsEpochUnixS     = 315964800 // 1980-01-06 00:00:00 UTC
	unixFromHereS     = 1.6e9     // larger is Unix (2020-09-13); GPS seconds reach it in 2030
	rolloverS         = 1024 * WeekS
	dayS              = 86400.0
	weekSecondsSlackS = 2 * dayS // a track that runs past the end of the week
)

// leaps holds GPS - UTC in seconds from each date on. Source: IERS Bulletin C;
// compared with the leap second list of the system in the tests.
var leaps = []struct {
	from time.Time
	s    float64
}{
	{time.Date(2017, 1, 1, 0, 0, 0, 0, time.UTC), 18},
	{time.Date(2015, 7, 1, 0, 0, 0, 0, time.UTC), 17},
	{time.Date(2012, 7, 1, 0, 0, 0, 0, time.UTC), 16},
	{time.Date(2009, 1, 1, 0, 0, 0, 0, time.UTC), 15},
	{time.Date(2006, 1, 1, 0, 0, 0, 0, time.UTC), 14},
	{time.Date(1999, 1, 1, 0, 0, 0, 0, time.UTC), 13},
	{time.Date(1997, 7, 1, 0, 0, 0, 0, time.UTC), 12},
	{time.Date(1996, 1, 1, 0, 0, 0, 0, time.UTC), 11},
	{time.Date(1994, 7, 1, 0, 0, 0, 0, time.UTC), 10},
}

// LeapSeconds returns GPS - UTC at a time, from 1994 on (10 s before).
func LeapSeconds(at time.Time) float64 {
	for _, l := range leaps {
		if !at.Before(l.from) {
			return l.s
		}
	}
	return 10
}

// GPSFromUnix turns UTC seconds since 1970 into GPS seconds since 1980.
func GPSFromUnix(unixS float64) float64 {
	return unixS - gpsEpochUnixS + LeapSeconds(time.Unix(int64(unixS), 0).UTC())
}

// GPSFromCalendar turns a calendar reading of a GPS clock (no leap seconds,
// as in RINEX) into GPS seconds since 1980.
func GPSFromCalendar(t time.Time) float64 {
	return float64(t.Unix()-gpsEpochUnixS) + float64(t.Nanosecond())*1e-9
}

// CalendarFromGPS is the inverse of GPSFromCalendar.
func CalendarFromGPS(gpsS float64) time.Time {
	sec := int64(gpsS)
	return time.Unix(sec+gpsEpochUnixS, int64((gpsS-float64(sec))*1e9)).UTC()
}

// AbsoluteGPS returns the GPS seconds since 1980 that a time of kind k stands
// for, and false for kinds that carry no date.
func (k TimeKind) AbsoluteGPS(s float64) (float64, bool) {
	switch k {
	case AdjustedGPS:
		return s + adjustedOffsetS, true
	case GPSSeconds, GPSTimestamp:
		return s, true
	case UnixSeconds, UTCTimestamp:
		return GPSFromUnix(s), true
	}
	return 0, false
}

// kindOfTime guesses from the range what times count.
func kindOfTime(first, last float64) TimeKind {
	switch {
	case first >= 0 && first <= WeekS && last <= WeekS+weekSecondsSlackS:
		return WeekSeconds
	case first >= unixFromHereS:
		return UnixSeconds
	case first >= 6e8: // adjusted time reaches 6e8 in 2030, GPS seconds passed it in 1999
		return GPSSeconds
	case first > -1e9:
		return AdjustedGPS
	}
	return TimeUnknown
}

func timeRangeText(a, b float64) string { return fmt.Sprintf("%.3f to %.3f s", a, b) }
