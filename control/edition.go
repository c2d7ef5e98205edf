package control

import (
	"fmt"
	"math"
)

// Edition names the standard that an assessment follows.
type Edition string

// The standards that Assess knows.
const (
	Edition1 Edition = "asprs-1"
	Edition2 Edition = "asprs-2"
	NSSDA    Edition = "nssda"
)

// Title is the standard's name in print.
func (e Edition) Title() string {
	switch e {
	case Edition1:
		return "ASPRS Positional Accuracy Standards, Edition 1, Version 1.0 (2014)"
	case Edition2:
		return "ASPRS Positional Accuracy Standards, Edition 2, Version 2.0 (2024)"
	case NSSDA:
		return "National Standard for Spatial Data Accuracy, FGDC-STD-007.3-1998"
	}
	return string(e)
}

// MinimumPoints is the number of check points that the standard calls for in each group.
func (e Edition) MinimumPoints() int {
	if e == Edition2 {
		return 30
	}
	return 20
}

// Result is the outcome of one measure against its limit.
type Result string

// The results. Without data or without a limit a measure is not judged.
const (
	Pass      Result = "pass"
	Fail      Result = "fail"
	NotJudged Result = "not_judged"
)

// Measure is one figure of a standard.
type Measure struct {
	ID     string // nva_rmse, nva_accuracy95, vva_p95, rmse_v, rmse_h, rmse_3d ...
	Name   string
	N      int
	ValueM *float64 // nil when it cannot be computed; Note says why
	LimitM *float64 // nil when the standard sets none
	Result Result
	Source string
	Note   string
}

// AssessInput is what a standard needs to know.
type AssessInput struct {
	ClassM           float64   // vertical class: its limit on RMSE
	ClassHorizontalM float64   // horizontal class (RMSEx = RMSEy for Edition 1, RMSE_H for Edition 2); 0 = none claimed
	OpenM            []float64 // dz at open check points; those used in processing are none
	VegetatedM       []float64 // dz at vegetated check points
	EastM, NorthM    []float64 // horizontal differences at targets
	SurveyVM         float64   // RMSE of the check survey's heights, RMSE_V2; 0 = unknown
	SurveyHM         float64   // RMSE of the check survey's positions, radial, RMSE_H2; 0 = unknown
	RelativeToBase   bool      // points come from the base of the flight: nothing counts as tested
	SourceUnknown    bool      // where the points come from is not known, so neither whether they are independent: nothing counts as tested
	AreaOpenKM2      float64   // 0 = unknown
	AreaVegetatedKM2 float64

	// For the fields of the statements.
	ExpectedHM    float64 // horizontal error to be expected by the standard's formula, radial; 0 = not estimated
	ExpectedBasis string  // its inputs
	PointSource   string  // where the check points come from
	PointSpread   string  // how they lie over the area
}

// Evaluation is the outcome of one standard.
type Evaluation struct {
	Edition    Edition
	Title      string
	ClassM     float64
	Open       *Accuracy // nil without points
	Vegetated  *Accuracy
	Horizontal *Horizontal
	Measures   []Measure
	Required   Required
	Notes      []string  // departures from the standard and what a reader must be told
	Statement  Statement // of the open points
	// Statements hold the fields for each thing that the standard lets one state, whether it was tested or not.
	Statements []Statement
}

// Measure returns the measure of the ID, nil when the standard has none.
func (e *Evaluation) Measure(id string) *Measure {
	for i := range e.Measures {
		if e.Measures[i].ID == id {
			return &e.Measures[i]
		}
	}
	return nil
}

// Assess computes the figures of a standard from differences at check points.
func Assess(edition Edition, in AssessInput) (*Evaluation, error) {
	e := &Evaluation{Edition: edition, Title: edition.Title(), ClassM: in.ClassM}
	if in.ClassM < 0 || !finite(in.ClassM) {
		return nil, fmt.Errorf("class %g m: a class is a positive RMSE in metres", in.ClassM)
	}
	if err := e.summarize(in); err != nil {
		return nil, err
	}
	switch edition {
	case Edition1:
		e.Required = RequiredEdition1(in.AreaOpenKM2 + in.AreaVegetatedKM2)
		e.edition1(in)
	case Edition2:
		e.Required = RequiredEdition2(max(in.AreaOpenKM2, 1e-9), in.AreaVegetatedKM2)
		e.edition2(in)
	case NSSDA:
		e.Required = Required{Open: 20, Horizontal: 20, Vegetated: 20, Source: "NSSDA, 3.2.2"}
		e.nssda()
	default:
		return nil, fmt.Errorf("standard %q is not known: use %s, %s or %s", edition, Edition1, Edition2, NSSDA)
	}
	e.notes(in)
	e.Statement = e.statement(in)
	e.Statements = e.statements(in)
	return e, nil
}

