package report

import (
	"math"
	"slices"
	"strings"
)

// accuracyRows are the statistics of one group of check points in the order
// of the report.
var accuracyRows = []struct{ name, field string }{
	{"points", "n"}, {"mean", "mean_m"}, {"standard deviation", "std_m"}, {"RMSE", "rmse_m"}, {"RMSE, 95 % interval from", "rmse_low_m"}, {"RMSE, 95 % interval to", "rmse_high_m"}, {"RMSE with survey error", "rmse_with_survey_m"}, {"1.96 RMSE (95 %)", "accuracy95_m"},
	{"95th percentile of abs(dz)", "p95_abs_m"}, {"68.3 % quantile of abs(dz)", "p683_abs_m"}, {"mean of abs(dz)", "mean_abs_m"}, {"smallest", "min_m"}, {"largest", "max_m"}, {"median", "median_m"}, {"NMAD", "nmad_m"},
	{"skew", "skew"}, {"excess kurtosis", "kurtosis"}, {"Shapiro-Wilk W", "shapiro_w"}, {"Shapiro-Wilk p", "shapiro_p"}, {"Jarque-Bera", "jarque_bera"},
	{"mean, 95 % interval from", "mean_low_m"}, {"mean, 95 % interval to", "mean_high_m"},
	{"RMSE by bootstrap, from", "rmse_boot_low_m"}, {"RMSE by bootstrap, to", "rmse_boot_high_m"}, {"true RMSE at most (95 %, one-sided)", "rmse_upper_m"},
	{"RMSE to, if only places counted", "rmse_places_high_m"}, {"95th percentile at most (95 %)", "p95_upper_m"}, {"confidence that the class is met [%]", "class_confidence_pct"},
	{"farther than this from the median: outlier", "outlier_limit_m"},
}

func (v *view) absoluteSection(l *Layers) *section {
	s := &section{ID: "absolute", Name: "Against check points"}
	if v.rec.Checkpoints == nil {
		s.add("<p>Not judged: no check points were given.</p>")
		return s
	}
	for i, line := range v.accuracyLines() {
		if i == 0 || strings.HasPrefix(line, "worst") {
			s.add(sentence(line))
		}
	}
	for _, line := range append(v.uncertaintyLines(), v.horizontalPhrase()...) {
		s.add(sentence(line))
	}
	s.add(v.tableHTML(v.criteriaOf("absolute"), func(i int) string { return v.criteriaIn("absolute")[i].Result }))
	var drawn []string
	for _, f := range v.checkFigures(l) {
		g := &svg{w: 560}
		if g.h = f.draw(g, g.w, 12); g.h > 0 {
			drawn = append(drawn, figure("", g.element("", f.name), f.caption))
		}
	}
	s.add(v.statisticsHTML())
	if len(drawn) > 0 {
		s.add(`<div class="pair">` + strings.Join(drawn, "") + `</div>`)
	}
	s.add(v.tableHTML(v.build(subsetSpec), nil))
	for i, t := range v.editionTables() {
		s.add(v.tableHTML(t, func(k int) string { return v.rec.Checkpoints.Editions[i].Measures[k].Result }))
	}
	worst := v.worst()
	s.add(v.tableHTML(v.worstChecks(), nil), v.tableHTML(v.build(checkSpec), func(i int) string {
		switch p := &v.rec.Checkpoints.Points[i]; {
		case !p.Used:
			return "excluded"
		case i == worst:
			return "worst"
		}
		return ""
	}), v.tableHTML(v.build(targetSpec), nil), v.horizontalFacts())
	for _, n := range append(append(v.listLines(), v.rec.Checkpoints.Notes...), v.rulesPhrase()...) {
		s.add(sentence(n))
	}
	return s
}

// sentence is a paragraph that begins with a capital letter and ends with a full stop.
func sentence(s string) string { return "<p>" + esc(sentenceText(s)) + "</p>" }

func sentenceText(s string) string {
	if s == "" {
		return ""
	}
	s = Capital(s)
	if !strings.HasSuffix(s, ".") {
		s += "."
	}
	return s
}

