package trajectory

import "math"

// span is the range of a column.
type span struct{ lo, hi, abs float64 }

func spanOf(v []float64) span {
	s := span{math.Inf(1), math.Inf(-1), 0}
	for _, x := range v {
		if !math.IsNaN(x) {
			s.lo, s.hi, s.abs = min(s.lo, x), max(s.hi, x), max(s.abs, math.Abs(x))
		}
	}
	return s
}

// increasing reports whether a column never falls (but for the end of the week) and does rise.
func increasing(v []float64) bool {
	rose := false
	for i := 1; i < len(v); i++ {
		d := v[i] - v[i-1]
		if d < 0 && d > -WeekS+60 {
			return false
		}
		rose = rose || d > 0
	}
	return rose || len(v) == 1
}

// layoutByRange finds the columns of a file without heading words: time first,
// then position, height, roll, pitch and heading, each checked by its range.
// Common practice; docs/trajectory.md lists the rules.
func layoutByRange(cols [][]float64, clock []clockKind) (*layout, error) {
	l := newLayout()
	l.byRange = true
	i := l.findTime(cols, clock)
	if i < 0 {
		return nil, textError(0, "time", "name the columns in a heading line", "no column rises from line to line as a time does")
	}
	for i < len(cols) && allNaN(cols[i]) { // words such as a line name
		i++
	}
	if i+3 > len(cols) {
		return nil, textError(0, "", "name the columns in a heading line", "%d columns after the time, three coordinates are needed", len(cols)-i)
	}
	a, b := spanOf(cols[i]), spanOf(cols[i+1])
	degrees := a.abs <= 360 && b.abs <= 360 && (a.abs <= 90 || b.abs <= 90)
	if degrees {
		v := movingSpeed(cols[l.at[roleTime]], cols[i], cols[i+1])
		degrees = v < 0.02 && plausibleSpeed(v*degreeM) || v*toDeg < 0.02 && plausibleSpeed(v*degreeM*toDeg) || v == 0
	}
	first, second := roleE, roleN
	switch {
	case degrees && a.abs > 90:
		first, second, l.orderSure = roleLon, roleLat, true
	case degrees:
		first, second = roleLat, roleLon
		l.orderSure = b.abs > 90
	case a.lo > 1e6 && b.hi < 1e6 && b.lo > 1e5: // projected metres: seven digits north, six east
		first, second, l.orderSure = roleN, roleE, true
	case b.lo > 1e6 && a.hi < 1e6 && a.lo > 1e5:
		l.orderSure = true
	}
	l.at[first], l.at[second], l.at[roleH] = i, i+1, i+2
	l.findAttitude(cols, i+3)
	return l, nil
}

// findTime sets the time columns and returns the column after them, or -1.
func (l *layout) findTime(cols [][]float64, clock []clockKind) int {
	n := len(cols)
	if n > 1 && clock[0] == clockDate && clock[1] == clockOfDay {
		l.at[roleDate], l.at[roleTime] = 0, 1
		return 2
	}
	if n > 1 && clock[0] == clockNone {
		w := spanOf(cols[0])
		if s := spanOf(cols[1]); w.lo == math.Trunc(w.lo) && w.lo >= 500 && w.hi <= w.lo+1 && w.hi < 5000 && s.lo >= 0 && s.hi <= WeekS && increasing(cols[1]) {
			l.at[roleWeek], l.at[roleTime] = 0, 1
			return 2
		}
	}
	for i := range cols {
		if allNaN(cols[i]) {
			continue
		}
		if clock[i] != clockNone && clock[i] != clockDate || increasing(cols[i]) && !isCounter(cols, i) {
			l.at[roleTime] = i
			return i + 1
		}
	}
	return -1
}

// isCounter reports whether column i counts lines and another time follows.
func isCounter(cols [][]float64, i int) bool {
	for k, x := range cols[i] {
		if x != cols[i][0]+float64(k) {
			return false
		}
	}
	return i+4 < len(cols) && len(cols[i]) > 2 && cols[i][0] <= 1 && increasing(cols[i+1])
}

func allNaN(v []float64) bool {
	for _, x := range v {
		if !math.IsNaN(x) {
			return false
		}
	}
	return true
}

// findAttitude sets roll, pitch and heading if the three columns at i can be that.
func (l *layout) findAttitude(cols [][]float64, i int) {
	if i+3 > len(cols) {
		return
	}
	var s [3]span
	for k := range s {
		if allNaN(cols[i+k]) {
			return
		}
		s[k] = spanOf(cols[i+k])
	}
	h := 2
	for k := range s {
		if s[k].abs > 90 && s[h].abs <= 90 {
			h = k
		}
	}
	var rest []int
	for k := range s {
		if s[k].abs > 360.001 || k != h && s[k].abs > 90 {
			return // velocities, sigmas or something else
		}
		if k != h {
			rest = append(rest, k)
		}
	}
	l.at[roleRoll], l.at[rolePitch], l.at[roleHeading] = i+rest[0], i+rest[1], i+h
}
