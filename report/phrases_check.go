package report

import (
	"math"
	"slices"
	"strings"
)

// groupsOfChecks are the groups of check points in the order they are told.
var groupsOfChecks = []struct{ key, name string }{{"checkpoints.nva", "open ground"}, {"checkpoints.vva", "vegetated"}}

// noneOf tells whether no group has the figure.
func (v *view) noneOf(groups []string, field string) bool {
	return !slices.ContainsFunc(groups, func(g string) bool { _, ok := v.values[g+"."+field]; return ok })
}

// listLines tell how the list was read.
func (v *view) listLines() []string {
	c := v.rec.Checkpoints
	if c == nil || c.List == nil {
		return nil
	}
	lines := []string{"List " + string(c.File) + ": " + c.List.Choice}
	lines = append(lines, c.List.Warnings...)
	return append(lines, c.List.Refused...)
}

// uncertaintyLines tell what samples of this size can say.
func (v *view) uncertaintyLines() []string {
	c := v.rec.Checkpoints
	if c == nil {
		return nil
	}
	var lines []string
	for _, g := range groupsOfChecks {
		var parts []string
		add := func(field, text string) {
			if k := g.key + "." + field; !math.IsNaN(v.num(k)) {
				parts = append(parts, text+" "+v.withUnit(k))
			}
		}
		if k := g.key + ".rmse_boot_low_m"; !math.IsNaN(v.num(k)) {
			parts = append(parts, "RMSE by bootstrap "+v.show(k, 3, 1)+" to "+v.withUnit(g.key+".rmse_boot_high_m"))
		}
		add("rmse_upper_m", "true RMSE at most (95 %, one-sided)")
		add("rmse_places_high_m", "counting places instead of points the interval reaches")
		switch k := g.key + ".class_confidence_pct"; {
		case v.num(k) > 99:
			parts = append(parts, "confidence that the class is met over 99 %")
		case !math.IsNaN(v.num(k)):
			parts = append(parts, "confidence that the class is met "+v.show(k, 0, 1)+" %")
		}
		if len(parts) > 0 {
			lines = append(lines, g.name+": "+strings.Join(parts, "; "))
		}
	}
	if s := v.powerPhrase(); s != "" {
		lines = append(lines, s)
	}
	if a := c.NVA; a != nil && a.BiasAbove25 != nil && *a.BiasAbove25 {
		lines = append(lines, "the mean of the open points is above 25 % of the class: its cause has to be found and reported")
	}
	if a := c.NVA; a != nil && a.Normal != nil && !*a.Normal {
		lines = append(lines, "the differences of the open points do not look normal: read median and NMAD beside mean and RMSE")
	}
	if c.Independence != "" {
		lines = append(lines, string(c.Independence))
	}
	if s := v.spreadPhrase(); s != "" {
		lines = append(lines, s)
	}
	return lines
}

// powerPhrase says what the number of points can show.
func (v *view) powerPhrase() string {
	a := v.rec.Checkpoints.NVA
	if a == nil {
		return ""
	}
	for i := range a.Power {
		if r := a.Power[i].Ratio; r != nil && *r == 1.25 {
			return "with " + v.show("checkpoints.nva.n", 0, 1) + " points a cloud whose true RMSE is 25 % above the class passes " + v.show(keyf("checkpoints.nva.power[%d].pass_pct", i), 0, 1) + " times in 100"
		}
	}
	return ""
}

// spreadPhrase says how the points lie over the cloud.
func (v *view) spreadPhrase() string {
	d := v.rec.Checkpoints.Distribution
	if d == nil {
		return ""
	}
	k := "checkpoints.distribution."
	s := "points in the quarters of the " + string(d.Area) + ": south-west " + v.show(k+"n_sw", 0, 1) + ", south-east " + v.show(k+"n_se", 0, 1) + ", north-west " + v.show(k+"n_nw", 0, 1) + ", north-east " + v.show(k+"n_ne", 0, 1) + " (20 % each asked)"
	if d.NearestM != nil {
		s += "; nearest two " + v.withUnit(k+"nearest_m") + " apart"
	}
	return s
}

// rulesPhrase says which rules for blunders were run.
func (v *view) rulesPhrase() []string {
	r := v.rec.Checkpoints.Rules
	if r == nil {
		return nil
	}
	lines := []string{"rules for blunders that were run: " + strings.Join(r.Run, ", ")}
	var not []string
	for _, n := range r.NotRun {
		not = append(not, n.ID+" ("+n.Needs+")")
	}
	if len(not) > 0 {
		lines = append(lines, "not run, and what each needs: "+strings.Join(not, "; "))
	}
	return lines
}

// horizontalPhrase tells the horizontal figures in a line, empty without any.
func (v *view) horizontalPhrase() []string {
	h := v.rec.Checkpoints.Horizontal
	if h == nil {
		return nil
	}
	var lines []string
	k := "checkpoints.horizontal."
	if h.N > 0 {
		lines = append(lines, "horizontal, from "+v.show(k+"n", 0, 1)+" targets: RMSE "+v.withUnit(k+"rmse_m")+" (x "+v.show(k+"rmse_x_m", 3, 1)+", y "+v.show(k+"rmse_y_m", 3, 1)+"\u00a0m), 95 % radius "+v.withUnit(k+"accuracy95_m"))
	}
	if h.Basis != "" {
		lines = append(lines, string(h.Basis))
	}
	if h.ExpectedM != nil {
		lines = append(lines, "horizontal error to be expected: "+v.withUnit(k+"expected_rmse_m")+" ("+string(h.ExpectedBasis)+")")
	}
	return lines
}

