package report

// Checkpoints is the comparison with surveyed check points. Differences are
// cloud minus survey: positive when the cloud lies above the survey.
type Checkpoints struct {
	File         Text        `json:"file"`
	Surface      string      `json:"surface"` // tin, plane, ... with the returns it was made from
	NRead        int64       `json:"n_read"`
	NUsed        int64       `json:"n_used"`
	NExcluded    int64       `json:"n_excluded"`
	SurveyRMSEM  *float64    `json:"survey_rmse_m"`  // accuracy of the check point survey itself (RMSE_V2)
	SurveySource Text        `json:"survey_source"`  // given, or rms of the points' own figures
	Places       *int64      `json:"places"`         // check points in one patch of ground make one place
	PlaceRadiusM *float64    `json:"place_radius_m"` // how far apart points of one place may lie
	NVA          *Accuracy   `json:"nva"`            // open ground
	VVA          *Accuracy   `json:"vva"`            // vegetated ground
	Horizontal   *Horizontal `json:"horizontal"`
	Worst        Text        `json:"worst"` // ID of the used point with the largest difference
	Statement    *Statement  `json:"statement"`
	Points       []CheckRow  `json:"points"`
	Notes        []string    `json:"notes,omitempty"`
	List         *PointList  `json:"list"`         // how the list was read
	Subsets      []Subset    `json:"subsets"`      // the statistics again without some of the points
	Distribution *Spread     `json:"distribution"` // of the used points over the cloud
	Independence Text        `json:"independence"` // what the source of the points lets the figures say
	Editions     []Edition   `json:"editions"`     // the figures of each standard from the same differences
	Rules        *RulesRun   `json:"rules"`        // which rules for blunders were run
}

// Accuracy is the statistics of the differences of one group of check points.
//
// RMSE uses n, Std n-1; Accuracy95M is 1.96 RMSE; P95AbsM is the 95th percentile
// of the absolute differences; Skew and Kurtosis are bias-corrected, Kurtosis in
// excess of the normal's. RMSEWithSurveyM is the root of the squares of RMSE and
// of the survey's own accuracy (ASPRS Edition 2). docs/check-points.md has the
// formulas and sources.
type Accuracy struct {
	N               int64    `json:"n"`
	MeanM           *float64 `json:"mean_m"`
	MeanLowM        *float64 `json:"mean_low_m"`
	MeanHighM       *float64 `json:"mean_high_m"`
	BiasSignificant *bool    `json:"bias_significant"`
	StdM            *float64 `json:"std_m"`
	RMSEM           *float64 `json:"rmse_m"`
	RMSELowM        *float64 `json:"rmse_low_m"` // 95 % interval
	RMSEHighM       *float64 `json:"rmse_high_m"`
	RMSEWithSurveyM *float64 `json:"rmse_with_survey_m"`
	Accuracy95M     *float64 `json:"accuracy95_m"`
	P95AbsM         *float64 `json:"p95_abs_m"`
	P683AbsM        *float64 `json:"p683_abs_m"`
	MeanAbsM        *float64 `json:"mean_abs_m"`
	MinM            *float64 `json:"min_m"`
	MaxM            *float64 `json:"max_m"`
	MedianM         *float64 `json:"median_m"`
	NMADM           *float64 `json:"nmad_m"`
	Skew            *float64 `json:"skew"`
	Kurtosis        *float64 `json:"kurtosis"`
	JarqueBera      *float64 `json:"jarque_bera"`
	JarqueBeraP     *float64 `json:"jarque_bera_p"`
	ShapiroW        *float64 `json:"shapiro_w"` // Shapiro-Wilk: decides normal
	ShapiroP        *float64 `json:"shapiro_p"`
	Normal          *bool    `json:"normal"`             // not rejected at 5 %
	Outliers        []string `json:"outliers,omitempty"` // farther than outlier_limit_m from the median

	OutlierLimitM      *float64 `json:"outlier_limit_m"`          // 3 NMAD
	OutliersClass      []string `json:"outliers_class,omitempty"` // beyond 3 times the class
	OutlierChancePct   *float64 `json:"outlier_chance_pct"`       // that normal data of this size have one beyond 3 sigma
	RMSEBootLowM       *float64 `json:"rmse_boot_low_m"`          // 95 % interval by bootstrap: no distribution assumed
	RMSEBootHighM      *float64 `json:"rmse_boot_high_m"`
	RMSEUpperM         *float64 `json:"rmse_upper_m"`         // one-sided 95 % bound
	RMSEPlacesHighM    *float64 `json:"rmse_places_high_m"`   // upper end of the interval if only places counted
	ClassConfidencePct *float64 `json:"class_confidence_pct"` // that the true RMSE is within the class
	Power              []Power  `json:"power,omitempty"`
	BiasAbove25        *bool    `json:"bias_above_25"` // mean above 25 % of the class
	P95UpperM          *float64 `json:"p95_upper_m"`   // 95 % upper bound of the 95th percentile, by an order statistic
}

