package blunder

import (
	"fmt"
	"math"
	"time"

	"gonum.org/v1/gonum/stat/distuv"
)

// base runs the rules on the base: coordinate (B7) and its mark as a free check point (B20).
func (r *run) base() {
	b := r.e.Base
	if b == nil {
		r.needs("B7", "the base coordinate used and the base log's approximate position")
		r.needs("B20", "the base mark and the cloud's ground beside it")
		return
	}
	if b.HeaderDistanceM < 0 && !b.Averaged {
		r.needs("B7", "the base coordinate used and the base log's approximate position")
	} else {
		r.ran("B7")
		if b.Averaged || b.HeaderDistanceM < 0.02 {
			r.note(Finding{ID: "B7", Title: "base coordinate from an average", Severity: Notice,
				Text:     "the base coordinate used is the approximate position of the base log: often an average of single positions, wrong by 0.5 to 5 m in each direction",
				Observed: fmt.Sprintf("distance %.3f m", b.HeaderDistanceM), Predicted: "decimetres to metres for a surveyed coordinate",
				DecideBy: "the base coordinate from a service or a known mark, against the one used"})
		}
	}
	if !b.HasGround || math.IsNaN(b.GroundM) {
		r.needs("B20", "the cloud's ground beside the base mark")
		return
	}
	r.ran("B20")
	r.baseMark(b)
}

// baseMark compares the ground at the mark with the mark.
func (r *run) baseMark(b *Base) {
	d := b.GroundM - b.ZM
	limit := 0.05 + 2*b.SigmaM
	if math.Abs(d) <= limit {
		return
	}
	text := fmt.Sprintf("the cloud's ground lies %+.3f m from the base mark", d)
	severity, why := Notice, "a mark that is not level with the ground leaves as much: ask"
	if b.Flush {
		severity, why = Serious, "the mark is level with the ground"
	}
	luck := math.NaN()
	for _, a := range []float64{r.e.AntennaM, r.e.AntennaOffsetM} {
		if a > 0 && math.Abs(math.Abs(d)-a) <= max(0.02, limit/2) {
			text += fmt.Sprintf(", as an antenna height of %.3f m left out or doubled would leave", a)
			severity, luck = Serious, 100*4*max(0.02, limit/2)/6
		}
	}
	f := Finding{ID: "B20", Title: "base mark against the cloud", Severity: severity, Text: text + "; " + why,
		Observed: fmt.Sprintf("%+.3f m", d), Predicted: fmt.Sprintf("within %.3f m", limit), ChancePct: luck,
		DecideBy: "the antenna height measured again, and the mark's height over the ground beside it"}
	if r.shifted() && math.Abs(r.series.med-d) <= limit {
		f.Text += "; the check points show the same shift"
		r.constant = true
		r.add(f, r.series.same(d))
		return
	}
	r.note(f)
}

// unexplained is rule B9: a shift that no candidate fits.
func (r *run) unexplained() {
	s := &r.series
	if s.n() < 3 {
		r.needs("B9", "three check points with a height in the cloud")
		return
	}
	r.ran("B9")
	days := r.daysApart()
	old := ""
	if days > 90 {
		old = fmt.Sprintf("; survey and flight lie %d days apart: frost, settlement and works move ground", days)
	}
	if r.constant || !r.shifted() {
		if old != "" {
			r.note(Finding{ID: "B9", Title: "survey and flight far apart in time", Severity: Notice, Text: old[2:],
				Observed: fmt.Sprintf("%d days", days), Predicted: "at most 90 days", DecideBy: "one check point surveyed again"})
		}
		return
	}
	t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(s.n() - 1)}.Quantile(0.975)
	severity := Notice
	if math.Abs(s.med) > r.limitM {
		severity = Serious
	}
	r.add(Finding{ID: "B9", Title: "constant height difference without a named cause", Severity: severity,
		Text:      fmt.Sprintf("cloud %s the survey by %.3f m (%.3f to %.3f, 95 %%); none of the heights known here fits%s. Report it as a bias: shifting the cloud to these points would use them up as checks", aboveBelow(s.med), math.Abs(s.med), s.med-t*s.seM(), s.med+t*s.seM(), old),
		Observed:  fmt.Sprintf("median %+.3f m, spread %.3f m, n %d", s.med, s.sr, s.n()),
		Predicted: "a session's own height error is 0.02 to 0.05 m; a local benchmark offset can be more", ChancePct: 100,
		DecideBy: "one mark outside this base, or a second set-up of the rover on three points"}, s.same(s.med))
}

// daysApart is the largest time between survey and flight, 0 if unknown.
func (r *run) daysApart() int {
	if r.e.FlightDate.IsZero() {
		return 0
	}
	most := time.Duration(0)
	for _, i := range r.series.index {
		if d := r.e.Points[i].Date; !d.IsZero() {
			most = max(most, r.e.FlightDate.Sub(d).Abs())
		}
	}
	return int(most.Hours() / 24)
}
