package control

import (
	"fmt"
	"math"
	"regexp"
	"strings"
)

// insideBufferM is how far outside the cloud's extent a point may lie when the order of columns
// is judged. Source: practice, our proposal.
const insideBufferM = 10

var imageName = regexp.MustCompile(`(?i)\.(jpe?g|tiff?|png|dng|arw|cr2|nef)$`)

// order settles which column holds what.
func (r *reader) order() error {
	if r.o.Columns != "" {
		if err := r.orderFromOption(); err != nil {
			return err
		}
	} else if r.layout == nil {
		if err := r.orderFromNumbers(); err != nil {
			return err
		}
	}
	r.preferGrid()
	r.list.Geodetic = r.layout.geodetic()
	if r.list.Geodetic && r.o.Project == nil {
		return r.fail(0, "name the cloud's coordinate system, or project the list to it", "the list is in degrees and the cloud's coordinate system is not known")
	}
	r.list.ColumnsFrom = r.layout.from
	return nil
}

// preferGrid falls back to latitude and longitude where a list has both and no row has grid coordinates.
func (r *reader) preferGrid() {
	l := r.layout
	if !l.grid() || !l.has(roleLat) || !l.has(roleLon) {
		return
	}
	for _, row := range r.rows {
		if !math.IsNaN(r.number(row, roleE)) && !math.IsNaN(r.number(row, roleN)) {
			return
		}
	}
	l.col[roleE], l.col[roleN] = -1, -1
}

// orderFromOption reads "PNEZD" and the like.
func (r *reader) orderFromOption() error {
	l := newLayout("option")
	letters := map[rune]role{'P': roleName, 'N': roleN, 'E': roleE, 'Z': roleZ, 'H': roleZ, 'D': roleCode, 'C': roleCode, 'X': roleE, 'Y': roleN, 'A': roleLat, 'O': roleLon}
	for i, c := range strings.ToUpper(r.o.Columns) {
		ro, ok := letters[c]
		switch {
		case c == '-' || c == '_':
		case !ok:
			return r.fail(0, "use P name, N northing, E easting, Z height, D description, A latitude, O longitude, - other", "column letter %q is not known", string(c))
		case l.has(ro):
			return r.fail(0, "name each column once", "column letter %q twice in %q", string(c), r.o.Columns)
		default:
			l.col[ro] = i
		}
	}
	if !l.horizontal() {
		return r.fail(0, "name both, for example PNEZD", "columns %q have no easting and northing", r.o.Columns)
	}
	if r.layout != nil { // headings name the further columns
		l.heads = r.layout.heads
		for ro := roleCover; ro < roleCount; ro++ {
			l.col[ro], l.units[ro] = r.layout.col[ro], r.layout.units[ro]
		}
		l.units[roleE], l.units[roleZ] = r.layout.units[roleE], r.layout.units[roleZ]
	}
	r.layout = l
	if l.geodetic() {
		r.list.Unit, r.list.UnitM = unitDegree, 0
		if r.zUnitM == 0 {
			r.zUnitM = 1
		}
	}
	return nil
}

// numericColumns returns which columns hold numbers in nine rows of ten.
func (r *reader) numericColumns() []bool {
	var count []int
	for _, row := range r.rows {
		for i, f := range row {
			for len(count) <= i {
				count = append(count, 0)
			}
			if _, err := parseNumber(f, r.style); err == nil {
				count[i]++
			}
		}
	}
	numeric := make([]bool, len(count))
	for i, c := range count {
		numeric[i] = 10*c >= 9*len(r.rows)
	}
	return numeric
}

// orderFromNumbers decides between the orders in use by the cloud's extent. Coordinates stand in neighbouring
// columns, the height after them.
func (r *reader) orderFromNumbers() error {
	numeric := r.numericColumns()
	if r.imageList(numeric) {
		return r.imageOrder()
	}
	var candidates []*layout
	for k := 0; k+1 < len(numeric); k++ {
		if !numeric[k] || !numeric[k+1] {
			continue
		}
		for _, eFirst := range []bool{true, false} {
			candidates = append(candidates, r.candidate(numeric, k, eFirst))
		}
	}
	if len(candidates) == 0 {
		return r.fail(r.lines[0].row, columnsRemedy, "no two neighbouring columns hold numbers (%s-separated)", r.list.Delimiter)
	}
	if r.header.geodetic {
		return r.ask("the list is in degrees, the order of latitude and longitude is not stated", r.degreeReadings(candidates))
	}
	if r.o.Extent.Empty() {
		return r.ask("no headings, and no cloud whose extent could decide the order of the columns", r.readings(candidates))
	}
	var inside []*layout
	for _, c := range candidates {
		if r.insideShare(c) >= 0.5 {
			inside = append(inside, c)
		}
	}
	switch len(inside) {
	case 1:
		r.layout = inside[0]
		r.layout.from = "extent of the cloud"
		return nil
	case 0:
		return r.ask("no headings, and in no order of the columns do the points lie inside the cloud"+r.unitHint(candidates), r.readings(candidates))
	}
	return r.ask("no headings, and the points lie inside the cloud in more than one order of the columns", r.readings(inside))
}

