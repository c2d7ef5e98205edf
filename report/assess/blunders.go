package assess

import (
	"fmt"
	"math"
	"strings"
	"time"

	"sidelap/control"
	"sidelap/control/blunder"
	"sidelap/las"
	"sidelap/report"
	"sidelap/trajectory/rinex"
)

// blunders runs the rules for the dull reasons of a bad check point figure and adds what they find.
func (j *job) blunders(cmp *control.Comparison, g *gathered, targets []blunder.Target) {
	e := blunder.FromComparison(cmp)
	e.Extent, e.LimitM = j.extent, j.limits.ClassM
	if j.ground != nil {
		e.Control = j.ground.Points
	}
	e.Project = projector(j.crs)
	e.Zone, e.South = control.UTMZone(j.crs.Horizontal.EPSG)
	if p := projection(j.crs); p != nil && !j.extent.Empty() {
		lat, lon, err := p.Inverse((j.extent.MinEM+j.extent.MaxEM)/2, (j.extent.MinNM+j.extent.MaxNM)/2)
		if err == nil {
			e.LatDeg, e.LonDeg = lat*degrees, lon*degrees
		}
	}
	h := j.crs.Horizontal.Unit
	e.CloudUnit = h.Name
	e.CloudFeet, e.CloudUnitUS = h.Foot(), strings.Contains(strings.ToLower(h.Name), "survey")
	e.VerticalKnown, e.VerticalCRS = true, j.crs.Vertical.Name
	if e.VerticalCRS == "" {
		e.VerticalCRS = j.crs.VertDatum
	}
	e.CRSStated = j.crs.Horizontal.EPSG != 0 || j.crs.WKT != "" || j.crs.Horizontal.Name != ""
	if j.base != nil {
		if h := j.base.Header(); h.HasDelta {
			e.AntennaM = h.DeltaHENM[0]
		}
	}
	j.evidence(&e, g, targets)
	j.evidenceNotes()
	e.Time = j.timeEvidence(g)
	e.Labels = j.labelEvidence()
	rep := blunder.Find(e)
	for i := range rep.Findings {
		j.rec.Findings = append(j.rec.Findings, blunderFinding(&rep.Findings[i]))
	}
	rules := &report.RulesRun{Run: rep.Run, NotRun: []report.NotRun{}}
	for _, s := range rep.NotRun {
		rules.NotRun = append(rules.NotRun, report.NotRun{ID: s.ID, Needs: s.Needs})
	}
	j.rec.Checkpoints.Rules = rules
}

func blunderFinding(f *blunder.Finding) report.Finding {
	severity := report.SeverityNote
	if f.Severity == blunder.Serious {
		severity = report.SeverityWarning
	}
	out := report.Finding{ID: "blunder-" + strings.ToLower(f.ID), Severity: severity, Text: report.Capital(f.Title) + ": " + f.Text, DecideBy: report.Text(f.DecideBy)}
	var ev []string
	add := func(format string, a ...any) { ev = append(ev, fmt.Sprintf(format, a...)) }
	if f.Observed != "" {
		add("observed %s", f.Observed)
	}
	if f.Predicted != "" {
		add("predicted %s", f.Predicted)
	}
	if !math.IsNaN(f.ExplainedShare) {
		add("it would leave a median of %+.3f m and an RMSE of %.3f m, and explains %.0f %%", f.LeftMedianM, f.LeftRMSEM, 100*f.ExplainedShare)
	}
	if !math.IsNaN(f.ChancePct) {
		add("a match by luck has a chance of %.0f %%", f.ChancePct)
	}
	if len(f.Points) > 0 {
		add("points %s", strings.Join(f.Points, ", "))
	}
	if f.Caution != "" {
		add("%s", f.Caution)
	}
	out.Evidence = report.Text(strings.Join(ev, "; "))
	for _, r := range f.Rivals {
		out.Rivals = append(out.Rivals, fmt.Sprintf("%s (explains %.0f %%)", r.Title, 100*r.ExplainedShare))
	}
	return out
}

// timeEvidence is what the files say about their times, nil without GPS time. Times of another offset (LAS 1.5) are
// turned into adjusted ones.
func (j *job) timeEvidence(g *gathered) *blunder.TimeEvidence {
	t := &blunder.TimeEvidence{MinS: math.Inf(1), MaxS: math.Inf(-1), PathMatched: j.timesMatched}
	var all las.TimeRange
	for i, a := range j.audits {
		in := &j.rec.Inputs[i]
		if in.StartGPSS == nil || in.EndGPSS == nil {
			continue
		}
		all.Merge(g.times.ranges[i])
		t.Adjusted = a.Stated != las.TimeWeek
		offset := 0.0
		if a.Base == las.TimeOffset {
			offset = a.OffsetS - las.AdjustedOffsetS
		}
		t.MinS, t.MaxS = math.Min(t.MinS, *in.StartGPSS+offset), math.Max(t.MaxS, *in.EndGPSS+offset)
	}
	if t.MinS > t.MaxS {
		return nil
	}
	switch {
	case las.AuditTime(j.files[0].Header(), all).WeekEnd: // of all files together: the step may lie between two of them
		t.LargestBackS, t.BackWhere = las.WeekS, "the points"
	case j.track != nil && j.track.Unwrapped:
		t.LargestBackS, t.BackWhere = las.WeekS, "the path"
	}
	if j.base != nil {
		start, _ := j.base.Span()
		t.FileDate = gpsDate(start)
	}
	return t
}

// gpsDate is the date and time of GPS seconds since 1980, on the GPS time scale.
func gpsDate(s float64) time.Time {
	return time.Date(1980, 1, 6, 0, 0, 0, 0, time.UTC).Add(time.Duration(s * float64(time.Second)))
}

// labelEvidence is what the survey found about point source IDs, nil when strips were not looked for.
func (j *job) labelEvidence() *blunder.LabelEvidence {
	if j.survey == nil {
		return nil
	}
	ids := map[int]bool{}
	l := &blunder.LabelEvidence{Files: len(j.files), SplitByWhy: j.survey.Why}
	start, end := math.Inf(1), math.Inf(-1)
	for i := range j.survey.Strips {
		st := &j.survey.Strips[i]
		for _, id := range st.Sources {
			ids[id] = true
		}
		if !math.IsNaN(st.StartGPSS) {
			start, end = math.Min(start, st.StartGPSS), math.Max(end, st.EndGPSS)
		}
	}
	l.IDs, l.Zero = len(ids), ids[0]
	if end > start {
		l.DurationS = end - start
	}
	l.Turns = max(0, len(j.survey.Lines())-1)
	return l
}

// readBase reads the base log; nil without one.
func readBase(o *Options) (*rinex.Log, error) {
	if o.Base == "" {
		return nil, nil
	}
	return rinex.Read(o.Base)
}

// fillBase adds what the base log's header says to the reference box.
func fillBase(r *report.Record, l *rinex.Log) {
	if l == nil {
		return
	}
	h := l.Header()
	r.Reference.BaseMark = report.Text(h.Marker)
	if h.HasDelta {
		r.Reference.AntennaHeightM = report.F(h.DeltaHENM[0])
		r.Reference.AntennaHeightMethod = "mark to antenna reference point, from the header of the base log"
	}
	for _, d := range l.Damage() {
		r.Warnings = append(r.Warnings, "base log: "+d)
	}
}
