package report

// Pair is two strips that cover common ground. All differences are
// separations: height of the later strip minus height of the earlier one.
type Pair struct {
	A              string    `json:"a"` // earlier strip
	B              string    `json:"b"` // later strip
	Relation       Text      `json:"relation"`
	OverlapM2      *float64  `json:"overlap_m2"`
	SidelapPct     *float64  `json:"sidelap_pct"`    // overlap width over the narrower strip's width
	SidelapP5Pct   *float64  `json:"sidelap_p5_pct"` // 5th percentile along the line
	Cells          int64     `json:"cells"`          // cells used
	MeanM          *float64  `json:"mean_m"`
	MedianM        *float64  `json:"median_m"`
	StdM           *float64  `json:"std_m"`
	RMSDM          *float64  `json:"rmsd_m"`
	NMADM          *float64  `json:"nmad_m"`
	P95AbsM        *float64  `json:"p95_abs_m"`
	MaxAbsM        *float64  `json:"max_abs_m"`
	MaxAbsEM       *float64  `json:"max_abs_e_m"` // where the largest difference lies
	MaxAbsNM       *float64  `json:"max_abs_n_m"`
	WithinLimitPct *float64  `json:"within_limit_pct"`      // share of cells with abs(dz) <= the RMSD limit
	AboveTwicePct  *float64  `json:"above_twice_limit_pct"` // share of cells with abs(dz) > 2 x that limit
	LaterHigherPct *float64  `json:"later_higher_pct"`      // share of cells where the later strip lies higher
	Flagged        []Flagged `json:"flagged"`               // cells in common that were not compared, by reason
	Trend          *Trend    `json:"trend"`
	Horizontal     *Shift    `json:"horizontal"`
	Notes          []string  `json:"notes,omitempty"`
}

// Flagged counts the cells that one reason keeps out of the statistics; a cell with several counts in each.
type Flagged struct {
	Reason string `json:"reason"` // steep, rough, thin ...
	Cells  int64  `json:"cells"`
}

// Trend is the slope of the separation across the overlap.
type Trend struct {
	SlopeMPerM  *float64 `json:"slope_m_per_m"`
	SigmaMPerM  *float64 `json:"sigma_m_per_m"`
	RangeM      *float64 `json:"range_m"` // slope times the width of the overlap
	Significant bool     `json:"significant"`
}

// Shift is the mean shift of the later strip against the earlier one.
type Shift struct {
	Determinable bool     `json:"determinable"`
	Reason       Text     `json:"reason"` // why not
	EastM        *float64 `json:"east_m"`
	NorthM       *float64 `json:"north_m"`
	UpM          *float64 `json:"up_m"`
	SigmaEastM   *float64 `json:"sigma_east_m"`
	SigmaNorthM  *float64 `json:"sigma_north_m"`
	SigmaUpM     *float64 `json:"sigma_up_m"`
	ResidualM    *float64 `json:"residual_std_m"`
	Cells        int64    `json:"cells"`
	CellsSloping *int64   `json:"cells_sloping"`
}

// Loop is the closure of three strips that overlap one another: the sum of the
// mean separations around the triangle in their common cells.
type Loop struct {
	A           string   `json:"a"`
	B           string   `json:"b"`
	C           string   `json:"c"`
	Cells       int64    `json:"cells"`
	ClosureM    *float64 `json:"closure_m"`
	SigmaM      *float64 `json:"sigma_m"`
	Significant bool     `json:"significant"`
}

// Separation is the statistics of all pairs together.
type Separation struct {
	CellM          float64   `json:"cell_m"`
	Pairs          int64     `json:"pairs"`
	Cells          int64     `json:"cells"`
	MeanM          *float64  `json:"mean_m"`
	MedianM        *float64  `json:"median_m"`
	StdM           *float64  `json:"std_m"`
	RMSDM          *float64  `json:"rmsd_m"`
	NMADM          *float64  `json:"nmad_m"`
	P95AbsM        *float64  `json:"p95_abs_m"`
	MaxAbsM        *float64  `json:"max_abs_m"`
	WithinLimitPct *float64  `json:"within_limit_pct"`
	AboveTwicePct  *float64  `json:"above_twice_limit_pct"`
	Flagged        []Flagged `json:"flagged"`
}

