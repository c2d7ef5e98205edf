package assess

import (
	"fmt"
	"math"
	"path/filepath"
	"runtime"
	"slices"
	"strings"

	"sidelap/las"
	"sidelap/las/crs"
	"sidelap/overlap"
	"sidelap/report"
)

const degrees = 180 / math.Pi

// newRecord returns a record with what is known before the reading.
func newRecord(o *Options) *report.Record {
	r := &report.Record{
		SchemaVersion: report.SchemaVersion,
		Program:       report.Program{Name: "sidelap", Version: o.Program, Go: runtime.Version()},
		CommandLine:   o.CommandLine,
	}
	if !o.Now.IsZero() {
		r.CreatedUTC = report.Text(o.Now.UTC().Format("2006-01-02T15:04:05Z"))
	}
	r.Options = report.Options{StripsBy: o.StripsBy, Limits: report.Text(o.Limits),
		TrajectoryFile: base(o.Trajectory), CheckpointsFile: base(o.CheckPoints)}
	if o.LeverGiven {
		r.Options.LeverM = &report.Vector{XM: o.LeverM[0], YM: o.LeverM[1], ZM: o.LeverM[2]}
	}
	for _, c := range o.Classes {
		r.Options.Classes = append(r.Options.Classes, int(c))
	}
	return r
}

func base(path string) report.Text {
	if path == "" {
		return ""
	}
	return report.Text(filepath.ToSlash(path))
}

// fillInputs lists the files, but their hashes.
func fillInputs(r *report.Record, files []*las.File, t *times) []las.TimeAudit {
	audits := make([]las.TimeAudit, len(files))
	for i, f := range files {
		h := f.Header()
		in := report.Input{Path: filepath.ToSlash(f.Path()), Bytes: f.Size(), Points: h.Points, Format: int(h.Format),
			Version: h.Version.String(), Compressed: h.Compressed, Software: report.Text(h.Software), Warnings: f.Warnings()}
		a := las.AuditTime(h, t.ranges[i])
		audits[i] = a
		in.Warnings = append(in.Warnings, a.Notes...)
		if tr := t.ranges[i]; tr.N > 0 && a.Base != las.TimeNone {
			in.StartGPSS, in.EndGPSS = report.F(tr.Min), report.F(tr.Max)
			in.TimeEncoding = map[las.TimeBase]report.Text{las.TimeWeek: "week", las.TimeAdjusted: "adjusted", las.TimeOffset: "offset"}[a.Base]
		}
		r.Inputs = append(r.Inputs, in)
	}
	return audits
}

// fillDamage says what a salvaging reading lost: a finding for each damaged file, and the counts by which
// the verdict fails.
func fillDamage(r *report.Record, files []*las.File) {
	for i, f := range files {
		loss, damaged := f.Loss()
		if !damaged {
			continue
		}
		in := &r.Inputs[i]
		in.Points -= loss.Undelivered
		in.Damaged, in.PointsLost = true, report.I(loss.Undelivered+loss.Missing)
		text := fmt.Sprintf("%s is damaged: %d points were read, %d that it announces were not; every figure here leaves them out", in.Path, in.Points, *in.PointsLost)
		r.Findings = append(r.Findings, report.Finding{ID: "input-damaged", Severity: report.SeverityFault, Text: text,
			Evidence: report.Text(strings.Join(f.Warnings(), "; ")), DecideBy: "a fresh copy of the file from its source"})
	}
}

