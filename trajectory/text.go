package trajectory

import (
	"fmt"
	"math"
	"strings"
	"time"
)

// decodeText reads a delimited text path.
func decodeText(b []byte, o ReadOptions) (*Track, error) {
	f, err := splitText(b)
	if err != nil {
		return nil, err
	}
	if len(o.Columns) > 0 {
		f.heading = o.Columns
	}
	t := &Track{Format: FormatText}
	cols, clock, err := f.values()
	if err != nil {
		return nil, err
	}
	var l *layout
	if f.heading != nil {
		l = layoutFromHeading(f.heading, len(f.first))
		if m := l.missing(); m != "" {
			return nil, textError(0, "", "name the columns in a heading line, for example: time, easting, northing, height, roll, pitch, heading",
				"the heading %q names no column of %s", strings.Join(f.heading, " "), m)
		}
		t.decide(true, "columns by the heading line", "%s", strings.Join(f.heading, " "))
	} else {
		if l, err = layoutByRange(cols, clock); err != nil {
			return nil, err
		}
	}
	if err := t.fill(f, l, cols, clock); err != nil {
		return nil, err
	}
	return t, nil
}

// clockKind says what a column that is not a number holds.
type clockKind int

const (
	clockNone  clockKind = iota
	clockDate            // held as Unix seconds of its midnight
	clockOfDay           // hh:mm:ss, held as seconds of the day
	clockStamp           // date and time, held as Unix seconds
)

func kindOfField(s string) clockKind {
	switch {
	case dateText.MatchString(s):
		return clockDate
	case clockText.MatchString(s):
		return clockOfDay
	case stampText.MatchString(s):
		return clockStamp
	}
	return clockNone
}

// values parses every column: numbers as they are, dates and clocks in seconds.
// A last line without its end that does not parse is dropped, as in a file
// still being written; any other is an error. Absent trailing fields are NaN.
func (f *textFile) values() (cols [][]float64, kinds []clockKind, err error) {
	n := len(f.first)
	cols, kinds = make([][]float64, n), make([]clockKind, n)
	for i, s := range f.first {
		kinds[i] = kindOfField(s)
	}
	words := make([]bool, n) // columns that hold text
	for i, s := range f.first {
		_, ok := f.delim.number(s)
		words[i] = !ok && kinds[i] == clockNone
	}
	var pending error // error of the line before: fatal only if another line follows
	err = f.rows(func(line int, fields []string) error {
		if pending != nil {
			return pending
		}
		if len(fields) < min(n, 4) {
			pending = textError(line, "", "look at this line; comment lines start with # ; or %", "%d fields, %d in the first row", len(fields), n)
			return nil
		}
		row := make([]float64, n)
		for i := range row {
			row[i] = math.NaN()
			if i >= len(fields) || words[i] || fields[i] == "" {
				continue
			}
			v, ok := f.parse(fields[i], kinds[i])
			if !ok {
				if s := strings.ToLower(fields[i]); s == "nan" || s == "-" || s == "na" || s == "null" {
					continue
				}
				pending = textError(line, fmt.Sprintf("column %d", i+1), "look at this line; comment lines start with # ; or %", "%q is not a number", clip(fields[i]))
				return nil
			}
			row[i] = v
		}
		for i := range cols {
			cols[i] = append(cols[i], row[i])
		}
		return nil
	})
	if err == nil && pending != nil && len(cols[0]) == 0 {
		err = pending
	}
	return cols, kinds, err
}

func clip(s string) string {
	if r := []rune(s); len(r) > 30 {
		return string(r[:30]) + "…"
	}
	return s
}

func (f *textFile) parse(s string, k clockKind) (float64, bool) {
	switch k {
	case clockNone:
		return f.delim.number(s)
	case clockDate:
		return parseDate(s)
	case clockOfDay:
		return parseClock(s)
	}
	i := strings.IndexAny(s, "T_ ")
	if i < 0 {
		return 0, false
	}
	d, ok := parseDate(s[:i])
	clock, zone := s[i+1:], 0.0
	if j := strings.LastIndexAny(clock, "+-"); j > 0 {
		z := strings.ReplaceAll(clock[j+1:], ":", "")
		var h, m int
		if _, err := fmt.Sscanf(z, "%2d%2d", &h, &m); err != nil {
			return 0, false
		}
		zone = float64(h*3600 + m*60)
		if clock[j] == '-' {
			zone = -zone
		}
		clock = clock[:j]
	}
	c, ok2 := parseClock(clock)
	return d + c - zone, ok && ok2
}

func parseDate(s string) (float64, bool) {
	s = strings.NewReplacer("/", "-", ".", "-").Replace(s)
	t, err := time.Parse("2006-1-2", s)
	if err != nil {
		return 0, false
	}
	return float64(t.Unix()), true
}

func parseClock(s string) (float64, bool) {
	s = strings.Replace(strings.TrimSuffix(s, "Z"), ",", ".", 1)
	p := strings.Split(s, ":")
	if len(p) != 3 {
		return 0, false
	}
	d := delimiter{decimal: '.'}
	h, ok1 := d.number(p[0])
	m, ok2 := d.number(p[1])
	sec, ok3 := d.number(p[2])
	ok := ok1 && ok2 && ok3 && h >= 0 && h < 48 && m >= 0 && m < 60 && sec >= 0 && sec < 61
	return h*3600 + m*60 + sec, ok
}

