package control

import (
	"fmt"
	"math"
	"strings"
)

// The subjects of Evaluation.Statements.
const (
	SubjectOpen       = "vertical, open ground"
	SubjectVegetated  = "vertical, vegetated"
	SubjectHorizontal = "horizontal"
	Subject3D         = "three-dimensional, open ground"
	Subject3DVeg      = "three-dimensional, vegetated"
)

// group is what one statement rests on.
type statementGroup struct {
	subject, class string // class in words; "" = none claimed
	missing        string // what has to be stated when no class is
	points, needs  int    // check points used and called for
	what           string // "check points", "targets"
	found          []string
	open           []string // figures that should be there and are not, with the reason
	survey         string   // accuracy of the check survey, "" = unknown
	surveyAsked    bool
}

// statements gathers the fields for each subject: vertical in the open and in vegetation, horizontal, and in Edition 2
// three-dimensional. A subject without points is stated as not tested; a vegetated one without points is left out.
//
// Source: ASPRS Edition 2, section 7.16, and FGDC-STD-007.3-1998, 3.2.3, by digests; Edition 1, section 7.16, from memory. The
// wording here is ours.
func (e *Evaluation) statements(in AssessInput) []Statement {
	out := []Statement{e.stated(e.verticalGroup(SubjectOpen, e.Open, in), in)}
	if e.Vegetated != nil {
		out = append(out, e.stated(e.verticalGroup(SubjectVegetated, e.Vegetated, in), in))
	}
	out = append(out, e.stated(e.horizontalGroup(in), in))
	for _, x := range []struct {
		id, subject string
		a           *Accuracy
	}{{"rmse_3d", Subject3D, e.Open}, {"rmse_3d_vegetated", Subject3DVeg, e.Vegetated}} {
		m := e.Measure(x.id)
		if m == nil || x.a == nil || e.Horizontal == nil {
			continue
		}
		g := statementGroup{subject: x.subject, points: min(x.a.N, e.Horizontal.N), needs: e.Edition.MinimumPoints(), what: "points for each component", missing: "class in RMSE_3D: the limits claim none", found: []string{e.text(m)}}
		g.survey = "as stated for the two components"
		out = append(out, e.stated(g, in))
	}
	return out
}

// text is a measure in words: centimetres in the editions of ASPRS, metres in NSSDA.
func (e *Evaluation) text(m *Measure) string {
	if e.Edition == NSSDA {
		return fmt.Sprintf("%s %.3f m", m.Name, *m.ValueM)
	}
	return fmt.Sprintf("%s %.1f cm", m.Name, 100**m.ValueM)
}

// found lists measures by their IDs, and those without a value with the reason.
func (e *Evaluation) found(g *statementGroup, ids ...string) {
	for _, id := range ids {
		m := e.Measure(id)
		switch {
		case m == nil:
		case m.ValueM != nil:
			g.found = append(g.found, e.text(m))
		case m.Note != "":
			g.open = append(g.open, m.Name+": "+m.Note)
		}
	}
}

func (e *Evaluation) verticalGroup(subject string, a *Accuracy, in AssessInput) statementGroup {
	vegetated := subject == SubjectVegetated
	g := statementGroup{subject: subject, what: "check points", needs: max(e.Edition.MinimumPoints(), e.Required.Open), surveyAsked: true}
	if vegetated {
		g.needs = max(map[Edition]int{Edition1: 5, Edition2: 30, NSSDA: 20}[e.Edition], e.Required.Vegetated)
	}
	if a != nil {
		g.points = a.N
		e.found(&g, map[bool][]string{false: {"nva_fit", "nva_rmse_v", "nva_rmse", "nva_accuracy95", "accuracy_z"}, true: {"vva_fit", "vva_rmse_v", "vva_p95", "accuracy_z_vegetated"}}[vegetated]...)
	}
	if in.SurveyVM > 0 {
		g.survey = fmt.Sprintf("%.1f cm", 100*in.SurveyVM)
	}
	switch {
	case e.Edition == NSSDA: // no classes
	case in.ClassM == 0:
		g.missing = "vertical class"
	case e.Edition == Edition2 && vegetated:
		g.class = "none: reported as found, without a limit"
	case e.Edition == Edition2:
		g.class = fmt.Sprintf("%s cm RMSE_V", centimetres(in.ClassM))
	case vegetated:
		g.class = fmt.Sprintf("%s cm: 95th percentile at most %.1f cm", centimetres(in.ClassM), 300*in.ClassM)
	default:
		g.class = fmt.Sprintf("%s cm RMSEz, equal to %.1f cm at 95 %%", centimetres(in.ClassM), 100*Vertical95*in.ClassM)
	}
	return g
}

