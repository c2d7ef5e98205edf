package report

import (
	"cmp"
	"math"
	"slices"
	"strings"
)

func (v *view) projectSection() *section {
	s := &section{ID: "project", Name: "Project"}
	var rows [][2]string
	add := func(name, text string) { rows = append(rows, [2]string{name, said(text)}) }
	if p := v.rec.Project; p != nil {
		add("project", string(p.Name))
		for _, x := range []struct {
			name string
			text Text
		}{{"number", p.Number}, {"client", p.Client}, {"site", p.Site}, {"flown on", p.FlightDate}, {"sensor", p.Sensor}, {"aircraft", p.Aircraft}, {"conditions", p.Conditions}} {
			if x.text != "" {
				add(x.name, string(x.text))
			}
		}
		for _, n := range p.Notes {
			add("note", string(n))
		}
	}
	rows = append(rows, [2]string{"input", esc(v.inputPhrase())})
	if _, ok := v.values["coverage.area_m2"]; ok {
		rows = append(rows, [2]string{"area", v.count("coverage.area_m2") + " m²"})
	}
	add("strips by", strings.TrimSuffix(v.rec.StripsBy.Mode+": "+v.rec.StripsBy.Why, ": "))
	s.add(facts("Job", rows))
	if len(v.rec.Warnings) > 0 {
		var b strings.Builder
		b.WriteString("<h3>Warnings</h3><ul>")
		for _, w := range v.rec.Warnings {
			b.WriteString("<li>" + esc(w) + "</li>")
		}
		s.add(b.String() + "</ul>")
	}
	return s
}

// inputPhrase counts what was read.
func (v *view) inputPhrase() string {
	points := int64(0)
	for _, in := range v.rec.Inputs {
		points += in.Points
	}
	return Counted(len(v.rec.Inputs), "file", "files") + ", " + group(points) + " points, " + Counted(len(v.rec.Strips), "strip", "strips")
}

// Counted is a number with its noun: "1 file", "3 files".
func Counted[T int | int64](n T, one, many string) string {
	if n == 1 {
		many = one
	}
	return group(int64(n)) + " " + many
}

// referenceRows are the reference box: what is unknown is shown as such.
func (v *view) referenceRows() (where, base [][2]string) {
	unit := func(name, m string, stated bool) string {
		t := unknown(name)
		if k := v.num(m); !math.IsNaN(k) && k != 1 {
			t += " (" + trimmed(k, 12) + " m)"
		}
		if !stated {
			t += ", not stated in the files: assumed"
		}
		return t
	}
	code := func(name Text, key string) string {
		t := unknown(string(name))
		if _, ok := v.values[key]; ok {
			t += " (EPSG:" + trimmed(v.num(key), 0) + ")"
		}
		return t
	}
	c, r := &v.rec.CRS, &v.rec.Reference
	where = [][2]string{
		{"horizontal system", code(c.Horizontal, "crs.horizontal_epsg")}, {"vertical system", code(c.Vertical, "crs.vertical_epsg")},
		{"vertical datum", unknown(string(r.VerticalDatum))}, {"geoid model", unknown(string(r.Geoid))}, {"epoch", unknown(string(r.Epoch))},
		{"horizontal unit", unit(string(c.HorizontalUnit), "crs.horizontal_unit_m", c.HorizontalUnitStated)},
		{"vertical unit", unit(string(c.VerticalUnit), "crs.vertical_unit_m", c.VerticalUnitStated)},
	}
	for _, n := range c.Notes {
		where = append(where, [2]string{"note", n})
	}
	independent := "unknown"
	switch i := r.CheckpointIndependent; {
	case i != nil && *i:
		independent = "yes"
	case i != nil:
		independent = "no: same base as the trajectory"
	}
	antenna := v.withUnit("reference.antenna_height_m")
	if antenna == absent {
		antenna = "unknown"
	}
	base = [][2]string{{"base mark", unknown(string(r.BaseMark))}, {"its coordinates from", unknown(string(r.BaseMarkSource))}, {"antenna height", antenna},
		{"measured", unknown(string(r.AntennaHeightMethod))}, {"check points from", unknown(string(r.CheckpointSource))}, {"independent of the base", independent},
		{"sensor path", pathText(v.rec.Path)}}
	return where, base
}

func pathText(p *Path) string {
	if p == nil {
		return "not used"
	}
	switch p.Source {
	case "file":
		return "from " + unknown(string(p.File))
	case "recovered":
		return "recovered from the points"
	}
	return "none"
}