// Horizontal is the comparison of targets in plan.
type Horizontal struct {
	N               int64    `json:"n"`
	RMSEXM          *float64 `json:"rmse_x_m"`
	RMSEYM          *float64 `json:"rmse_y_m"`
	RMSEM           *float64 `json:"rmse_m"`
	RMSEWithSurveyM *float64 `json:"rmse_with_survey_m"`
	MeanXM          *float64 `json:"mean_x_m"`
	MeanYM          *float64 `json:"mean_y_m"`
	Accuracy95M     *float64 `json:"accuracy95_m"`
	Estimated       bool     `json:"estimated"` // from position, angle and height, not tested
	Basis           Text     `json:"basis"`
	NSSDA95M        *float64 `json:"nssda95_m"` // 95 % radius of the NSSDA, where it gives one
	Targets         []Target `json:"targets,omitempty"`
	ExpectedM       *float64 `json:"expected_rmse_m"` // by formula: an estimate, never a test
	ExpectedBasis   Text     `json:"expected_basis"`
}

// CheckRow is one check point. Excluded points stay, with the reason.
type CheckRow struct {
	ID       string   `json:"id"`
	EM       float64  `json:"e_m"`
	NM       float64  `json:"n_m"`
	ZM       *float64 `json:"z_m"` // null: the list gives no height
	CloudZM  *float64 `json:"cloud_z_m"`
	DzM      *float64 `json:"dz_m"`
	PlaneDzM *float64 `json:"plane_dz_m"` // second opinion: a plane through the returns
	DxM      *float64 `json:"dx_m"`
	DyM      *float64 `json:"dy_m"`
	Cover    string   `json:"cover"` // open, vegetated, unknown
	Code     Text     `json:"code"`  // as in the list
	Used     bool     `json:"used"`
	Reason   Text     `json:"reason"` // of the exclusion
	SlopePct *float64 `json:"slope_pct"`
	RoughM   *float64 `json:"rough_m"` // plane residual of the returns around the point
	Returns  *int64   `json:"returns"`
	NearestM *float64 `json:"nearest_m"` // horizontal distance of the nearest return
	Strips   []string `json:"strips,omitempty"`
	SurveyM  *float64 `json:"survey_sigma_m"`
	Source   Text     `json:"source"`
	Outlier  bool     `json:"outlier"`
	Flags    []string `json:"flags,omitempty"` // of the site, in words; a flagged point counts
	SigmaM   *float64 `json:"cloud_sigma_m"`   // of cloud_z_m, from the spread of the returns
}

// Statement holds the fields that a standard asks an accuracy statement to
// have. The sentence itself is the standard's; it is not written here.
type Statement struct {
	Standard       string   `json:"standard"` // "ASPRS Positional Accuracy Standards", "NSSDA" ...
	Edition        Text     `json:"edition"`
	Case           string   `json:"case"` // tested, tested_reduced, produced
	ClassM         *float64 `json:"class_m"`
	Component      Text     `json:"component"` // RMSE_V, RMSE_z ...
	NVAM           *float64 `json:"nva_rmse_m"`
	NVA95M         *float64 `json:"nva_accuracy95_m"`
	NVACount       int64    `json:"nva_n"`
	VVAM           *float64 `json:"vva_m"`
	VVAMeasure     Text     `json:"vva_measure"` // p95_abs or rmse
	VVACount       int64    `json:"vva_n"`
	PointsRequired *int64   `json:"points_required"`
	SurveyRMSEM    *float64 `json:"survey_rmse_m"`
	Complete       bool     `json:"complete"`
	Missing        []string `json:"missing,omitempty"` // what the standard asks for and was not known
}
