package trajectory

import (
	"fmt"
	"math"
	"sort"
	"time"
)

// base is a change of notation between the track's and the cloud's time.
type base struct {
	shift float64
	name  string
	fault bool
	rank  int

	adjusted bool // leads to adjusted standard GPS time
}

// candidates lists the shifts worth trying: every change of notation, alone
// and with every fault of the trade that still meets the cloud.
func candidates(t *Track, cloud []Interval, o MatchOptions) []TimeCandidate {
	c0, c1 := hull(cloud)
	t0, t1 := t.Span()
	leap := leapOf(t, c0)
	var out []TimeCandidate
	add := func(b base, extra float64, name string, rank int) {
		s := b.shift + extra
		if t1+s < c0 || t0+s > c1 {
			return
		}
		c := TimeCandidate{ShiftS: s, Name: b.name, Fault: b.fault || extra != 0, rank: b.rank + rank}
		if extra != 0 {
			c.Name += " and " + name
		}
		out = append(out, c)
	}
	for _, b := range bases(t, c0, leap) {
		if o.CloudGPS && !b.adjusted {
			b.rank += 20
		}
		add(b, 0, "", 0)
		if t.TimeIsUTC { // the heading said so: the leap seconds are no fault then
			add(base{b.shift + leap, b.name + " and UTC to GPS time", b.fault, b.rank, b.adjusted}, 0, "", -1)
		}
		add(b, leap, fmt.Sprintf("UTC in the path, GPS time in the cloud (%.0f s)", leap), 10)
		add(b, -leap, fmt.Sprintf("GPS time in the path, UTC in the cloud (%.0f s)", leap), 11)
		for k, d := range []float64{19, 37} {
			add(b, d, fmt.Sprintf("atomic time (%.0f s)", d), 20+2*k)
			add(b, -d, fmt.Sprintf("atomic time (-%.0f s)", d), 21+2*k)
		}
		for k := 1; k <= 14; k++ {
			add(b, 3600*float64(k), fmt.Sprintf("local time (%d h)", k), 30+k)
			add(b, -3600*float64(k), fmt.Sprintf("local time (-%d h)", k), 30+k)
			add(b, 3600*float64(k)+leap, fmt.Sprintf("local time (%d h) and UTC (%.0f s)", k, leap), 60+k)
			add(b, -3600*float64(k)+leap, fmt.Sprintf("local time (-%d h) and UTC (%.0f s)", k, leap), 60+k)
		}
		for k := 1; k <= 6; k++ {
			add(b, dayS*float64(k), fmt.Sprintf("%d whole days", k), 50+k)
			add(b, -dayS*float64(k), fmt.Sprintf("-%d whole days", k), 50+k)
		}
	}
	sort.SliceStable(out, func(i, j int) bool { return out[i].rank < out[j].rank })
	return dedupe(out)
}

