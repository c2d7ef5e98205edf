package control

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
)

// reader turns the lines of a list into points.
type reader struct {
	path   string
	o      ListOptions
	list   *List
	lines  []line     // data lines
	rows   [][]string // their fields
	style  numberStyle
	layout *layout
	unitM  float64 // of easting and northing
	zUnitM float64
	header crsHeader
	bad    int
}

func (r *reader) fail(row int, remedy, format string, a ...any) error {
	return &ListError{Path: r.path, Row: row, Err: fmt.Errorf(format, a...), Remedy: remedy}
}

func (r *reader) warn(format string, a ...any) {
	r.list.Warnings = append(r.list.Warnings, fmt.Sprintf(format, a...))
}

const notProjected = "cannot be projected"

const columnsRemedy = "give the order of the columns, for example --columns PNEZD or PENZD"

// read runs the steps: header line, delimiter, headings, numbers, order, units, rows.
func (r *reader) read(lines []line) (*List, error) {
	lines = r.takeHeader(lines)
	r.list.Delimiter = sniffDelimiter(lines)
	lines = r.takeHeadings(lines)
	for _, l := range lines {
		if !l.comment {
			r.lines = append(r.lines, l)
			r.rows = append(r.rows, splitFields(l.text, r.list.Delimiter))
		}
	}
	if len(r.rows) == 0 {
		return nil, r.fail(0, "give a list with a point on each line", "no line with a point")
	}
	if err := r.judgeNumbers(); err != nil {
		return nil, err
	}
	if err := r.units(); err != nil {
		return nil, err
	}
	if err := r.order(); err != nil {
		return nil, err
	}
	if err := r.points(); err != nil {
		return nil, err
	}
	r.cleanHeights()
	r.mergeRepeats()
	r.warnCoarse()
	r.warnEllipsoidal()
	r.warnPlaces()
	r.describe()
	return r.list, nil
}

// takeHeadings looks for headings among the lines before the first row of numbers.
func (r *reader) takeHeadings(lines []line) []line {
	for i, l := range lines {
		fields := splitFields(l.text, r.list.Delimiter)
		if countNumbers(fields, r.list.Delimiter) >= 2 {
			if !l.comment {
				return lines[i:]
			}
			continue
		}
		if h := headings(fields); h != nil && r.layout == nil {
			r.layout = h
			return lines[i+1:]
		}
		if !l.comment {
			r.list.Refused = append(r.list.Refused, RefusedRow{l.row, clip(l.text), "no numbers: taken as a title"})
		}
	}
	return nil
}

// judgeNumbers decides what commas in numbers mean.
func (r *reader) judgeNumbers() error {
	if r.list.Delimiter == DelimiterComma {
		return nil
	}
	var numeric []string
	for _, row := range r.rows {
		for _, f := range row {
			if looksNumeric(f, r.list.Delimiter) {
				numeric = append(numeric, f)
			}
		}
	}
	switch judgeCommas(numeric) {
	case commaDecimal:
		r.style.decimalComma = true
	case commaUnclear:
		return &AmbiguousError{Path: r.path, Question: "a comma in the numbers may mark decimals or thousands",
			Readings: []Reading{{"decimal comma", r.lines[0].text}, {"thousands comma", r.lines[0].text}},
			Remedy:   "write the numbers with a decimal point"}
	}
	r.list.DecimalComma = r.style.decimalComma
	return nil
}

// field returns the text of a role in a row, empty when there is none.
func (r *reader) field(row []string, ro role) string {
	if c := r.layout.col[ro]; c >= 0 && c < len(row) {
		return row[c]
	}
	return ""
}

// number returns the number of a role; NaN when the cell is empty or holds no number.
func (r *reader) number(row []string, ro role) float64 {
	v, err := parseNumber(r.field(row, ro), r.style)
	if err != nil {
		return math.NaN()
	}
	return v
}

