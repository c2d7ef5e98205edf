package report

import (
	"math"
	"slices"
	"strconv"
	"strings"
)

// table is a table of the report: every cell is a field of the record.
type table struct {
	name  string // file name of the CSV table
	title string
	cols  []column
	rows  [][]cell
	note  string // shown below
}

// column is one column. Prio 1 is kept in the narrowest window, 0 is for CSV only.
type column struct {
	field string // ending of the key
	head  string
	unit  string
	prio  int
	right bool
	code  bool // identifiers
	short bool // identifiers so short that they are not broken
}

// cell is one value: what is shown, the key it comes from, and its number for
// sorting (NaN for texts).
type cell struct {
	text  string
	short string // for pages and windows, where it differs from the whole text
	key   string
	num   float64
	foot  foot // that it is shown in; the zero value: in metres
}

// shown is the text on pages and in windows.
func (c *cell) shown() string {
	if c.short != "" {
		return c.short
	}
	return c.text
}

// spec describes a table over a list of the record.
type spec struct {
	name, title, base, note string
	n                       func(*Record) int
	cols                    []column
}

// build makes the table of a spec. Columns of lengths with heights get a column
// in feet behind them when the cloud is in feet.
func (v *view) build(s *spec) *table {
	t := &table{name: s.name, title: s.title, note: s.note}
	if s == pairSpec && !v.timed() {
		s = untimed(s)
		t.note = s.note
	}
	for _, c := range s.cols {
		t.cols = append(t.cols, c)
		if foot := v.foot(s.base + "." + c.field); inFeet(c) && foot.ok() {
			f := c
			f.unit, f.field = foot.name, c.field+"\x00"
			t.cols = append(t.cols, f)
		}
	}
	for i := range s.n(v.rec) {
		row := make([]cell, len(t.cols))
		for k, c := range t.cols {
			row[k] = v.cell(keyf("%s[%d].%s", s.base, i, strings.TrimSuffix(c.field, "\x00")), c)
		}
		t.rows = append(t.rows, row)
	}
	return t
}

// untimed is the table of pairs for strips without times.
func untimed(s *spec) *spec {
	words := strings.NewReplacer("earlier", "first", "later", "second")
	out := *s
	out.note, out.cols = words.Replace(s.note), slices.Clone(s.cols)
	for i := range out.cols {
		out.cols[i].head = words.Replace(out.cols[i].head)
	}
	return &out
}

// inFeet tells whether a column in metres is repeated in feet.
func inFeet(c column) bool { return c.unit == "m" && c.right }

func (v *view) cell(key string, c column) cell {
	out := cell{key: key, num: v.num(key)}
	switch {
	case strings.HasSuffix(c.field, "\x00"):
		out.foot = v.foot(key)
		out.text = v.show(key, decimalsShown(key), out.foot.m)
	case strings.HasSuffix(key, ".flagged"):
		out.text = v.flagged(key)
	case v.isList(key):
		list := v.list(key)
		if c.field == "confounded_with" {
			for i := range list {
				list[i] = KindText(list[i])
			}
		}
		out.text = strings.Join(list, listSeparator(c.field))
		if c.field == "notes" && len(list) > 1 {
			out.short = list[0] + "; " + group(int64(len(list)-1)) + " more in the CSV table"
		}
	case c.field == "result":
		out.text = resultText(v.text(key))
	case c.field == "kind" && c.code:
		out.text = KindText(v.text(key))
	case math.IsNaN(out.num):
		out.text = v.text(key)
	default:
		out.text = v.show(key, decimalsShown(key), 1)
	}
	if c.right && out.text == "" {
		out.text = absent
	}
	return out
}

// listSeparator is a semicolon between texts that have commas of their own.
func listSeparator(field string) string {
	switch field {
	case "notes", "confounded_with", "rivals", "warnings":
		return "; "
	}
	return ", "
}

// isList tells whether key is a list of texts of the record.
func (v *view) isList(key string) bool {
	_, ok := v.values[key+"[0]"]
	return ok
}

