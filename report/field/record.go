package field

import (
	"path/filepath"
	"runtime"
	"slices"
	"strings"

	"sidelap/las"
	"sidelap/report"
	"sidelap/trajectory/fieldcheck"
)

func stem(path string) string {
	b := filepath.Base(path)
	return strings.TrimSuffix(b, filepath.Ext(b))
}

func slashed(path string) report.Text {
	if path == "" {
		return ""
	}
	return report.Text(filepath.ToSlash(path))
}

// record makes the results record of the check. Files are not hashed: that would take longer than the check.
func (j *job) record(rep *Report) *report.Record {
	o := &j.o
	r := &report.Record{
		SchemaVersion: report.SchemaVersion,
		Program:       report.Program{Name: "sidelap", Version: o.Program, Go: runtime.Version()},
		CommandLine:   o.CommandLine,
		Options:       report.Options{StripsBy: o.StripsBy, TrajectoryFile: slashed(o.Trajectory), CheckpointsFile: slashed(o.CheckPoints), Limits: report.Text(o.asked())},
		Verdict:       report.Verdict{Result: report.NotJudged, Criteria: []report.Criterion{}, Notes: []string{"a field check: nothing was compared with limits of a standard"}},
		Warnings:      slices.Clone(j.notes),
	}
	if !o.Now.IsZero() {
		r.CreatedUTC = report.Text(o.Now.UTC().Format("2006-01-02T15:04:05Z"))
	}
	if j.cloud != nil {
		j.recordInputs(r)
	}
	if k := j.grid.crs; k != nil {
		r.CRS = report.CRS{Name: report.Text(k.Name), Horizontal: report.Text(k.Horizontal.Name), Vertical: report.Text(k.Vertical.Name),
			HorizontalUnit: report.Text(k.Horizontal.Unit.Name), HorizontalUnitM: report.F(k.Horizontal.Unit.M), HorizontalUnitStated: k.Horizontal.Unit.Stated,
			VerticalUnit: report.Text(k.Vertical.Unit.Name), VerticalUnitM: report.F(k.Vertical.Unit.M), VerticalUnitStated: k.Vertical.Unit.Stated, WKT: report.Text(k.WKT)}
		if k.Horizontal.EPSG != 0 {
			r.CRS.HorizontalEPSG = report.I(k.Horizontal.EPSG)
		}
		if j.grid.note != "" {
			r.CRS.Notes = []string{j.grid.note}
		}
	}
	if j.survey != nil {
		r.StripsBy = report.StripsBy{Mode: string(j.survey.Mode), Why: j.survey.Why}
	}
	j.recordStrips(r)
	j.recordPath(r)
	r.Field = fieldSection(rep.Report)
	return r
}

func (j *job) recordInputs(r *report.Record) {
	for i, s := range j.cloud.files {
		in := report.Input{Path: filepath.ToSlash(s.path)}
		if s.f != nil {
			h := s.f.Header()
			in.Bytes, in.Points, in.Format, in.Version = s.f.Size(), j.in.Files[i].Present, int(h.Format), h.Version.String()
			in.Compressed, in.Software, in.Warnings = h.Compressed, report.Text(h.Software), s.f.Warnings()
		} else {
			in.Warnings = []string{s.problem}
		}
		if s.times.N > 0 && s.audit.Base != las.TimeNone {
			in.StartGPSS, in.EndGPSS = report.F(s.times.Min), report.F(s.times.Max)
			in.TimeEncoding = map[las.TimeBase]report.Text{las.TimeWeek: "week", las.TimeAdjusted: "adjusted", las.TimeOffset: "offset"}[s.audit.Base]
		}
		r.Inputs = append(r.Inputs, in)
	}
}

func (j *job) recordStrips(r *report.Record) {
	for _, s := range j.in.Strips {
		row := report.Strip{ID: s.ID, Source: r.StripsBy.Mode, Points: s.Points, StartGPSS: report.F(s.StartS + j.epochS), EndGPSS: report.F(s.EndS + j.epochS),
			HeadingDeg: report.F(s.HeadingRad * toDeg)}
		row.LengthM, row.HeightAboveGroundM = positive(s.LengthM), positive(s.HeightAboveGroundM)
		row.DensityPerM2, row.DensityP5PerM2 = positive(s.DensityPerM2), positive(s.LowDensityPerM2)
		if s.LengthM > 0 && s.EndS > s.StartS {
			row.SpeedMPS = report.F(s.LengthM / (s.EndS - s.StartS))
		}
		r.Strips = append(r.Strips, row)
	}
}

// positive is nil for 0, which stands for "not known" here.
func positive(v float64) *float64 {
	if v <= 0 {
		return nil
	}
	return report.F(v)
}

func (j *job) recordPath(r *report.Record) {
	if j.track == nil {
		r.Path = &report.Path{Source: "none"}
		return
	}
	p := j.placed.path
	r.Path = &report.Path{Source: "file", File: slashed(j.track.Path), Epochs: report.I(j.track.Len()), RateHz: report.F(j.track.RateHz()),
		StartGPSS: report.F(p.TimeS[0]), EndGPSS: report.F(p.TimeS[len(p.TimeS)-1]), Attitude: p.HasAttitude(), Notes: p.Notes}
}

// fieldSection turns the checks into the record's form.
func fieldSection(rep *fieldcheck.Report) *report.Field {
	f := &report.Field{Verdict: string(rep.Verdict)}
	for _, c := range rep.Checks {
		row := report.FieldCheck{ID: c.ID, Name: report.Text(c.Title), Value: report.F(c.Value), Unit: c.Unit, Limit: report.F(c.Limit), Sense: report.Text(c.Sense),
			Result: string(c.Result), Strips: append([]string{}, c.Strips...), Basis: report.Text(c.Basis), Note: report.Text(c.Note)}
		f.Checks = append(f.Checks, row)
	}
	return f
}
