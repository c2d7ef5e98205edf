package audit

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"github.com/BurntSushi/toml"
)

// maxBytes bounds a table of figures.
const maxBytes = 4 << 20

// Table is what was read.
type Table struct {
	Rows    []Row
	Unknown []string // columns or keys that are no figures known here
}

// Read reads a table of figures, CSV or TOML.
//
// CSV: a heading line, then a line for each group; or two columns, name and figure. TOML: a table for
// each group, or keys at the top. Headings are words of the trade (n, mean, std, RMSEz, 95 %, limit, claim, unit),
// with a unit in brackets or behind an underscore; units may also stand behind a number.
func Read(r io.Reader) (*Table, error) {
	b, err := io.ReadAll(io.LimitReader(r, maxBytes+1))
	if err != nil {
		return nil, err
	}
	if len(b) > maxBytes {
		return nil, fmt.Errorf("larger than %d MB; give the table of figures alone", maxBytes>>20)
	}
	b = bytes.TrimPrefix(b, []byte("\xef\xbb\xbf"))
	if len(bytes.TrimSpace(b)) == 0 {
		return nil, errors.New("empty table")
	}
	var t *Table
	if looksTOML(b) {
		t, err = readTOML(b)
	} else {
		t, err = readCSV(b)
	}
	if err != nil {
		return nil, err
	}
	figures := 0
	for i := range t.Rows {
		t.setAside(&t.Rows[i])
		figures += len(t.Rows[i].Figures)
		t.Rows[i].scale()
	}
	if figures == 0 {
		return nil, errors.New("no figure found; name the columns n, mean, std, rmse, accuracy95, p95, limit, claim, unit")
	}
	return t, nil
}

// looksTOML reports whether the first line that says something is a TOML table or key.
func looksTOML(b []byte) bool {
	for _, l := range strings.Split(string(b), "\n") {
		l = strings.TrimSpace(l)
		if l == "" || strings.HasPrefix(l, "#") {
			continue
		}
		if strings.HasPrefix(l, "[") && strings.HasSuffix(l, "]") {
			return true
		}
		key, _, found := strings.Cut(l, "=")
		return found && !strings.ContainsAny(key, ",;\t")
	}
	return false
}

func readTOML(b []byte) (*Table, error) {
	var doc map[string]any
	meta, err := toml.Decode(string(b), &doc)
	if err != nil {
		return nil, err
	}
	t := &Table{}
	index := map[string]int{}
	for _, key := range meta.Keys() {
		name := ""
		if len(key) > 1 {
			name = strings.Join(key[:len(key)-1], " ")
		}
		value, ok := lookup(doc, key)
		if !ok {
			continue
		}
		value = asWritten(string(b), key[len(key)-1], value)
		i, seen := index[name]
		if !seen {
			i = len(t.Rows)
			index[name] = i
			t.Rows = append(t.Rows, Row{Name: name})
		}
		t.addFigure(&t.Rows[i], key[len(key)-1], value)
	}
	t.Rows = slices.DeleteFunc(t.Rows, func(r Row) bool { return len(r.Figures) == 0 })
	return t, nil
}

var numberLine = regexp.MustCompile(`(?m)^\s*"?([A-Za-z0-9_ -]+?)"?\s*=\s*([-+0-9._eE]+)`)

// asWritten returns the number of a key with the digits of the file: decoded, 0.10 would become 0.1, and its rounding ten
// times as wide.
func asWritten(text, key, value string) string {
	want, err := strconv.ParseFloat(value, 64)
	if err != nil {
		return value
	}
	for _, m := range numberLine.FindAllStringSubmatch(text, -1) {
		written := strings.ReplaceAll(m[2], "_", "")
		if v, err := strconv.ParseFloat(written, 64); m[1] == key && err == nil && v == want {
			return written
		}
	}
	return value
}

// lookup returns a leaf of the document as the text written there.
func lookup(doc map[string]any, key toml.Key) (string, bool) {
	var v any = doc
	for _, k := range key {
		m, ok := v.(map[string]any)
		if !ok {
			return "", false
		}
		v = m[k]
	}
	switch x := v.(type) {
	case string:
		return x, true
	case int64, float64, bool:
		return fmt.Sprint(x), true
	}
	return "", false
}