// Repeatability is how well a strip repeats itself on smooth surfaces.
//
// Cells, RMSM and P95M are those of plane residuals. LBS has the cell rule of
// the USGS Lidar Base Specification (range minus slope times cell size).
type Repeatability struct {
	Cells int64      `json:"cells"`
	RMSM  *float64   `json:"rms_m"`
	P95M  *float64   `json:"p95_m"`
	MaxM  *float64   `json:"max_m"`
	LBS   *Precision `json:"lbs"`
	Notes []string   `json:"notes,omitempty"`
}

// Precision is the smooth-surface precision of the Lidar Base Specification.
type Precision struct {
	CellM   float64         `json:"cell_m"`
	Cells   int64           `json:"cells"`
	MinM    *float64        `json:"min_m"`
	MaxM    *float64        `json:"max_m"`
	RMSDM   *float64        `json:"rmsd_m"`
	P95M    *float64        `json:"p95_m"`
	PerArea []PrecisionArea `json:"areas,omitempty"`
}

// PrecisionArea is one hard surface on which the precision was evaluated.
type PrecisionArea struct {
	ID    string   `json:"id"`
	Strip string   `json:"strip"`
	EM    float64  `json:"e_m"`
	NM    float64  `json:"n_m"`
	Cells int64    `json:"cells"`
	MinM  *float64 `json:"min_m"`
	MaxM  *float64 `json:"max_m"`
	RMSDM *float64 `json:"rmsd_m"`
}

// Coverage is what was covered, how densely, and what was not.
type Coverage struct {
	CellM                 float64       `json:"cell_m"`
	AreaM2                *float64      `json:"area_m2"`
	AreaSource            Text          `json:"area_source"` // outline of the cloud, or a boundary that was given
	AggregateDensityPerM2 *float64      `json:"aggregate_first_return_density_per_m2"`
	StripDensityPerM2     *float64      `json:"strip_first_return_density_per_m2"` // median over the strips
	DensityP5PerM2        *float64      `json:"first_return_density_p5_per_m2"`    // 5th percentile of the cells
	SpacingM              *float64      `json:"nominal_spacing_m"`                 // 1/sqrt(strip density)
	CellsWithReturnPct    *float64      `json:"cells_with_return_pct"`
	CoveredTwicePct       *float64      `json:"covered_twice_pct"`
	Distribution          *Distribution `json:"spatial_distribution"`
	Voids                 *int64        `json:"voids"`
	LargestVoidM2         *float64      `json:"largest_void_m2"`
	VoidMinM2             *float64      `json:"void_min_m2"` // (4 x spacing)^2: smaller gaps are not voids
	VoidList              []Void        `json:"void_list"`
	Notes                 []string      `json:"notes,omitempty"`
}

// Distribution is the regularity test of the Lidar Base Specification: the
// share of cells of twice the design spacing with a first return of one strip.
type Distribution struct {
	CellM         float64           `json:"cell_m"`
	Cells         int64             `json:"cells"`
	WithReturnPct *float64          `json:"with_return_pct"`
	LowestPct     *float64          `json:"lowest_strip_pct"`
	Strips        []StripRegularity `json:"strips,omitempty"`
}

// StripRegularity is the regularity of one strip.
type StripRegularity struct {
	Strip         string   `json:"strip"`
	Cells         int64    `json:"cells"`
	WithReturnPct *float64 `json:"with_return_pct"`
}

// Void is a place without returns.
type Void struct {
	ID     string  `json:"id"`
	EM     float64 `json:"e_m"` // a place inside the void
	NM     float64 `json:"n_m"`
	AreaM2 float64 `json:"area_m2"`
	Note   Text    `json:"note"` // water, shadow, edge ... when known
}
