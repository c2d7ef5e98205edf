package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"sidelap/control/audit"
	"sidelap/las/disk"
	"sidelap/report"
	"sidelap/report/assess"
)

// auditRecord is the form of an audit under --json.
type auditRecord struct {
	SchemaVersion  int                  `json:"schema_version"`
	File           string               `json:"file"`
	Rows           []auditRow           `json:"rows"`
	Checked        int                  `json:"checked"`
	Contradictions []auditContradiction `json:"contradictions"`
	Notes          []string             `json:"notes"`
}

// auditRow is one group of the table as read; lengths in metres.
type auditRow struct {
	Name    string        `json:"name"`
	Line    int           `json:"line"`
	Figures []auditFigure `json:"figures"`
}

type auditFigure struct {
	Kind  string   `json:"kind"`
	Text  string   `json:"text"`
	Value *float64 `json:"value"` // metres, but for n; null when it is no number
}

type auditContradiction struct {
	Row     string   `json:"row"`
	Line    int      `json:"line"`
	Rule    string   `json:"rule"`
	Printed string   `json:"printed"`
	Asked   string   `json:"asked"`
	Figures []string `json:"figures"`
}

// maxTableBytes bounds a table of figures.
const maxTableBytes = 64 << 20

// audit tests a table of figures against itself.
func (a *app) audit(c *cobra.Command, path string, args []string) error {
	if len(args) > 0 {
		return usagef("--audit reads no cloud; leave out %s", strings.Join(args, ", "))
	}
	others := c.Flags().NFlag()
	for _, name := range []string{"audit", "json", "quiet"} {
		if c.Flags().Changed(name) {
			others--
		}
	}
	if others > 0 {
		return usagef("--audit reads a table of figures only: of the other flags --json and --quiet alone have a meaning with it")
	}
	if err := assess.Present([][2]string{{"audit", path}}); err != nil {
		return err
	}
	b, err := disk.Read(path, maxTableBytes)
	if err != nil {
		return err
	}
	r, err := audit.AuditTable(bytes.NewReader(b))
	if err != nil {
		return &assess.InputError{Path: path, Err: err}
	}
	if a.json {
		err = a.printAuditJSON(path, r)
	} else {
		err = a.printAudit(path, r)
	}
	switch {
	case err != nil:
		return err
	case len(r.Contradictions) > 0:
		return &verdictError{exitExceeded}
	case r.Checked == 0:
		return &verdictError{exitNotJudged}
	}
	return nil
}

func (a *app) printAudit(path string, r *audit.Result) error {
	var b strings.Builder
	fmt.Fprintf(&b, "%s: %s, %s checked, ", printable(path), report.Counted(len(r.Table.Rows), "group", "groups"), report.Counted(r.Checked, "rule", "rules"))
	if n := len(r.Contradictions); n == 0 {
		b.WriteString("no contradiction\n")
	} else {
		b.WriteString(report.Counted(n, "contradiction", "contradictions") + "\n")
	}
	b.WriteString("Read as\n")
	for i := range r.Table.Rows {
		row := &r.Table.Rows[i]
		var parts []string
		for _, f := range row.Figures {
			parts = append(parts, strings.TrimSpace(fmt.Sprintf("%s %s %s", f.Kind, f.Text, unitOf(&f))))
		}
		fmt.Fprintf(&b, "  %s%s\n", rowName(row.Name, row.Line), printable(strings.Join(parts, ", ")))
	}
	for i, c := range r.Contradictions {
		if i == 0 {
			b.WriteString("Contradictions\n")
		}
		fmt.Fprintf(&b, "- %s%s\n    printed: %s\n", rowName(c.Row, c.Line), c.Rule, printable(c.Printed))
		if c.Asked != "" {
			fmt.Fprintf(&b, "    it asks for: %s\n", printable(c.Asked))
		}
	}
	for _, n := range r.Notes {
		b.WriteString("note: " + printable(n) + "\n")
	}
	b.WriteString("This tests the figures against each other, allowing for their rounding. A table without a contradiction is not thereby right.\n")
	_, err := a.stdout.Write([]byte(b.String()))
	return err
}

// unitOf is the unit to show behind a figure that does not carry it itself.
func unitOf(f *audit.Figure) string {
	if !f.OK || f.Kind == audit.N || f.Unit == "" || strings.HasSuffix(f.Text, f.Unit) {
		return ""
	}
	return f.Unit
}

func rowName(name string, line int) string {
	switch {
	case name != "" && line > 0:
		return fmt.Sprintf("%s (line %d): ", printable(name), line)
	case name != "":
		return printable(name) + ": "
	case line > 0:
		return fmt.Sprintf("line %d: ", line)
	}
	return ""
}

func (a *app) printAuditJSON(path string, r *audit.Result) error {
	out := auditRecord{SchemaVersion: 1, File: path, Checked: r.Checked, Rows: []auditRow{}, Contradictions: []auditContradiction{}, Notes: r.Notes}
	if out.Notes == nil {
		out.Notes = []string{}
	}
	for i := range r.Table.Rows {
		row := auditRow{Name: r.Table.Rows[i].Name, Line: r.Table.Rows[i].Line, Figures: []auditFigure{}}
		for _, f := range r.Table.Rows[i].Figures {
			g := auditFigure{Kind: string(f.Kind), Text: f.Text}
			if f.OK {
				g.Value = &f.Value
			}
			row.Figures = append(row.Figures, g)
		}
		out.Rows = append(out.Rows, row)
	}
	for _, c := range r.Contradictions {
		out.Contradictions = append(out.Contradictions, auditContradiction(c))
	}
	b, err := json.MarshalIndent(out, "", "  ")
	if err != nil {
		return err
	}
	_, err = a.stdout.Write(append(b, '\n'))
	return err
}
