package blunder

import (
	"fmt"
	"math"
	"time"
)

// Times of GPS. Source: IS-GPS-200 (from memory); LAS 1.4, global encoding bit 0.
const (
	weekS           = 604800.0
	adjustedOffsetS = 1e9
)

// gpsEpoch is the start of GPS time.
var gpsEpoch = time.Date(1980, 1, 6, 0, 0, 0, 0, time.UTC)

// times runs the rules on time: systems (B16), label (B17), end of the week (B18).
func (r *run) times() {
	t := r.e.Time
	if t == nil {
		for _, id := range []string{"B16", "B17", "B18"} {
			r.needs(id, "times of points and trajectory")
		}
		return
	}
	r.ran("B17", "B18")
	r.label(t)
	if math.Abs(t.LargestBackS-weekS) <= 1 {
		where := t.BackWhere
		if where == "" {
			where = "points or trajectory"
		}
		r.note(Finding{ID: "B18", Title: "end of the GPS week", Severity: Notice,
			Text:     fmt.Sprintf("the times of %s fall by one week: the flight crosses Saturday midnight (GPS time), and seconds of the week begin anew; strips and path can be torn there until the times are written without the step", where),
			Observed: fmt.Sprintf("-%.3f s", t.LargestBackS), Predicted: "-604800 s", DecideBy: "the date of the flight"})
	}
	if t.PathMatched {
		r.ran("B16")
		return
	}
	if t.PathMinS == 0 && t.PathMaxS == 0 {
		r.needs("B16", "a trajectory")
		return
	}
	r.ran("B16")
	r.system(t)
}

// label tests bit 0 of the global encoding against the values.
func (r *run) label(t *TimeEvidence) {
	week := t.MinS >= 0 && t.MaxS <= weekS || t.MinS >= weekS-86400 && t.MinS <= weekS && t.MaxS <= weekS+86400 // counted on over its end
	switch {
	case t.Adjusted && week:
		r.note(Finding{ID: "B17", Title: "time mislabelled", Severity: Serious,
			Text:     "the header says adjusted standard GPS time, the values are seconds of the week",
			Observed: fmt.Sprintf("%.1f to %.1f s", t.MinS, t.MaxS), Predicted: "as adjusted time it would be September 2011", DecideBy: "the date of the flight"})
	case !t.Adjusted && !week:
		r.note(Finding{ID: "B17", Title: "time mislabelled", Severity: Serious,
			Text:     "the header says seconds of the week, the values are adjusted standard GPS time",
			Observed: fmt.Sprintf("%.1f to %.1f s", t.MinS, t.MaxS), Predicted: "0 to 604800 s", DecideBy: "the date of the flight"})
	}
	if week || t.FileDate.IsZero() {
		return
	}
	day := gpsEpoch.Add(time.Duration((t.MinS + adjustedOffsetS) * float64(time.Second)))
	if days := math.Abs(day.Sub(t.FileDate).Hours()) / 24; days > 2 {
		r.note(Finding{ID: "B17", Title: "date of the points", Severity: Notice,
			Text:     fmt.Sprintf("the points' time is %s, the base log or file says %s", day.Format("2006-01-02"), t.FileDate.Format("2006-01-02")),
			Observed: fmt.Sprintf("%.0f days apart", days), Predicted: "at most one day", DecideBy: "the date of the flight"})
	}
}

// system is rule B16: points and trajectory in different time systems.
func (r *run) system(t *TimeEvidence) {
	leap := t.leap()
	shifts := timeShifts(leap)
	common := func(s float64) float64 {
		if t.MaxS <= t.MinS {
			return 0
		}
		return max(0, min(t.MaxS+s, t.PathMaxS)-max(t.MinS+s, t.PathMinS)) / (t.MaxS - t.MinS)
	}
	here := common(0)
	if here > 0.9 {
		if !r.underPath(t, shifts) {
			r.along(t, leap)
		}
		return
	}
	// seconds of the week against adjusted time: any whole number of weeks
	if w := math.Round((t.PathMinS - t.MinS) / weekS); w != 0 {
		shifts = append(shifts, timeShift{w * weekS, "whole weeks: one in seconds of the week"})
	}
	if w := math.Mod(t.MinS+adjustedOffsetS, weekS) - t.MinS; t.MinS > weekS && t.PathMaxS <= weekS {
		shifts = append(shifts, timeShift{w, "the points are in adjusted time, the trajectory in seconds of the week"})
	}
	if w := math.Mod(t.PathMinS+adjustedOffsetS, weekS) - t.PathMinS; t.PathMinS > weekS && t.MaxS <= weekS {
		shifts = append(shifts, timeShift{-w, "the trajectory is in adjusted time, the points in seconds of the week"})
	}
	best, most := timeShift{}, here
	for _, s := range shifts {
		if c := common(s.s); c > most+0.05 {
			best, most = s, c
		}
	}
	f := Finding{ID: "B16", Title: "points and trajectory in different time systems", Severity: Serious,
		Observed:  fmt.Sprintf("%.0f %% of the points' time lies in the trajectory", 100*here),
		Predicted: "all of it", DecideBy: "the time system of both files in writing"}
	f.Text = "points and trajectory have little time in common, and no usual shift brings them together"
	if most > 0.9 {
		f.Text = fmt.Sprintf("%s: a shift of %+.0f s brings %.0f %% of the points' time into the trajectory", best.name, best.s, 100*most)
		f.ChancePct = min(100, 100*float64(len(shifts))*(t.PathMaxS-t.PathMinS)/(2*86400))
	}
	r.note(f)
}

