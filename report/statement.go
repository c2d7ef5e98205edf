package report

import (
	"slices"
	"strings"
)

// statedTable holds the fields that a standard asks for on one subject.
type statedTable struct {
	title  string
	chosen bool // of the standard of the limits
	rows   [][2]string
}

// stated lists the fields of the statements of every standard, that of the limits first. What holds for all subjects of a
// standard stands in its first table only.
func (v *view) stated() []statedTable {
	if v.rec.Checkpoints == nil {
		return nil
	}
	var chosen, others []statedTable
	for i := range v.rec.Checkpoints.Editions {
		e := &v.rec.Checkpoints.Editions[i]
		for k := range e.Statements {
			t := statedTable{title: shortTitle(e) + ": " + e.Statements[k].Subject, chosen: e.Chosen, rows: e.Statements[k].rows()}
			if k == 0 {
				t.rows = append(t.rows, [2]string{"the standard's own sentences stand in", string(e.TakeFrom)})
			} else {
				t.rows = slices.DeleteFunc(t.rows, func(r [2]string) bool {
					return common[r[0]] && slices.Contains(e.Statements[0].rows(), r)
				})
			}
			if e.Chosen {
				chosen = append(chosen, t)
			} else {
				others = append(others, t)
			}
		}
	}
	return append(chosen, others...)
}

// common are the fields that are said once when they are alike.
var common = map[string]bool{"spread of the points": true, "source of the points": true, "accuracy of the check survey": true}

// rows are the fields in our words and what is missing.
func (p *StatementPart) rows() [][2]string {
	var rows [][2]string
	for _, f := range p.Fields {
		rows = append(rows, [2]string{f.Name, f.Value})
	}
	if len(p.Missing) > 0 {
		rows = append(rows, [2]string{"incomplete, missing", strings.Join(p.Missing, "; ")})
	}
	return rows
}

// shortTitle is a standard's name as a caption has room for.
func shortTitle(e *Edition) string {
	short := map[string]string{"asprs-1": "ASPRS Edition 1 (2014)", "asprs-2": "ASPRS Edition 2 (2024)", "nssda": "NSSDA (1998)"}[e.ID]
	if short == "" {
		short = e.Title
	}
	if e.Chosen {
		short += ", the standard of the limits"
	}
	return short
}

// statedLines say in a line for each subject what the standard of the limits lets one state.
func (v *view) statedLines() []string {
	var lines []string
	if c := v.rec.Checkpoints; c.NUsed == 0 && (c.Horizontal == nil || c.Horizontal.N == 0) {
		return nil
	}
	for i := range v.rec.Checkpoints.Editions {
		e := &v.rec.Checkpoints.Editions[i]
		if !e.Chosen {
			continue
		}
		for k := range e.Statements {
			p := &e.Statements[k]
			line := "statement by " + e.place() + ", " + p.Subject
			if len(p.Fields) > 0 {
				line += ": " + p.Fields[0].Value
			}
			if len(p.Missing) > 0 {
				line += "; missing: " + strings.Join(p.Missing, "; ")
			}
			lines = append(lines, line)
		}
	}
	return lines
}

// place is where the standard's sentence stands, else the standard's name.
func (e *Edition) place() string {
	if e.TakeFrom != "" {
		return string(e.TakeFrom)
	}
	return e.Title
}
