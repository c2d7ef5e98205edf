package assess

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"sidelap/control"
	"sidelap/report"
)

// accuracy turns the statistics of a group of points into the record's form, nil without points. classM 0 means no class.
func accuracy(points []*control.PointResult, surveyM, classM float64) *report.Accuracy {
	dz := differences(points)
	a, err := control.Summarize(dz)
	if err != nil {
		return nil
	}
	out := &report.Accuracy{N: int64(a.N), MeanM: report.F(a.MeanM), StdM: a.StdM, RMSEM: report.F(a.RMSEM), RMSELowM: a.RMSELowM, RMSEHighM: a.RMSEHighM,
		Accuracy95M: report.F(a.Accuracy95M), P95AbsM: report.F(a.P95AbsM), P683AbsM: report.F(a.Q683AbsM), MeanAbsM: report.F(a.MeanAbsM), MinM: report.F(a.MinM),
		MaxM: report.F(a.MaxM), MedianM: report.F(a.MedianM), NMADM: report.F(a.NMADM), Skew: a.Skew, Kurtosis: a.Kurtosis}
	if surveyM > 0 {
		out.RMSEWithSurveyM = report.F(math.Hypot(a.RMSEM, surveyM))
	}
	if b, ok := control.P95Upper(dz, 0.95); ok {
		out.P95UpperM = report.F(b)
	}
	own := make([]control.Point, len(points))
	for i, p := range points {
		own[i] = p.Point
	}
	_, places := control.Places(own, control.ClusterM)
	if u, err := control.Judge(dz, classM, places); err == nil {
		fillUncertainty(out, &u)
	}
	fillOutliers(out, points, classM)
	return out
}

// fillUncertainty adds what a sample of this size can say.
func fillUncertainty(out *report.Accuracy, u *control.Uncertainty) {
	out.RMSEBootLowM, out.RMSEBootHighM, out.RMSEUpperM, out.RMSEPlacesHighM = u.BootLowM, u.BootHighM, u.UpperM, u.PlacesHighM
	if u.Bias != nil {
		out.MeanLowM, out.MeanHighM, out.BiasSignificant = report.F(u.Bias.LowM), report.F(u.Bias.HighM), report.B(u.Bias.Significant)
	}
	if n := u.Normality; n != nil {
		out.JarqueBera, out.JarqueBeraP, out.Normal = report.F(n.JB), report.F(n.P), report.B(!n.Rejected)
		out.ShapiroW, out.ShapiroP = report.F(n.W), report.F(n.WP)
	}
	if u.ClassConfidence == nil {
		return
	}
	out.ClassConfidencePct, out.BiasAbove25 = report.F(100**u.ClassConfidence), report.B(u.BiasAbove25)
	for _, p := range u.Power {
		out.Power = append(out.Power, report.Power{Ratio: report.F(p.Ratio), PassPct: report.F(100 * p.PassChance)})
	}
}

// minForRobust is the number of points below which a robust spread names no outlier: our proposal.
const minForRobust = 5

// fillOutliers names the outliers by both rules. They stay in the figures.
func fillOutliers(out *report.Accuracy, points []*control.PointResult, classM float64) {
	o, err := control.FindOutliers(differences(points), classM)
	if err != nil {
		return
	}
	out.OutlierChancePct = report.F(100 * o.ChanceOfOne)
	if len(points) >= minForRobust && o.RobustLimitM > 0 {
		out.OutlierLimitM = report.F(o.RobustLimitM)
		for _, i := range o.Robust {
			out.Outliers = append(out.Outliers, points[i].ID)
		}
	}
	for _, i := range o.Class {
		out.OutliersClass = append(out.OutliersClass, points[i].ID)
	}
}

// isOutlier reports whether a point stands out. Where half the points or more lie beyond three times the class, they share a
// shift: none of them stands out by that rule.
func isOutlier(a *report.Accuracy, id string) bool {
	if a == nil {
		return false
	}
	return slices.Contains(a.Outliers, id) || 2*len(a.OutliersClass) < int(a.N) && slices.Contains(a.OutliersClass, id)
}

// siteRule is why check points on slopes are looked at apart.
const siteRule = "check points belong on ground of a slope of at most 10 %: ASPRS Edition 2, section 7.12 (from memory)"

// subsets are the statistics again without the outliers and without the points on slopes.
func subsets(cmp *control.Comparison, c *report.Checkpoints) []report.Subset {
	out := []report.Subset{}
	if c.NVA == nil {
		return out
	}
	outlier := func(p *control.PointResult) bool { return isOutlier(c.NVA, p.ID) }
	steep := func(p *control.PointResult) bool { return p.Has(control.FlagSteep) }
	for _, w := range []struct {
		id, name, rule string
		left           func(*control.PointResult) bool
	}{
		{"without_steep", "without points on slopes above 10 %", siteRule, steep},
		{"without_outliers", "without outliers", "outliers are explained, not removed: ASPRS Edition 1, section 7.8 (from memory)", outlier},
		{"without_steep_and_outliers", "without either", "both rules", func(p *control.PointResult) bool { return steep(p) || outlier(p) }},
	} {
		if s := subset(group(cmp, false), w.left); s != nil {
			s.ID, s.Name, s.Group, s.Rule = w.id, w.name, "nva", report.Text(w.rule)
			out = append(out, *s)
		}
	}
	if len(out) < 3 { // "either" says nothing more than the one rule that left something out
		out = slices.DeleteFunc(out, func(s report.Subset) bool { return s.ID == "without_steep_and_outliers" })
	}
	return out
}