func (e *Evaluation) summarize(in AssessInput) error {
	if len(in.OpenM) > 0 {
		a, err := Summarize(in.OpenM)
		if err != nil {
			return fmt.Errorf("open check points: %w", err)
		}
		e.Open = &a
	}
	if len(in.VegetatedM) > 0 {
		a, err := Summarize(in.VegetatedM)
		if err != nil {
			return fmt.Errorf("vegetated check points: %w", err)
		}
		e.Vegetated = &a
	}
	if len(in.EastM) > 0 {
		h, err := SummarizeHorizontal(in.EastM, in.NorthM)
		if err != nil {
			return fmt.Errorf("horizontal targets: %w", err)
		}
		e.Horizontal = &h
	}
	return nil
}

// add appends a measure and judges it on unrounded values: every limit is "at most".
func (e *Evaluation) add(m Measure) {
	m.Result = NotJudged
	if m.ValueM != nil && m.LimitM != nil {
		m.Result = Fail
		if *m.ValueM <= *m.LimitM {
			m.Result = Pass
		}
	}
	e.Measures = append(e.Measures, m)
}

// limit returns factor times the class, nil without a class.
func limit(classM, factor float64) *float64 {
	if classM == 0 {
		return nil
	}
	l := classM * factor
	return &l
}

func ref(v float64) *float64 { return &v }

// notes tells about bias, numbers and the survey.
func (e *Evaluation) notes(in AssessInput) {
	if in.ClassM > 0 && e.Open != nil && BiasWarning(e.Open.MeanM, in.ClassM) {
		e.Notes = append(e.Notes, fmt.Sprintf("mean error %+.3f m is above 25 %% of the class RMSE (%.3f m): find the cause and report it", e.Open.MeanM, 0.25*in.ClassM))
	}
	if in.ClassM > 0 && in.SurveyVM > 0 && !SurveyGoodEnough(e.Edition, in.SurveyVM, in.ClassM) {
		e.Notes = append(e.Notes, fmt.Sprintf("check survey of %.3f m is not accurate enough for class %.3f m: at most %.4f m asked", in.SurveyVM, in.ClassM, in.ClassM/surveyFactor(e.Edition)))
	}
	if e.Open != nil && e.Open.N < e.Edition.MinimumPoints() {
		e.Notes = append(e.Notes, fmt.Sprintf("%d open check points; the standard calls for %d", e.Open.N, max(e.Edition.MinimumPoints(), e.Required.Open)))
	}
	e.fewNotes()
	if in.RelativeToBase {
		e.Notes = append(e.Notes, "the points come from the base of the flight: the figures hold relative to this base")
	}
	if e.Required.Note != "" {
		e.Notes = append(e.Notes, e.Required.Note)
	}
}

// fewNotes tells about groups with fewer points than called for, besides the open ones.
func (e *Evaluation) fewNotes() {
	asked := map[Edition]int{Edition1: 5, Edition2: 30, NSSDA: 20}[e.Edition]
	if v := e.Vegetated; v != nil && v.N < max(asked, e.Required.Vegetated) {
		e.Notes = append(e.Notes, fmt.Sprintf("%d vegetated check points; the standard calls for %d", v.N, max(asked, e.Required.Vegetated)))
	}
	if h := e.Horizontal; h != nil && h.N < max(e.Edition.MinimumPoints(), e.Required.Horizontal) {
		e.Notes = append(e.Notes, fmt.Sprintf("%d horizontal targets; the standard calls for %d", h.N, max(e.Edition.MinimumPoints(), e.Required.Horizontal)))
	}
}

// BiasWarning reports whether a mean error is strictly above 25 % of the class RMSE, the
// share from which a cause must be looked for. Source: ASPRS Edition 2, section 7.2.
func BiasWarning(meanM, classM float64) bool { return math.Abs(meanM) > 0.25*classM }

// SurveyGoodEnough reports whether a check survey's RMSE fits a class: a third of it for
// Edition 1 and NSSDA, half of it for Edition 2.
//
// Source: ASPRS Edition 1 (draft text; section 7.9 from memory), Edition 2 (section 7.12).
func SurveyGoodEnough(edition Edition, surveyM, classM float64) bool {
	return surveyM <= classM/surveyFactor(edition)
}

func surveyFactor(edition Edition) float64 {
	if edition == Edition2 {
		return 2
	}
	return 3
}