// fillCRS describes the coordinate system and the reference box.
func fillCRS(r *report.Record, c *crs.CRS, f *las.Frame, o *Options) {
	r.CRS = report.CRS{
		Name: report.Text(c.Name), Horizontal: report.Text(c.Horizontal.Name), Vertical: report.Text(c.Vertical.Name),
		HorizontalUnit: report.Text(unitName(c.Horizontal.Unit, f.HorizontalM)), HorizontalUnitM: report.F(f.HorizontalM),
		VerticalUnit: report.Text(unitName(c.Vertical.Unit, f.VerticalM)), VerticalUnitM: report.F(f.VerticalM),
		HorizontalUnitStated: c.Horizontal.Unit.Stated, VerticalUnitStated: c.Vertical.Unit.Stated,
		WKT: report.Text(c.WKT), Notes: c.Notes,
	}
	givenUnits(&r.CRS, c, o)
	if c.Horizontal.EPSG != 0 {
		r.CRS.HorizontalEPSG = report.I(c.Horizontal.EPSG)
	}
	if c.Vertical.EPSG != 0 {
		r.CRS.VerticalEPSG = report.I(c.Vertical.EPSG)
	}
	r.Reference.VerticalDatum = report.Text(c.VertDatum)
	r.Reference.Geoid = report.Text(c.Geoid)
}

// givenUnits notes units that the person who ran the program gave: they are not assumed, and what the files say of
// them is told only where it differs.
func givenUnits(r *report.CRS, c *crs.CRS, o *Options) {
	for _, u := range []struct {
		given  float64
		of     string
		name   report.Text
		stated *bool
		file   crs.Unit
	}{{o.HorizontalM, "x and y", r.HorizontalUnit, &r.HorizontalUnitStated, c.Horizontal.Unit}, {o.VerticalM, "heights", r.VerticalUnit, &r.VerticalUnitStated, c.Vertical.Unit}} {
		if u.given <= 0 {
			continue
		}
		note := "unit of " + u.of + " as given for this assessment: " + string(u.name)
		if *u.stated && math.Abs(u.file.M/u.given-1) > 1e-9 {
			note += "; the files state " + u.file.Name
		}
		*u.stated = true
		r.Notes = append(slices.DeleteFunc(slices.Clone(r.Notes), func(s string) bool {
			return u.of == "heights" && strings.HasPrefix(s, "no vertical unit stated") || u.of != "heights" && strings.HasPrefix(s, "no horizontal unit stated")
		}), note)
	}
	if o.HorizontalM > 0 {
		for i, s := range r.Notes {
			r.Notes[i] = strings.Replace(s, "system stated: metres assumed, place", "system stated: place", 1)
		}
	}
}

// fillStrips describes the strips.
func fillStrips(r *report.Record, s *overlap.Survey) {
	r.StripsBy = report.StripsBy{Mode: string(s.Mode), Why: s.Why}
	r.Warnings = append(r.Warnings, s.Notes...)
	for i := range s.Strips {
		st := &s.Strips[i]
		row := report.Strip{
			ID: st.ID, Source: stripSource(st, s.Mode), Points: st.Points, FirstReturns: report.I(st.FirstReturns),
			StartGPSS: report.F(st.StartGPSS), EndGPSS: report.F(st.EndGPSS), HeadingDeg: report.F(st.HeadingDeg()),
			LengthM: report.F(st.LengthM), WidthM: report.F(st.WidthM), AreaM2: report.F(st.AreaM2), SpeedMPS: report.F(st.SpeedMPS),
			HeightAboveGroundM: report.F(st.HeightAGLM), DensityPerM2: report.F(st.DensityPerM2), Notes: st.Notes,
		}
		if st.RefusedMPS > 0 && !r.CRS.HorizontalUnitStated { // the likelier cause goes first
			row.Notes = append([]string{fmt.Sprintf("a speed of %.0f m/s is not plausible, and no file states the unit of x and y: in feet it would be %.0f m/s", st.RefusedMPS, st.RefusedMPS*0.3048)},
				slices.DeleteFunc(slices.Clone(row.Notes), func(s string) bool { return strings.Contains(s, "is not plausible: check the GPS times") })...)
		}
		if st.Kind != overlap.Line {
			row.Notes = append([]string{"not compared: " + st.Kind.String()}, row.Notes...)
		}
		r.Strips = append(r.Strips, row)
	}
}

func stripSource(st *overlap.Strip, mode overlap.StripMode) string {
	switch {
	case mode == overlap.StripsByTime:
		return "GPS time"
	case mode == overlap.StripsByFile:
		return "file"
	}
	return "point source ID"
}