// subset is nil when nothing is left out.
func subset(points []*control.PointResult, leftOut func(*control.PointResult) bool) *report.Subset {
	s := &report.Subset{}
	var rest []*control.PointResult
	for _, p := range points {
		if leftOut(p) {
			s.LeftOut = append(s.LeftOut, p.ID)
			continue
		}
		rest = append(rest, p)
	}
	if len(s.LeftOut) == 0 {
		return nil
	}
	a, err := control.Summarize(differences(rest))
	if err != nil { // nothing is left
		return s
	}
	s.N, s.MeanM, s.StdM, s.RMSEM, s.RMSELowM, s.RMSEHighM = int64(a.N), report.F(a.MeanM), a.StdM, report.F(a.RMSEM), a.RMSELowM, a.RMSEHighM
	s.Accuracy95M, s.P95AbsM = report.F(a.Accuracy95M), report.F(a.P95AbsM)
	return s
}

// checkFindings says what about the check points themselves a reader must know.
func (j *job) checkFindings(cmp *control.Comparison) {
	c := j.rec.Checkpoints
	if c.NVA == nil {
		return
	}
	add := func(f report.Finding) { j.rec.Findings = append(j.rec.Findings, f) }
	for i := range c.Subsets {
		s := &c.Subsets[i]
		switch s.ID {
		case "without_steep":
			f := report.Finding{ID: "check-slope", Severity: report.SeverityWarning,
				Text:     fmt.Sprintf("%d of %d open check points lie on slopes above 10 %%: %s. They count in the figures.", len(s.LeftOut), c.NVA.N, named(cmp, s.LeftOut, func(p *control.PointResult) string { return fmt.Sprintf("%.0f %%", p.SlopePct) })),
				Evidence: report.Text(besides(c.NVA, s) + "; " + siteRule), DecideBy: "check points on level ground: on a slope dz holds slope times horizontal error too", Places: placesOf(cmp, s.LeftOut)}
			add(f)
		case "without_outliers":
			add(report.Finding{ID: "check-outliers", Severity: report.SeverityNote,
				Text:     fmt.Sprintf("Check points far from the others, to be explained: %s. They count in the figures.", named(cmp, s.LeftOut, func(p *control.PointResult) string { return fmt.Sprintf("%+.3f m", p.DzM) })),
				Evidence: report.Text(besides(c.NVA, s) + chanceOf(cmp, s, c.NVA)),
				DecideBy: "the field notes of these points, and the returns around them", Places: placesOf(cmp, s.LeftOut)})
		}
	}
	if d := c.Distribution; d != nil && d.Along && c.NUsed >= 4 && !d.QuadrantsOK {
		add(report.Finding{ID: "check-spread", Severity: report.SeverityNote, Text: "The check points do not spread over the cloud: what they say holds where they lie.",
			Evidence: report.Text(fmt.Sprintf("quadrants south-west %d, south-east %d, north-west %d, north-east %d of %d points, 20 %% each asked; %.0f %% lie nearer to a neighbour than a tenth of the diagonal (%s)", d.SouthWest, d.SouthEast, d.NorthWest, d.NorthEast, c.NUsed, report.Get(d.ClosePct), d.Source)),
			DecideBy: "check points in the quarters that have few"})
	}
}

// chanceOf says how often good points look like the outliers, where they are near enough for that to matter.
func chanceOf(cmp *control.Comparison, s *report.Subset, all *report.Accuracy) string {
	for _, p := range group(cmp, false) {
		if slices.Contains(s.LeftOut, p.ID) && (s.StdM == nil || s.MeanM == nil || math.Abs(p.DzM-*s.MeanM) > 5**s.StdM) {
			return ""
		}
	}
	return fmt.Sprintf("; %d good points have one beyond three sigma by chance in %.0f %% of surveys", all.N, report.Get(all.OutlierChancePct))
}

// besides sets the RMSE of a subset beside that of all.
func besides(all *report.Accuracy, s *report.Subset) string {
	if s.RMSEM == nil {
		return fmt.Sprintf("RMSE %.3f m with all %d; without them no point is left", *all.RMSEM, all.N)
	}
	return fmt.Sprintf("RMSE %.3f m with all %d, %.3f m with the other %d", *all.RMSEM, all.N, *s.RMSEM, s.N)
}

// mostNamed is how many points a sentence names.
const mostNamed = 8

// named lists points with a figure of each.
func named(cmp *control.Comparison, ids []string, figure func(*control.PointResult) string) string {
	var out []string
	for _, id := range ids {
		if len(out) == mostNamed {
			out = append(out, fmt.Sprintf("and %d more", len(ids)-mostNamed))
			break
		}
		if p := find(cmp, id); p != nil {
			out = append(out, fmt.Sprintf("%s (%s)", id, figure(p)))
		}
	}
	return strings.Join(out, ", ")
}

func find(cmp *control.Comparison, id string) *control.PointResult {
	for i := range cmp.Points {
		if p := &cmp.Points[i]; p.ID == id && p.Used {
			return p
		}
	}
	return nil
}

func placesOf(cmp *control.Comparison, ids []string) []report.Place {
	var out []report.Place
	for _, id := range ids {
		if p := find(cmp, id); p != nil {
			out = append(out, report.Place{EM: p.EM, NM: p.NM})
		}
	}
	return out
}
