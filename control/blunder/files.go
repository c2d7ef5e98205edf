package blunder

import (
	"fmt"
	"math"
)

// clearance is rule B19: trajectory and cloud in different heights.
func (r *run) clearance() {
	h := r.e.Path
	if h == nil || !h.Standing && !(h.PlannedHeightM > 0 && h.FlightHeightM > 0) {
		r.needs("B19", "a trajectory that stands on ground of the cloud, in heights of the geoid or with the geoid separation")
		return
	}
	r.ran("B19")
	const decide = "the height system of the trajectory and of the cloud, in writing"
	if h.Standing && (h.GroundClearanceM < 0.1 || h.GroundClearanceM > 1.5) {
		off := h.GroundClearanceM - 0.5
		text, luck, severity := fmt.Sprintf("standing on the ground the trajectory is %.2f m over the cloud; the landing gear leaves 0.1 to 1.5 m", h.GroundClearanceM), math.NaN(), Notice
		for _, k := range []float64{1, -1, 2, -2} {
			if n := k * r.e.GeoidM; n != 0 && math.Abs(off-n) < 1.5 {
				text += fmt.Sprintf("; the geoid separation %+.2f m would leave as much: it was taken off one of them only", n)
				luck, severity = 100*4*3/220.0, Serious
				break
			}
		}
		r.note(Finding{ID: "B19", Title: "trajectory and cloud in different heights", Severity: severity, Text: text,
			Observed: fmt.Sprintf("%.2f m", h.GroundClearanceM), Predicted: "0.1 to 1.5 m", ChancePct: luck, DecideBy: decide})
	}
	if h.PlannedHeightM > 0 && h.FlightHeightM > 0 && math.Abs(h.FlightHeightM/h.PlannedHeightM-1) > 0.2 {
		r.note(Finding{ID: "B19", Title: "height above ground off the plan", Severity: Notice,
			Text:     fmt.Sprintf("lines were flown %.0f m above the cloud's ground, %.0f m were planned: another height, or heights of different systems", h.FlightHeightM, h.PlannedHeightM),
			Observed: fmt.Sprintf("%.0f m", h.FlightHeightM), Predicted: fmt.Sprintf("%.0f m within 20 %%", h.PlannedHeightM), ChancePct: math.NaN(), DecideBy: decide})
	}
}

// verticalCRS is rule B21: a vertical reference that is missing.
func (r *run) verticalCRS() {
	if !r.e.VerticalKnown {
		r.needs("B21", "the coordinate system records of the cloud's files")
		return
	}
	r.ran("B21")
	if r.e.VerticalCRS != "" {
		return
	}
	text := "the cloud names no vertical reference: what its heights refer to, and in which unit, has to be known from elsewhere before a figure can be called absolute"
	if !r.e.CRSStated {
		text = "the cloud names no coordinate system at all, horizontal or vertical: it has to be known from elsewhere before a figure can be called absolute"
	}
	r.note(Finding{ID: "B21", Title: "vertical reference missing", Severity: Notice, Text: text,
		Observed: "no vertical part in the file's record", Predicted: "a vertical datum, its geoid model and unit", DecideBy: "the delivery's height system in writing"})
}

// labels is rule B22: points that do not tell their strip.
func (r *run) labels() {
	l := r.e.Labels
	if l == nil {
		r.needs("B22", "the point source IDs of the cloud")
		return
	}
	r.ran("B22")
	if !(l.Zero && l.IDs == 1) && !(l.IDs == 1 && l.Files <= 1 && l.Turns > 0) {
		return
	}
	how := l.SplitByWhy
	if how == "" {
		how = "strips have to be told apart by gaps and turns in time"
	}
	r.note(Finding{ID: "B22", Title: "strips not labelled", Severity: Notice,
		Text:     "all points carry one point source ID: " + how,
		Observed: fmt.Sprintf("%d point source ID in %d files, %d turns or gaps in time", l.IDs, max(l.Files, 1), l.Turns), Predicted: "one ID for each line flown, 1 to 65535",
		DecideBy: "an export from the processing with line numbers"})
}