// tables of check points beside the points themselves
var subsetSpec = &spec{name: "checkpoints_without", title: "Open check points without some of them", base: "checkpoints.subsets", n: func(r *Record) int {
	if r.Checkpoints == nil {
		return 0
	}
	return len(r.Checkpoints.Subsets)
}, note: "Shown beside the figures above, which hold with all points.", cols: []column{
	{field: "name", head: "statistic", prio: 1}, {field: "n", head: "points", prio: 1, right: true}, {field: "mean_m", head: "mean", unit: "m", prio: 1, right: true}, {field: "std_m", head: "std", unit: "m", prio: 3, right: true},
	{field: "rmse_m", head: "RMSE", unit: "m", prio: 1, right: true}, {field: "rmse_low_m", head: "from", unit: "m", prio: 3, right: true}, {field: "rmse_high_m", head: "to", unit: "m", prio: 3, right: true},
	{field: "accuracy95_m", head: "95 %", unit: "m", prio: 2, right: true}, {field: "p95_abs_m", head: "95th percentile", unit: "m", prio: 4, right: true}, {field: "left_out", head: "left out", prio: 2}, {field: "rule", head: "rule", prio: 0},
	{field: "id", head: "id", prio: 0, code: true}, {field: "group", head: "group", prio: 0, code: true}}}

var targetSpec = &spec{name: "targets", title: "Targets and roof ridges", base: "checkpoints.horizontal.targets", n: func(r *Record) int {
	if r.Checkpoints == nil || r.Checkpoints.Horizontal == nil {
		return 0
	}
	return len(r.Checkpoints.Horizontal.Targets)
}, note: "Differences are cloud minus survey.", cols: []column{
	{field: "id", head: "point", prio: 1, code: true}, {field: "kind", head: "shape", prio: 2}, {field: "found", head: "found", prio: 1}, {field: "dx_m", head: "dE", unit: "m", prio: 1, right: true}, {field: "dy_m", head: "dN", unit: "m", prio: 1, right: true},
	{field: "across_m", head: "across the ridge", unit: "m", prio: 1, right: true}, {field: "dz_m", head: "dz", unit: "m", prio: 2, right: true}, {field: "sigma_m", head: "sigma", unit: "m", prio: 2, right: true}, {field: "returns", head: "returns", prio: 4, right: true}, {field: "reason", head: "reason", prio: 3}}}

// editionTables are the figures of each standard.
func (v *view) editionTables() []*table {
	if c := v.rec.Checkpoints; c == nil || c.NUsed == 0 && (c.Horizontal == nil || c.Horizontal.N == 0) {
		return nil // no figure of any standard
	}
	var out []*table
	for i := range v.rec.Checkpoints.Editions {
		e := &v.rec.Checkpoints.Editions[i]
		k := keyf("checkpoints.editions[%d]", i)
		title := e.Title
		if e.ClassM != nil {
			title += ", class " + v.withUnit(k+".class_m")
		}
		var notes []string
		if !e.Chosen {
			notes = append(notes, "Not the standard of the limits: shown beside it.")
		}
		notes = append(notes, "Points called for: open "+v.show(k+".required_open", 0, 1)+", vegetated "+v.show(k+".required_vegetated", 0, 1)+" ("+string(e.RequiredSource)+").")
		s := &spec{name: standardTable + safeName(e.ID), title: title, base: k + ".measures", n: func(*Record) int { return len(e.Measures) }, note: strings.Join(notes, " "), cols: []column{
			{field: "name", head: "figure", prio: 1}, {field: "n", head: "points", prio: 2, right: true}, {field: "value_m", head: "value", unit: "m", prio: 1, right: true}, {field: "limit_m", head: "limit", unit: "m", prio: 1, right: true},
			{field: "result", head: "result", prio: 1}, {field: "note", head: "note", prio: 3}, {field: "source", head: "source", prio: 5}, {field: "id", head: "id", prio: 0, code: true}}}
		t := v.build(s)
		for k := range e.Measures {
			if m := &e.Measures[k]; m.Result == NotJudged && m.ValueM != nil && m.LimitM == nil {
				t.rows[k][slices.IndexFunc(s.cols, func(c column) bool { return c.field == "result" })].text = "no limit"
			}
		}
		out = append(out, t)
	}
	return out
}

// mostWorst is how many points the list of the largest differences has.
const mostWorst = 5

// worstChecks are the used points of largest difference with the flags of their sites.
func (v *view) worstChecks() *table {
	t := v.build(checkSpec)
	t.title, t.note = "Largest differences", ""
	var order []int
	if c := v.rec.Checkpoints; c != nil {
		for i := range c.Points {
			if c.Points[i].Used && c.Points[i].DzM != nil {
				order = append(order, i)
			}
		}
		slices.SortStableFunc(order, func(a, b int) int {
			x, y := math.Abs(*c.Points[a].DzM), math.Abs(*c.Points[b].DzM)
			switch {
			case x > y:
				return -1
			case x < y:
				return 1
			}
			return 0
		})
	}
	rows := t.rows
	t.rows = nil
	for _, i := range order[:min(mostWorst, len(order))] {
		t.rows = append(t.rows, rows[i])
	}
	return t
}

// excluded are the points that entered no figure.
func (v *view) excluded() *table {
	s := *checkSpec
	s.title, s.note = "Points that count in no figure", ""
	s.cols = []column{{field: "id", head: "point", prio: 1, code: true}, {field: "dz_m", head: "dz", unit: "m", prio: 2, right: true}, {field: "cover", head: "cover", prio: 3}, {field: "reason", head: "reason", prio: 1}}
	t := v.build(&s)
	rows := t.rows
	t.rows = nil
	for i := range rows {
		if !v.rec.Checkpoints.Points[i].Used {
			t.rows = append(t.rows, rows[i])
		}
	}
	return t
}
