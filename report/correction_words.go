package report

import (
	"math"
	"strings"
)

// correctionLines say beside the verdict that the cloud was corrected, or that a correction was only
// worked out, with what it did to strips and check points; nil without a correction.
func (v *view) correctionLines() []string {
	c := v.rec.Correction
	if c == nil {
		return nil
	}
	said := strings.TrimSpace(string(c.Statement))
	switch what, corrected := strings.CutPrefix(said, "Corrected "); {
	case c.Applied && corrected:
		said = "This cloud was corrected " + what
	case c.Applied, strings.Contains(strings.ToLower(said), "not applied"):
		said = "Correction: " + said
	default:
		said = "Correction, not applied to this cloud: " + said
	}
	lines := []string{sentenceText(said)}
	if s := v.beforeAfterPhrase(); s != "" {
		lines = append(lines, s)
	}
	return lines
}

// beforeAfterPhrase is "before and after: RMSD ... m, now ... m; ...".
func (v *view) beforeAfterPhrase() string {
	var parts []string
	for _, x := range []struct{ name, before, after string }{
		{"RMSD of the strips", "correction.before.rmsd_m", "correction.after.rmsd_m"},
		{"ground that the fit did not see", "correction.holdout.before_rms_m", "correction.holdout.after_rms_m"},
		{"check points in the open, RMSE", "correction.before.checkpoint_rmse_m", "correction.after.checkpoint_rmse_m"},
		{"their mean", "correction.before.checkpoint_mean_m", "correction.after.checkpoint_mean_m"},
	} {
		if math.IsNaN(v.num(x.before)) || math.IsNaN(v.num(x.after)) {
			continue
		}
		s := x.name + " " + v.withUnit(x.before) + " → " + v.withUnit(x.after)
		if floor := "correction.holdout.noise_floor_m"; strings.Contains(x.before, "holdout") && !math.IsNaN(v.num(floor)) {
			s += " (noise floor " + v.withUnit(floor) + ")"
		}
		parts = append(parts, s)
	}
	if len(parts) == 0 {
		return ""
	}
	return "before and after the correction: " + strings.Join(parts, "; ")
}

// correctionRemarks are the notes on a correction, those of the parameters' sign first.
func (v *view) correctionRemarks() []string {
	c := v.rec.Correction
	var notes []string
	if len(c.Parameters) > 0 {
		notes = append(notes, "Parameters are used minus true: what is wrong in the cloud as it came, and is taken off.")
	}
	return append(notes, c.Notes...)
}
