package assess

import (
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strings"

	"sidelap/control"
	"sidelap/report"
)

// surfaces finds the cloud's surface at each check point.
func (j *job) surfaces(g *gathered) *control.Comparison {
	return j.checkPart(g.checks).Evaluate(control.DefaultEvaluateOptions())
}

// compare compares the cloud with the check points.
func (j *job) compare(g *gathered) {
	j.stage("check points")
	cmp := j.compared
	if j.ground != nil {
		dropControl(cmp, j.ground.Points)
	}
	j.fillCheckPoints(cmp)
	j.rec.Options.CheckpointRadius = report.F(j.checkRadiusM())
	targets := j.fillHorizontal(g)
	j.fillEditions(cmp)
	j.blunders(cmp, g, targets)
	j.checkFindings(cmp)
}

// fillCheckPoints describes the comparison with check points.
func (j *job) fillCheckPoints(cmp *control.Comparison) {
	list, classM := j.checks, j.limits.ClassM
	c := &report.Checkpoints{File: report.Text(filepath.ToSlash(list.Path)), Surface: cmp.Surface, NRead: int64(cmp.NRead), NUsed: int64(cmp.NUsed), NExcluded: int64(cmp.NExcluded)}
	c.List = listRecord(list)
	c.Notes = append(c.Notes, cmp.Warnings...)
	sd, source := surveyAccuracy(cmp, &j.o)
	if sd > 0 {
		c.SurveyRMSEM, c.SurveySource = report.F(sd), report.Text(source)
	}
	used := usedPoints(cmp)
	_, places := control.Places(used, control.ClusterM)
	c.Places, c.PlaceRadiusM = report.I(places), report.F(control.ClusterM)
	c.NVA = accuracy(group(cmp, false), sd, classM)
	c.VVA = accuracy(group(cmp, true), sd, 0) // no class is met or missed in vegetation by RMSE
	worst := 0.0
	for i := range cmp.Points {
		p := &cmp.Points[i]
		row := checkRow(p)
		row.Outlier = p.Used && isOutlier(c.NVA, p.ID)
		if p.Used && math.Abs(p.DzM) >= worst {
			worst, c.Worst = math.Abs(p.DzM), report.Text(p.ID)
		}
		c.Points = append(c.Points, row)
	}
	c.Subsets = subsets(cmp, c)
	c.Distribution = j.distribution(used)
	c.Independence = report.Text(control.TestIndependence(used).Text)
	j.rec.Checkpoints = c
	j.rec.Reference.CheckpointSource, j.rec.Reference.CheckpointIndependent = independence(cmp)
}

// usedPoints are the points that entered a figure.
func usedPoints(cmp *control.Comparison) []control.Point {
	var used []control.Point
	for i := range cmp.Points {
		if cmp.Points[i].Used {
			used = append(used, cmp.Points[i].Point)
		}
	}
	return used
}

// group lists the used points of the open, or of vegetated ground, in list order.
func group(cmp *control.Comparison, vegetated bool) []*control.PointResult {
	var out []*control.PointResult
	for i := range cmp.Points {
		if p := &cmp.Points[i]; p.Used && (p.Cover == control.CoverVegetated) == vegetated {
			out = append(out, p)
		}
	}
	return out
}

func differences(points []*control.PointResult) []float64 {
	out := make([]float64, len(points))
	for i, p := range points {
		out[i] = p.DzM
	}
	return out
}

func checkRow(p *control.PointResult) report.CheckRow {
	row := report.CheckRow{ID: p.ID, EM: p.EM, NM: p.NM, ZM: report.F(p.ZM), CloudZM: report.F(p.CloudZM), DzM: report.F(p.DzM), PlaneDzM: report.F(p.PlaneZM - p.ZM),
		Cover: string(p.Cover), Code: report.Text(p.Code), Used: p.Used, SlopePct: report.F(p.SlopePct), Returns: report.I(p.Returns), NearestM: report.F(p.NearestM), Source: report.Text(p.Source),
		SigmaM: report.F(p.SigmaM), Flags: flagWords(p)}
	if math.IsNaN(p.DzM) {
		row.PlaneDzM = nil
	}
	if p.Cover == control.CoverUnknown {
		row.Cover = "unknown"
	}
	if !p.Used {
		row.Reason = report.Text(p.Reason)
		if p.Detail != "" {
			row.Reason += report.Text(" (" + p.Detail + ")")
		}
	}
	if p.PlaneRMSM > 0 {
		row.RoughM = report.F(p.PlaneRMSM)
	}
	if p.SDVerticalM > 0 {
		row.SurveyM = report.F(p.SDVerticalM)
	}
	for _, s := range p.Strips {
		row.Strips = append(row.Strips, fmt.Sprint(s.Source))
	}
	return row
}

