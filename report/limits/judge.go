package limits

import (
	"fmt"
	"math"
	"strconv"

	"sidelap/control"
	"sidelap/report"
)

// Judge compares the record with the set.
//
// A criterion passes when its unrounded value keeps the limit, equality
// included. Without data it is not judged and says why. The verdict is fail
// when a criterion fails, else not judged when a criterion that is not optional and that
// can be applied to such a cloud is not judged, else pass; a set in which nothing can be judged is never passed.
func Judge(rec *report.Record, s *Set) report.Verdict {
	v := report.Verdict{Limits: report.Text(s.Name), Title: report.Text(s.Title), Source: report.Text(s.Source), Criteria: []report.Criterion{}}
	failed, open, judged := false, false, 0
	for _, l := range s.Limits {
		c := judgeOne(rec, s, l)
		v.Criteria = append(v.Criteria, c)
		switch {
		case c.Result == report.Fail:
			failed = true
		case c.Result == report.Pass:
			judged++
		case l.Sense != Report && !l.Optional && tooDense(rec, l.ID) == "":
			open = true
		}
	}
	if c := damaged(rec); c != nil {
		v.Criteria, failed = append(v.Criteria, *c), true
	}
	switch {
	case failed:
		v.Result = report.Fail
	case open || judged == 0:
		v.Result = report.NotJudged
	default:
		v.Result = report.Pass
	}
	v.Notes = append(v.Notes, notes(rec, s)...)
	v.Notes = append(v.Notes, s.Notes...)
	return v
}

// damaged is the criterion that a survey fails when a file was read past damage, whatever the set; nil
// when all files are whole.
func damaged(rec *report.Record) *report.Criterion {
	n := 0
	for i := range rec.Inputs {
		if rec.Inputs[i].Damaged {
			n++
		}
	}
	if n == 0 {
		return nil
	}
	return &report.Criterion{ID: "damaged_files", Name: "damaged files", Group: Coverage, Unit: "1", Sense: Max, Value: report.F(float64(n)),
		Limit: report.F(0), Result: report.Fail, Reason: "points behind the damage were lost: see the findings", Source: "a cloud with lost points is not complete: our proposal"}
}

func judgeOne(rec *report.Record, s *Set, l Limit) report.Criterion {
	m := measureOf(l.ID)
	if m == nil {
		return report.Criterion{ID: l.ID, Name: l.ID, Group: Coverage, Unit: "1", Sense: l.Sense, Result: report.NotJudged,
			Reason: "this program does not know the criterion", Source: l.Source}
	}
	c := report.Criterion{ID: l.ID, Name: m.name, Group: m.group, Unit: m.unit, Sense: l.Sense, Source: l.Source, Result: report.NotJudged}
	if l.Sense != Report {
		c.Limit = report.F(l.Limit)
	}
	value, why := m.value(rec)
	if value == nil && l.Sense == Max && m.atLeast != nil {
		if least := m.atLeast(rec); least != nil && *least > l.Limit {
			c.Value, c.Result = least, report.Fail
			c.Reason = "the RMSE of the fit alone is above the limit; the error of the check point survey, which is unknown, can only add to it"
			return c
		}
	}
	switch {
	case value == nil || math.IsNaN(*value) || math.IsInf(*value, 0):
		c.Reason = report.Text(why)
		return c
	case l.Sense == Report:
		c.Value, c.Reason = value, "reported as found: the standard sets no limit"
		return c
	}
	c.Value = value
	if why := tooDense(rec, m.id); why != "" {
		c.Reason = report.Text(why)
		return c
	}
	if why := unfit(rec, s, m); why != "" {
		c.Reason = report.Text(why)
		return c
	}
	ok := *value <= l.Limit
	if l.Sense == Min {
		ok = *value >= l.Limit
	}
	if why := tooFew(rec, m, ok); why != "" {
		c.Reason = report.Text(why)
		return c
	}
	if why := overCorrected(rec, m, l.Limit); why != "" {
		c.Reason = report.Text(why)
		return c
	}
	if c.Result = report.Fail; ok {
		c.Result = report.Pass
	}
	if m.id == "voids" && !ok && s.Basis == LBS {
		c.Result = report.NotJudged
		c.Reason = "voids are acceptable over water, dark roofs and asphalt and in the shadow of buildings only: look at each in the list"
	}
	return c
}

