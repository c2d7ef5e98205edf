package blunder

import (
	"fmt"
	"math"
	"strings"

	"sidelap/control"
)

// reused is rule B15: check points that were used in processing.
func (r *run) reused() {
	r.ran("B15")
	var ids, why []string
	for i := range r.e.Points {
		p := &r.e.Points[i]
		if p.Use == control.UseControl {
			continue
		}
		if c, d := control.SamePoint(&p.Point, r.e.Control); c != nil {
			ids = append(ids, p.ID)
			why = append(why, fmt.Sprintf("%s is control %s (%.3f m apart)", p.ID, c.ID, d))
		}
	}
	if len(ids) > 0 {
		r.note(Finding{ID: "B15", Title: "control used as check", Severity: Serious,
			Text:     fmt.Sprintf("%d check points were used in processing and show the fit, not the accuracy: %s", len(ids), clip(why, 6)),
			Observed: fmt.Sprintf("%d points in both lists", len(ids)), Predicted: "none", ChancePct: math.NaN(), Points: ids,
			DecideBy: "the list of points given to the processing"})
	}
	r.tooGood()
}

func clip(s []string, n int) string {
	if len(s) > n {
		return strings.Join(s[:n], "; ") + fmt.Sprintf(" and %d more", len(s)-n)
	}
	return strings.Join(s, "; ")
}

// tooGood asks when the mean is nearer to zero than chance would leave it.
func (r *run) tooGood() {
	s := &r.series
	if s.n() < 10 {
		return
	}
	a, err := control.Summarize(s.dz)
	if err != nil || a.StdM == nil || math.Abs(a.MeanM) >= 0.05**a.StdM/math.Sqrt(float64(a.N)) {
		return
	}
	r.note(Finding{ID: "B15", Title: "mean too close to zero", Severity: Notice,
		Text:     fmt.Sprintf("the mean of %d differences is %+.4f m, nearer to zero than chance leaves it (4 %%): was the cloud moved to these points?", a.N, a.MeanM),
		Observed: fmt.Sprintf("|mean| is %.3f standard errors", math.Abs(a.MeanM)*math.Sqrt(float64(a.N)) / *a.StdM), Predicted: "about one",
		ChancePct: 4, DecideBy: "ask whether the heights were shifted to control, and to which points"})
}
