package main

import (
	"fmt"
	"io"
	"path/filepath"
	"strings"
	"time"

	"sidelap/report"
)

// writeBrief tells the result in five lines, each from the record.
func writeBrief(w io.Writer, rec *report.Record, out string, took time.Duration) error {
	var points int64
	for _, in := range rec.Inputs {
		points += in.Points
	}
	lines := []string{
		fmt.Sprintf("Read:     %.1f million points in %d strips, %d overlaps, %.0f s with flying and reports.", float64(points)/1e6, len(rec.Strips), len(rec.Pairs), took.Seconds()),
		"Strips:   " + briefSeparation(rec),
		"Checks:   " + briefChecks(rec),
		"Cause:    " + briefCause(rec),
		"Verdict:  " + briefVerdict(rec) + " Open " + printable(filepath.Join(out, "report.html")),
	}
	_, err := fmt.Fprintln(w, strings.Join(lines, "\n"))
	return err
}

func briefSeparation(rec *report.Record) string {
	s := rec.Separation
	if s == nil || s.RMSDM == nil {
		return "no overlap to compare."
	}
	return fmt.Sprintf("they lie %.3f m apart (RMSD of %d cells), 95 %% within %.3f m.", *s.RMSDM, s.Cells, report.Get(s.P95AbsM))
}

func briefChecks(rec *report.Record) string {
	c := rec.Checkpoints
	if c == nil || c.NVA == nil || c.NVA.RMSEM == nil {
		return "no check points on open ground."
	}
	return fmt.Sprintf("RMSEz %.3f m on %d open points (95 %% interval %.3f to %.3f m), mean %+.3f m.", *c.NVA.RMSEM, c.NVA.N, report.Get(c.NVA.RMSELowM), report.Get(c.NVA.RMSEHighM), report.Get(c.NVA.MeanM))
}

func briefCause(rec *report.Record) string {
	var parts []string
	for _, c := range rec.Causes {
		if c.Significant && c.Estimate != nil && c.Sigma != nil && c.Strip == "" {
			digits, unit := 3, " "+c.Unit
			if c.Unit == "1" { // a ratio
				digits, unit = 6, ""
			}
			parts = append(parts, fmt.Sprintf("%s %+.*f ± %.*f%s", strings.ReplaceAll(c.Kind, "_", " "), digits, *c.Estimate, digits, *c.Sigma, unit))
		}
	}
	if len(parts) == 0 {
		return "none found."
	}
	return strings.Join(parts, ", ") + "."
}

func briefVerdict(rec *report.Record) string {
	word := map[string]string{report.Pass: "within the limits", report.Fail: "outside the limits", report.NotJudged: "not judged"}[rec.Verdict.Result]
	var failed []string
	for _, c := range rec.Verdict.Criteria {
		if c.Result == report.Fail {
			failed = append(failed, c.Name)
		}
	}
	if len(failed) > 0 {
		word += " of " + string(rec.Verdict.Limits) + " (" + strings.Join(failed, ", ") + ")"
	}
	return word + "."
}
