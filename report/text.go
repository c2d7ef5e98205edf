package report

import (
	"fmt"
	"io"
	"os"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/olekukonko/tablewriter"
	"github.com/olekukonko/tablewriter/renderer"
	"github.com/olekukonko/tablewriter/tw"
)

// TextOptions says how tables are printed on a terminal.
type TextOptions struct {
	Columns int  // width of the window; 100 when 0
	Bold    bool // failing results in bold; words carry the meaning, see UseBold
	MaxRows int  // rows of a table before the rest is only counted; 40 when 0, all when negative
}

func (o TextOptions) withDefaults() TextOptions {
	if o.Columns <= 0 {
		o.Columns = 100
	}
	o.Columns = max(o.Columns, 20)
	if o.MaxRows == 0 {
		o.MaxRows = 40
	}
	return o
}

// UseBold tells whether a terminal may be sent bold text: NO_COLOR is not set
// and the terminal is not dumb (https://no-color.org).
func UseBold() bool { return os.Getenv("NO_COLOR") == "" && os.Getenv("TERM") != "dumb" }

// WriteText prints the result for a terminal: verdict, criteria, strips against
// one another, check points, causes and findings.
func WriteText(w io.Writer, rec *Record, o TextOptions) error {
	p := &printer{v: newView(rec), o: o.withDefaults()}
	p.verdict()
	p.lines(p.v.correctionLines())
	p.table(p.v.criteriaBelow())
	p.table(p.v.build(pairSpec))
	p.accuracy()
	if rec.Checkpoints != nil {
		p.table(p.v.worstChecks())
	}
	p.table(p.v.causes())
	p.findings()
	p.warnings()
	_, err := io.WriteString(w, Plain(p.b.String()))
	return err
}

// WriteStrips prints one row for each strip.
func WriteStrips(w io.Writer, rec *Record, o TextOptions) error {
	p := &printer{v: newView(rec), o: o.withDefaults(), alone: true}
	p.o.MaxRows = -1
	p.wrap("Strips by "+rec.StripsBy.Mode+": "+rec.StripsBy.Why, "")
	p.table(p.v.build(stripSpec))
	p.warnings()
	_, err := io.WriteString(w, Plain(p.b.String()))
	return err
}

// WriteCheckPoints prints the comparison with check points.
func WriteCheckPoints(w io.Writer, rec *Record, o TextOptions) error {
	p := &printer{v: newView(rec), o: o.withDefaults(), alone: true}
	p.o.MaxRows = -1
	p.verdict()
	if rec.Checkpoints != nil {
		p.checkPoints()
	}
	p.findings()
	p.warnings()
	_, err := io.WriteString(w, Plain(p.b.String()))
	return err
}

// checkPoints prints the list as read, the statistics, the figures of the standards and every point.
func (p *printer) checkPoints() {
	p.lines(p.v.listLines())
	p.accuracy()
	for _, l := range p.v.uncertaintyLines() {
		p.wrap(l, "  ")
	}
	for _, l := range p.v.horizontalPhrase() {
		p.wrap(l, "  ")
	}
	p.table(p.v.statistics())
	p.table(p.v.build(subsetSpec))
	for _, t := range p.v.editionTables() {
		p.table(t)
	}
	p.lines(p.v.statedLines())
	p.table(p.v.build(targetSpec))
	p.table(p.v.build(checkSpec))
	p.table(p.v.excluded())
	p.lines(append(slices.Clone(p.v.rec.Checkpoints.Notes), p.v.rulesPhrase()...))
}

// lines prints paragraphs below an empty line.
func (p *printer) lines(lines []string) {
	for i, l := range lines {
		if i == 0 {
			p.b.WriteString("\n")
		}
		p.wrap(l, "  ")
	}
}

// printer gathers text for a terminal.
type printer struct {
	alone bool // no results folder is written beside the text
	v     *view
	o     TextOptions
	b     strings.Builder
}

func (p *printer) bold(s string) string {
	if !p.o.Bold {
		return s
	}
	return "\x1b[1m" + s + "\x1b[0m"
}

// wrap writes a paragraph, further lines behind the indent.
func (p *printer) wrap(s, indent string) {
	for i, l := range wrapWords(s, p.o.Columns-utf8.RuneCountInString(indent)) {
		if i > 0 {
			p.b.WriteString(indent)
		}
		p.b.WriteString(l + "\n")
	}
}

func (p *printer) verdict() {
	for i, l := range p.v.verdictLines() {
		if i == 0 {
			for _, s := range wrapWords(l, p.o.Columns) {
				p.b.WriteString(p.bold(s) + "\n")
			}
			continue
		}
		p.wrap(l, "  ")
	}
}

