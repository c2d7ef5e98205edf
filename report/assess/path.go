package assess

import (
	"fmt"
	"math"
	"path/filepath"

	"sidelap/adjust"
	"sidelap/las"
	"sidelap/las/crs"
	"sidelap/overlap"
	"sidelap/report"
	"sidelap/trajectory"
	"sidelap/trajectory/geodesy"
	"sidelap/trajectory/recover"
)

// projector returns the projection of latitude and longitude into the cloud's grid, nil when it is not known.
func projector(c *crs.CRS) func(latRad, lonRad float64) (eM, nM float64, err error) {
	if p := projection(c); p != nil {
		return p.Forward
	}
	return nil
}

func projection(c *crs.CRS) *geodesy.Projector {
	if c.Projection == nil {
		return nil
	}
	p, err := geodesy.New(c.Projection)
	if err != nil {
		return nil
	}
	return p
}

// readTrack reads the path file before the points are read, so that a wrong file costs no time.
func readTrack(o *Options) (*trajectory.Track, error) {
	if o.Trajectory == "" {
		return nil, nil
	}
	return trajectory.Read(o.Trajectory, trajectory.ReadOptions{Accuracy: o.Accuracy})
}

// pathFromFile brings the path into the cloud's grid, time and height, and says what it found out.
func pathFromFile(r *report.Record, t *trajectory.Track, c *crs.CRS, intervals []trajectory.Interval, returns []trajectory.Return, audits []las.TimeAudit, o *Options) (*trajectory.Path, error) {
	row := &report.Path{Source: "file", File: report.Text(filepath.ToSlash(t.Path)), Epochs: report.I(t.Len()), RateHz: report.F(t.RateHz())}
	r.Path = row
	if len(intervals) == 0 {
		row.Notes = append(row.Notes, "the points have no GPS time: the path cannot be used")
		return nil, nil
	}
	var proj trajectory.Projector
	if p := projection(c); p != nil {
		proj = p
	}
	first, err := trajectory.MatchTime(t, intervals, nil, trajectory.MatchOptions{CloudGPS: allAdjusted(audits)})
	if err != nil {
		return nil, err
	}
	p, err := t.ToPath(proj, trajectory.PathOptions{ShiftS: first.ShiftS})
	if err != nil {
		return nil, err
	}
	match, err := trajectory.MatchTime(t, intervals, trajectory.BeamPlaneCost(p, first.ShiftS, returns), trajectory.MatchOptions{CloudGPS: allAdjusted(audits)})
	if err != nil {
		return nil, err
	}
	// The fine part is a time tag error, if it is one: the diagnosis estimates it. Only the named shift is applied.
	named := match.ShiftS - match.FineS
	if named != first.ShiftS {
		p = p.Shifted(named-first.ShiftS, 0)
	}
	row.Notes = append(row.Notes, match.Text)
	timeFindings(r, &match)
	if pl, ok := trajectory.CheckPlacement(p, returns); ok && pl.Fault {
		r.Findings = append(r.Findings, report.Finding{ID: "path-place", Severity: report.SeverityFault,
			Text: "The path does not lie over this cloud and was not used.", Evidence: report.Text(pl.Text), DecideBy: "the coordinate system of the path, and whether it is the path of this flight"})
		row.Notes = append(row.Notes, pl.Text)
		return nil, nil
	}
	hb, ok := trajectory.EstimateHeightBase(p, returns)
	if o.LeverGiven {
		hb, ok = trajectory.EstimateHeightBaseWithLever(p, o.LeverM, returns)
	}
	if ok {
		row.Notes = append(row.Notes, hb.Text)
		if hb.Fault {
			p = p.Shifted(0, hb.OffsetM)
			severity, usual := report.SeverityWarning, "another height system, such as heights above the ellipsoid"
			if t.Format == trajectory.FormatSBET {
				severity, usual = report.SeverityNote, "as expected, since this format holds heights above the ellipsoid"
			}
			r.Findings = append(r.Findings, report.Finding{ID: "path-height", Severity: severity,
				Text:     fmt.Sprintf("The path lies %.2f m off the heights of the cloud: %s. The offset was estimated and used.", -hb.OffsetM, usual),
				Evidence: report.Text(hb.Text), DecideBy: "the geoid height at the site, and the height system of the path file"})
		}
	}
	row.Notes = append(row.Notes, p.Notes...)
	row.Attitude = p.HeadingRad != nil
	row.StartGPSS, row.EndGPSS = report.F(p.TimeS[0]), report.F(p.TimeS[len(p.TimeS)-1])
	row.CoveredPct = report.F(100 * match.Overlap)
	return p, nil
}