// maxReturnsPerCell is the number of returns up to which the highest less the lowest of a cell says how smooth a surface
// is. The rule was written for a few returns in a cell (2 per m2 in 2 m cells: 8). Of 40 normal errors the range is 4.3
// standard deviations, of 1000 it is 6.5, so that a dense cloud fails by its density alone. Our proposal; the expected
// range of normal errors is from memory.
const maxReturnsPerCell = 40

// tooDense tells why the range in a cell cannot be judged for a dense cloud, "" when it can.
func tooDense(rec *report.Record, id string) string {
	if id != "smooth_max" && id != "smooth_rmsd" {
		return ""
	}
	r, c := rec.Repeatability, rec.Coverage
	if r == nil || r.LBS == nil || c == nil || c.StripDensityPerM2 == nil {
		return ""
	}
	n := *c.StripDensityPerM2 * r.LBS.CellM * r.LBS.CellM
	if n <= maxReturnsPerCell {
		return ""
	}
	return "the rule takes the highest less the lowest return of a cell; at the density of this cloud noise alone makes that range, so it is shown and not judged: read the rms of plane residuals"
}

// minCells is the number of cells that a figure of strips must rest on to be judged: what the diagnosis asks of all pairs
// together, and of one pair for the height of a strip. Our proposal; the Lidar Base Specification asks for about 100 cells for each surface inside a strip.
const minCells = 40

// tooFew tells why a figure of strips rests on too few cells, "" when it does not. The largest difference of few cells
// is no larger than that of many: beyond the limit it fails all the same.
func tooFew(rec *report.Record, m *measure, kept bool) string {
	cells := int64(minCells)
	switch m.id {
	case "swath_rmsd", "swath_max", "swath_p95", "swath_within_pct":
		cells = rec.Separation.Cells
	case "pair_rmsd", "pair_median":
		cells = mostCells(rec)
	case "smooth_max", "smooth_rmsd":
		cells = rec.Repeatability.LBS.Cells
	case "smooth_rms", "smooth_p95":
		cells = rec.Repeatability.Cells
	}
	if cells >= minCells || !kept && (m.id == "swath_max" || m.id == "smooth_max") {
		return ""
	}
	if m.id == "pair_rmsd" || m.id == "pair_median" {
		return fmt.Sprintf("no pair was compared in more than %s: fewer than the %d that are judged", report.Counted(cells, "cell", "cells"), minCells)
	}
	return fmt.Sprintf("it rests on %s only: fewer than the %d that are judged", report.Counted(cells, "cell", "cells"), minCells)
}

// overCorrected tells why the largest range of a cell is no difference: where slope times cell is more than the range,
// what is left is below zero by the slope, not by the noise. "" when a range above zero is beyond the limit, or none is.
func overCorrected(rec *report.Record, m *measure, limit float64) string {
	if m.id != "smooth_max" {
		return ""
	}
	p := rec.Repeatability.LBS
	if p.MinM == nil || p.MaxM == nil || -*p.MinM <= limit || *p.MaxM > limit {
		return ""
	}
	return "the cell farthest from zero has a slope that takes off more than its range: that is the slope, not the noise; choose level hard surfaces"
}

// unfit tells why check points can not carry a judgement under the set.
func unfit(rec *report.Record, s *Set, m *measure) string {
	if m.group != Absolute || rec.Checkpoints == nil {
		return ""
	}
	if survey := rec.Checkpoints.SurveyRMSEM; survey != nil && !s.SurveyGoodEnough(*survey) {
		times := "twice"
		if s.Basis == ASPRSEd1 {
			times = "three times"
		}
		return fmt.Sprintf("the check points are accurate to %.4f m; the standard asks them to be %s as accurate as the class of %s cm", *survey, times, strconv.FormatFloat(100*s.ClassM, 'g', 4, 64))
	}
	return ""
}