func (p *printer) accuracy() {
	for i, l := range p.v.accuracyLines() {
		if i == 0 {
			p.b.WriteString("\n")
		}
		p.wrap(l, "  ")
	}
}

func (p *printer) findings() {
	said := map[string]bool{}
	for i, f := range p.v.rec.Findings {
		if i == 0 {
			p.b.WriteString("\nFindings\n")
		}
		s := "- " + f.Severity + ": " + f.Text
		if f.Evidence != "" {
			s += " (" + once(string(f.Evidence), said) + ")"
		}
		p.wrap(s, "  ")
		for _, r := range f.Rivals {
			p.b.WriteString("  ")
			p.wrap("rival: "+r, "    ")
		}
		if f.DecideBy != "" {
			p.b.WriteString("  ")
			p.wrap("decide by: "+string(f.DecideBy), "    ")
		}
	}
}

// longClause is from how many characters on a clause is not printed a second time.
const longClause = 60

// once leaves out the clauses of a piece of evidence that were printed before.
func once(evidence string, said map[string]bool) string {
	var out []string
	left := false
	for _, c := range strings.Split(evidence, "; ") {
		switch {
		case len(c) < longClause:
		case said[c]:
			left = true
			continue
		default:
			said[c] = true
		}
		out = append(out, c)
	}
	if left {
		out = append(out, "the rest as above")
	}
	return strings.Join(out, "; ")
}

// criteriaBelow is the table of criteria below the verdict lines, which have told the reasons.
func (v *view) criteriaBelow() *table {
	t := v.criteria()
	reason := slices.IndexFunc(t.cols, func(c column) bool { return c.field == "reason" })
	for i := range t.rows {
		c := &v.rec.Verdict.Criteria[i]
		if c.Reason != "" && (c.Result == Fail || c.Result == NotJudged && c.Sense != "report") {
			t.rows[i][reason].text = "see above"
		}
	}
	return t
}

func (p *printer) warnings() {
	for i, s := range p.v.rec.Warnings {
		if i == 0 {
			p.b.WriteString("\n")
		}
		p.wrap("warning: "+s, "  ")
	}
}

// table prints a table in the width of the window: columns of lower priority
// are left out and named, texts are wrapped; when even the main columns do not
// fit, each row becomes a block of lines.
func (p *printer) table(t *table) {
	if len(t.rows) == 0 {
		return
	}
	all := len(t.rows)
	if p.o.MaxRows > 0 && all > p.o.MaxRows {
		cut := *t
		cut.rows = t.rows[:p.o.MaxRows]
		t = &cut
	}
	p.b.WriteString("\n")
	p.wrap(t.title, "")
	keep, widths := p.fit(t)
	if keep == nil {
		p.stacked(t)
	} else {
		p.grid(t, keep, widths)
	}
	if hidden := t.hidden(keep); len(hidden) > 0 {
		where := "also in tables/" + t.name + ".csv: "
		if p.alone {
			where = "left out for want of width, --json has them: "
		}
		p.wrap(where+strings.Join(hidden, ", "), "  ")
	}
	if all > len(t.rows) {
		p.wrap(fmt.Sprintf("%d of %d rows; all are in tables/%s.csv", len(t.rows), all, t.name), "  ")
	}
	if t.note != "" {
		p.wrap(t.note, "  ")
	}
}

// shown is the text of a cell: the whole of it where no table beside the text has the rest.
func (p *printer) shown(c *cell) string {
	if p.alone {
		return c.text
	}
	return c.shown()
}

// hidden names the columns with values that are not shown.
func (t *table) hidden(keep []int) []string {
	var s []string
	for i, c := range t.cols {
		if keep != nil && c.prio > 0 && !t.empty(i) && !slices.Contains(keep, i) && !slices.Contains(s, c.head) {
			s = append(s, c.head)
		}
	}
	return s
}

const leastText = 12 // narrowest column of texts

// fit chooses the columns and their widths, nil when none fit.
func (p *printer) fit(t *table) (keep, widths []int) {
	natural, least := make([]int, len(t.cols)), make([]int, len(t.cols))
	for i, c := range t.cols {
		if c.prio == 0 || t.empty(i) {
			continue
		}
		keep = append(keep, i)
		head := strings.FieldsFunc(c.header(), breaks)
		for _, w := range head {
			least[i] = max(least[i], utf8.RuneCountInString(w))
		}
		natural[i] = least[i]
		for _, row := range t.rows {
			n := utf8.RuneCountInString(p.shown(&row[i]))
			natural[i] = max(natural[i], n)
			if c.right || c.code {
				least[i] = max(least[i], n)
			} else {
				least[i] = max(least[i], min(n, leastText))
			}
		}
	}
	total := func(w []int) int {
		sum := 0
		for _, i := range keep {
			sum += w[i] + 2
		}
		return sum
	}
	for total(least) > p.o.Columns {
		drop, prio := -1, 1
		for k, i := range keep {
			if t.cols[i].prio >= prio && t.cols[i].prio > 1 {
				drop, prio = k, t.cols[i].prio
			}
		}
		if drop < 0 {
			return nil, nil
		}
		keep = slices.Delete(keep, drop, drop+1)
	}
	widths = slices.Clone(natural)
	for total(widths) > p.o.Columns { // take from the widest text column that can give
		widest := -1
		for _, i := range keep {
			if widths[i] > least[i] && (widest < 0 || widths[i] > widths[widest]) {
				widest = i
			}
		}
		widths[widest]--
	}
	return keep, widths
}

