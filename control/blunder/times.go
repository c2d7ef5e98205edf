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

// times runs the rules on time: label (B17) and end of the week (B18). Time systems (B16) are compared where a path is brought
// to the points, see TimeEvidence.PathMatched.
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
	} else {
		r.needs("B16", "a trajectory, and points with GPS time to compare its times with")
	}
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
