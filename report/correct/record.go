package correct

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"sidelap/adjust"
	"sidelap/control"
	"sidelap/report"
)

// record describes the correction. after is nil when none was applied.
func (r *run) record(outcome Outcome, before, after *report.Record) *report.Correction {
	f := r.fit
	c := &report.Correction{Applied: outcome == Applied && !f.Correction.Zero(), Parameters: []report.Parameter{}, Before: level(before), Notes: f.Notes}
	if after != nil {
		c.After = level(after)
	}
	for _, p := range f.Fitted {
		unit, k := p.Kind.Unit()
		row := report.Parameter{Kind: p.Kind.String(), Strip: r.strip(p.Strip), Value: report.F(p.Value * k), Sigma: report.F(p.Sigma * math.Abs(k)), Unit: unit, Significant: p.Reliable}
		c.Parameters = append(c.Parameters, row)
		if p.Detail != "" && p.Strip >= 0 {
			c.Notes = append(c.Notes, fmt.Sprintf("Strip %s, %s: %s; it moves points by up to %.0f mm.", r.p.Survey.Strips[p.Strip].ID, p.Kind.Plain(), p.Detail, 1000*p.EffectM))
		}
	}
	for _, x := range f.Refused {
		where := ""
		if x.Strip >= 0 {
			where = " of strip " + r.p.Survey.Strips[x.Strip].ID
		}
		c.Notes = append(c.Notes, fmt.Sprintf("Not applied: %s%s: %s.", x.Kind.Plain(), where, strings.TrimSuffix(x.Reason, ".")))
	}
	if n := r.ofCorrected(); n > 0 {
		c.Notes = append(c.Notes, fmt.Sprintf("%d of %d files had been corrected before: what is found is only what that left, and is no correction for files as they came.", n, len(r.p.Files)))
	}
	c.Notes = append(c.Notes, r.pointNotes()...)
	if f.Judged {
		c.Holdout = &report.Holdout{Cells: int64(f.Cells), BeforeRMSM: report.F(f.BeforeRMSM), AfterRMSM: report.F(f.HoldoutRMSM), NoiseFloorM: report.F(f.FloorRMSM)}
		if !math.IsNaN(f.OverlapRMSM) && !math.IsNaN(f.OverlapBefore) {
			c.Notes = append(c.Notes, fmt.Sprintf("In overlaps none of whose cells took part in the fit %.4f m are left (before: %.4f m).", f.OverlapRMSM, f.OverlapBefore))
		}
	}
	if !math.IsNaN(f.ControlRMSM) {
		after := "the height of the cloud was left as it came"
		if f.Correction.Datum != (adjust.Datum{}) {
			after = fmt.Sprintf("%.3f m after the shift", f.ControlAfter)
		}
		c.Notes = append(c.Notes, fmt.Sprintf("Against %d control points, which may be fitted to: %.3f m rms with the strips fitted to each other, %s. They are no check.", f.ControlUsed, f.ControlRMSM, after))
	} else if c.Applied {
		c.Notes = append(c.Notes, "The height and place of the whole block were left as they came: overlaps cannot show them, and no control points were given.")
	}
	if c.Notes == nil {
		c.Notes = []string{}
	}
	c.Statement = report.Text(r.statement(outcome, after))
	return c
}

func (r *run) strip(i int) report.Text {
	if i < 0 {
		return ""
	}
	return report.Text(r.p.Survey.Strips[i].ID)
}

// pointNotes says which points could not be moved as the others.
func (r *run) pointNotes() []string {
	var blind, lone, far, points int64
	for _, f := range r.files {
		blind, lone, far, points = blind+f.NotTurned, lone+f.NoStrip, far+f.Far, points+f.Points
	}
	var out []string
	pct := func(n int64) float64 { return 100 * float64(n) / float64(max(points, 1)) }
	if blind > 0 {
		out = append(out, fmt.Sprintf("%d points (%.2g %%) were not turned, since nothing tells how the sensor saw them: no pose at their time, or turns without a path.", blind, pct(blind)))
	}
	if lone > 0 {
		out = append(out, fmt.Sprintf("%d points (%.2g %%) belong to no strip: only what all strips have in common was taken off them.", lone, pct(lone)))
	}
	if far > 0 {
		out = append(out, fmt.Sprintf("%d points lie too far from the path to be returns of this flight; they were left where they are.", far))
	}
	return out
}

// level is how well a cloud agrees with itself and with check points.
func level(rec *report.Record) *report.Level {
	l := &report.Level{}
	if s := rec.Separation; s != nil {
		l.Cells, l.RMSDM, l.NMADM, l.P95AbsM, l.MaxAbsM = s.Cells, s.RMSDM, s.NMADM, s.P95AbsM, s.MaxAbsM
	}
	if c := rec.Checkpoints; c != nil && c.NVA != nil {
		l.CheckM, l.CheckMean = c.NVA.RMSEM, c.NVA.MeanM
	}
	return l
}

// heldShift says that the height of the block is not that of the control points, and what speaks against the shift; "" when nothing does.
func (r *run) heldShift() string {
	for _, x := range r.fit.Refused {
		if x.Kind == adjust.DatumHeight {
			why, _, more := strings.Cut(x.Reason, ": ")
			if more {
				why += " (likely causes: see the notes)"
			}
			return " The height of the block was left as it came, not shifted to the control points: " + why + "."
		}
	}
	if r.fit.ControlUsed == 0 && slices.ContainsFunc(r.p.Control, func(c control.Point) bool { return c.HasZ() }) {
		return " The height of the block was left as it came: none of the control points could be used; the notes say why."
	}
	return ""
}

// statement sums the correction up in one or two sentences.
func (r *run) statement(outcome Outcome, after *report.Record) string {
	f := r.fit
	switch outcome {
	case NotJudged:
		return "Not judged: " + f.Why + "." + r.heldShift()
	case Nothing:
		return fmt.Sprintf("Nothing to correct: no error of the flight or of a strip makes ground that a fit did not see agree better (%.4f m rms, noise of the surfaces %.4f m).", f.BeforeRMSM, f.FloorRMSM) + r.heldShift()
	case Held:
		return "Nothing was corrected: what seems to be wrong cannot be corrected safely from these data; the notes say why and what would decide." + r.heldShift()
	}
	var what []string
	seen := map[string]bool{}
	for _, p := range f.Fitted {
		if n := p.Kind.Plain(); !seen[n] {
			seen[n] = true
			if p.Kind == adjust.DatumHeight {
				n += fmt.Sprintf(" (the whole cloud %+.3f m)", -p.Value)
			}
			what = append(what, n)
		}
	}
	if len(what) == 0 {
		return "Nothing to correct: the cloud was written as it came, since that was asked for." + r.heldShift()
	}
	verb := "Corrected for "
	if outcome == Shown {
		verb = "Estimated, not applied: "
	}
	s := verb + strings.Join(what, ", ") + "." + r.heldShift()
	if f.Judged {
		s += fmt.Sprintf(" On ground that the fit did not see the strips differ by %.4f m rms instead of %.4f m; the noise of the surfaces is %.4f m.", f.HoldoutRMSM, f.BeforeRMSM, f.FloorRMSM)
	}
	if after != nil {
		b, a := level(r.p.Record), level(after)
		if b.CheckM != nil && a.CheckM != nil {
			s += fmt.Sprintf(" Check points, never fitted to: RMSE %.3f m, before %.3f m.", *a.CheckM, *b.CheckM)
			if *a.CheckM > *b.CheckM*1.05+0.002 {
				s += " The check points agree less well than before: look into this before using the corrected cloud."
			}
		}
	}
	return s
}
