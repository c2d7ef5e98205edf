package assess

import (
	"context"
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

// inGrid is the path file in the cloud's grid, with the file's own times and heights. It is made once.
func (j *job) inGrid() (*trajectory.Path, error) {
	if j.grid == nil && j.gridErr == nil {
		var proj trajectory.Projector
		if p := projection(j.crs); p != nil {
			proj = p
		}
		j.grid, j.gridErr = j.track.ToPath(proj, trajectory.PathOptions{})
	}
	return j.grid, j.gridErr
}

// pathFromFile brings the path into the cloud's grid, time and height, and says what it found out.
func pathFromFile(r *report.Record, t *trajectory.Track, inGrid func() (*trajectory.Path, error), intervals []trajectory.Interval, returns []trajectory.Return, audits []las.TimeAudit, o *Options) (*trajectory.Path, error) {
	row := &report.Path{Source: "file", File: report.Text(filepath.ToSlash(t.Path)), Epochs: report.I(t.Len()), RateHz: report.F(t.RateHz())}
	r.Path = row
	if len(intervals) == 0 {
		row.Notes = append(row.Notes, "the points have no GPS time: the path cannot be used")
		return nil, nil
	}
	first, err := trajectory.MatchTime(t, intervals, nil, trajectory.MatchOptions{CloudGPS: allAdjusted(audits)})
	if err != nil {
		return nil, err
	}
	grid, err := inGrid()
	if err != nil {
		return nil, err
	}
	p := grid.Shifted(first.ShiftS, 0)
	match, err := trajectory.MatchTime(t, intervals, trajectory.BeamPlaneCost(p, first.ShiftS, returns), trajectory.MatchOptions{CloudGPS: allAdjusted(audits)})
	if err != nil {
		return nil, err
	}
	// The fine part is a time tag error, if it is one: a small one is left to the diagnosis, which estimates it.
	named := match.ShiftS - match.FineS
	if math.Abs(match.FineS) > maxTagS {
		named = match.ShiftS
	}
	if named != first.ShiftS {
		p = p.Shifted(named-first.ShiftS, 0)
	}
	row.Notes = append(row.Notes, match.Text)
	if pl, ok := trajectory.CheckPlacement(p, returns); ok && pl.Fault {
		r.Findings = append(r.Findings, report.Finding{ID: "path-place", Severity: report.SeverityFault,
			Text: "The path does not lie over this cloud and was not used.", Evidence: report.Text(pl.Text), DecideBy: "the coordinate system of the path, and whether it is the path of this flight"})
		row.Notes = append(row.Notes, pl.Text)
		return nil, nil
	}
	if timeFindings(r, &match); match.Fault && !match.Sure {
		return nil, nil
	}
	if !fitsBeams(r, p, returns) {
		return nil, nil
	}
	if match.Overlap < wholePath {
		r.Findings = append(r.Findings, report.Finding{ID: "path-cover", Severity: report.SeverityWarning,
			Text:     fmt.Sprintf("The path covers %.0f %% of the cloud's time: the rest was judged without it.", 100*match.Overlap),
			Evidence: report.Text(match.Text), DecideBy: "the whole path of the flight"})
	}
	hb, ok := trajectory.EstimateHeightBase(p, returns)
	if o.LeverGiven {
		hb, ok = trajectory.EstimateHeightBaseWithLever(p, o.LeverM, returns)
	}
	if ok {
		row.Notes = append(row.Notes, hb.Text)
		if n := -hb.OffsetM; hb.Fault && (n < lowestGeoidM-3*hb.SigmaM || n > highestGeoidM+3*hb.SigmaM) {
			r.Findings = append(r.Findings, report.Finding{ID: "path-height", Severity: report.SeverityFault,
				Text:     fmt.Sprintf("The path lies %.1f m off the heights of the cloud, more than any geoid explains. It was not used.", n),
				Evidence: report.Text(hb.Text), DecideBy: "the units and the height system of the path file, and whether it is the path of this flight"})
			return nil, nil
		}
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

// maxTagS is the largest time tag error in seconds that is left to the diagnosis, whose equations are linear in it.
const maxTagS = 0.05

// wholePath is the share of the cloud's time that a path covers when nothing but the ends of strips is missing.
const wholePath = 0.99

// Bounds of the geoid separation on Earth, rounded outwards: about -107 m south of India, +86 m in New Guinea (from memory).
const lowestGeoidM, highestGeoidM = -110, 90

// fitsBeams compares the path with the beams of the cloud. A path beside the flight is refused; of one whose heading is
// another angle the attitude is dropped and the place kept.
func fitsBeams(r *report.Record, p *trajectory.Path, returns []trajectory.Return) bool {
	b, ok := trajectory.CheckBeams(p, returns)
	if !ok {
		return true
	}
	r.Path.Notes = append(r.Path.Notes, b.Text)
	switch {
	case b.Displaced:
		r.Findings = append(r.Findings, report.Finding{ID: "path-place", Severity: report.SeverityFault,
			Text:     fmt.Sprintf("The path lies %.1f m beside the flight of this cloud (%+.1f m east, %+.1f m north). It was not used.", math.Hypot(b.ShiftEM, b.ShiftNM), b.ShiftEM, b.ShiftNM),
			Evidence: report.Text(b.Text), Rivals: []string{"another horizontal datum or epoch", "another zone or false origin", "a base station with wrong coordinates in one of the two"},
			DecideBy: "the coordinate system and the base coordinates that path and cloud were processed with"})
		return false
	case b.HeadingRefuted:
		p.RollRad, p.PitchRad, p.HeadingRad = nil, nil, nil
		r.Findings = append(r.Findings, report.Finding{ID: "path-heading", Severity: report.SeverityFault,
			Text:     fmt.Sprintf("The heading of the path is not that of the scanner: the beams stand %+.0f° off square to it, and it differs from the course by %.0f°. The path's attitude was not used, its positions were.", b.TurnedRad*degrees, b.OffCourseRad*degrees),
			Evidence: report.Text(b.Text), Rivals: []string{"a heading column that holds another angle", "axes of the payload that were not turned into those of the aircraft"},
			DecideBy: "the column order and the angle conventions of the export"})
	}
	return true
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

// timeFindings names a time base that is more than a change of notation. One that nothing decides is not used.
func timeFindings(r *report.Record, m *trajectory.TimeMatch) {
	if m.Fault {
		f := report.Finding{ID: "path-time", Severity: report.SeverityFault, Text: fmt.Sprintf("Path and cloud do not count the same time: %s (shift %+.3f s). The shift was used.", m.Name, m.ShiftS),
			Evidence: report.Text(m.Text), DecideBy: "the time system that the processing software exported the path and the cloud in"}
		if !m.Sure {
			f.Severity, f.Text = report.SeverityWarning, fmt.Sprintf("Path and cloud may not count the same time: %s (shift %+.3f s) is likeliest, but not decided. The path was not used.", m.Name, m.ShiftS)
		}
		for _, rival := range m.Rivals {
			f.Rivals = append(f.Rivals, rival.Name)
		}
		r.Findings = append(r.Findings, f)
	}
	if math.Abs(m.FineS) > maxTagS {
		r.Findings = append(r.Findings, report.Finding{ID: "path-time", Severity: report.SeverityFault,
			Text:     fmt.Sprintf("The time tags of path and cloud differ by %+.3f ± %.3f s, which is no known change of time system. The shift was used.", m.FineS, m.SigmaS),
			Evidence: report.Text(m.Text), Rivals: []string{"time tags of the scanner without the second pulse of the receiver", "a path resampled or shifted by hand"},
			DecideBy: "how path and points got their times in processing"})
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
func diagnose(ctx context.Context, r *report.Record, s *overlap.Survey, pairs []overlap.Pair, p *trajectory.Path, know adjust.Knowledge, o *Options) (*adjust.Diagnosis, error) {
	ao := adjust.DefaultOptions()
	if know == adjust.FromPath {
		ao.LeverM = adjust.Vec(o.LeverM)
	}
	d, err := adjust.DiagnoseContext(ctx, s, pairs, p, know, ao)
	if err != nil {
		return nil, err
	}
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
	return d, nil
}