func (e *Evaluation) horizontalGroup(in AssessInput) statementGroup {
	g := statementGroup{subject: SubjectHorizontal, what: "targets", needs: max(e.Edition.MinimumPoints(), e.Required.Horizontal)}
	switch x := in.ClassHorizontalM; {
	case e.Edition == NSSDA:
	case x == 0:
		g.missing = "horizontal class: the limits claim none"
	case e.Edition == Edition2:
		g.class = fmt.Sprintf("%s cm RMSE_H", centimetres(x))
	default:
		g.class = fmt.Sprintf("%s cm RMSEx and RMSEy, equal to %.1f cm at 95 %%", centimetres(x), 100*math.Sqrt2*Radial95*x)
	}
	if h := e.Horizontal; h != nil {
		g.points, g.surveyAsked = h.N, true
		e.found(&g, "h_fit", "rmse_h", "rmse_x", "rmse_y", "rmse_r", "accuracy_r95", "accuracy_r")
		if in.SurveyHM > 0 {
			g.survey = fmt.Sprintf("%.1f cm radial", 100*in.SurveyHM)
		}
	}
	return g
}

// stated turns a group into the fields of its statement.
func (e *Evaluation) stated(g statementGroup, in AssessInput) Statement {
	s := Statement{Subject: g.subject, TakeFrom: e.Statement.TakeFrom, Disclaimer: e.Statement.Disclaimer, Case: StatementTested}
	switch {
	case g.points == 0 || in.RelativeToBase || in.SourceUnknown:
		s.Case = StatementNone
	case g.points < g.needs:
		s.Case = StatementReduced
	}
	add := func(name, value string) {
		if value != "" {
			s.Fields = append(s.Fields, Field{name, value})
		}
	}
	missing := func(what string) {
		if what != "" {
			s.Missing = append(s.Missing, what)
		}
	}
	add("kind", map[StatementCase]string{StatementTested: "tested", StatementReduced: "tested with fewer points than called for: the class is named as the one the data were produced to meet",
		StatementNone: untested(g.points, in)}[s.Case])
	add("class", g.class)
	missing(g.missing)
	found := strings.Join(g.found, ", ")
	if s.Case == StatementNone && found != "" {
		found = "no value may be called tested; as found, " + found
	}
	add("found", found)
	for _, o := range g.open {
		missing(o)
	}
	if g.subject == SubjectHorizontal && g.points == 0 {
		if in.ExpectedHM > 0 {
			add("estimated, not tested", fmt.Sprintf("%.1f cm radial; %s", 100*in.ExpectedHM, in.ExpectedBasis))
		} else {
			missing("targets, or the accuracy of the path for the standard's formula")
		}
	}
	add("points used", fmt.Sprintf("%d %s", g.points, g.what))
	add("points called for", fmt.Sprint(g.needs))
	if g.points > 0 {
		if in.SourceUnknown {
			missing(missingIndependence)
		}
		add("source of the points", in.PointSource)
		add("spread of the points", in.PointSpread)
		add("accuracy of the check survey", g.survey)
		if g.survey == "" && g.surveyAsked {
			missing("accuracy of the check survey")
		}
		if in.PointSource == "" {
			missing("source of the check points")
		}
	}
	if g.subject == SubjectOpen {
		for _, n := range e.Notes {
			add("to be reported", n)
		}
	}
	s.Complete = len(s.Missing) == 0
	return s
}