func (p *printer) grid(t *table, keep, widths []int) {
	align := make([]tw.Align, len(keep))
	head := make([]string, len(keep))
	rows := make([][]string, len(t.rows))
	for k, i := range keep {
		align[k] = tw.AlignLeft
		if t.cols[i].right {
			align[k] = tw.AlignRight
		}
		head[k] = strings.Join(wrapWords(t.cols[i].header(), widths[i]), "\n")
		for r, row := range t.rows {
			rows[r] = append(rows[r], strings.Join(wrapWords(p.shown(&row[i]), widths[i]), "\n"))
		}
	}
	symbols := tw.NewSymbolCustom("plain").WithRow("─").WithColumn("").WithCenter("─").WithMidLeft("").WithMidRight("").
		WithHeaderLeft("").WithHeaderMid("─").WithHeaderRight("")
	var out strings.Builder
	tab := tablewriter.NewTable(&out,
		tablewriter.WithHeaderAutoFormat(tw.Off), tablewriter.WithHeaderAutoWrap(tw.WrapNone), tablewriter.WithRowAutoWrap(tw.WrapNone),
		tablewriter.WithHeaderAlignmentConfig(tw.CellAlignment{PerColumn: align}), tablewriter.WithRowAlignmentConfig(tw.CellAlignment{PerColumn: align}),
		tablewriter.WithPadding(tw.Padding{Left: tw.Empty, Right: "  ", Overwrite: true}),
		tablewriter.WithTrimSpace(tw.Off),
		tablewriter.WithRenderer(renderer.NewBlueprint(tw.Rendition{
			Borders: tw.BorderNone, Symbols: symbols,
			Settings: tw.Settings{Separators: tw.Separators{BetweenColumns: tw.Off, BetweenRows: tw.Off}, Lines: tw.Lines{ShowHeaderLine: tw.On}},
		})))
	tab.Header(head)
	if err := tab.Bulk(rows); err == nil {
		err = tab.Render()
		if err == nil {
			p.plain(out.String())
			return
		}
	}
	p.stacked(t)
}

// plain writes the lines without blanks at their ends, failing results in bold.
func (p *printer) plain(s string) {
	for _, l := range strings.Split(strings.TrimRight(s, "\n"), "\n") {
		l = strings.TrimRight(l, " ")
		for _, word := range []string{resultText(Fail), resultText(Refly)} {
			l = strings.ReplaceAll(l, word, p.bold(word))
		}
		p.b.WriteString(l + "\n")
	}
}

// stacked prints each row as a block: heading and value on a line.
func (p *printer) stacked(t *table) {
	for r, row := range t.rows {
		if r > 0 {
			p.b.WriteString("\n")
		}
		for i, c := range t.cols {
			if c.prio == 0 || c.prio > 3 || row[i].text == "" || row[i].text == absent {
				continue
			}
			p.wrap(c.header()+": "+p.shown(&row[i]), "  ")
		}
	}
}

// wrapWords breaks s into lines of at most width runes, at blanks where it can.
func wrapWords(s string, width int) []string {
	width = max(width, 1)
	var lines []string
	line := ""
	for _, w := range strings.FieldsFunc(s, breaks) {
		for utf8.RuneCountInString(w) > width { // a word longer than the line
			if line != "" {
				lines, line = append(lines, line), ""
			}
			r := []rune(w)
			lines, w = append(lines, string(r[:width])), string(r[width:])
		}
		switch n := utf8.RuneCountInString(line); {
		case line == "":
			line = w
		case n+1+utf8.RuneCountInString(w) <= width:
			line += " " + w
		default:
			lines, line = append(lines, line), w
		}
	}
	if line != "" || len(lines) == 0 {
		lines = append(lines, line)
	}
	return lines
}

// breaks tells where a line may be broken; not at the blanks inside numbers or
// before units.
func breaks(r rune) bool { return r == ' ' || r == '\n' || r == '\t' || r == '\r' }