// pathFromPoints recovers the path from the points themselves, as far as they tell it.
func pathFromPoints(r *report.Record, c *recover.Collector) (*trajectory.Path, adjust.Knowledge) {
	res := c.Recover()
	row := &report.Path{Source: "none", Notes: res.Notes}
	r.Path = row
	know := map[recover.Level]adjust.Knowledge{recover.LevelRays: adjust.FromRays, recover.LevelAngles: adjust.FromAngles}[res.Level]
	if res.Path == nil || know == "" {
		return nil, adjust.FromHeadings
	}
	p := res.Path
	row.Source, row.Epochs, row.Attitude = "recovered", report.I(len(p.TimeS)), p.HeadingRad != nil
	row.StartGPSS, row.EndGPSS = report.F(p.TimeS[0]), report.F(p.TimeS[len(p.TimeS)-1])
	worst := 0.0
	for _, l := range res.Legs {
		worst = math.Max(worst, math.Max(l.SigmaAlongM, math.Max(l.SigmaAcrossM, l.SigmaUpM)))
	}
	if worst > 0 {
		row.SigmaM = report.F(worst)
	}
	return p, know
}

// timeFindings names a time base that is more than a change of notation.
func timeFindings(r *report.Record, m *trajectory.TimeMatch) {
	if m.Fault {
		f := report.Finding{ID: "path-time", Severity: report.SeverityFault, Text: fmt.Sprintf("Path and cloud do not count the same time: %s (shift %+.3f s). The shift was used.", m.Name, m.ShiftS),
			Evidence: report.Text(m.Text), DecideBy: "the time system that the processing software exported the path and the cloud in"}
		for _, rival := range m.Rivals {
			f.Rivals = append(f.Rivals, rival.Name)
		}
		r.Findings = append(r.Findings, f)
	}
	if !m.Sure {
		r.Warnings = append(r.Warnings, m.Text)
	}
}

func stripTimes(s *overlap.Survey) []trajectory.Interval {
	var out []trajectory.Interval
	for _, st := range s.Lines() {
		if !math.IsNaN(st.StartGPSS) && st.EndGPSS > st.StartGPSS {
			out = append(out, trajectory.Interval{StartS: st.StartGPSS, EndS: st.EndGPSS})
		}
	}
	return out
}

func allAdjusted(audits []las.TimeAudit) bool {
	for _, a := range audits {
		if a.Base != las.TimeAdjusted {
			return false
		}
	}
	return true
}

// diagnose looks for the cause of separations and puts it into the record.
func diagnose(r *report.Record, s *overlap.Survey, pairs []overlap.Pair, p *trajectory.Path, know adjust.Knowledge, o *Options) *adjust.Diagnosis {
	ao := adjust.DefaultOptions()
	if know == adjust.FromPath {
		ao.LeverM = adjust.Vec(o.LeverM)
	}
	d := adjust.Diagnose(s, pairs, p, know, ao)
	if d.Judged {
		r.Causes = []report.Cause{} // looked for, whether or not one is found; null means not judged
	}
	for _, c := range d.Causes {
		unit, f := c.Kind.Unit()
		row := report.Cause{Kind: c.Kind.String(), Estimate: report.F(c.Estimate * f), Sigma: report.F(c.Sigma * f), Unit: unit, Significant: c.Significant,
			ExplainedPct: report.F(c.ExplainedPct), ConfoundedWith: []string{}, Evidence: report.Text(c.Detail)}
		if c.Strip >= 0 {
			row.Strip = report.Text(s.Strips[c.Strip].ID)
		}
		for _, k := range c.ConfoundedWith {
			row.ConfoundedWith = append(row.ConfoundedWith, k.String())
		}
		r.Causes = append(r.Causes, row)
	}
	for _, f := range d.Findings(s) {
		severity := [...]string{report.SeverityNote, report.SeverityWarning, report.SeverityFault}[f.Severity]
		r.Findings = append(r.Findings, report.Finding{ID: f.ID, Severity: severity, Text: f.Text, Evidence: report.Text(f.Evidence), Rivals: f.Rivals, DecideBy: report.Text(f.DecideBy), Strips: f.Strips})
	}
	if r.Path == nil {
		r.Path = &report.Path{Source: "none"}
	}
	r.Path.Notes = append(r.Path.Notes, "what is known of the sensor: "+string(d.Knowledge))
	return d
}
