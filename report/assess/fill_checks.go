package assess

import (
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strings"

	"sidelap/control"
	"sidelap/las"
	"sidelap/las/crs"
	"sidelap/report"
)

// readList reads a list of surveyed points in the cloud's system.
func readList(path string, o *Options, c *crs.CRS, fr *las.Frame, extent control.Box) (*control.List, error) {
	lo := control.ListOptions{Columns: strings.ToUpper(o.ColumnOrder), Extent: extent, Project: projector(c)}
	switch strings.ToLower(o.ListUnit) {
	case "m":
		lo.Unit = "m"
	case "ift":
		lo.Unit = "ft"
	case "usft":
		lo.Unit = "usft"
	}
	list, err := control.ReadList(path, lo)
	if err != nil {
		return nil, err
	}
	if lo.Unit == "" && list.UnitFrom == "assumed" && (fr.HorizontalM != 1 || fr.VerticalM != 1) {
		// A list beside a cloud in feet that names no unit is in the cloud's: practice of the trade, and said so.
		lo.Unit, lo.HeightUnit = unitLetter(fr.HorizontalM), unitLetter(fr.VerticalM)
		if lo.Unit == "" || lo.HeightUnit == "" {
			return nil, &SettingsError{Flag: "list-unit", Err: fmt.Errorf("%s names no unit, and the cloud's is unusual", path), Remedy: "state it: m, ift or usft"}
		}
		if list, err = control.ReadList(path, lo); err != nil {
			return nil, err
		}
		list.Warnings = append(list.Warnings, fmt.Sprintf("the list names no unit: taken as the cloud's (%s, heights %s)", lo.Unit, lo.HeightUnit))
	}
	return list, nil
}

func unitLetter(metres float64) string {
	switch {
	case math.Abs(metres-1) < 1e-9:
		return "m"
	case math.Abs(metres/0.3048-1) < 1e-9:
		return "ft"
	case math.Abs(metres/(1200.0/3937)-1) < 1e-9:
		return "usft"
	}
	return ""
}

// fillCheckPoints describes the comparison with check points.
func fillCheckPoints(r *report.Record, list *control.List, cmp *control.Comparison, o *Options) {
	c := &report.Checkpoints{File: report.Text(filepath.ToSlash(list.Path)), Surface: cmp.Surface, NRead: int64(cmp.NRead), NUsed: int64(cmp.NUsed), NExcluded: int64(cmp.NExcluded)}
	c.Notes = append(append(append([]string{list.Choice}, list.Warnings...), cmp.Warnings...), refused(list)...)
	sd, source := surveyAccuracy(cmp, o)
	if sd > 0 {
		c.SurveyRMSEM, c.SurveySource = report.F(sd), report.Text(source)
	}
	open, veg := cmp.DzM(control.CoverOpen), cmp.DzM(control.CoverVegetated)
	c.NVA = accuracy(open, sd)
	c.VVA = accuracy(veg, sd)
	outliers := outlierIDs(cmp)
	worst := 0.0
	for i := range cmp.Points {
		p := &cmp.Points[i]
		row := checkRow(p)
		row.Outlier = slices.Contains(outliers, p.ID)
		if p.Used && math.Abs(p.DzM) >= worst {
			worst, c.Worst = math.Abs(p.DzM), report.Text(p.ID)
		}
		c.Points = append(c.Points, row)
	}
	if c.NVA != nil {
		c.NVA.Outliers = outliers
	}
	var used []control.Point
	for i := range cmp.Points {
		if cmp.Points[i].Used {
			used = append(used, cmp.Points[i].Point)
		}
	}
	_, places := control.Places(used, control.ClusterM)
	c.Places, c.PlaceRadiusM = report.I(places), report.F(control.ClusterM)
	c.Notes = append(c.Notes, control.TestIndependence(used).Text)
	r.Checkpoints = c
	r.Reference.CheckpointSource, r.Reference.CheckpointIndependent = independence(cmp)
}

func refused(list *control.List) []string {
	var out []string
	for _, row := range list.Refused {
		out = append(out, fmt.Sprintf("line %d of the list is no point: %s", row.Row, row.Reason))
	}
	return out
}

func checkRow(p *control.PointResult) report.CheckRow {
	row := report.CheckRow{ID: p.ID, EM: p.EM, NM: p.NM, ZM: p.ZM, CloudZM: report.F(p.CloudZM), DzM: report.F(p.DzM), PlaneDzM: report.F(p.PlaneZM - p.ZM),
		Cover: string(p.Cover), Code: report.Text(p.Code), Used: p.Used, SlopePct: report.F(p.SlopePct), Returns: report.I(p.Returns), NearestM: report.F(p.NearestM), Source: report.Text(p.Source)}
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

// accuracy turns the statistics of a group of differences into the record's form, nil without points.
func accuracy(dz []float64, surveyM float64) *report.Accuracy {
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
	if t, ok := control.TestMean(dz); ok {
		out.MeanLowM, out.MeanHighM, out.BiasSignificant = report.F(t.LowM), report.F(t.HighM), report.B(t.Significant)
	}
	if n, ok := control.TestNormal(dz); ok {
		out.JarqueBera, out.JarqueBeraP, out.Normal = report.F(n.JB), report.F(n.P), report.B(n.P >= 0.05)
	}
	return out
}

// outlierIDs names the used open points farther than 3 NMAD from the median. They stay in the figures.
func outlierIDs(cmp *control.Comparison) []string {
	dz := cmp.DzM(control.CoverOpen)
	if len(dz) < 5 {
		return nil
	}
	med, spread := control.Median(dz), control.NMAD(dz)
	var ids []string
	for i := range cmp.Points {
		p := &cmp.Points[i]
		if p.Used && p.Cover != control.CoverVegetated && spread > 0 && math.Abs(p.DzM-med) > 3*spread {
			ids = append(ids, p.ID)
		}
	}
	return ids
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