// column returns the values of a role, nil when absent or never filled.
func column(l *layout, cols [][]float64, r role) []float64 {
	if !l.has(r) || l.at[r] >= len(cols) {
		return nil
	}
	c := cols[l.at[r]]
	for _, v := range c {
		if !math.IsNaN(v) {
			return c
		}
	}
	return nil
}

// fill makes the track from the columns.
func (t *Track) fill(f *textFile, l *layout, cols [][]float64, clock []clockKind) error {
	if err := t.fillTime(f, l, cols, clock); err != nil {
		return err
	}
	get := func(r role) []float64 { return column(l, cols, r) }
	t.HM = get(roleH)
	lat, lon, e, n := get(roleLat), get(roleLon), get(roleE), get(roleN)
	if lat == nil || lon == nil {
		if e == nil || n == nil {
			return textError(0, "", "name the columns in a heading line", "no position in the file")
		}
		lat, lon = nil, nil
		if t.looksGeodetic(e, n) {
			lat, lon, e, n = n, e, nil, nil
			t.decide(true, "x is longitude, y is latitude in degrees", "as metres the path would stand still")
		}
	}
	t.EM, t.NM, t.LatRad, t.LonRad = e, n, lat, lon
	t.RollRad, t.PitchRad, t.HeadingRad, t.WanderRad = get(roleRoll), get(rolePitch), get(roleHeading), get(roleWander)
	t.VelEMPS, t.VelNMPS, t.VelUMPS, t.Quality = get(roleVE), get(roleVN), get(roleVU), get(roleQuality)
	t.Sigma = &Accuracy{EastM: get(roleSE), NorthM: get(roleSN), DownM: get(roleSU), RollRad: get(roleSRoll), PitchRad: get(roleSPitch), HeadingRad: get(roleSHeading)}
	if t.HM == nil {
		return textError(0, "height", "add the height of the path", "no height in the file")
	}
	if lat != nil {
		t.Geodetic, t.EM, t.NM = true, nil, nil
	}
	if l.has(roleH) && l.at[roleH] < len(l.names) {
		w, _ := plainWord(l.names[l.at[roleH]])
		t.Ellipsoidal = strings.Contains(w, "ell") || strings.Contains(w, "hae")
	}
	t.UnitM, t.HeightUnitM = l.lengthOf(roleE), l.lengthOf(roleH)
	if x := max(t.UnitM, t.HeightUnitM); x > 0 && min(firstUnit(t.UnitM), firstUnit(t.HeightUnitM)) < 1 {
		t.decide(true, "lengths are feet", "the heading says so: %.7f m horizontally, %.7f m in height", firstUnit(t.UnitM), firstUnit(t.HeightUnitM))
	}
	if err := t.dropUnusable(); err != nil {
		return err
	}
	radians := t.anglesToRadians(l)
	t.finishSigma(l)
	if t.Geodetic {
		t.HeadingFrom = TrueNorth
	}
	t.decideOrder(l)
	t.decideHeading(l.unitOf(roleHeading) != unitUnstated, radians)
	return nil
}

// dropUnusable drops samples without a time or a position, orders the times, and reports what is impossible.
func (t *Track) dropUnusable() error {
	n := t.Len()
	keep := make([]int, 0, n)
	for i := range t.TimeS {
		ok := !math.IsNaN(t.TimeS[i]) && !math.IsNaN(t.HM[i])
		for _, c := range [][]float64{t.LatRad, t.LonRad, t.EM, t.NM} {
			ok = ok && (c == nil || !math.IsNaN(c[i]))
		}
		for _, c := range [][]float64{t.RollRad, t.PitchRad, t.HeadingRad} {
			ok = ok && (c == nil || !math.IsNaN(c[i]))
		}
		if ok {
			keep = append(keep, i)
		}
	}
	if len(keep) == 0 {
		return textError(0, "", "export it again", "no line has a time, a position and a height")
	}
	if d := n - len(keep); d > 0 {
		t.warn("%d of %d lines lack a time, a coordinate or an angle and were dropped", d, n)
	}
	t.takeAll(keep)
	t.DroppedRepeated = 0
	keep, unwrapped, bad := orderTimes(t.TimeS)
	if bad >= 0 {
		return textError(0, "time", "sort the file by time, or give the right time column",
			"sample %d at %.6f s comes before the sample ahead of it", bad+1, t.TimeS[bad])
	}
	if t.Unwrapped = unwrapped; unwrapped {
		t.decide(true, "times after the end of the GPS week continue past 604800 s", "the time falls by a week between two lines")
	}
	t.takeAll(keep)
	if t.DroppedRepeated > 0 {
		t.warn("%d lines repeat the time of the line before and were dropped", t.DroppedRepeated)
	}
	return nil
}

// takeAll is take with the accuracy columns of the same file.
func (t *Track) takeAll(keep []int) {
	n := t.Len()
	t.take(keep)
	if t.Sigma == nil || len(keep) == n {
		return
	}
	s := t.Sigma
	for _, c := range []*[]float64{&s.NorthM, &s.EastM, &s.DownM, &s.RollRad, &s.PitchRad, &s.HeadingRad} {
		if len(*c) != n {
			continue
		}
		for k, i := range keep {
			(*c)[k] = (*c)[i]
		}
		*c = (*c)[:len(keep)]
	}
}
