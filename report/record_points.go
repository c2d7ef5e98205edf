package report

// PointList says how a list of points was understood.
type PointList struct {
	Choice       string   `json:"choice"` // with the first row as read
	Columns      Text     `json:"columns"`
	ColumnsFrom  Text     `json:"columns_from"` // headings, option, extent, header line
	Delimiter    Text     `json:"delimiter"`
	DecimalComma bool     `json:"decimal_comma"`
	Unit         Text     `json:"unit"` // m, ft, usft, degree
	HeightUnit   Text     `json:"height_unit"`
	UnitFrom     Text     `json:"unit_from"` // option, headings, header line, assumed
	Refused      []string `json:"refused,omitempty"`
	Warnings     []string `json:"warnings,omitempty"`
}

// Subset is the statistics of a group of check points without some of them. It
// stands beside the full figure and never replaces it.
type Subset struct {
	ID          string   `json:"id"`    // without_outliers, without_steep
	Name        string   `json:"name"`  // without what, in words
	Group       string   `json:"group"` // nva, vva
	LeftOut     []string `json:"left_out"`
	N           int64    `json:"n"`
	MeanM       *float64 `json:"mean_m"`
	StdM        *float64 `json:"std_m"`
	RMSEM       *float64 `json:"rmse_m"`
	RMSELowM    *float64 `json:"rmse_low_m"`
	RMSEHighM   *float64 `json:"rmse_high_m"`
	Accuracy95M *float64 `json:"accuracy95_m"`
	P95AbsM     *float64 `json:"p95_abs_m"`
	Rule        Text     `json:"rule"` // why one may look without them, with its source
}

// Spread is how points lie over an area.
type Spread struct {
	Area        Text     `json:"area"`         // which area
	Along       bool     `json:"along_strips"` // the rectangle is turned along the strips
	SouthWest   int64    `json:"n_sw"`         // points in each quadrant
	SouthEast   int64    `json:"n_se"`
	NorthWest   int64    `json:"n_nw"`
	NorthEast   int64    `json:"n_ne"`
	QuadrantsOK bool     `json:"quadrants_ok"` // at least 20 % of the points in each
	DiagonalM   *float64 `json:"diagonal_m"`
	NearestM    *float64 `json:"nearest_m"`  // smallest distance between two points
	SpacingOK   bool     `json:"spacing_ok"` // all at least 10 % of the diagonal apart
	ClosePct    *float64 `json:"close_pct"`  // points nearer to their neighbour than that
	CoveredPct  *float64 `json:"covered_pct"`
	Source      Text     `json:"source"`
}

// Edition holds the figures of one standard.
type Edition struct {
	ID                 string           `json:"id"` // asprs-1, asprs-2, nssda
	Title              string           `json:"title"`
	ClassM             *float64         `json:"class_m"`
	Chosen             bool             `json:"chosen"` // the limits of this run rest on it
	Measures           []Measure        `json:"measures"`
	RequiredOpen       int64            `json:"required_open"`
	RequiredVegetated  int64            `json:"required_vegetated"`
	RequiredHorizontal int64            `json:"required_horizontal"`
	RequiredSource     Text             `json:"required_source"`
	Notes              []string         `json:"notes,omitempty"`
	Case               string           `json:"case"` // tested, tested_reduced, produced
	Fields             []StatementField `json:"fields"`
	Missing            []string         `json:"missing,omitempty"`
	TakeFrom           Text             `json:"take_from"` // where the standard's own sentence stands
	Statements         []StatementPart  `json:"statements,omitempty"`
}

// StatementPart holds the fields for one subject that a standard lets one state.
type StatementPart struct {
	Subject  string           `json:"subject"` // "vertical, open ground", "vertical, vegetated", "horizontal", "three-dimensional, ..."
	Case     string           `json:"case"`    // tested, tested_reduced, produced
	Complete bool             `json:"complete"`
	Fields   []StatementField `json:"fields"`
	Missing  []string         `json:"missing,omitempty"`
}

// Measure is one figure of a standard beside its limit.
type Measure struct {
	ID     string   `json:"id"`
	Name   string   `json:"name"`
	N      int64    `json:"n"`
	ValueM *float64 `json:"value_m"`
	LimitM *float64 `json:"limit_m"`
	Result string   `json:"result"` // pass, fail, not_judged
	Note   Text     `json:"note"`
	Source string   `json:"source"`
}

// StatementField is one field of an accuracy statement, in our words.
type StatementField struct {
	Name  string `json:"name"`
	Value string `json:"value"`
}

// RulesRun names the rules for blunders that had their inputs, and those that had not.
type RulesRun struct {
	Run    []string `json:"run"`
	NotRun []NotRun `json:"not_run"`
}

// NotRun is a rule that could not be run, with what it needs.
type NotRun struct {
	ID    string `json:"id"`
	Needs string `json:"needs"`
}

// Power is the chance that so many points pass although the true RMSE is Ratio times the class.
type Power struct {
	Ratio   *float64 `json:"ratio"`
	PassPct *float64 `json:"pass_pct"`
}

// Target is one target or roof ridge looked for in the cloud.
type Target struct {
	ID      string   `json:"id"`
	Kind    string   `json:"kind"` // disc, checkerboard, chevron, cross, ridge
	DxM     *float64 `json:"dx_m"` // cloud minus survey
	DyM     *float64 `json:"dy_m"`
	AcrossM *float64 `json:"across_m"` // of a ridge: offset across it
	DzM     *float64 `json:"dz_m"`     // of a ridge
	SigmaM  *float64 `json:"sigma_m"`
	Found   bool     `json:"found"`
	Reason  Text     `json:"reason"`
	Returns int64    `json:"returns"`
}