func readCSV(b []byte) (*Table, error) {
	text := strings.ReplaceAll(string(b), "\r\n", "\n")
	cr := csv.NewReader(strings.NewReader(text))
	cr.FieldsPerRecord, cr.LazyQuotes, cr.TrimLeadingSpace, cr.Comment = -1, true, true, '#'
	first, _, _ := strings.Cut(strings.TrimSpace(text), "\n")
	for _, c := range []rune{';', '\t'} {
		if strings.ContainsRune(first, c) {
			cr.Comma = c
			break
		}
	}
	records, err := cr.ReadAll()
	if err != nil {
		return nil, err
	}
	if len(records) == 0 {
		return nil, errors.New("no line with a figure")
	}
	if t := pairs(records); t != nil {
		return t, nil
	}
	t := &Table{}
	heads := records[0]
	for line, rec := range records[1:] {
		row := Row{Line: line + 2}
		for i, cell := range rec {
			if i >= len(heads) {
				break
			}
			if k, _, _ := kindOf(heads[i]); k == "" && row.Name == "" && !isNumber(cell) {
				row.Name = strings.TrimSpace(cell)
				continue
			}
			t.addFigure(&row, heads[i], cell)
		}
		if len(row.Figures) > 0 {
			t.Rows = append(t.Rows, row)
		}
	}
	return t, nil
}

// pairs reads two columns, name and figure; nil when the records are no such table.
func pairs(records [][]string) *Table {
	known := 0
	for _, rec := range records {
		if len(rec) < 2 || len(rec) > 3 {
			return nil
		}
		if k, _, _ := kindOf(rec[0]); k != "" {
			known++
		}
	}
	if known < 2 || 2*known < len(records) {
		return nil
	}
	t := &Table{Rows: []Row{{Line: 1}}}
	for _, rec := range records {
		if len(rec) == 3 && unitM(rec[2]) > 0 {
			t.addFigure(&t.Rows[0], rec[0], rec[1]+" "+rec[2])
			continue
		}
		t.addFigure(&t.Rows[0], rec[0], rec[1])
	}
	return t
}

func isNumber(s string) bool { _, _, _, ok := parseFigure(s); return ok }

// addFigure reads one cell.
func (t *Table) addFigure(row *Row, heading, cell string) {
	cell = strings.TrimSpace(cell)
	k, unit, word := kindOf(heading)
	if k == "" {
		if !slices.Contains(t.Unknown, heading) && strings.TrimSpace(heading) != "" {
			t.Unknown = append(t.Unknown, strings.TrimSpace(heading))
		}
		return
	}
	if cell == "" {
		return
	}
	f := Figure{Kind: k, Text: cell, Unit: unit, word: word, Where: strings.TrimSpace(row.Name + " " + heading)}
	if k != Claim && k != UnitOf {
		var own string
		f.Value, f.HalfM, own, f.OK = parseFigure(cell)
		if own != "" {
			f.Unit = own
		}
		if k == Limit || k == LimitP95 || k == Class { // a limit is meant as written
			f.HalfM = 0
		}
	}
	row.Figures = append(row.Figures, f)
}

// setAside takes "points" out of a row that gives the number of check points too: beside it, they may be the points of the cloud.
func (t *Table) setAside(r *Row) {
	of := func(f Figure, words string) bool {
		return f.Kind == N && slices.Contains(strings.Fields(words), f.word)
	}
	if !slices.ContainsFunc(r.Figures, func(f Figure) bool { return of(f, checkPointWords) }) {
		return
	}
	r.Figures = slices.DeleteFunc(r.Figures, func(f Figure) bool {
		if !of(f, pointWords) {
			return false
		}
		if what := strings.TrimSpace(f.Where + " beside the number of check points"); !slices.Contains(t.Unknown, what) {
			t.Unknown = append(t.Unknown, what)
		}
		return true
	})
}

// scale turns all figures of a row into metres, by their own unit, else the row's, else metres.
func (r *Row) scale() {
	rowUnit := r.text(UnitOf)
	if rowUnit == "" { // "open ground (ft)"
		if _, in, ok := strings.Cut(r.Name, "("); ok && unitM(strings.TrimSuffix(strings.TrimSpace(in), ")")) > 0 {
			rowUnit = strings.TrimSuffix(strings.TrimSpace(in), ")")
		}
	}
	for i := range r.Figures {
		f := &r.Figures[i]
		if f.Kind == N || !f.OK {
			continue
		}
		if f.Unit == "" {
			f.Unit = rowUnit
		}
		if m := unitM(f.Unit); m > 0 {
			f.Value, f.HalfM = f.Value*m, f.HalfM*m
		}
	}
}
