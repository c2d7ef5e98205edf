package control

import "fmt"

// StatementCase is the kind of accuracy statement that the data allow.
type StatementCase string

// The cases of Edition 2, section 7.16 (by a digest of it); Edition 1 and NSSDA have the first and the last.
const (
	StatementTested  StatementCase = "tested"
	StatementReduced StatementCase = "tested, fewer points than called for"
	StatementNone    StatementCase = "not tested: produced to meet"
)

// Statement holds the fields of an accuracy statement. It is no statement: the sentence that
// carries them is fixed by the standard and must be taken from its text by the person who signs.
type Statement struct {
	Subject    string // "vertical, open ground", ...
	Case       StatementCase
	Complete   bool // every field that the standard asks for is there
	Fields     []Field
	Missing    []string // what is not known
	TakeFrom   string   // where the standard's own sentence stands
	Disclaimer string
}

// Field is one field of a statement, in our words.
type Field struct{ Name, Value string }

// statement gathers the fields for what was tested.
func (e *Evaluation) statement(in AssessInput) Statement {
	s := Statement{Disclaimer: "Figures for the person who answers for the survey; where the law reserves such statements, a licensed surveyor must review and sign."}
	s.TakeFrom = map[Edition]string{Edition1: "ASPRS Edition 1, section 7.16 (number from memory)", Edition2: "ASPRS Edition 2, section 7.16", NSSDA: "FGDC-STD-007.3-1998, 3.2.3"}[e.Edition]
	n := 0
	if e.Open != nil {
		n = e.Open.N
	}
	s.Case = e.statementCase(n, in)
	add := func(name, format string, a ...any) {
		s.Fields = append(s.Fields, Field{name, fmt.Sprintf(format, a...)})
	}
	miss := func(m string) { s.Missing = append(s.Missing, m) }
	add("standard", "%s", e.Title)
	if e.Edition != NSSDA {
		if in.ClassM > 0 {
			add("vertical class", "%s cm %s", centimetres(in.ClassM), component(e.Edition))
		} else {
			miss("vertical class")
		}
		if in.ClassHorizontalM > 0 {
			add("horizontal class", "%s cm", centimetres(in.ClassHorizontalM))
		}
	}
	if s.Case == StatementNone {
		add("kind", "%s", untested(n, in))
	} else {
		add("kind", "%s", s.Case)
		for i := range e.Measures {
			if m := &e.Measures[i]; m.ValueM != nil {
				add(m.Name, "%.1f cm (n %d)", 100**m.ValueM, m.N)
			}
		}
	}
	if s.Case == StatementReduced {
		add("number", "%d check points used, %d called for: the class is named as the one produced to meet", n, e.Edition.MinimumPoints())
	}
	add("open check points", "%d", n)
	if e.Vegetated != nil {
		add("vegetated check points", "%d", e.Vegetated.N)
	}
	if in.SurveyVM > 0 {
		add("accuracy of the check survey", "%.1f cm vertical", 100*in.SurveyVM)
	} else {
		miss("accuracy of the check survey")
	}
	if in.SourceUnknown && n > 0 {
		miss(missingIndependence)
	}
	for _, note := range e.Notes {
		add("to be reported", "%s", note)
	}
	s.Complete = len(s.Missing) == 0
	return s
}

func (e *Evaluation) statementCase(n int, in AssessInput) StatementCase {
	switch {
	case n == 0 || in.RelativeToBase || in.SourceUnknown:
		return StatementNone
	case n < e.Edition.MinimumPoints():
		return StatementReduced
	}
	return StatementTested
}

// missingIndependence is what has to be known before a figure is called tested.
const missingIndependence = "whether the check points are independent"

// untested says in our words why a figure at n points is none of a test.
func untested(n int, in AssessInput) string {
	if in.SourceUnknown && n > 0 {
		return "not to be called tested until the check points are known to be independent: produced to meet"
	}
	return "not tested: produced to meet"
}

func component(e Edition) string {
	if e == Edition2 {
		return "RMSE_V"
	}
	return "RMSEz"
}

func centimetres(m float64) string { return fmt.Sprintf("%.4g", 100*m) }
