package trajectory

import (
	"math"
	"strings"
)

// timeScaleWord looks for UTC or GPS in the heading of the time column, then
// in the lines before the data.
func (f *textFile) timeScaleWord(l *layout) string {
	texts := []string{}
	if l.has(roleTime) && l.at[roleTime] < len(l.names) {
		texts = append(texts, l.names[l.at[roleTime]])
	}
	texts = append(texts, f.preamble...)
	for _, s := range texts {
		low := strings.ToLower(s)
		utc, gps := strings.Contains(low, "utc"), strings.Contains(low, "gps")
		switch {
		case utc && !gps:
			return "UTC"
		case gps && !utc:
			return "GPS"
		}
	}
	return ""
}

// fillTime makes seconds of whatever the file counts.
func (t *Track) fillTime(f *textFile, l *layout, cols [][]float64, clock []clockKind) error {
	v := column(l, cols, roleTime)
	if v == nil {
		return textError(0, "time", "give the time of each sample", "no time in the file")
	}
	t.TimeS = v
	scale := f.timeScaleWord(l)
	word := ""
	if l.has(roleTime) && l.at[roleTime] < len(l.names) {
		word, _ = plainWord(l.names[l.at[roleTime]])
	}
	kind := clock[l.at[roleTime]]
	date := column(l, cols, roleDate)
	week := column(l, cols, roleWeek)
	switch {
	case kind == clockOfDay && date != nil:
		for i := range v {
			v[i] += calendarDay(date[i], clock[l.at[roleDate]])
		}
		t.stamp(scale)
	case kind == clockStamp:
		t.stamp(scale)
	case kind == clockOfDay || word == "hhmmss":
		if kind == clockNone {
			for i, x := range v {
				h := math.Floor(x / 10000)
				m := math.Floor((x - h*10000) / 100)
				v[i] = h*3600 + m*60 + x - h*10000 - m*100
			}
		}
		for i, off := 1, 0.0; i < len(v); i++ { // across midnight
			if v[i]+off < v[i-1]-dayS/2 {
				off += dayS
			}
			v[i] += off
		}
		t.TimeKind, t.TimeIsUTC = DaySeconds, scale == "UTC"
		t.decide(true, "times are hours, minutes and seconds without a date", "first %s", f.first[l.at[roleTime]])
	case week != nil && !math.IsNaN(v[0]) && v[0] <= WeekS+weekSecondsSlackS:
		for i := range v {
			v[i] += week[i] * WeekS
		}
		t.TimeKind = GPSSeconds
		t.decide(true, "times are GPS week and seconds of the week", "week %.0f", week[0])
	default:
		t.numericTime(word, scale)
	}
	return nil
}

// numericTime names the kind of a plain number.
func (t *Track) numericTime(word, scale string) {
	a, b := math.Inf(1), math.Inf(-1)
	for _, x := range t.TimeS {
		if !math.IsNaN(x) {
			a, b = min(a, x), max(b, x)
		}
	}
	t.TimeKind = kindOfTime(a, b)
	switch {
	case strings.Contains(word, "unix") || strings.Contains(word, "posix"):
		t.TimeKind = UnixSeconds
	case (word == "sod" || strings.Contains(word, "ofday")) && b < 2*dayS:
		t.TimeKind = DaySeconds
	}
	t.TimeIsUTC = scale == "UTC" && (t.TimeKind == WeekSeconds || t.TimeKind == DaySeconds)
	if t.TimeIsUTC {
		t.decide(true, "times are UTC, not GPS", "the heading says so")
	}
	if t.TimeKind == GPSSeconds && word != "gpsseconds" {
		t.decide(false, "times are GPS seconds since 1980", "%s; as Unix seconds they would lie before 2020-09", timeRangeText(a, b))
	}
}

// stamp settles whether dates and times are UTC or GPS. They arrive as
// calendar seconds since 1970.
func (t *Track) stamp(scale string) {
	if scale == "GPS" {
		for i := range t.TimeS {
			t.TimeS[i] -= gpsEpochUnixS
		}
		t.TimeKind = GPSTimestamp
		t.decide(true, "dates and times are GPS time", "the heading says so")
		return
	}
	t.TimeKind = UTCTimestamp
	if scale == "UTC" {
		t.decide(true, "dates and times are UTC", "the heading says so")
	} else {
		t.decide(false, "dates and times are UTC", "the file does not say UTC or GPS; a GPS clock runs 18 s ahead since 2017")
	}
}

// calendarDay returns Unix seconds of a date held as such or as yyyymmdd.
func calendarDay(d float64, k clockKind) float64 {
	if k == clockDate || math.IsNaN(d) {
		return d
	}
	n := int(d)
	s, ok := parseDate(strings.Join([]string{itoa(n / 10000), itoa(n / 100 % 100), itoa(n % 100)}, "-"))
	if !ok {
		return math.NaN()
	}
	return s
}
