package control

import (
	"slices"
	"strings"
	"testing"
)

// The fields by case, from the digests of ASPRS Edition 2, section 7.16, and of NSSDA, for Edition 1 from memory: what is tested, what
// rests on a reduced number, what was not tested and what is missing.
func TestStatementsByCase(t *testing.T) {
	v := func(n int) []float64 {
		out := make([]float64, n)
		for i := range out {
			out[i] = 0.02 * float64(i%5-2)
		}
		return out
	}
	full := AssessInput{ClassM: 0.05, OpenM: v(24), VegetatedM: v(10), EastM: v(34), NorthM: v(34), SurveyVM: 0.012, SurveyHM: 0.015, PointSource: "network", PointSpread: "4, 5, 6, 9"}
	relative, unsure, none, twenty, flat := full, full, full, full, full
	relative.RelativeToBase = true
	unsure.SurveyVM, unsure.PointSource, unsure.SourceUnknown = 0, "", true
	flat.EastM, flat.RelativeToBase = make([]float64, 34), true // RMSE of the axes too different: NSSDA gives no radius
	none.OpenM, none.VegetatedM, none.EastM, none.NorthM = nil, nil, nil, nil
	none.ExpectedHM, none.ExpectedBasis = 0.031, "position 0.02 m"
	twenty.OpenM, twenty.ClassHorizontalM = v(30), 0.1
	for _, c := range []struct {
		name     string
		edition  Edition
		in       AssessInput
		subject  string
		want     StatementCase
		complete bool
		has, not string // parts of the fields
		missing  string
	}{
		{"24 of 30 points", Edition2, full, SubjectOpen, StatementReduced, true, "RMSE_V 3.0 cm", "95 %", ""},
		{"30 points", Edition2, twenty, SubjectOpen, StatementTested, true, "5 cm RMSE_V", "fewer", ""},
		{"vegetated has no limit", Edition2, full, SubjectVegetated, StatementReduced, true, "without a limit", "95 %", ""},
		{"34 targets", Edition2, twenty, SubjectHorizontal, StatementTested, true, "10 cm RMSE_H", "RMSEx", ""},
		{"no horizontal class", Edition2, full, SubjectHorizontal, StatementTested, false, "RMSE_H 4.", "", "horizontal class"},
		{"three-dimensional", Edition2, full, Subject3D, StatementReduced, false, "RMSE_3D in the open", "", "RMSE_3D"},
		{"24 of 20 points", Edition1, full, SubjectOpen, StatementTested, true, "9.8 cm at 95 %", "RMSE_V", ""},
		{"10 of 5 vegetated", Edition1, full, SubjectVegetated, StatementTested, true, "15.0 cm", "RMSE_V", ""},
		{"horizontal", Edition1, twenty, SubjectHorizontal, StatementTested, true, "24.5 cm at 95 %", "RMSE_H", ""},
		{"vertical in metres", NSSDA, full, SubjectOpen, StatementTested, true, "0.0", "class", ""},
		{"10 of 20 vegetated", NSSDA, full, SubjectVegetated, StatementReduced, true, "at 95 % 0.0", "", ""},
		{"relative to the base", Edition2, relative, SubjectOpen, StatementNone, true, "no value may be called tested", "", ""},
		{"survey unknown", Edition2, unsure, SubjectOpen, StatementNone, false, "RMSE_V1", "", "accuracy of the check survey"},
		{"source unknown", Edition1, unsure, SubjectOpen, StatementNone, false, "no value may be called tested; as found, NVA RMSEz", "", "source of the check points"},
		{"independence unknown", Edition2, unsure, SubjectHorizontal, StatementNone, false, "until the check points are known to be independent", "", "whether the check points are independent"},
		{"no figure", NSSDA, flat, SubjectHorizontal, StatementNone, false, "not tested", "found", "RMSE of the two axes"},
		{"no points", Edition2, none, SubjectOpen, StatementNone, true, "0 check points", "found", ""},
		{"estimated", Edition2, none, SubjectHorizontal, StatementNone, false, "3.1 cm radial; position", "found", "horizontal class"},
	} {
		e, err := Assess(c.edition, c.in)
		if err != nil {
			t.Fatal(err)
		}
		i := slices.IndexFunc(e.Statements, func(s Statement) bool { return s.Subject == c.subject })
		if i < 0 {
			t.Errorf("%s, %s: no %s", c.edition, c.name, c.subject)
			continue
		}
		s := e.Statements[i]
		var text strings.Builder
		for _, f := range s.Fields {
			text.WriteString(f.Name + ": " + f.Value + "\n")
		}
		if s.Case != c.want || s.Complete != c.complete || !strings.Contains(text.String(), c.has) || c.not != "" && strings.Contains(text.String(), c.not) ||
			c.missing != "" && !strings.Contains(strings.Join(s.Missing, "; "), c.missing) || s.TakeFrom == "" {
			t.Errorf("%s, %s, %s: %s, complete %v, missing %q\n%s", c.edition, c.name, c.subject, s.Case, s.Complete, s.Missing, text.String())
		}
		if strings.Contains(strings.ToLower(text.String()), "this data set was") { // the standard's own sentence is not ours to print
			t.Error(text.String())
		}
	}
	if e, _ := Assess(Edition2, none); slices.ContainsFunc(e.Statements, func(s Statement) bool { return strings.HasPrefix(s.Subject, "three") }) {
		t.Error("nothing tested has no three-dimensional form")
	}
	if e, _ := Assess(Edition1, full); slices.ContainsFunc(e.Statements, func(s Statement) bool { return strings.HasPrefix(s.Subject, "three") }) {
		t.Error("Edition 1 knows no RMSE_3D")
	}
}