func (v *view) referenceSection() *section {
	s := &section{ID: "reference", Name: "Reference"}
	where, base := v.referenceRows()
	mark := func(rows [][2]string) [][2]string {
		out := make([][2]string, len(rows))
		for i, r := range rows {
			if out[i] = [2]string{r[0], esc(r[1])}; r[1] == "unknown" {
				out[i][1] = said("")
			}
		}
		return out
	}
	s.add(`<div class="facts">` + facts("Coordinates and heights", mark(where)) + facts("Base and check points", mark(base)) + `</div>`)
	return s
}

func (v *view) acquisitionSection() *section {
	s := &section{ID: "acquisition", Name: "Acquisition"}
	if f := v.rec.Field; f != nil {
		s.add("<p>Field check: " + esc(resultText(f.Verdict)) + "</p>")
		s.add(v.tableHTML(v.checksTable(), func(i int) string { return f.Checks[i].Result }))
	} else {
		s.add(`<p class="note">No field check was run: base log, trajectory and manoeuvres were not tested.</p>`)
	}
	order := "by time"
	if !v.timed() {
		order = "as listed"
	}
	s.add(v.foldedHTML(v.build(stripSpec), nil, "strips, the first "+order+","))
	return s
}

// relativeSection shows strips against strips.
func (v *view) relativeSection(l *Layers) (*section, any, error) {
	s := &section{ID: "relative", Name: "Strip against strip"}
	if v.rec.Separation == nil || v.rec.Separation.Cells == 0 {
		s.add("<p>Not judged: "+esc(NoSeparation(v.rec))+".</p>", v.tableHTML(v.criteriaOf("relative"), nil), v.repeatabilityHTML())
		return s, nil, nil
	}
	limitM, judged := v.scaleLimit()
	s.add("<p>"+esc(v.separationPhrase())+"</p>",
		v.tableHTML(v.criteriaOf("relative"), func(i int) string { return v.criteriaIn("relative")[i].Result }))
	mapPart, data, err := v.separationMap(l, l.Separation, limitM, judged, "map")
	if err != nil {
		return nil, nil, err
	}
	s.add(mapPart)
	var pair []string
	if l.Separations != nil {
		g := &svg{w: 560, h: 300}
		drawHistogram(g, g.w, g.h, 12, l.Separations, limitM, judged, "separation [m]")
		pair = append(pair, figure("", g.element("", "Histogram of the separations of all pairs"), "Separations of all pairs, "+group(histogramCount(l.Separations))+" cells."))
	}
	g := &svg{w: 560}
	pairs, caption := v.pairsShown()
	if g.h = v.drawPairs(g, pairs, g.w, 12, limitM, judged); g.h > 0 {
		pair = append(pair, figure("", g.element("", "Median, RMSD and 95th percentile of each pair"), caption))
	}
	if len(pair) > 0 {
		s.add(`<div class="pair">` + strings.Join(pair, "") + `</div>`)
	}
	loops := v.tableHTML(v.build(loopSpec), nil)
	if len(v.rec.Loops) > 12 {
		loops = "<details><summary>Closure of three strips: " + group(int64(len(v.rec.Loops))) + " triples</summary>" + loops + "</details>"
	}
	s.add(v.foldedHTML(v.build(pairSpec), v.worstPairs(mostOpenRows/2), "pairs of largest RMSD"), loops)
	small, err := v.pairMaps(l, limitM)
	if err != nil {
		return nil, nil, err
	}
	s.add(small)
	for i := range l.Profiles {
		g := &svg{w: 1000}
		if g.h = drawProfile(g, g.w, 12, &l.Profiles[i]); g.h > 0 {
			s.add(figure("wide onpaper", g.element("", "Profile "+l.Profiles[i].Title), v.profileCaption(&l.Profiles[i])))
		}
	}
	s.add(v.repeatabilityHTML(), v.correctionHTML())
	maps, err := v.beforeAfter(l, limitM, judged)
	if err != nil {
		return nil, nil, err
	}
	s.add(maps)
	return s, data, nil
}