// along names the shift when the times overlap but the cloud lies ahead of or behind the path.
func (r *run) along(t *TimeEvidence, leap float64) {
	tol := max(t.AlongTolS, 0.5)
	if !t.AlongKnown || math.Abs(t.AlongS) <= tol {
		return
	}
	name, gap := "no usual shift", math.Inf(1)
	for _, s := range []float64{leap, -leap, 19, -19, leap + 19, -leap - 19} {
		if d := math.Abs(t.AlongS - s); d < gap {
			gap = d
			if d < tol {
				name = fmt.Sprintf("%+.0f s is the difference of UTC, GPS time or TAI", s)
			}
		}
	}
	r.note(Finding{ID: "B16", Title: "points and trajectory in different time systems", Severity: Serious,
		Text:     fmt.Sprintf("the cloud lies %+.2f s of flight from where the trajectory says: %s", t.AlongS, name),
		Observed: fmt.Sprintf("%+.2f s along the track", t.AlongS), Predicted: fmt.Sprintf("within %.1f s", tol), ChancePct: min(100, 100*6*2*tol/(2*60)),
		DecideBy: "the time system of both files in writing"})
}

// timeShift is a usual difference between time systems: points + s = path.
type timeShift struct {
	s    float64
	name string
}

// leap is GPS time minus UTC at the flight.
func (t *TimeEvidence) leap() float64 {
	if t.LeapS == 0 {
		return 18 // since 1 January 2017
	}
	return float64(t.LeapS)
}

// timeShifts lists the usual differences.
func timeShifts(leap float64) []timeShift {
	shifts := []timeShift{{leap, "the points are in UTC"}, {-leap, "the trajectory is in UTC"},
		{leap + 19, "the points are in UTC and the trajectory in TAI"}, {19, "the trajectory is in TAI"}, {-19, "the points are in TAI"}, {-(leap + 19), "the trajectory is in UTC and the points in TAI"},
		{86400, "a day between them"}, {-86400, "a day between them"}, {weekS, "a week between them"}, {-weekS, "a week between them"},
		{1024 * weekS, "a week-number rollover between them"}, {-1024 * weekS, "a week-number rollover between them"},
		{adjustedOffsetS, "one in adjusted, one in standard GPS time"}, {-adjustedOffsetS, "one in adjusted, one in standard GPS time"}}
	for k := 1; k <= 14; k++ {
		name := fmt.Sprintf("a time zone of %d h between them", k)
		shifts = append(shifts, timeShift{3600 * float64(k), name}, timeShift{-3600 * float64(k), name})
	}
	return shifts
}

// underPath names the shift that brings the cloud under the path, when one does much better than none.
func (r *run) underPath(t *TimeEvidence, shifts []timeShift) bool {
	if !t.ShiftKnown || t.ShiftS == 0 || t.ShiftM > 0.5*t.NoShiftM {
		return false
	}
	name := fmt.Sprintf("%+.0f s", t.ShiftS)
	for _, s := range shifts {
		if s.s == t.ShiftS {
			name = s.name
			break
		}
	}
	r.note(Finding{ID: "B16", Title: "points and trajectory in different time systems", Severity: Serious,
		Text:     fmt.Sprintf("%s: the cloud lies %.1f m from under the trajectory, with a shift of %+.0f s %.1f m", name, t.NoShiftM, t.ShiftS, t.ShiftM),
		Observed: fmt.Sprintf("median distance %.1f m", t.NoShiftM), Predicted: fmt.Sprintf("%.1f m after the shift", t.ShiftM),
		ChancePct: min(100, 100*float64(len(shifts))*2/max(t.PathMaxS-t.PathMinS, 1)), DecideBy: "the time system of both files in writing"})
	return true
}