// flagWords are the flags of a site with their figures.
func flagWords(p *control.PointResult) []string {
	var out []string
	for _, f := range p.Flags {
		switch f {
		case control.FlagSteep:
			out = append(out, fmt.Sprintf("steep (%.0f %%)", p.SlopePct))
		case control.FlagStep:
			out = append(out, fmt.Sprintf("step of %.2f m", p.StepM))
		case control.FlagRough:
			out = append(out, fmt.Sprintf("rough (%.2f m)", p.P90P10M))
		case control.FlagSparse:
			out = append(out, "sparse")
		case control.FlagDiffer:
			out = append(out, "triangle and plane differ")
		case control.FlagSingle:
			out = append(out, "one strip")
		case control.FlagStrips:
			out = append(out, "strips differ")
		}
	}
	return out
}

// surveyAccuracy is the root mean square of the used points' own standard deviations, or the figure given.
// It is 0, unknown, unless every point has one.
func surveyAccuracy(cmp *control.Comparison, o *Options) (m float64, source string) {
	var sds []float64
	for i := range cmp.Points {
		p := &cmp.Points[i]
		if !p.Used {
			continue
		}
		sd := p.SDVerticalM
		if sd == 0 {
			sd = o.SurveySDm
		}
		if sd == 0 {
			return 0, ""
		}
		sds = append(sds, sd)
	}
	if len(sds) == 0 {
		return 0, ""
	}
	source = "root mean square of the points' own figures"
	if o.SurveySDm > 0 {
		source = "given with --survey-sd where the list says nothing"
	}
	return control.RMS(sds), source
}

// independence says where the points come from, and whether that is another source than the base of the flight.
func independence(cmp *control.Comparison) (source report.Text, independent *bool) {
	seen := map[control.Source]bool{}
	var names []string
	for i := range cmp.Points {
		s := cmp.Points[i].Source
		if s == "" {
			s = control.SourceUnknown
		}
		if !seen[s] {
			seen[s] = true
			names = append(names, string(s))
		}
	}
	slices.Sort(names)
	if seen[control.SourceUnknown] || len(names) == 0 {
		return report.Text(strings.Join(names, ", ")), nil
	}
	return report.Text(strings.Join(names, ", ")), report.B(!seen[control.SourceBase])
}

// distribution tests how the points lie over the rectangle of the cloud along its strips, else along the axes; nil
// without points.
func (j *job) distribution(points []control.Point) *report.Spread {
	if len(points) == 0 || j.extent.Empty() {
		return nil
	}
	area, turned, along := j.stripRectangle(points)
	d := control.TestDistribution(turned, area)
	s := &report.Spread{Area: "rectangle of the cloud", Along: along, SouthWest: int64(d.Quadrants[0]), SouthEast: int64(d.Quadrants[1]), NorthWest: int64(d.Quadrants[2]), NorthEast: int64(d.Quadrants[3]),
		QuadrantsOK: d.QuadrantsOK, DiagonalM: report.F(d.DiagonalM), SpacingOK: d.SpacingOK, ClosePct: report.F(100 * d.CloseShare), CoveredPct: report.F(100 * d.CoveredShare),
		Source: "FGDC-STD-007.3-1998, appendix 3-C"}
	if along {
		s.Area = "rectangle of the cloud along its strips"
	}
	if !math.IsInf(d.MinSpacingM, 0) {
		s.NearestM = report.F(d.MinSpacingM)
	}
	return s
}

// stripRectangle turns points and outlines so that the first line runs along an axis, by less than 45 degrees so that
// the quarters keep their names, and returns the rectangle of the outlines. Without strips it is the rectangle of the files.
func (j *job) stripRectangle(points []control.Point) (area control.Box, turned []control.Point, along bool) {
	if j.survey == nil || len(j.survey.Lines()) == 0 || math.IsNaN(j.survey.Lines()[0].HeadingRad) {
		return j.extent, points, false
	}
	angle := math.Remainder(j.survey.Lines()[0].HeadingRad, math.Pi/2)
	sin, cos := math.Sincos(angle)
	e0, n0 := (j.extent.MinEM+j.extent.MaxEM)/2, (j.extent.MinNM+j.extent.MaxNM)/2
	turn := func(e, n float64) (float64, float64) { // headings count clockwise
		return (e-e0)*cos - (n-n0)*sin, (e-e0)*sin + (n-n0)*cos
	}
	area = control.Box{MinEM: math.Inf(1), MinNM: math.Inf(1), MaxEM: math.Inf(-1), MaxNM: math.Inf(-1)}
	for _, p := range j.layers.Boundary {
		for _, ring := range p {
			for _, q := range ring {
				e, n := turn(q[0], q[1])
				area = control.Box{MinEM: math.Min(area.MinEM, e), MinNM: math.Min(area.MinNM, n), MaxEM: math.Max(area.MaxEM, e), MaxNM: math.Max(area.MaxNM, n)}
			}
		}
	}
	if !(area.MaxEM > area.MinEM && area.MaxNM > area.MinNM) {
		return j.extent, points, false
	}
	turned = slices.Clone(points)
	for i := range turned {
		turned[i].EM, turned[i].NM = turn(points[i].EM, points[i].NM)
	}
	return area, turned, true
}
