package report

import (
	"embed"
	"encoding/base64"
	"encoding/binary"
	"fmt"
	"html"
	"html/template"
	"io"
	"math"
	"slices"
	"strings"
	"unicode/utf8"
)

//go:embed assets/report.css assets/report.js assets/report.tmpl
var assets embed.FS

var page = template.Must(template.ParseFS(assets, "assets/report.tmpl"))

// section is a chapter of the report; its parts are HTML made by this package
// from escaped texts.
type section struct {
	ID, Name string
	Parts    []template.HTML
}

func (s *section) add(parts ...string) {
	for _, p := range parts {
		if p != "" {
			s.Parts = append(s.Parts, template.HTML(p))
		}
	}
}

// htmlPage is what the template shows.
type htmlPage struct {
	Title, Result string
	CSS           template.CSS
	JS            template.JS
	Firm          []Text
	Logo          template.URL
	Sign          template.HTML
	Verdict       []string
	Worst         string
	Toc, Sections []*section
	Footer        string
	MapData       any
}

// WriteHTML writes report.html: one file, no other is needed, no network.
func WriteHTML(w io.Writer, rec *Record, l *Layers) error {
	if l == nil {
		l = &Layers{}
	}
	v := newView(rec)
	css, err := assets.ReadFile("assets/report.css")
	if err != nil {
		return err
	}
	js, err := assets.ReadFile("assets/report.js")
	if err != nil {
		return err
	}
	p := &htmlPage{Title: v.title(), Result: rec.Verdict.Result, CSS: template.CSS(css), JS: template.JS(js), Sign: template.HTML(signMark(rec.Verdict.Result)), Verdict: append(v.verdictLines(), v.correctionLines()...), Footer: v.footer()}
	if a := v.accuracyLines(); len(a) > 0 && v.worst() >= 0 {
		p.Worst = "Worst check point: " + strings.TrimPrefix(a[len(a)-1], "worst point: ") + "."
	}
	if rec.Project != nil {
		if rec.Project.Firm != "" {
			p.Firm = append([]Text{rec.Project.Firm}, rec.Project.Address...)
		}
	}
	if len(l.Logo) > 0 && (l.LogoType == "image/png" || l.LogoType == "image/jpeg") {
		p.Logo = template.URL("data:" + l.LogoType + ";base64," + base64.StdEncoding.EncodeToString(l.Logo))
	}
	sections := []*section{v.projectSection(), v.referenceSection(), v.acquisitionSection()}
	relative, mapData, err := v.relativeSection(l)
	if err != nil {
		return err
	}
	diagnosis, err := v.diagnosisSection(l)
	if err != nil {
		return err
	}
	coverage, err := v.coverageSection(l)
	if err != nil {
		return err
	}
	p.MapData = mapData
	sections = append(sections, relative, v.absoluteSection(l), diagnosis, coverage, v.cautionSection(), v.statementSection(), v.provenanceSection())
	for _, s := range sections {
		if s != nil {
			p.Sections = append(p.Sections, s)
		}
	}
	p.Toc = p.Sections
	var b strings.Builder
	if err := page.Execute(&b, p); err != nil {
		return err
	}
	_, err = io.WriteString(w, Plain(b.String()))
	return err
}

func (v *view) title() string {
	t := "Assessment of a lidar survey"
	if p := v.rec.Project; p != nil && p.Name != "" {
		t = string(p.Name) + ": assessment of the lidar survey"
	}
	return t
}

func (v *view) footer() string {
	s := "Made by " + v.rec.Program.Name + " " + v.rec.Program.Version
	if v.rec.CreatedUTC != "" {
		s += " on " + string(v.rec.CreatedUTC)
	}
	return s + ". Every figure is a field of results.json. Not a survey certificate."
}