// notes are what a standard asks to say beside a result.
func notes(rec *report.Record, s *Set) []string {
	var out []string
	if rec.Checkpoints == nil || rec.Checkpoints.NVA == nil {
		return nil
	}
	a := rec.Checkpoints.NVA
	if need := s.PointsRequired(); a.N > 0 && a.N < need {
		out = append(out, fmt.Sprintf("%d check points in the open were used; the standard calls for %d: the class can only be stated as the one the data were produced to meet, with the figure found from the reduced number", a.N, need))
	}
	if a.MeanM != nil && s.ClassM > 0 && control.BiasWarning(*a.MeanM, s.ClassM) {
		out = append(out, "the mean difference is above 25 % of the class: the standard asks to find the cause and to report it")
	}
	if s.Basis == ASPRSEd1 && rec.Checkpoints.SurveyRMSEM == nil {
		out = append(out, "whether the check points are three times as accurate as the class is unknown: the accuracy of their survey was not given")
	}
	if i := rec.Reference.CheckpointIndependent; i != nil && !*i {
		out = append(out, "the check points come from the same base as the trajectory: the absolute figures hold relative to this base")
	}
	return out
}

// ExitCode returns the exit status for a verdict: 0 within the limits, 1 a
// limit exceeded, 4 not enough data to judge.
func ExitCode(v report.Verdict) int {
	switch v.Result {
	case report.Pass:
		return 0
	case report.Fail:
		return 1
	}
	return 4
}

// Statement returns the fields of the accuracy statement that the set's
// standard asks for, nil when the set has no standard. Case is tested,
// tested_reduced (fewer points than the standard calls for) or produced (none).
func Statement(rec *report.Record, s *Set) *report.Statement {
	need := s.PointsRequired()
	if need == 0 {
		return nil
	}
	st := &report.Statement{Standard: "ASPRS Positional Accuracy Standards for Digital Geospatial Data", Edition: "Edition 2, Version 2.0 (2024)", Case: "produced",
		ClassM: report.F(s.ClassM), Component: "RMSE_V", PointsRequired: report.I(need)}
	if s.Basis == ASPRSEd1 {
		st.Edition, st.Component = "Edition 1, Version 1.0 (2014)", "RMSE_z"
	}
	c := rec.Checkpoints
	if c == nil || c.NVA == nil || c.NVA.N == 0 {
		st.Complete = true
		return st
	}
	st.NVACount, st.SurveyRMSEM = c.NVA.N, c.SurveyRMSEM
	independent := rec.Reference.CheckpointIndependent
	switch {
	case independent == nil || !*independent:
		st.Case = "produced" // "tested" is for check points that are known to be independent
	case c.NVA.N < need:
		st.Case = "tested_reduced"
	default:
		st.Case = "tested"
	}
	if s.Basis == ASPRSEd1 {
		st.NVAM, st.NVA95M = c.NVA.RMSEM, c.NVA.Accuracy95M
	} else if c.SurveyRMSEM != nil {
		st.NVAM = c.NVA.RMSEWithSurveyM
	}
	if c.SurveyRMSEM == nil {
		st.Missing = append(st.Missing, "accuracy of the check point survey")
	}
	if independent == nil {
		st.Missing = append(st.Missing, "whether the check points are independent")
	} else if !*independent {
		st.Missing = append(st.Missing, "independent check points: these share the base of the trajectory")
	}
	if v := c.VVA; v != nil && v.N > 0 {
		st.VVACount = v.N
		if s.Basis == ASPRSEd1 {
			st.VVAM, st.VVAMeasure = v.P95AbsM, "p95_abs"
		} else {
			st.VVAMeasure = "rmse"
			if c.SurveyRMSEM != nil {
				st.VVAM = v.RMSEWithSurveyM
			}
		}
	}
	st.Complete = len(st.Missing) == 0
	return st
}