// beforeAfter draws the separations before and after a correction beside each
// other, on the same ground and in the same colours.
func (v *view) beforeAfter(l *Layers, limitM float64, judged bool) (string, error) {
	b, ok := l.mapBounds()
	if l.Before == nil || l.Separation == nil || !ok {
		return "", nil
	}
	var out strings.Builder
	for _, m := range []struct {
		g                *Grid
		name, rmsd, text string
	}{{l.Before, "Before the correction", "correction.before.rmsd_m", "before"}, {l.Separation, "After the correction", "correction.after.rmsd_m", "after"}} {
		pic, err := separationPicture(l, m.g, l.faded(m.g), b, limitM, 700)
		if err != nil {
			return "", err
		}
		c := &svg{w: 500}
		h, _ := v.drawMap(c, l, pic, c.w, 460, 10, mapOptions{strips: true})
		c.h = h + 42
		v.drawScale(c, 15, h+20, 470, 10, limitM, judged)
		caption := m.name
		if v.rec.Correction != nil && !math.IsNaN(v.num(m.rmsd)) {
			caption += ": RMSD " + v.withUnit(m.rmsd)
		}
		out.WriteString(figure("onpaper", c.element("", "Map of the separation "+m.text+" the correction"), caption+"."))
	}
	return `<h3>Separation before and after the correction</h3><div class="pair">` + out.String() + `</div>`, nil
}

func histogramCount(h *Histogram) int64 {
	n := h.Under + h.Over
	for _, c := range h.Counts {
		n += c
	}
	return n
}

// separationMap draws the map of separations with its key; the one with an id
// gets the tools for zoom and values.
func (v *view) separationMap(l *Layers, g *Grid, limitM float64, judged bool, id string) (string, any, error) {
	b, ok := l.mapBounds()
	if g == nil || !ok {
		return `<p class="note">No map: the rasters are not at hand.</p>`, nil, nil
	}
	pic, err := separationPicture(l, g, l.faded(g), b, limitM, 1200)
	if err != nil {
		return "", nil, err
	}
	c := &svg{w: 1000}
	h, f := v.drawMap(c, l, pic, c.w, 900, 14, mapOptions{strips: true, voids: true, checks: true, findings: true, exaggeration: 14 * 2.5 / (2 * limitM)})
	c.h = h
	key := &svg{w: 1000, h: 50}
	v.drawScale(key, 20, 20, 960, 13, limitM, judged)
	caption := "Separation in each cell where strips meet, over the shaded relief; where more than two meet, the largest in size. Pale: not compared, being steep, rough or thin. Darker from the limit on, hatched from twice the limit on."
	if !judged {
		caption = "Separation in each cell where strips meet, over the shaded relief. No limit was given: the colours are scaled to the 95th percentile."
	}
	caption += " Strips dashed with an arrow in flight direction, voids dotted."
	caption += v.marksPhrase()
	tools := ""
	if id != "" {
		tools = `<div class="tools" hidden><button type="button" id="map-in" aria-label="closer">+</button><button type="button" id="map-out" aria-label="farther">−</button><button type="button" id="map-all">whole map</button>` +
			`<label><input type="checkbox" data-layer="on-strips" checked> strips</label><label><input type="checkbox" data-layer="on-checks" checked> check points</label>` +
			`<label><input type="checkbox" data-layer="on-voids" checked> voids</label><span class="note mouse">drag to move, Ctrl and wheel to zoom</span><span class="note touch">+ and − to zoom, drag sideways to move</span><output id="map-value"></output></div>`
	}
	return figure("map wide onpaper", tools+c.element(id, "Map of the separation between strips")+key.element("", "Key of the colours of separation"), caption), v.mapValues(l, g, f), nil
}

// marksPhrase explains the marks on the map, as far as there are any.
func (v *view) marksPhrase() (s string) {
	if v.rec.Checkpoints != nil {
		s = " Check points: disc open ground, triangle vegetation, cross excluded; bar up when the cloud lies above."
	}
	if slices.ContainsFunc(v.rec.Findings, func(f Finding) bool { return len(f.Places) > 0 }) {
		s += " Diamond: a place that a finding names."
	}
	return s
}

// pairMaps draws small maps of the pairs with the largest RMSD.
func (v *view) pairMaps(l *Layers, limitM float64) (string, error) {
	order := v.worstPairs(12)
	var b strings.Builder
	for _, i := range order {
		p := &v.rec.Pairs[i]
		for k := range l.Pairs {
			if q := &l.Pairs[k]; q.A != p.A || q.B != p.B || q.empty() {
				continue
			}
			q := l.Pairs[k].drawn()
			pic, err := separationPicture(l, q.Grid, func(i int) bool { return !q.used(i) }, boundOf(q.Grid), limitM, 420)
			if err != nil {
				return "", err
			}
			c := &svg{w: 300}
			w, h := pic.bounds.Max[0]-pic.bounds.Min[0], pic.bounds.Max[1]-pic.bounds.Min[1]
			scale := math.Min(300/w, 260/h)
			c.h = h * scale
			c.image((300-w*scale)/2, 0, w*scale, h*scale, pic, ink{class: "pixels"})
			key := keyf("pairs[%d]", i)
			b.WriteString(`<figure class="figure onpaper">` + c.element("", "Separation of strips "+p.A+" and "+p.B) + `<figcaption>` + esc(p.A+" – "+p.B) + `: median ` +
				v.value(key+".median_m") + `, RMSD ` + v.value(key+".rmsd_m") + `</figcaption></figure>`)
		}
	}
	if b.Len() == 0 {
		return "", nil
	}
	return "<details><summary>Maps of single pairs, largest RMSD first</summary><div class=\"small\">" + b.String() + "</div></details>", nil
}

