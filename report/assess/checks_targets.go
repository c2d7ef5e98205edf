package assess

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"sidelap/control"
	"sidelap/control/blunder"
	"sidelap/report"
	"sidelap/trajectory"
)

// ridgeRadiusM is how far around a point on a ridge returns are kept: enough for two planes, still on the roof.
const ridgeRadiusM = 2.5

// targetSearchM is how far from its surveyed place a target is looked for: as far as an averaged base or another datum
// usually moves it. Our proposal.
const targetSearchM = 2

// ParseTarget reads KIND:SIZE or KIND:SIZE:ARM, sizes in metres. See control.TargetKind for what the size is.
func ParseTarget(s string) (control.TargetOptions, error) {
	parts := strings.Split(s, ":")
	if len(parts) < 2 || len(parts) > 3 {
		return control.TargetOptions{}, fmt.Errorf("%q is not KIND:SIZE, such as disc:0.4", s)
	}
	o := control.TargetOptions{Kind: control.TargetKind(strings.ToLower(strings.TrimSpace(parts[0]))), SearchM: targetSearchM}
	switch o.Kind {
	case control.TargetDisc, control.TargetCheckerboard, control.TargetChevron, control.TargetCross:
	default:
		return o, fmt.Errorf("%q is not a target; use disc, checkerboard, chevron or cross", parts[0])
	}
	for i, v := range []*float64{&o.SizeM, &o.ArmM}[:len(parts)-1] {
		x, err := strconv.ParseFloat(strings.TrimSpace(parts[i+1]), 64)
		if err != nil || !(x > 0.02 && x <= 10) {
			return o, fmt.Errorf("%q is not a size from 0.02 to 10 m", parts[i+1])
		}
		*v = x
	}
	return o, nil
}

// markTargets sorts out the points that are looked for in plan: targets when their shape was given, ridges where the list says so.
func (j *job) markTargets() {
	var marked, others []control.Point
	for _, p := range j.checks.Points {
		switch {
		case p.OnRidge():
			j.ridges = append(j.ridges, p)
		case p.IsTarget():
			marked = append(marked, p)
		default:
			others = append(others, p)
		}
	}
	switch {
	case j.o.Target.SizeM > 0 && len(marked) > 0:
		j.targets = marked
	case j.o.Target.SizeM > 0:
		j.targets = others
	case len(marked) > 0:
		j.unmeasured = len(marked)
	}
}

// fillHorizontal measures targets and ridges, and adds the error to be expected by formula.
func (j *job) fillHorizontal(g *gathered) (found []blunder.Target) {
	h := &report.Horizontal{}
	var de, dn []float64
	if g.extra.targets != nil {
		fixes, err := g.extra.targets.Targets(j.o.Target)
		if err != nil { // the options were checked before the reading
			j.rec.Warnings = append(j.rec.Warnings, err.Error())
		}
		for _, f := range fixes {
			row := report.Target{ID: f.ID, Kind: string(j.o.Target.Kind), DxM: report.F(f.DEM), DyM: report.F(f.DNM), SigmaM: report.F(f.SigmaM), Found: f.OK, Reason: report.Text(f.Reason), Returns: int64(f.Returns)}
			h.Targets = append(h.Targets, row)
			if f.OK {
				de, dn = append(de, f.DEM), append(dn, f.DNM)
				found = append(found, blunder.Target{ID: f.ID, EM: f.EM, NM: f.NM, DEM: f.DEM, DNM: f.DNM, SigmaM: f.SigmaM})
				j.setPlan(f.ID, f.DEM, f.DNM)
			}
		}
		h.Basis = report.Text(fmt.Sprintf("%s of %g m fitted to the intensity: %d of %d found", j.o.Target.Kind, j.o.Target.SizeM, len(de), len(fixes)))
	}
	j.fillRidges(g, h)
	if s, err := control.SummarizeHorizontal(de, dn); err == nil && len(de) > 0 {
		h.N, h.RMSEXM, h.RMSEYM, h.RMSEM = int64(s.N), report.F(s.East.RMSEM), report.F(s.North.RMSEM), report.F(s.RMSERM)
		h.MeanXM, h.MeanYM, h.Accuracy95M, h.NSSDA95M = report.F(s.East.MeanM), report.F(s.North.MeanM), report.F(s.Accuracy95M), s.NSSDA95M
		var points []control.Point
		for _, t := range found {
			for _, p := range j.targets {
				if p.ID == t.ID {
					points = append(points, p)
					break
				}
			}
		}
		if _, sd := control.SurveyAccuracy(points); sd > 0 {
			h.RMSEWithSurveyM = report.F(math.Hypot(s.RMSERM, sd))
		}
	}
	var returns []trajectory.Return
	if g.sample != nil {
		returns = g.sample.List()
	}
	j.expectHorizontal(h, returns)
	if j.unmeasured > 0 {
		j.rec.Findings = append(j.rec.Findings, report.Finding{ID: "check-targets", Severity: report.SeverityNote,
			Text:     fmt.Sprintf("The list marks %d targets, which were not measured in plan: their shape and size were not given.", j.unmeasured),
			DecideBy: "--targets KIND:SIZE, such as disc:0.4"})
	}
	if h.N > 0 || len(h.Targets) > 0 || h.ExpectedM != nil {
		h.Estimated = h.N == 0
		j.rec.Checkpoints.Horizontal = h
	}
	return found
}

