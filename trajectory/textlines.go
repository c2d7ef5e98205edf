package trajectory

import (
	"bytes"
	"math"
	"regexp"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// delimiter says how the fields of a line are apart.
type delimiter struct {
	sep     byte // 0 = runs of blanks
	decimal byte // '.' or ','
}

// textFile is a delimited text file cut into a heading and rows of fields.
type textFile struct {
	delim    delimiter
	heading  []string // nil when none was found
	preamble []string // comment and other lines before the data, for words such as "UTC"
	rows     func(yield func(line int, fields []string) error) error
	first    []string // the first row, for the kinds of columns
}

const commentMarks = ";#%!*/'"

var (
	dateText  = regexp.MustCompile(`^\d{4}[-/.]\d{1,2}[-/.]\d{1,2}$`)
	clockText = regexp.MustCompile(`^\d{1,2}:\d{2}:\d{2}([.,]\d*)?Z?$`)
	stampText = regexp.MustCompile(`^\d{4}[-/.]\d{1,2}[-/.]\d{1,2}[T_ ]\d{1,2}:\d{2}:\d{2}([.,]\d*)?(Z|[+-]\d\d:?\d\d)?$`)
	commaNum  = regexp.MustCompile(`^[+-]?\d+(,\d+)?([eE][+-]?\d+)?$`)
)

// splitText finds the delimiter, the heading line and the first row of data.
func splitText(b []byte) (*textFile, error) {
	b = bytes.TrimPrefix(b, []byte("\xef\xbb\xbf"))
	f := &textFile{}
	var words []string // lines that may be the heading, last first
	start, line := 0, 0
	for pos := 0; pos < len(b); {
		s, next := cutLine(b, pos)
		line++
		trimmed := strings.TrimSpace(s)
		if trimmed != "" && !strings.ContainsRune(commentMarks, rune(trimmed[0])) {
			if d, ok := guessDelimiter(trimmed); ok {
				if fields := d.split(trimmed); isData(fields, d) {
					f.delim, f.first, start = d, fields, pos
					line--
					break
				}
			}
		}
		if trimmed != "" {
			words = append(words, trimmed)
		}
		if line > 1000 {
			break
		}
		pos = next
	}
	if f.first == nil {
		return nil, textError(1, "", "export the path with one sample a line: time, position, attitude", "no line of numbers in the first %d lines", min(line, 1000))
	}
	f.preamble = words
	f.heading = f.findHeading(words)
	firstLine := line
	f.rows = func(yield func(int, []string) error) error {
		n := firstLine
		fields := make([]string, 0, len(f.first))
		for pos := start; pos < len(b); {
			s, next := cutLine(b, pos)
			pos = next
			n++
			s = strings.TrimSpace(s)
			if s == "" || strings.IndexByte(commentMarks, s[0]) >= 0 {
				continue
			}
			fields = f.delim.splitInto(fields[:0], s)
			if err := yield(n, fields); err != nil {
				return err
			}
		}
		return nil
	}
	return f, nil
}

// cutLine returns the line at pos as UTF-8 (Latin-1 is converted) and where the next starts.
func cutLine(b []byte, pos int) (string, int) {
	end := bytes.IndexAny(b[pos:], "\n\r")
	next := len(b)
	if end < 0 {
		end = len(b) - pos
	} else {
		next = pos + end + 1
		if b[pos+end] == '\r' && next < len(b) && b[next] == '\n' {
			next++
		}
	}
	s := b[pos : pos+end]
	if utf8.Valid(s) {
		return string(s), next
	}
	r := make([]rune, len(s))
	for i, c := range s {
		r[i] = rune(c)
	}
	return string(r), next
}

// guessDelimiter decides by one line of data.
func guessDelimiter(s string) (delimiter, bool) {
	commaInside := func(sep string) byte {
		comma, dot := 0, 0
		for _, x := range strings.FieldsFunc(s, func(r rune) bool { return strings.ContainsRune(sep, r) }) {
			x = strings.TrimSpace(x)
			if strings.Contains(x, ",") && commaNum.MatchString(x) {
				comma++
			}
			if strings.Contains(x, ".") {
				dot++
			}
		}
		if comma > 0 && dot == 0 {
			return ','
		}
		return '.'
	}
	switch {
	case strings.Contains(s, ";"):
		return delimiter{';', commaInside(";")}, true
	case strings.Contains(s, "\t"):
		return delimiter{'\t', commaInside("\t")}, true
	case strings.Contains(s, ","):
		fields := strings.Fields(s)
		if len(fields) >= 3 && commaInside(" \t") == ',' {
			all := true
			for _, x := range fields {
				all = all && (commaNum.MatchString(x) || dateText.MatchString(x) || clockText.MatchString(x))
			}
			if all {
				return delimiter{0, ','}, true
			}
		}
		return delimiter{',', '.'}, true
	case strings.Contains(strings.TrimSpace(s), " "):
		return delimiter{0, '.'}, true
	}
	return delimiter{}, false
}

func (d delimiter) split(s string) []string { return d.splitInto(nil, s) }

func (d delimiter) splitInto(dst []string, s string) []string {
	if d.sep == 0 {
		for i := 0; i < len(s); {
			for i < len(s) && (s[i] == ' ' || s[i] == '\t') {
				i++
			}
			a := i
			for i < len(s) && s[i] != ' ' && s[i] != '\t' {
				i++
			}
			if i > a {
				dst = append(dst, s[a:i])
			}
		}
		return dst
	}
	for {
		i := strings.IndexByte(s, d.sep)
		f := s
		if i >= 0 {
			f = s[:i]
		}
		dst = append(dst, strings.Trim(strings.TrimSpace(f), `"`))
		if i < 0 {
			return dst
		}
		s = s[i+1:]
	}
}

// number reads a field with the file's decimal sign.
func (d delimiter) number(s string) (float64, bool) {
	if d.decimal == ',' && strings.IndexByte(s, ',') >= 0 {
		s = strings.Replace(s, ",", ".", 1)
	}
	v, err := strconv.ParseFloat(s, 64)
	return v, err == nil && !math.IsNaN(v) && !math.IsInf(v, 0)
}

// isData reports whether a line can be a sample: a time and three coordinates at least.
func isData(fields []string, d delimiter) bool {
	n := 0
	for _, s := range fields {
		if _, ok := d.number(s); ok || dateText.MatchString(s) || clockText.MatchString(s) || stampText.MatchString(s) {
			n++
		} else if n < 4 && s != "" {
			return false
		}
	}
	return n >= 4
}

// findHeading returns the fields of the line, among those before the data, that
// names the most columns; nil when none names time and a position.
func (f *textFile) findHeading(lines []string) []string {
	best, bestN := []string(nil), 0
	for i := len(lines) - 1; i >= 0 && i >= len(lines)-50; i-- {
		s := strings.TrimSpace(strings.TrimLeft(lines[i], commentMarks+" \t"))
		for _, d := range []delimiter{f.delim, {',', '.'}, {';', '.'}, {'\t', '.'}, {0, '.'}} {
			fields := d.split(s)
			if d.sep == 0 {
				fields = joinUnits(fields)
			}
			n := 0
			for _, x := range fields {
				if wordRole(x) != roleIgnore {
					n++
				}
			}
			// A sentence has a few such words; a heading is mostly such words.
			if n > bestN && n >= 3 && 2*n >= len(fields) && len(fields) <= len(f.first)+1 {
				best, bestN = fields, n
			}
		}
	}
	return best
}

// joinUnits joins "Latitude (deg)" that blanks have cut: a unit in brackets
// belongs to the word before it.
func joinUnits(fields []string) []string {
	var out []string
	for _, s := range fields {
		if len(out) > 0 && len(s) > 1 && (s[0] == '(' || s[0] == '[') {
			out[len(out)-1] += s
			continue
		}
		out = append(out, s)
	}
	return out
}

// plainWord lowers a heading word, drops the unit in brackets and all but
// letters and digits, and returns the unit apart.
func plainWord(s string) (word, unit string) {
	s = strings.ToLower(strings.TrimSpace(s))
	if i := strings.IndexAny(s, "([{"); i >= 0 {
		unit = strings.Trim(s[i:], "()[]{} ")
		s = s[:i]
	}
	for _, u := range []string{"rad", "radians", "deg", "degrees", "arcmin", "m", "usft", "ft", "s", "sec"} {
		for _, sep := range []string{"_", " ", "-", "/", "."} {
			if rest, ok := strings.CutSuffix(s, sep+u); ok && rest != "" && unit == "" {
				s, unit = rest, u
			}
		}
	}
	var b strings.Builder
	for _, r := range s {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			b.WriteRune(r)
		}
	}
	return b.String(), unit
}