// list returns the texts of a list of the record.
func (v *view) list(key string) []string {
	var s []string
	for i := 0; ; i++ {
		if _, ok := v.values[keyf("%s[%d]", key, i)]; !ok {
			return s
		}
		s = append(s, v.text(keyf("%s[%d]", key, i)))
	}
}

// flagged lists the cells that were not compared, by reason.
func (v *view) flagged(key string) string {
	var s []string
	for i := 0; ; i++ {
		k := keyf("%s[%d]", key, i)
		if _, ok := v.values[k+".reason"]; !ok {
			return strings.Join(s, ", ")
		}
		s = append(s, v.text(k+".reason")+" "+v.show(k+".cells", 0, 1))
	}
}

// numbered builds the value-limit tables (criteria, field checks, causes), whose
// decimals follow from value, limit and unit of the row.
func (v *view) numbered(s *spec, fields ...string) *table {
	foot := v.rowsFoot(s)
	if foot.ok() { // lengths of rows in metres are repeated in feet
		both := *s
		both.cols = nil
		for _, c := range s.cols {
			both.cols = append(both.cols, c)
			if slices.Contains(fields, c.field) {
				c.field, c.unit, c.prio = c.field+"\x00", foot.name, 2
				both.cols = append(both.cols, c)
			}
		}
		s = &both
	}
	t := v.build(s)
	for i, row := range t.rows {
		base := keyf("%s[%d]", s.base, i)
		unit := v.text(base + ".unit")
		d := 0
		for _, f := range fields[1:] {
			d = max(d, limitDecimals(v.num(base+"."+fields[0]), v.num(base+"."+f), unit))
		}
		for k := range row {
			switch {
			case !strings.HasSuffix(t.cols[k].field, "\x00"):
			case unit != "m" || math.IsNaN(row[k].num) || v.criterionFoot(v.text(base+".id")) != foot:
				row[k] = cell{text: absent, key: row[k].key, num: math.NaN()}
			default:
				row[k].foot, row[k].text = foot, fixed(row[k].num/foot.m, d)
			}
		}
		for k, c := range t.cols {
			for _, f := range fields {
				if c.field == f && row[k].text != absent {
					row[k].text = fixed(row[k].num, d)
				}
			}
			if c.field == "unit" {
				row[k].text = unitText(unit)
			}
		}
	}
	return t
}

// rowsFoot is the foot that a value-limit table shows: that of heights, and where these stay in metres that of its rows in
// plan. Rows of another unit have no value in feet.
func (v *view) rowsFoot(s *spec) foot {
	for i := range s.n(v.rec) {
		base := keyf("%s[%d]", s.base, i)
		if f := v.criterionFoot(v.text(base + ".id")); !v.high.ok() && f.ok() && v.text(base+".unit") == "m" {
			return f
		}
	}
	return v.high
}

// raw returns the cell as CSV writes it: the number with the decimals of
// results.json, without groups of digits; nothing when it was not determined.
func (v *view) raw(c cell) string {
	if c.text == absent {
		return ""
	}
	x, ok := v.values[c.key]
	switch {
	case !ok || math.IsNaN(c.num):
		return c.text
	case x.CanInt():
		return strconv.FormatInt(x.Int(), 10)
	case c.foot.ok():
		return trimmed(math.Round(c.num*1e6)/1e6/c.foot.m, 6) // from the metres of results.json
	}
	d := Decimals(c.key[strings.LastIndexByte(c.key, '.')+1:])
	if d < 0 {
		return strconv.FormatFloat(c.num, 'g', 9, 64)
	}
	return trimmed(c.num, d)
}

func trimmed(x float64, decimals int) string {
	s := strconv.FormatFloat(x, 'f', decimals, 64)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	if s == "-0" {
		return "0"
	}
	return s
}

// header returns the heading of a column with its unit.
func (c column) header() string {
	if c.unit == "" {
		return c.head
	}
	return c.head + " [" + unitText(c.unit) + "]"
}

// csvHeader is the key with its unit, as in results.json.
func (c column) csvHeader() string {
	f := strings.TrimSuffix(c.field, "\x00")
	if f != c.field {
		return strings.TrimSuffix(f, "_m") + "_" + strings.ToLower(c.unit)
	}
	return f
}