// bases lists the changes of notation.
func bases(t *Track, c0, leap float64) []base {
	t0, _ := t.Span()
	out := []base{{0, t.TimeKind.String() + " as in the cloud", false, 0, t.TimeKind == AdjustedGPS}}
	weeks := math.Round((c0 - t0) / WeekS)
	near := func(name string, offset float64, fault bool, rank int) {
		// Adjusted and GPS time count whole weeks from an epoch that is not a
		// multiple of a week away in adjusted time: take the offset out first.
		w := math.Round((c0 - offset - t0) / WeekS)
		for d := -1.0; d <= 1; d++ {
			out = append(out, base{(w+d)*WeekS + offset, name, fault, rank, offset == -adjustedOffsetS})
		}
	}
	switch t.TimeKind {
	case WeekSeconds:
		near("seconds of the week to adjusted standard GPS time", -adjustedOffsetS, false, 1)
		near("seconds of the week to GPS seconds since 1980", 0, false, 2)
	case DaySeconds:
		for d := 0.0; d < 7; d++ {
			out = append(out, base{dayS * d, fmt.Sprintf("seconds of the day to seconds of the week, day %.0f", d), false, 1, false})
		}
		d := math.Floor((c0 - math.Mod(-adjustedOffsetS, dayS) - t0) / dayS)
		for k := d - 1; k <= d+1; k++ {
			out = append(out, base{k*dayS + math.Mod(-adjustedOffsetS, dayS), "seconds of the day to adjusted standard GPS time", false, 2, true})
		}
	case AdjustedGPS, GPSSeconds, GPSTimestamp, UnixSeconds, UTCTimestamp:
		gps, _ := t.TimeKind.AbsoluteGPS(t0)
		toGPS := gps - t0
		out = append(out,
			base{toGPS - adjustedOffsetS, t.TimeKind.String() + " to adjusted standard GPS time", false, 1, true},
			base{toGPS, t.TimeKind.String() + " to GPS seconds since 1980", false, 2, false},
			base{toGPS - WeekS*math.Floor(gps/WeekS), t.TimeKind.String() + " to seconds of the week", false, 3, false})
		if t.TimeKind == GPSSeconds { // the range does not tell it from Unix seconds before 2020
			u := GPSFromUnix(t0) - t0
			out = append(out, base{u - adjustedOffsetS, "Unix seconds to adjusted standard GPS time", false, 4, true},
				base{u - WeekS*math.Floor((t0+u)/WeekS), "Unix seconds to seconds of the week", false, 5, false})
		}
	}
	n := len(out)
	for _, b := range out[:n] {
		for _, k := range []float64{1, -1} {
			out = append(out, base{b.shift + k*rolloverS, b.name + " and 1024 weeks", true, b.rank + 40, b.adjusted})
		}
	}
	if t.TimeKind != WeekSeconds && weeks != 0 && math.Abs(weeks) < 3000 {
		near(fmt.Sprintf("%s, %.0f whole weeks apart", t.TimeKind, weeks), 0, true, 45)
	}
	return out
}

// leapOf returns GPS - UTC at the date of the track or the cloud; 18 s when neither has one.
func leapOf(t *Track, c0 float64) float64 {
	gps, ok := t.TimeKind.AbsoluteGPS(t.TimeS[0])
	if !ok && c0 > WeekS+weekSecondsSlackS {
		if gps = c0; c0 < 6e8 {
			gps += adjustedOffsetS
		}
		ok = true
	}
	if !ok {
		return leaps[0].s
	}
	return LeapSeconds(time.Unix(int64(gps)+gpsEpochUnixS, 0))
}

// dedupe drops candidates whose shift another, plainer one has within a millisecond.
func dedupe(c []TimeCandidate) []TimeCandidate {
	var out []TimeCandidate
next:
	for _, a := range c {
		for _, b := range out {
			if math.Abs(a.ShiftS-b.ShiftS) < 1e-3 {
				continue next
			}
		}
		out = append(out, a)
	}
	return out
}

// coverage is the time that a track covers: its runs between gaps.
type coverage []Interval

func newCoverage(times []float64) coverage {
	gap := max(DefaultGapS, 5*medianStep(times))
	var c coverage
	for i, t := range times {
		if i == 0 || t-times[i-1] > gap {
			c = append(c, Interval{t, t})
		} else {
			c[len(c)-1].EndS = t
		}
	}
	return c
}

// share returns the part of the cloud's time inside the track moved by s.
// An interval of no length counts as a millisecond.
func (c coverage) share(cloud []Interval, s float64) float64 {
	in, all := 0.0, 0.0
	for _, iv := range cloud {
		a, b := iv.StartS-s, max(iv.EndS, iv.StartS+1e-3)-s
		all += b - a
		k := sort.Search(len(c), func(i int) bool { return c[i].EndS >= a })
		for ; k < len(c) && c[k].StartS <= b; k++ {
			in += max(0, min(b, c[k].EndS)-max(a, c[k].StartS))
		}
	}
	if all == 0 {
		return 0
	}
	return in / all
}