// points parses the rows.
func (r *reader) points() error {
	for i, row := range r.rows {
		p, err := r.point(row)
		if err != nil {
			r.list.Refused = append(r.list.Refused, RefusedRow{r.lines[i].row, clip(r.lines[i].text), err.Error()})
			r.bad++
			continue
		}
		p.Row = r.lines[i].row
		if p.ID == "" {
			p.ID = fmt.Sprint(len(r.list.Points) + 1)
		}
		r.list.Points = append(r.list.Points, p)
	}
	if len(r.list.Points) == 0 {
		last := r.list.Refused[len(r.list.Refused)-1]
		remedy := columnsRemedy
		if strings.HasPrefix(last.Reason, notProjected) {
			remedy = "is it the list of this cloud, and the cloud's coordinate system the right one?"
		}
		return r.fail(last.Row, remedy, "no row is a point: %s", last.Reason)
	}
	if r.bad > len(r.list.Points) {
		return r.fail(r.list.Refused[len(r.list.Refused)-1].Row, columnsRemedy, "%d of %d rows are no points, the last one: %s", r.bad, len(r.rows), r.list.Refused[len(r.list.Refused)-1].Reason)
	}
	if r.bad > 0 {
		r.warn("%d rows are no points and were left out", r.bad)
	}
	return nil
}

// point parses one row.
func (r *reader) point(row []string) (Point, error) {
	p := Point{ID: r.field(row, roleName), Code: r.field(row, roleCode), ZM: math.NaN(), Use: UseCheck, Source: SourceUnknown}
	if err := r.place(row, &p); err != nil {
		return p, err
	}
	if t := r.field(row, roleZ); r.layout.has(roleZ) && t != "" {
		z := r.number(row, roleZ)
		if math.IsNaN(z) && !noValue(t) {
			return p, fmt.Errorf("height %q is not a number", clip(t))
		}
		if !sentinel(z) {
			p.ZM = z * r.zUnitM
		}
	}
	r.attributes(row, &p)
	return p, nil
}

// place reads the coordinates.
func (r *reader) place(row []string, p *Point) error {
	if !r.list.Geodetic {
		e, n := r.number(row, roleE), r.number(row, roleN)
		switch {
		case math.IsNaN(e):
			return fmt.Errorf("easting %q is not a number", clip(r.field(row, roleE)))
		case math.IsNaN(n):
			return fmt.Errorf("northing %q is not a number", clip(r.field(row, roleN)))
		}
		p.EM, p.NM = e*r.unitM, n*r.unitM
		return nil
	}
	lat, okLat := parseAngle(r.field(row, roleLat), r.style)
	lon, okLon := parseAngle(r.field(row, roleLon), r.style)
	if !okLat || !okLon || math.Abs(lat) > 90 || math.Abs(lon) > 360 {
		return fmt.Errorf("latitude %q, longitude %q are no angles in degrees", clip(r.field(row, roleLat)), clip(r.field(row, roleLon)))
	}
	p.LatDeg, p.LonDeg = lat, lon
	e, n, err := r.o.Project(lat*math.Pi/180, lon*math.Pi/180)
	if err != nil {
		return fmt.Errorf(notProjected+": %w", err)
	}
	if !finite(e) || !finite(n) {
		return errors.New(notProjected + " into the cloud's coordinate system")
	}
	p.EM, p.NM = e, n
	return nil
}

// noValue reports whether a cell says that there is no value.
func noValue(s string) bool {
	return slices.Contains([]string{"", "-", "--", "na", "n/a", "nan", "null", "none", "?"}, strings.ToLower(strings.TrimSpace(s)))
}

// sentinel reports whether a height is one of the numbers that programs write for none.
func sentinel(z float64) bool {
	return math.IsNaN(z) || slices.Contains([]float64{-9999, -99999, -999999, -32767, -32768, 9999999}, z)
}

func clip(s string) string {
	if r := []rune(s); len(r) > 60 {
		return string(r[:57]) + "..."
	}
	return s
}
