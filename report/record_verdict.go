package report

// Results of a criterion and of the verdict.
const (
	Pass      = "pass"
	Fail      = "fail"
	NotJudged = "not_judged"
)

// Results of a field check and of the field verdict, beside NotJudged.
const (
	Go      = "go"
	Caution = "caution"
	Refly   = "refly"
)

// Cause is one error source with its estimate ("used minus true").
type Cause struct {
	Kind           string   `json:"kind"`
	Strip          Text     `json:"strip"`
	Estimate       *float64 `json:"estimate"`
	Sigma          *float64 `json:"sigma"`
	Unit           string   `json:"unit"`
	Significant    bool     `json:"significant"`
	ExplainedPct   *float64 `json:"explained_pct"`
	ConfoundedWith []string `json:"confounded_with"`
	Evidence       Text     `json:"evidence"`
}

// Severities of a finding.
const (
	SeverityNote    = "note"
	SeverityWarning = "warning"
	SeverityFault   = "fault"
)

// Finding is a statement with its evidence, its rivals, and what would decide.
type Finding struct {
	ID       string   `json:"id"`
	Severity string   `json:"severity"` // note, warning, fault
	Text     string   `json:"text"`
	Evidence Text     `json:"evidence"`
	Rivals   []string `json:"rivals"`
	DecideBy Text     `json:"decide_by"`
	Strips   []string `json:"strips,omitempty"`
	Places   []Place  `json:"places,omitempty"`
}

// Place is a position that a finding points at.
type Place struct {
	EM float64 `json:"e_m"`
	NM float64 `json:"n_m"`
}

// Correction says what was, or would be, changed in the cloud.
type Correction struct {
	Applied    bool        `json:"applied"`
	Parameters []Parameter `json:"parameters"`
	Before     *Level      `json:"before"`
	After      *Level      `json:"after"`
	Holdout    *Holdout    `json:"holdout"`
	Statement  Text        `json:"statement"`
	Notes      []string    `json:"notes,omitempty"`
}

// Parameter is one estimated parameter of a correction.
type Parameter struct {
	Kind        string   `json:"kind"`
	Strip       Text     `json:"strip"`
	Value       *float64 `json:"value"`
	Sigma       *float64 `json:"sigma"`
	Unit        string   `json:"unit"`
	Significant bool     `json:"significant"`
}

// Level is how well the cloud agrees before or after a correction.
type Level struct {
	Cells     int64    `json:"cells"`
	RMSDM     *float64 `json:"rmsd_m"`
	NMADM     *float64 `json:"nmad_m"`
	P95AbsM   *float64 `json:"p95_abs_m"`
	MaxAbsM   *float64 `json:"max_abs_m"`
	CheckM    *float64 `json:"checkpoint_rmse_m"`
	CheckMean *float64 `json:"checkpoint_mean_m"`
}

// Holdout is the proof on cells that the correction was not fitted to.
type Holdout struct {
	Cells       int64    `json:"cells"`
	BeforeRMSM  *float64 `json:"before_rms_m"`
	AfterRMSM   *float64 `json:"after_rms_m"`
	NoiseFloorM *float64 `json:"noise_floor_m"`
}

// Field is the check before leaving the site.
type Field struct {
	Verdict string       `json:"verdict"` // go, caution, refly, not_judged
	Checks  []FieldCheck `json:"checks"`
}

// FieldCheck is one row of the acquisition table.
type FieldCheck struct {
	ID     string   `json:"id"`
	Name   Text     `json:"name"`
	Value  *float64 `json:"value"`
	Unit   string   `json:"unit"`
	Limit  *float64 `json:"limit"`
	Sense  Text     `json:"sense"`  // max: value <= limit; min: value >= limit
	Result string   `json:"result"` // go, caution, refly, not_judged
	Strips []string `json:"strips"`
	Basis  Text     `json:"basis"` // where the limit comes from
	Note   Text     `json:"note"`
}

// Verdict is the judgement against one set of limits.
type Verdict struct {
	Result   string      `json:"result"` // pass, fail, not_judged
	Limits   Text        `json:"limits"` // name of the set
	Title    Text        `json:"title"`  // of the set
	Source   Text        `json:"source"` // standard or file of the set
	Criteria []Criterion `json:"criteria"`
	Notes    []string    `json:"notes,omitempty"`
}

// Criterion is one value against one limit.
type Criterion struct {
	ID     string   `json:"id"`
	Name   string   `json:"name"`
	Group  string   `json:"group"` // relative, absolute, coverage
	Value  *float64 `json:"value"`
	Limit  *float64 `json:"limit"`
	Unit   string   `json:"unit"`   // m, pct, 1/m2, 1, m2
	Sense  string   `json:"sense"`  // max: value <= limit passes; min: value >= limit passes; report: no limit
	Result string   `json:"result"` // pass, fail, not_judged
	Reason Text     `json:"reason"` // why not judged, or what to note beside the result
	Source string   `json:"source"`
}