// unitHint tells when another unit would bring the points into the cloud.
func (r *reader) unitHint(candidates []*layout) string {
	keep := r.unitM
	defer func() { r.unitM = keep }()
	for _, u := range []struct {
		m          float64
		name, flag string
	}{{0.3048, "feet", "ift (international foot) or usft (US survey foot)"}, {1, "metres", "m"}} {
		if r.unitM = u.m; math.Abs(u.m/keep-1) < 1e-4 {
			continue
		}
		for _, c := range candidates {
			if r.insideShare(c) >= 0.5 {
				return fmt.Sprintf("; read in %s they would, in the order %s: give --columns %s with --list-unit %s", u.name, r.letters(c), r.letters(c), u.flag)
			}
		}
	}
	return ""
}

// candidate is the layout with coordinates in columns k and k+1.
func (r *reader) candidate(numeric []bool, k int, eFirst bool) *layout {
	l := newLayout("")
	l.col[roleE], l.col[roleN] = k, k+1
	if !eFirst {
		l.col[roleE], l.col[roleN] = k+1, k
	}
	next := k + 2
	if next < len(numeric) && numeric[next] {
		l.col[roleZ] = next
		next++
	}
	if k > 0 {
		l.col[roleName] = 0
		if k > 1 && r.repeats(0) && !r.repeats(1) { // code first
			l.col[roleCode], l.col[roleName] = 0, 1
		}
	}
	if next < len(numeric) && (!numeric[next] || k > 0 && next == len(numeric)-1) && !l.has(roleCode) {
		l.col[roleCode] = next
	}
	return l
}

// repeats reports whether a column holds the same text twice.
func (r *reader) repeats(col int) bool {
	seen := map[string]bool{}
	for _, row := range r.rows {
		if col < len(row) {
			if seen[row[col]] {
				return true
			}
			seen[row[col]] = true
		}
	}
	return false
}

// insideShare is the share of rows that lie inside the cloud's extent when read so.
func (r *reader) insideShare(l *layout) float64 {
	keep := r.layout
	r.layout = l
	defer func() { r.layout = keep }()
	n := 0
	for _, row := range r.rows {
		e, nn := r.number(row, roleE)*r.unitM, r.number(row, roleN)*r.unitM
		if r.o.Extent.Contains(e, nn, insideBufferM) {
			n++
		}
	}
	return float64(n) / float64(len(r.rows))
}

// ask returns the question with the readings.
func (r *reader) ask(question string, readings []Reading) error {
	return &AmbiguousError{Path: r.path, Question: question, Readings: readings, Remedy: columnsRemedy}
}

func (r *reader) readings(layouts []*layout) []Reading {
	keep := r.layout
	defer func() { r.layout = keep }()
	var out []Reading
	for _, l := range layouts[:min(len(layouts), 6)] {
		r.layout = l
		out = append(out, Reading{r.letters(l), r.rowAsRead(r.rows[0])})
	}
	return out
}

// degreeReadings are the candidates as latitude and longitude.
func (r *reader) degreeReadings(layouts []*layout) []Reading {
	for _, l := range layouts {
		l.col[roleLon], l.col[roleLat] = l.col[roleE], l.col[roleN]
		l.col[roleE], l.col[roleN] = -1, -1
	}
	return r.readings(layouts)
}

// letters writes a layout in the letters of ListOptions.Columns.
func (r *reader) letters(l *layout) string {
	named := map[role]byte{roleName: 'P', roleN: 'N', roleE: 'E', roleZ: 'Z', roleCode: 'D', roleLat: 'A', roleLon: 'O'}
	width := 0
	for ro := range named {
		width = max(width, l.col[ro]+1)
	}
	b := []byte(strings.Repeat("-", width))
	for ro, letter := range named {
		if c := l.col[ro]; c >= 0 {
			b[c] = letter
		}
	}
	return string(b)
}

// rowAsRead shows a row the way the layout reads it.
func (r *reader) rowAsRead(row []string) string {
	var parts []string
	for _, x := range []struct {
		ro   role
		name string
	}{{roleName, "point"}, {roleE, "E"}, {roleN, "N"}, {roleLat, "latitude"}, {roleLon, "longitude"}, {roleZ, "height"}, {roleCode, "code"}} {
		if t := r.field(row, x.ro); t != "" {
			parts = append(parts, fmt.Sprintf("%s %s", x.name, t))
		}
	}
	return strings.Join(parts, ", ")
}

// imageList reports whether the rows are those of an image control list: x, y, z, pixel column, pixel row,
// image name, and perhaps the point's name, under a line that names the coordinate system.
func (r *reader) imageList(numeric []bool) bool {
	if r.header.text == "" || len(numeric) < 6 {
		return false
	}
	for i := range 5 {
		if !numeric[i] {
			return false
		}
	}
	return len(r.rows[0]) > 5 && imageName.MatchString(r.rows[0][5])
}

// imageOrder is the order of image control lists: x (east or longitude) first, by their definition.
func (r *reader) imageOrder() error {
	l := newLayout("layout of an image control list: x, y, height, pixel, pixel, image, name")
	if r.header.geodetic {
		l.col[roleLon], l.col[roleLat] = 0, 1
	} else {
		l.col[roleE], l.col[roleN] = 0, 1
	}
	l.col[roleZ] = 2
	if len(r.rows[0]) > 6 {
		l.col[roleName] = 6
	}
	r.layout = l
	return nil
}
