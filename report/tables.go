package report

// The tables of the report. A column's field is its key in the record.
var (
	stripSpec = &spec{name: "strips", title: "Strips", base: "strips", n: func(r *Record) int { return len(r.Strips) }, cols: []column{
		{field: "id", head: "strip", prio: 1, code: true}, {field: "points", head: "points", prio: 1, right: true},
		{field: "first_returns", head: "first returns", prio: 0, right: true},
		{field: "first_return_density_per_m2", head: "density", unit: "1/m2", prio: 1, right: true},
		{field: "first_return_density_p5_per_m2", head: "density, 5th percentile", unit: "1/m2", prio: 0, right: true},
		{field: "heading_deg", head: "heading", unit: "deg", prio: 2, right: true}, {field: "length_m", head: "length", unit: "m", prio: 2, right: true},
		{field: "width_m", head: "width", unit: "m", prio: 4, right: true}, {field: "height_above_ground_m", head: "height", unit: "m", prio: 3, right: true},
		{field: "speed_mps", head: "speed", unit: "m/s", prio: 3, right: true}, {field: "area_m2", head: "area", unit: "m2", prio: 0, right: true},
		{field: "roughness_m", head: "roughness", unit: "m", prio: 5, right: true},
		{field: "start_gps_s", head: "start", unit: "s", prio: 6, right: true}, {field: "end_gps_s", head: "end", unit: "s", prio: 6, right: true},
		{field: "source", head: "source", prio: 5}, {field: "notes", head: "notes", prio: 4}}}

	pairSpec = &spec{name: "pairs", title: "Strip against strip", base: "pairs", n: func(r *Record) int { return len(r.Pairs) },
		note: "Separation is the height of the later strip over the earlier one. Within limit: up to the limit for the RMSD of strips.", cols: []column{
			{field: "a", head: "earlier", prio: 1, code: true}, {field: "b", head: "later", prio: 1, code: true}, {field: "relation", head: "flown", prio: 5},
			{field: "overlap_m2", head: "overlap", unit: "m2", prio: 5, right: true}, {field: "sidelap_pct", head: "sidelap", unit: "pct", prio: 4, right: true},
			{field: "sidelap_p5_pct", head: "sidelap, 5th percentile", unit: "pct", prio: 0, right: true},
			{field: "cells", head: "cells", prio: 3, right: true}, {field: "median_m", head: "median", unit: "m", prio: 1, right: true},
			{field: "mean_m", head: "mean", unit: "m", prio: 4, right: true}, {field: "std_m", head: "std", unit: "m", prio: 6, right: true},
			{field: "rmsd_m", head: "RMSD", unit: "m", prio: 1, right: true}, {field: "nmad_m", head: "NMAD", unit: "m", prio: 5, right: true},
			{field: "p95_abs_m", head: "95 %", unit: "m", prio: 2, right: true}, {field: "max_abs_m", head: "max", unit: "m", prio: 3, right: true},
			{field: "max_abs_e_m", head: "max at E", unit: "m", prio: 0}, {field: "max_abs_n_m", head: "max at N", unit: "m", prio: 0},
			{field: "within_limit_pct", head: "within limit", unit: "pct", prio: 2, right: true},
			{field: "above_twice_limit_pct", head: "above twice", unit: "pct", prio: 5, right: true},
			{field: "later_higher_pct", head: "later higher", unit: "pct", prio: 6, right: true},
			{field: "trend.slope_m_per_m", head: "tilt across", unit: "m/m", prio: 6, right: true}, {field: "trend.sigma_m_per_m", head: "its sigma", unit: "m/m", prio: 0, right: true},
			{field: "horizontal.east_m", head: "shift E", unit: "m", prio: 7, right: true}, {field: "horizontal.north_m", head: "shift N", unit: "m", prio: 7, right: true},
			{field: "horizontal.sigma_east_m", head: "sigma E", unit: "m", prio: 0, right: true}, {field: "horizontal.sigma_north_m", head: "sigma N", unit: "m", prio: 0, right: true},
			{field: "horizontal.reason", head: "shift not determined because", prio: 0},
			{field: "flagged", head: "not compared", prio: 0}, {field: "notes", head: "notes", prio: 7}}}

	loopSpec = &spec{name: "loops", title: "Closure of three strips", base: "loops", n: func(r *Record) int { return len(r.Loops) }, cols: []column{
		{field: "a", head: "a", prio: 1, code: true}, {field: "b", head: "b", prio: 1, code: true}, {field: "c", head: "c", prio: 1, code: true},
		{field: "cells", head: "cells", prio: 2, right: true}, {field: "closure_m", head: "closure", unit: "m", prio: 1, right: true},
		{field: "sigma_m", head: "sigma", unit: "m", prio: 1, right: true}, {field: "significant", head: "significant", prio: 1}}}

	checkSpec = &spec{name: "checkpoints", title: "Check points", base: "checkpoints.points", n: func(r *Record) int {
		if r.Checkpoints == nil {
			return 0
		}
		return len(r.Checkpoints.Points)
	}, note: "dz is cloud minus survey: positive when the cloud lies above. Excluded points stay in the table.", cols: []column{
		{field: "id", head: "point", prio: 1, code: true}, {field: "e_m", head: "E", unit: "m", prio: 4, right: true}, {field: "n_m", head: "N", unit: "m", prio: 4, right: true},
		{field: "z_m", head: "H", unit: "m", prio: 2, right: true}, {field: "cloud_z_m", head: "cloud", unit: "m", prio: 3, right: true},
		{field: "dz_m", head: "dz", unit: "m", prio: 1, right: true}, {field: "plane_dz_m", head: "dz, plane", unit: "m", prio: 6, right: true},
		{field: "cover", head: "cover", prio: 2}, {field: "flags", head: "site", prio: 3}, {field: "dx_m", head: "dE", unit: "m", prio: 7, right: true}, {field: "dy_m", head: "dN", unit: "m", prio: 7, right: true}, {field: "code", head: "code", prio: 6}, {field: "slope_pct", head: "slope", unit: "pct", prio: 5, right: true},
		{field: "returns", head: "returns", prio: 5, right: true}, {field: "nearest_m", head: "nearest", unit: "m", prio: 0, right: true}, {field: "rough_m", head: "roughness", unit: "m", prio: 0, right: true}, {field: "cloud_sigma_m", head: "cloud sigma", unit: "m", prio: 0, right: true},
		{field: "survey_sigma_m", head: "survey sigma", unit: "m", prio: 0, right: true}, {field: "source", head: "source", prio: 0}, {field: "strips", head: "strips", prio: 0},
		{field: "used", head: "used", prio: 2}, {field: "outlier", head: "outlier", prio: 0}, {field: "reason", head: "reason", prio: 3}}}

	voidSpec = &spec{name: "voids", title: "Voids", base: "coverage.void_list", n: func(r *Record) int {
		if r.Coverage == nil {
			return 0
		}
		return len(r.Coverage.VoidList)
	}, cols: []column{{field: "id", head: "void", prio: 1, code: true}, {field: "e_m", head: "E", unit: "m", prio: 1, right: true}, {field: "n_m", head: "N", unit: "m", prio: 1, right: true},
		{field: "area_m2", head: "area", unit: "m2", prio: 1, right: true}, {field: "note", head: "note", prio: 2}}}

	criterionSpec = &spec{name: "criteria", title: "Criteria", base: "verdict.criteria", n: func(r *Record) int { return len(r.Verdict.Criteria) }, cols: []column{
		{field: "name", head: "criterion", prio: 1}, {field: "value", head: "value", prio: 1, right: true}, {field: "limit", head: "limit", prio: 1, right: true},
		{field: "unit", head: "unit", prio: 2}, {field: "result", head: "result", prio: 1}, {field: "reason", head: "reason", prio: 3}, {field: "source", head: "source", prio: 4},
		{field: "group", head: "group", prio: 0}, {field: "sense", head: "sense", prio: 0}, {field: "id", head: "id", prio: 0, code: true}}}

	causeSpec = &spec{name: "causes", title: "Causes", base: "causes", n: func(r *Record) int { return len(r.Causes) }, cols: []column{
		{field: "kind", head: "cause", prio: 1, code: true}, {field: "strip", head: "strip", prio: 1, code: true}, {field: "estimate", head: "estimate", prio: 1, right: true},
		{field: "sigma", head: "sigma", prio: 1, right: true}, {field: "unit", head: "unit", prio: 1}, {field: "significant", head: "significant", prio: 2},
		{field: "explained_pct", head: "explains", unit: "pct", prio: 2, right: true}, {field: "confounded_with", head: "not told apart from", prio: 3}, {field: "evidence", head: "evidence", prio: 4}}}

	findingSpec = &spec{name: "findings", title: "Findings", base: "findings", n: func(r *Record) int { return len(r.Findings) }, cols: []column{
		{field: "severity", head: "severity", prio: 1}, {field: "text", head: "finding", prio: 1}, {field: "evidence", head: "evidence", prio: 3},
		{field: "rivals", head: "rivals", prio: 4}, {field: "decide_by", head: "decide by", prio: 2}, {field: "strips", head: "strips", prio: 0}, {field: "id", head: "id", prio: 0, code: true}}}

	fieldSpec = &spec{name: "acquisition", title: "Field check", base: "field.checks", n: func(r *Record) int {
		if r.Field == nil {
			return 0
		}
		return len(r.Field.Checks)
	}, cols: []column{{field: "name", head: "check", prio: 1}, {field: "value", head: "value", prio: 1, right: true}, {field: "limit", head: "limit", prio: 1, right: true}, {field: "unit", head: "unit", prio: 2},
		{field: "result", head: "result", prio: 1}, {field: "strips", head: "strips", prio: 2}, {field: "note", head: "note", prio: 3}, {field: "basis", head: "basis", prio: 4},
		{field: "sense", head: "sense", prio: 0}, {field: "id", head: "id", prio: 0, code: true}}}

	parameterSpec = &spec{name: "correction", title: "Correction", base: "correction.parameters", n: func(r *Record) int {
		if r.Correction == nil {
			return 0
		}
		return len(r.Correction.Parameters)
	}, cols: []column{{field: "kind", head: "parameter", prio: 1, code: true}, {field: "strip", head: "strip", prio: 1, code: true}, {field: "value", head: "value", prio: 1, right: true},
		{field: "sigma", head: "sigma", prio: 1, right: true}, {field: "unit", head: "unit", prio: 1}, {field: "significant", head: "significant", prio: 2}}}

	inputSpec = &spec{name: "inputs", title: "Input files", base: "inputs", n: func(r *Record) int { return len(r.Inputs) }, cols: []column{
		{field: "path", head: "file", prio: 1}, {field: "points", head: "points", prio: 1, right: true}, {field: "format", head: "format", prio: 2, right: true}, {field: "version", head: "LAS", prio: 2},
		{field: "compressed", head: "LAZ", prio: 3}, {field: "bytes", head: "bytes", prio: 3, right: true}, {field: "time_encoding", head: "time", prio: 0}, {field: "software", head: "software", prio: 0},
		{field: "sha256", head: "SHA-256", prio: 4, code: true}, {field: "warnings", head: "warnings", prio: 5}}}
)

