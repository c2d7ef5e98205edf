package report

import (
	"encoding/csv"
	"io"
	"strings"
)

// csvTable writes a table with the keys of results.json as headings and all
// columns, numbers as in results.json.
func (v *view) csvTable(w io.Writer, t *table) error {
	c := csv.NewWriter(w)
	line := make([]string, len(t.cols))
	for i, col := range t.cols {
		line[i] = col.csvHeader()
	}
	if err := c.Write(line); err != nil {
		return err
	}
	for _, row := range t.rows {
		for i, x := range row {
			line[i] = v.csvCell(x, t.cols[i])
		}
		if err := c.Write(line); err != nil {
			return err
		}
	}
	c.Flush()
	return c.Error()
}

// csvCell keeps numbers as numbers and makes texts safe for spreadsheets, which
// take a text that begins with one of =+-@ for a formula.
func (v *view) csvCell(x cell, c column) string {
	switch {
	case c.field == "result" || c.field == "unit" || c.field == "kind":
		return v.text(x.key)
	case c.right:
		return v.raw(x)
	}
	s := x.text
	if s != "" && strings.ContainsRune("=+-@\t\r", rune(s[0])) {
		s = "'" + s
	}
	return s
}

// WriteMarkdown writes the tables of the record for pasting into a document:
// criteria, pairs, check points, causes, findings, strips, voids.
func WriteMarkdown(w io.Writer, rec *Record) error {
	v := newView(rec)
	var b strings.Builder
	for _, t := range v.tables() {
		if t.name == "inputs" {
			continue
		}
		b.WriteString("## " + t.title + "\n\n")
		v.markdownTable(&b, t)
		if t.note != "" {
			b.WriteString("\n" + t.note + "\n")
		}
		b.WriteString("\n")
	}
	_, err := io.WriteString(w, b.String())
	return err
}

var markdownEscape = strings.NewReplacer("|", `\|`, "\n", " ", "\r", " ", "<", "&lt;", ">", "&gt;", "*", `\*`, "_", `\_`, "`", "\\`", "[", `\[`, "]", `\]`)

func (v *view) markdownTable(b *strings.Builder, t *table) {
	var keep []int
	for i, c := range t.cols {
		if c.prio > 0 && !t.empty(i) {
			keep = append(keep, i)
		}
	}
	line := func(text func(int) string) {
		for _, i := range keep {
			b.WriteString("| " + text(i) + " ")
		}
		b.WriteString("|\n")
	}
	line(func(i int) string { return t.cols[i].header() })
	line(func(i int) string {
		if t.cols[i].right {
			return "---:"
		}
		return "---"
	})
	for _, row := range t.rows {
		line(func(i int) string { return markdownEscape.Replace(row[i].shown()) })
	}
}

// empty tells whether a column has no value in any row.
func (t *table) empty(i int) bool {
	for _, row := range t.rows {
		if row[i].text != "" && row[i].text != absent {
			return false
		}
	}
	return true
}