// horizontalFacts are the figures in plan.
func (v *view) horizontalFacts() string {
	h := v.rec.Checkpoints.Horizontal
	if h == nil {
		return ""
	}
	k := "checkpoints.horizontal."
	rows := [][2]string{}
	if h.N > 0 {
		rows = append(rows, [2]string{"targets", v.count(k + "n")}, [2]string{"RMSE x, y", v.value(k+"rmse_x_m") + ", " + v.value(k+"rmse_y_m")}, [2]string{"mean x, y", v.value(k+"mean_x_m") + ", " + v.value(k+"mean_y_m")},
			[2]string{"RMSE", v.value(k + "rmse_m")}, [2]string{"with survey error", v.value(k + "rmse_with_survey_m")}, [2]string{"95 % radius", v.value(k + "accuracy95_m")})
	}
	if h.ExpectedM != nil {
		rows = append(rows, [2]string{"to be expected by formula, not tested", v.value(k + "expected_rmse_m")}, [2]string{"basis of that", said(string(h.ExpectedBasis))})
	}
	if h.Basis != "" {
		rows = append(rows, [2]string{"basis", said(string(h.Basis))})
	}
	if h.Estimated {
		return facts("Horizontal, estimated and not tested", rows)
	}
	return facts("Horizontal, from targets", rows)
}

// checkLimit returns the limit of the check points for figures.
func (v *view) checkLimit() (limitM float64, judged bool) {
	for _, id := range []string{"nva_rmse_v", "nva_rmse"} {
		for _, c := range v.rec.Verdict.Criteria {
			if c.ID == id && c.Limit != nil && *c.Limit > 0 {
				return *c.Limit, true
			}
		}
	}
	limitM, _ = v.scaleLimit()
	return limitM, false
}

// statistics is the table of statistics with a column for each group, and one in
// feet behind it for clouds in feet.
func (v *view) statistics() *table {
	t := &table{name: "checkpoints", title: "Statistics of the differences", cols: []column{{head: "statistic", prio: 1}}}
	var keys []string
	for _, g := range []struct{ key, name string }{{"checkpoints.nva", "open ground"}, {"checkpoints.vva", "vegetated"}} {
		if _, ok := v.values[g.key+".n"]; ok {
			keys = append(keys, g.key)
			if !v.high.ok() { // the unit stands beside the name
				t.cols = append(t.cols, column{head: g.name, prio: 1, right: true})
				continue
			}
			t.cols = append(t.cols, column{head: g.name, unit: "m", prio: 1, right: true}, column{head: g.name, unit: v.high.name, prio: 1, right: true})
		}
	}
	if len(keys) == 0 {
		return t
	}
	for _, r := range accuracyRows {
		if v.noneOf(keys, r.field) && !strings.HasPrefix(r.field, "rmse_with") {
			continue
		}
		row := []cell{{text: r.name, num: math.NaN()}}
		if !v.high.ok() && strings.HasSuffix(r.field, "_m") {
			row[0].text += " [m]"
		}
		for _, key := range keys {
			k := key + "." + r.field
			row = append(row, cell{text: v.show(k, decimalsShown(k), 1), key: k, num: v.num(k)})
			if v.high.ok() {
				ft := cell{num: math.NaN()} // counts and shapes have no feet
				if strings.HasSuffix(k, "_m") {
					ft = cell{text: v.show(k, decimalsShown(k), v.high.m), key: k, num: v.num(k), foot: v.high}
				}
				row = append(row, ft)
			}
		}
		t.rows = append(t.rows, row)
	}
	return t
}

// statisticsHTML is the table of statistics with what to know about them.
func (v *view) statisticsHTML() string {
	var b strings.Builder
	b.WriteString(v.tableHTML(v.statistics(), nil))
	for _, g := range []struct{ key, name string }{{"checkpoints.nva", "open ground"}, {"checkpoints.vva", "vegetated"}} {
		if n := v.text(g.key + ".normal"); n != "" {
			by := "Shapiro-Wilk"
			if _, ok := v.values[g.key+".shapiro_w"]; !ok { // beyond what that test was made for
				by = "Jarque-Bera"
			}
			b.WriteString(`<p class="note">` + esc(g.name) + `: the differences look ` + map[string]string{"yes": "normal", "no": "not normal: read the median and NMAD"}[n] + ` (` + by + `, 5 %).</p>`)
		}
		if o := v.list(g.key + ".outliers"); len(o) > 0 {
			b.WriteString(`<p class="note">` + esc(g.name+": outliers to explain, kept in the figures: "+strings.Join(o, ", ")) + `</p>`)
		}
	}
	return b.String()
}

// coverageFields are name, key and unit of the figures of the coverage.
var coverageFields = [][3]string{
	{"first returns, all strips", "aggregate_first_return_density_per_m2", " per m²"}, {"first returns of a strip, median of the strips", "strip_first_return_density_per_m2", " per m²"},
	{"first returns, 5th percentile of the cells", "first_return_density_p5_per_m2", " per m²"}, {"nominal spacing", "nominal_spacing_m", " m"}, {"cells with a return", "cells_with_return_pct", " %"},
	{"covered by two strips or more", "covered_twice_pct", " %"}, {"spatial distribution: cells with a return", "spatial_distribution.with_return_pct", " %"}, {"spatial distribution: lowest strip", "spatial_distribution.lowest_strip_pct", " %"},
	{"voids", "voids", ""}, {"largest void", "largest_void_m2", " m²"}, {"a void is a gap of at least", "void_min_m2", " m²"},
}

