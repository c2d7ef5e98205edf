package report

import "strings"

// statedTable holds the fields that a standard asks for on one subject.
type statedTable struct {
	title string
	rows  [][2]string
}

// stated lists the fields of the statements of every standard, that of the limits first.
func (v *view) stated() []statedTable {
	if v.rec.Checkpoints == nil {
		return nil
	}
	var chosen, others []statedTable
	for i := range v.rec.Checkpoints.Editions {
		e := &v.rec.Checkpoints.Editions[i]
		for k := range e.Statements {
			t := statedTable{title: shortTitle(e) + ": " + e.Statements[k].Subject, rows: e.Statements[k].rows(e)}
			if e.Chosen {
				chosen = append(chosen, t)
			} else {
				others = append(others, t)
			}
		}
	}
	return append(chosen, others...)
}

// rows are the fields in our words, what is missing, and where the sentence stands.
func (p *StatementPart) rows(e *Edition) [][2]string {
	var rows [][2]string
	for _, f := range p.Fields {
		rows = append(rows, [2]string{f.Name, f.Value})
	}
	if len(p.Missing) > 0 {
		rows = append(rows, [2]string{"incomplete, missing", strings.Join(p.Missing, "; ")})
	}
	return append(rows, [2]string{"the standard's own sentence stands in", string(e.TakeFrom)})
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