// fillRidges measures the ridges and says what they show together.
func (j *job) fillRidges(g *gathered, h *report.Horizontal) {
	if g.extra.ridges == nil {
		return
	}
	fixes := g.extra.ridges.Ridges()
	for _, f := range fixes {
		h.Targets = append(h.Targets, report.Target{ID: f.ID, Kind: "ridge", AcrossM: report.F(f.AcrossM), DzM: report.F(f.DzM), SigmaM: report.F(f.SigmaAcrossM), Found: f.OK, Reason: report.Text(f.Reason), Returns: int64(f.Returns[0] + f.Returns[1])})
	}
	s, ok := control.SolveRidges(fixes)
	if !ok {
		return
	}
	text := fmt.Sprintf("%d of %d roof ridges found: offsets across them %.3f m RMS, heights %+.3f m", s.N, len(fixes), s.RMSEAcrossM, s.ZM)
	if s.Horizontal {
		text += fmt.Sprintf("; shift of the cloud %+.3f m east, %+.3f m north (± %.3f, %.3f)", s.EM, s.NM, s.SigmaEM, s.SigmaNM)
	}
	if h.Basis != "" {
		h.Basis += "; "
	}
	h.Basis += report.Text(text)
}

// setPlan writes the horizontal difference into the row of the point.
func (j *job) setPlan(id string, deM, dnM float64) {
	for i := range j.rec.Checkpoints.Points {
		if p := &j.rec.Checkpoints.Points[i]; p.ID == id && p.DxM == nil {
			p.DxM, p.DyM = report.F(deM), report.F(dnM)
			return
		}
	}
}

// expectHorizontal adds the horizontal error that the accuracy of path and attitude lets expect: an estimate by the
// formula of the standard, never a test.
func (j *job) expectHorizontal(h *report.Horizontal, returns []trajectory.Return) {
	if j.track == nil || j.track.Sigma == nil {
		return
	}
	s := j.track.Sigma
	// Medians: before the heading is found on the ground its figure is of no use.
	e, n := control.Median(s.EastM), control.Median(s.NorthM)
	roll, pitch, heading := control.Median(s.RollRad), control.Median(s.PitchRad), control.Median(s.HeadingRad)
	var heights []float64
	for i := range j.rec.Strips {
		if v := j.rec.Strips[i].HeightAboveGroundM; v != nil && *v > 0 {
			heights = append(heights, *v)
		}
	}
	height := control.Median(heights)
	if len(heights) == 0 {
		height = heightAboveGround(j.path, returns)
	}
	x := expected{gnssM: math.Hypot(e, n), tiltRad: math.Max(roll, pitch), headingRad: heading, heightM: height}
	if math.IsNaN(x.gnssM) || math.IsNaN(x.tiltRad) || math.IsNaN(heading) || math.IsNaN(height) {
		return
	}
	j.expected = &x
	ed := control.Edition2
	if j.edition() == control.Edition1 {
		ed = control.Edition1
	}
	v, basis := x.by(ed)
	h.ExpectedM, h.ExpectedBasis = report.F(v), report.Text("estimated, not tested: "+basis+j.leftOut())
}

// leftOut names the errors of the boresight that were found in this cloud: the estimate by the path's own accuracy
// knows nothing of them.
func (j *job) leftOut() string {
	var found []string
	for i := range j.rec.Causes {
		if c := &j.rec.Causes[i]; c.Significant && strings.HasPrefix(c.Kind, "boresight_") {
			found = append(found, strings.TrimPrefix(c.Kind, "boresight_"))
		}
	}
	if len(found) == 0 {
		return ""
	}
	return "; the error of the boresight found in this cloud (" + strings.Join(found, ", ") + ") is not in it and comes on top"
}

// expected is what the horizontal error to be expected follows from.
type expected struct{ gnssM, tiltRad, headingRad, heightM float64 }

// by is the radial error by the formula of an edition, with its inputs in words.
func (x *expected) by(ed control.Edition) (rmseM float64, basis string) {
	formula := "ASPRS Edition 2, constant from a secondary source"
	rmseM = control.ExpectedHorizontalEdition2M(x.gnssM, x.tiltRad, x.headingRad, x.heightM)
	if ed == control.Edition1 {
		formula = "ASPRS Edition 1, section 7.5, constant from memory"
		rmseM = control.ExpectedHorizontalEdition1M(x.gnssM, math.Max(x.tiltRad, x.headingRad), x.heightM)
	}
	return rmseM, fmt.Sprintf("position %.3f m radial, roll and pitch %.4f°, heading %.4f° by the path's own accuracy, %.0f m above ground; formula of %s", x.gnssM, x.tiltRad*degrees, x.headingRad*degrees, x.heightM, formula)
}