func (v *view) coverageSection(l *Layers) (*section, error) {
	s := &section{ID: "coverage", Name: "Coverage and density"}
	if v.rec.Coverage == nil {
		s.add("<p>Not judged: the coverage was not measured.</p>")
		return s, nil
	}
	rows := v.coverageRows()
	for i := range rows {
		if rows[i][1] = esc(rows[i][1]); i > 0 {
			continue
		}
		rows[i][1] = v.count("coverage.area_m2") + " m² (" + said(string(v.rec.Coverage.AreaSource)) + ")"
	}
	s.add(facts("Coverage", rows), v.tableHTML(v.criteriaOf("coverage"), func(i int) string { return v.criteriaIn("coverage")[i].Result }))
	var maps strings.Builder
	for _, m := range []struct {
		g           *Grid
		name, label string
		whole       bool
	}{{l.Density, "density", "first returns per m²", false}, {l.StripCount, "strips", "strips with a return", true}} {
		part, err := v.amountMap(l, m.g, m.name, m.label, m.whole)
		if err != nil {
			return nil, err
		}
		maps.WriteString(part)
	}
	if maps.Len() > 0 {
		s.add(`<div class="pair">` + maps.String() + `</div>`)
	}
	s.add(v.tableHTML(v.build(voidSpec), nil))
	for _, n := range v.rec.Coverage.Notes {
		s.add("<p>" + esc(n) + "</p>")
	}
	return s, nil
}

// amountTop is the darkest end of an amount's scale: the largest number of
// strips, or a round value above 98 of 100 cells with an amount.
func amountTop(g *Grid, whole bool) (top float64, decimals int) {
	_, hi, n := rangeOf(g)
	if n == 0 || !(hi > 0) {
		return 0, 0
	}
	if whole {
		return 4 * math.Ceil(hi/4), 0
	}
	var some []float32
	for _, v := range g.Values {
		if v > 0 {
			some = append(some, v)
		}
	}
	slices.Sort(some)
	hi = float64(some[(len(some)-1)*98/100])
	step, d := roundStep(hi / 8)
	return 8 * step, d
}

func (v *view) amountMap(l *Layers, g *Grid, name, label string, whole bool) (string, error) {
	if g == nil {
		return "", nil
	}
	top, decimals := amountTop(g, whole)
	if top == 0 {
		return "", nil
	}
	return v.amountMapOf(l, g, top, decimals, label, "Map: "+label+".")
}

func (v *view) amountMapOf(l *Layers, g *Grid, top float64, decimals int, label, caption string) (string, error) {
	pic, err := amountPicture(l, g, l.boundsOr(g), top, 700)
	if err != nil {
		return "", err
	}
	c := &svg{w: 500}
	h, _ := v.drawMap(c, l, pic, c.w, 460, 10, mapOptions{voids: true})
	c.h = h + 42
	drawAmountScale(c, 10, h+20, 480, 11, top, decimals, label)
	return figure("onpaper", c.element("", "Map: "+label), caption), nil
}

func (v *view) cautionSection() *section {
	s := &section{ID: "cautions", Name: "What these figures do not say"}
	var b strings.Builder
	b.WriteString("<ul>")
	for _, c := range v.cautions() {
		b.WriteString("<li>" + esc(c) + "</li>")
	}
	s.add(b.String() + "</ul>")
	return s
}

// statementRows are the fields of the accuracy statement.
func (v *view) statementRows() [][2]string {
	st := v.rec.Checkpoints.Statement
	k := "checkpoints.statement"
	kind := map[string]string{"tested": "tested with independent check points", "tested_reduced": "tested with fewer points than the standard calls for: class named as the one produced to meet", "produced": "produced to meet; no test"}[st.Case]
	rows := [][2]string{{"standard", unknown(st.Standard)}, {"edition", unknown(string(st.Edition))}, {"kind", kind}, {"class", v.withUnit(k+".class_m") + ", " + string(st.Component)},
		{"open ground", v.withUnit(k+".nva_rmse_m") + ", n " + v.show(k+".nva_n", 0, 1)}}
	if st.NVA95M != nil {
		rows = append(rows, [2]string{"open ground, 95 %", v.withUnit(k + ".nva_accuracy95_m")})
	}
	measure := map[Text]string{"rmse": "RMSE", "p95_abs": "95th percentile"}[st.VVAMeasure]
	rows = append(rows, [2]string{"vegetated", strings.TrimSpace(measure + " " + v.withUnit(k+".vva_m") + ", n " + v.show(k+".vva_n", 0, 1))},
		[2]string{"points called for", v.show(k+".points_required", 0, 1)}, [2]string{"accuracy of the check survey", v.withUnit(k + ".survey_rmse_m")})
	for _, e := range v.rec.Checkpoints.Editions {
		if !e.Chosen {
			continue
		}
		for _, n := range e.Notes {
			rows = append(rows, [2]string{"to be reported", n})
		}
		rows = append(rows, [2]string{"the standard's own sentence stands in", string(e.TakeFrom)})
	}
	if len(st.Missing) > 0 {
		rows = append(rows, [2]string{"incomplete, missing", strings.Join(st.Missing, "; ")})
	}
	return rows
}

