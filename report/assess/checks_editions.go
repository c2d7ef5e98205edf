package assess

import (
	"fmt"

	"sidelap/control"
	"sidelap/report"
	"sidelap/report/limits"
)

// fillEditions computes the figures of each standard from the same differences. The limits of the run rest on one
// of them at most; the others stand beside it.
func (j *job) fillEditions(cmp *control.Comparison) {
	c := j.rec.Checkpoints
	chosen := j.edition()
	for _, ed := range []control.Edition{control.Edition2, control.Edition1, control.NSSDA} {
		e, err := control.Assess(ed, j.assessInput(cmp, ed))
		if err != nil { // no class and no finite differences: the readers of both are checked before
			c.Notes = append(c.Notes, string(ed)+": "+err.Error())
			continue
		}
		row := report.Edition{ID: string(ed), Title: e.Title, Chosen: ed == chosen, RequiredOpen: int64(e.Required.Open), RequiredVegetated: int64(e.Required.Vegetated),
			RequiredHorizontal: int64(e.Required.Horizontal), RequiredSource: report.Text(e.Required.Source), Notes: e.Notes,
			Case: statementCases[e.Statement.Case], Missing: e.Statement.Missing, TakeFrom: report.Text(e.Statement.TakeFrom)}
		if e.ClassM > 0 && ed != control.NSSDA {
			row.ClassM = report.F(e.ClassM)
		}
		for i := range e.Statements {
			row.Statements = append(row.Statements, statementPart(&e.Statements[i]))
		}
		for _, m := range e.Measures {
			row.Measures = append(row.Measures, report.Measure{ID: m.ID, Name: m.Name, N: int64(m.N), ValueM: m.ValueM, LimitM: m.LimitM, Result: string(m.Result), Note: report.Text(m.Note), Source: m.Source})
		}
		for _, f := range e.Statement.Fields {
			row.Fields = append(row.Fields, report.StatementField{Name: f.Name, Value: f.Value})
		}
		c.Editions = append(c.Editions, row)
	}
}

// statementPart is one statement of a standard for the record.
func statementPart(s *control.Statement) report.StatementPart {
	p := report.StatementPart{Subject: s.Subject, Case: statementCases[s.Case], Complete: s.Complete, Missing: s.Missing}
	for _, f := range s.Fields {
		p.Fields = append(p.Fields, report.StatementField{Name: f.Name, Value: f.Value})
	}
	return p
}

var statementCases = map[control.StatementCase]string{control.StatementTested: "tested", control.StatementReduced: "tested_reduced", control.StatementNone: "produced"}

// edition is the standard that the limits rest on, empty for limits of one's own.
func (j *job) edition() control.Edition {
	switch j.limits.Basis {
	case limits.ASPRSEd1:
		return control.Edition1
	case limits.ASPRSEd2, limits.LBS:
		return control.Edition2
	}
	return ""
}

// assessInput is what a standard needs to know of this survey.
func (j *job) assessInput(cmp *control.Comparison, ed control.Edition) control.AssessInput {
	c := j.rec.Checkpoints
	in := control.AssessInput{ClassM: j.limits.ClassM, OpenM: differences(group(cmp, false)), VegetatedM: differences(group(cmp, true))}
	if ed == control.NSSDA {
		in.ClassM = 0
	}
	if c.SurveyRMSEM != nil {
		in.SurveyVM = *c.SurveyRMSEM
	}
	if h := c.Horizontal; h != nil {
		var points []control.Point
		for _, t := range h.Targets {
			if t.Found && t.DxM != nil {
				in.EastM, in.NorthM = append(in.EastM, *t.DxM), append(in.NorthM, *t.DyM)
				for i := range j.checks.Points {
					if j.checks.Points[i].ID == t.ID {
						points = append(points, j.checks.Points[i])
						break
					}
				}
			}
		}
		_, in.SurveyHM = control.SurveyAccuracy(points)
	}
	i := j.rec.Reference.CheckpointIndependent
	in.SourceUnknown, in.RelativeToBase = i == nil, i != nil && !*i
	if l, ok := j.limits.Find("horizontal_rmse"); ok && ed == control.Edition2 {
		in.ClassHorizontalM = l.Limit
	}
	if j.expected != nil && ed != control.NSSDA {
		in.ExpectedHM, in.ExpectedBasis = j.expected.by(ed)
	}
	if s := j.rec.Reference.CheckpointSource; s != "" && s != report.Text(control.SourceUnknown) {
		in.PointSource = string(s)
	}
	if d := c.Distribution; d != nil {
		in.PointSpread = fmt.Sprintf("of all: quarters south-west %d, south-east %d, north-west %d, north-east %d; %d places", d.SouthWest, d.SouthEast, d.NorthWest, d.NorthEast, *c.Places)
	}
	in.AreaOpenKM2 = j.areaKM2()
	if len(in.VegetatedM) > 0 && ed == control.Edition2 {
		in.AreaVegetatedKM2 = in.AreaOpenKM2 // how much of it is vegetated is not known: the larger number is asked
	}
	return in
}

// areaKM2 is the covered area, else the rectangle of the files.
func (j *job) areaKM2() float64 {
	if c := j.rec.Coverage; c != nil && c.AreaM2 != nil {
		return *c.AreaM2 / 1e6
	}
	return (j.extent.MaxEM - j.extent.MinEM) * (j.extent.MaxNM - j.extent.MinNM) / 1e6
}