// tableSpecs are the tables of a record but those of editions of standards, whose names begin with standardTable.
var tableSpecs = []*spec{criterionSpec, pairSpec, loopSpec, checkSpec, subsetSpec, targetSpec, causeSpec, findingSpec, parameterSpec, fieldSpec, stripSpec, voidSpec, inputSpec}

const standardTable = "standard_"

// tables returns every table that has rows, in the order of the report.
func (v *view) tables() []*table {
	var out []*table
	add := func(t *table) {
		if len(t.rows) > 0 {
			out = append(out, t)
		}
	}
	add(v.criteria())
	for _, s := range []*spec{pairSpec, loopSpec, checkSpec, subsetSpec, targetSpec} {
		add(v.build(s))
	}
	for _, t := range v.editionTables() {
		add(t)
	}
	add(v.causes())
	add(v.build(findingSpec))
	add(v.parameters())
	add(v.checksTable())
	for _, s := range []*spec{stripSpec, voidSpec, inputSpec} {
		add(v.build(s))
	}
	return out
}

func (v *view) criteria() *table    { return v.numbered(criterionSpec, "value", "limit") }
func (v *view) checksTable() *table { return v.numbered(fieldSpec, "value", "limit") }
func (v *view) causes() *table      { return v.estimates(causeSpec, "estimate") }
func (v *view) parameters() *table  { return v.estimates(parameterSpec, "value") }

// estimates shows a value with the decimals that its sigma asks for: two
// significant digits of the sigma, at most eight decimals.
func (v *view) estimates(s *spec, field string) *table {
	t := v.build(s)
	for i, row := range t.rows {
		base := keyf("%s[%d]", s.base, i)
		d := sigmaDecimals(v.num(base + ".sigma"))
		for k, c := range t.cols {
			switch {
			case c.field == "unit":
				row[k].text = unitText(v.text(base + ".unit"))
			case (c.field == field || c.field == "sigma") && row[k].text != absent:
				row[k].text = fixed(row[k].num, d)
			}
		}
	}
	return t
}