// signMark has a shape of its own for each result: tick, cross, open ring.
func signMark(result string) string {
	d := `<circle cx="10" cy="10" r="7" fill="none" stroke-dasharray="3 3"/>`
	switch result {
	case Pass:
		d = `<path d="M3 11l5 5L17 4" fill="none"/>`
	case Fail:
		d = `<path d="M4 4l12 12M16 4L4 16" fill="none"/>`
	}
	return `<svg class="sign" viewBox="0 0 20 20" aria-hidden="true" stroke="currentColor" stroke-width="3">` + d + `</svg>`
}

func esc(s string) string { return html.EscapeString(s) }

// tableHTML writes a table; every number carries its key and its value.
func (v *view) tableHTML(t *table, rowClass func(int) string) string {
	if len(t.rows) == 0 {
		return ""
	}
	var b strings.Builder
	var keep []int
	long := map[int]bool{}
	heads, prose := "", false
	for i, c := range t.cols {
		if c.prio > 0 && !t.empty(i) {
			keep = append(keep, i)
			long[i] = !c.right && !c.code && t.longest(i) > 40
			prose = prose || t.longest(i) > 60
			if c.code && t.longest(i) <= 20 {
				t.cols[i].short = true
			}
		}
	}
	// the result stands beside the name: a narrow screen shows both
	if k := slices.IndexFunc(keep, func(i int) bool { return t.cols[i].field == "result" }); k > 1 {
		i := keep[k]
		keep = slices.Insert(slices.Delete(keep, k, k+1), 1, i)
	}
	for _, i := range keep {
		heads += `<th scope="col"` + classOf(t.cols[i]) + `>` + esc(t.cols[i].header()) + `</th>`
	}
	box, class := "scroll", "sortable"
	switch {
	case len(keep) <= 7 && !prose:
		box += " few"
	case len(keep) > 11:
		class += " many"
	}
	b.WriteString(`<div class="` + box + `"><table class="` + class + `"><caption>` + esc(t.title) + `</caption><thead><tr>` + heads)
	b.WriteString("</tr></thead><tbody>\n")
	for r, row := range t.rows {
		class := ""
		if rowClass != nil {
			if s := rowClass(r); s != "" {
				class = ` class="` + s + `"`
			}
		}
		b.WriteString("<tr" + class + ">")
		for _, i := range keep {
			b.WriteString(v.tdHTML(row[i], t.cols[i], long[i]))
		}
		b.WriteString("</tr>\n")
	}
	b.WriteString("</tbody></table></div>")
	if t.note != "" {
		b.WriteString(`<p class="note">` + esc(t.note) + `</p>`)
	}
	return b.String()
}

// foldedHTML is a table of which only the first rows stand open when it is long:
// those of first, else the first ones.
func (v *view) foldedHTML(t *table, first []int, what string) string {
	if len(t.rows) <= mostOpenRows {
		return v.tableHTML(t, nil)
	}
	open := *t
	open.cols, open.rows, open.note = slices.Clone(t.cols), nil, ""
	if first == nil {
		open.rows = t.rows[:mostOpenRows/2]
	}
	for _, i := range first {
		open.rows = append(open.rows, t.rows[i])
	}
	open.title = t.title + ": " + group(int64(len(open.rows))) + " " + what + " out of " + group(int64(len(t.rows)))
	return v.tableHTML(&open, nil) + "<details><summary>" + esc(t.title) + ": all " + group(int64(len(t.rows))) + " rows</summary>" + v.tableHTML(t, nil) + "</details>"
}

// mostOpenRows is how many rows of strips or pairs stand open in the page.
const mostOpenRows = 80

// classOf returns the class of a column's cells: n for numbers, code for
// identifiers, lo for what a printed page leaves to the CSV tables.
func classOf(c column) string {
	var names []string
	if c.right {
		names = append(names, "n")
	}
	if c.code && !c.short {
		names = append(names, "code")
	}
	if c.short {
		names = append(names, "id")
	}
	if c.prio >= 6 || c.prio >= 3 && strings.HasSuffix(c.field, "\x00") {
		names = append(names, "lo")
	}
	if len(names) == 0 {
		return ""
	}
	return ` class="` + strings.Join(names, " ") + `"`
}