// worstPairs returns the indexes of the pairs with the largest RMSD.
func (v *view) worstPairs(n int) []int {
	var order []int
	for i := range v.rec.Pairs {
		if v.rec.Pairs[i].RMSDM != nil {
			order = append(order, i)
		}
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(*v.rec.Pairs[b].RMSDM, *v.rec.Pairs[a].RMSDM) })
	return order[:min(n, len(order))]
}

func (v *view) repeatabilityHTML() string {
	if v.rec.Repeatability == nil {
		return `<p class="note">Within strips: not judged, no smooth surface was found.</p>`
	}
	var rows [][2]string
	for _, r := range v.repeatabilityRows() {
		rows = append(rows, [2]string{r[0], v.value(r[1])})
	}
	return facts("Within strips, on smooth surfaces", rows)
}

// repeatabilityRows are names and keys of what was determined within strips.
func (v *view) repeatabilityRows() [][2]string {
	var rows [][2]string
	for _, r := range [][2]string{{"cells", "repeatability.cells"}, {"rms of plane residuals", "repeatability.rms_m"}, {"95th percentile", "repeatability.p95_m"}, {"largest", "repeatability.max_m"},
		{"range less slope: cells", "repeatability.lbs.cells"}, {"side of a cell", "repeatability.lbs.cell_m"}, {"RMSD", "repeatability.lbs.rmsd_m"}, {"95th percentile of these", "repeatability.lbs.p95_m"},
		{"smallest", "repeatability.lbs.min_m"}, {"largest of these", "repeatability.lbs.max_m"}} {
		if !math.IsNaN(v.num(r[1])) {
			rows = append(rows, r)
		}
	}
	return rows
}

func (v *view) correctionHTML() string {
	c := v.rec.Correction
	if c == nil {
		return ""
	}
	word := "not applied: shown as it would be"
	if c.Applied {
		word = "applied to the cloud that is assessed here"
	}
	rows := [][2]string{{"correction", esc(word)}}
	pair := func(name, before, after string) {
		rows = append(rows, [2]string{name, v.value(before) + " → " + v.value(after)})
	}
	pair("RMSD", "correction.before.rmsd_m", "correction.after.rmsd_m")
	pair("NMAD", "correction.before.nmad_m", "correction.after.nmad_m")
	pair("95th percentile", "correction.before.p95_abs_m", "correction.after.p95_abs_m")
	if c.Holdout != nil {
		rows = append(rows, [2]string{"on cells kept out of the fit", v.value("correction.holdout.before_rms_m") + " → " + v.value("correction.holdout.after_rms_m") +
			", noise floor " + v.value("correction.holdout.noise_floor_m") + ", " + v.count("correction.holdout.cells") + " cells"})
	}
	if c.Before != nil && c.Before.CheckM != nil {
		pair("check points in the open, never fitted to, RMSE", "correction.before.checkpoint_rmse_m", "correction.after.checkpoint_rmse_m")
		pair("their mean", "correction.before.checkpoint_mean_m", "correction.after.checkpoint_mean_m")
	}
	if c.Statement != "" {
		rows = append(rows, [2]string{"statement", esc(string(c.Statement))})
	}
	notes := ""
	for _, n := range v.correctionRemarks() {
		notes += "<li>" + esc(n) + "</li>"
	}
	if notes != "" {
		notes = "<ul>" + notes + "</ul>"
	}
	return "<h3>Correction</h3>" + facts("Before and after", rows) + v.tableHTML(v.parameters(), nil) + notes
}

// criteriaIn returns the criteria of a group.
func (v *view) criteriaIn(group string) []Criterion {
	var out []Criterion
	for _, c := range v.rec.Verdict.Criteria {
		if c.Group == group {
			out = append(out, c)
		}
	}
	return out
}

// criteriaOf is the table of the criteria of a group.
func (v *view) criteriaOf(group string) *table {
	t := *v.criteria()
	var rows [][]cell
	for i, c := range v.rec.Verdict.Criteria {
		if c.Group == group {
			rows = append(rows, t.rows[i])
		}
	}
	t.rows = rows
	return &t
}