// statementNote stands below the fields.
const statementNote = "The fields are in this report's own words; what holds for all subjects of a standard stands in its first table. The sentence that carries them is fixed by the standard: the person who signs takes it from the standard's own text."

func (v *view) statementSection() *section {
	s := &section{ID: "statement", Name: "Fields of the accuracy statement and sign-off"}
	if all := v.stated(); len(all) > 0 {
		others := ""
		for _, t := range all {
			for i := range t.rows {
				t.rows[i][1] = esc(t.rows[i][1])
			}
			if f := facts(t.title, t.rows); t.chosen {
				s.add(f)
			} else {
				others += f
			}
		}
		if others != "" {
			s.add("<details><summary>Fields by the other standards</summary>" + others + "</details>")
		}
		s.add(`<p class="note">` + statementNote + `</p>`)
	} else if v.rec.Checkpoints != nil && v.rec.Checkpoints.Statement != nil {
		rows := v.statementRows()
		for i := range rows {
			rows[i][1] = esc(rows[i][1])
		}
		s.add(facts("Fields", rows), `<p class="note">`+statementNote+`</p>`)
	} else {
		s.add("<p>No standard was chosen or no check points were given: there is no statement to fill.</p>")
	}
	s.add(`<p>Only a person signs. Where the law asks for it, this is a licensed surveyor.</p><div class="sheet"><div>name</div><div>licence number</div><div>date</div><div>signature</div></div>`)
	return s
}

// settingRows are the settings that the figures depend on.
func (v *view) settingRows() [][2]string {
	o := &v.rec.Options
	rows := [][2]string{{"program", strings.TrimSpace(v.rec.Program.Name + " " + v.rec.Program.Version + " " + v.rec.Program.Go)}, {"limits", unknown(string(v.rec.Verdict.Source))}}
	for _, x := range []struct{ name, key string }{{"cell", "options.cell_m"}, {"steepest cell compared", "options.max_slope_deg"}, {"roughest cell compared", "options.max_rough_m"}, {"returns of each strip that a cell needs", "options.min_points"}, {"radius around check points", "options.checkpoint_radius_m"}} {
		if math.IsNaN(v.num(x.key)) {
			continue
		}
		text := v.show(x.key, decimalsShown(x.key), 1)
		switch {
		case strings.HasSuffix(x.key, "_m"):
			text = v.withUnit(x.key)
		case strings.HasSuffix(x.key, "_deg"):
			text += "°"
		}
		rows = append(rows, [2]string{x.name, text})
	}
	for _, x := range []struct {
		name string
		text Text
	}{{"cell chosen", o.CellWhy}, {"trajectory", o.TrajectoryFile}, {"check points", o.CheckpointsFile}} {
		if x.text != "" {
			rows = append(rows, [2]string{x.name, string(x.text)})
		}
	}
	return rows
}

func (v *view) provenanceSection() *section {
	s := &section{ID: "provenance", Name: "Provenance"}
	rows := v.settingRows()
	for i := range rows {
		rows[i][1] = esc(rows[i][1])
	}
	s.add(facts("Settings", rows), "<h3>Command</h3><pre>"+esc(shellLine(v.rec.CommandLine))+"</pre>", v.tableHTML(v.build(inputSpec), nil))
	if v.rec.CRS.WKT != "" {
		s.add("<details><summary>Coordinate system as the files state it</summary><pre>" + esc(string(v.rec.CRS.WKT)) + "</pre></details>")
	}
	if d := v.rec.Verdict.Criteria; len(d) > 0 {
		s.add(v.tableHTML(v.criteria(), func(i int) string { return d[i].Result }))
	}
	return s
}

// shellLine joins a command line so that it can be pasted.
func shellLine(args []string) string {
	out := make([]string, len(args))
	for i, a := range args {
		if out[i] = a; a == "" || strings.ContainsAny(a, " \t\n'\"\\$`&|;<>()*?[]#~!{}") {
			out[i] = "'" + strings.ReplaceAll(a, "'", `'\''`) + "'"
		}
	}
	return strings.Join(out, " ")
}