// longest returns the runes of the longest text in a column.
func (t *table) longest(i int) int {
	n := 0
	for _, row := range t.rows {
		n = max(n, utf8.RuneCountInString(row[i].shown()))
	}
	return n
}

func (v *view) tdHTML(c cell, col column, long bool) string {
	attr := classOf(col)
	if long {
		attr += ` style="min-width:14rem"`
	}
	if math.IsNaN(c.num) {
		return `<td` + attr + `>` + esc(c.shown()) + `</td>`
	}
	name := "data-k"
	if c.foot.ok() {
		name = "data-ft"
	}
	return fmt.Sprintf(`<td%s %s="%s" data-v="%s">%s</td>`, attr, name, esc(c.key), esc(v.raw(c)), esc(c.text))
}

// facts writes a small table of names and values.
func facts(caption string, rows [][2]string) string {
	var b strings.Builder
	b.WriteString(`<div class="scroll one"><table><caption>` + esc(caption) + `</caption><tbody>`)
	for _, r := range rows {
		b.WriteString(`<tr><th scope="row">` + esc(r[0]) + `</th><td>` + r[1] + `</td></tr>`)
	}
	b.WriteString(`</tbody></table></div>`)
	return b.String()
}

// said is a text of the record, "unknown" when nobody gave it.
func said(s string) string {
	if strings.TrimSpace(s) == "" {
		return `<span class="unknown">unknown</span>`
	}
	return esc(s)
}

// figure wraps a drawing.
func figure(class, drawing, caption string) string {
	if drawing == "" {
		return ""
	}
	return `<figure class="figure ` + class + `">` + drawing + `<figcaption>` + esc(caption) + `</figcaption></figure>`
}

// value shows a length of the record, or a count, with its key.
func (v *view) value(key string) string {
	if !strings.HasSuffix(key, "_m") {
		return v.count(key)
	}
	s := v.withUnit(key)
	if s == absent {
		return said("")
	}
	return `<span data-u="` + esc(key) + `">` + esc(s) + `</span>`
}

// count shows a number without a unit.
func (v *view) count(key string) string {
	return `<span data-k="` + esc(key) + `">` + esc(v.show(key, decimalsShown(key), 1)) + `</span>`
}

// mapValues packs the separations for the values under the pointer: millimetres
// as int16, rows from the south, -32768 without a value, and a bit for each cell
// that was not compared.
func (v *view) mapValues(l *Layers, g *Grid, f *mapFrame) map[string]any {
	step := 1
	for (g.Cols/step+1)*(g.Rows/step+1) > 250_000 {
		step++
	}
	cols, rows := (g.Cols+step-1)/step, (g.Rows+step-1)/step
	faded := l.faded(g)
	b := make([]byte, 0, 2*cols*rows)
	pale := make([]byte, (cols*rows+7)/8)
	for r := range rows {
		for c := range cols {
			n := int16(math.MinInt16)
			if i := extreme(g, c*step, min(c*step+step, g.Cols)-1, r*step, min(r*step+step, g.Rows)-1, faded); i >= 0 {
				n = int16(max(-32767, min(32767, math.Round(1000*float64(g.Values[i])))))
				if faded(i) {
					pale[(r*cols+c)/8] |= 1 << ((r*cols + c) % 8)
				}
			}
			b = binary.LittleEndian.AppendUint16(b, uint16(n))
		}
	}
	e, n := g.Origin()
	unit, unitM := "m", 1.0
	if v.flat.ok() {
		unit, unitM = v.flat.name, v.flat.m
	}
	return map[string]any{"cols": cols, "rows": rows, "cell": g.CellM * float64(step), "e0": e, "n0": n, "scale": f.scale, "x0": f.x0,
		"west": f.bounds.Min[0], "north": f.bounds.Max[1], "foot": v.high.name, "footM": v.high.m, "unit": unit, "unitM": unitM,
		"values": base64.StdEncoding.EncodeToString(b), "pale": base64.StdEncoding.EncodeToString(pale)}
}
