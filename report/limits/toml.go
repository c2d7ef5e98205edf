package limits

import (
	"bytes"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"sidelap/las/disk"
	"strconv"
	"strings"

	"github.com/BurntSushi/toml"
)

// file is the TOML form of a set. Lengths are in Units.
type file struct {
	Title    string      `toml:"title"`
	Source   string      `toml:"source"`
	Rules    string      `toml:"rules"`
	Units    string      `toml:"units"`
	Class    *float64    `toml:"class"`
	Notes    []string    `toml:"notes"`
	Criteria []criterion `toml:"criterion"`
}

type criterion struct {
	ID       string   `toml:"id"`
	Max      *float64 `toml:"max"`
	Min      *float64 `toml:"min"`
	Report   bool     `toml:"report"`
	Optional bool     `toml:"optional"`
	Source   string   `toml:"source"`
}

// unitsM are the names of the units that a file may use, in metres. "feet"
// alone is refused: the kinds differ.
//
// Source: 1 ft = 0.3048 m exactly (international, 1959), 1200/3937 m (US survey
// foot); Federal Register 85:193 (2020).
var unitsM = map[string]float64{"metres": 1, "international feet": 0.3048, "survey feet": 1200. / 3937}

// FileError is an error in a file of limits.
type FileError struct {
	Path   string
	Line   int // 0 when the whole file is meant
	Err    error
	Remedy string
}

func (e *FileError) Error() string {
	s := e.Path
	if e.Line > 0 {
		s += fmt.Sprintf(": line %d", e.Line)
	}
	s += ": " + e.Err.Error()
	if e.Remedy != "" {
		s += "; " + e.Remedy
	}
	return s
}

func (e *FileError) Unwrap() error { return e.Err }

// maxSetBytes bounds a set of limits.
const maxSetBytes = 1 << 20

// ReadFile reads a set of one's own. Unknown keys and criteria are errors.
func ReadFile(path string) (*Set, error) {
	b, err := disk.Read(path, maxSetBytes)
	if errors.Is(err, os.ErrNotExist) {
		return nil, &FileError{Path: path, Err: errors.New("there is no built-in set and no file of that name"),
			Remedy: "sidelap limits lists the built-in sets; sidelap limits NAME prints one to copy and edit"}
	}
	if err != nil {
		return nil, err
	}
	return Parse(path, b)
}

// Parse reads a set of one's own from the bytes of the file at path.
func Parse(path string, b []byte) (*Set, error) {
	var f file
	md, err := toml.NewDecoder(bytes.NewReader(b)).Decode(&f)
	var pe toml.ParseError
	switch {
	case errors.As(err, &pe):
		msg := pe.Message
		if msg == "" {
			msg = strings.TrimPrefix(err.Error(), "toml: ")
		}
		return nil, &FileError{Path: path, Line: pe.Position.Line, Err: errors.New(msg)}
	case err != nil: // a value of the wrong type: the place stands in the text
		line := 0
		fmt.Sscanf(err.Error(), "toml: line %d", &line)
		return nil, &FileError{Path: path, Line: line, Err: errors.New(strings.TrimPrefix(err.Error(), "toml: "))}
	}
	if un := md.Undecoded(); len(un) > 0 {
		key := un[0].String()
		return nil, &FileError{Path: path, Line: lineOfKey(b, un[0]), Err: fmt.Errorf("unknown key %q", key),
			Remedy: "known are title, source, rules, units, class, notes and [[criterion]] with id, max, min, report, optional, source"}
	}
	return f.set(path, b)
}

func (f *file) set(path string, b []byte) (*Set, error) {
	bad := func(line int, remedy, format string, a ...any) (*Set, error) {
		return nil, &FileError{Path: path, Line: line, Err: fmt.Errorf(format, a...), Remedy: remedy}
	}
	unit, ok := unitsM[f.Units]
	if !ok {
		return bad(lineOfKey(b, toml.Key{"units"}), `give units = "metres", "international feet" or "survey feet"`, "units %q", f.Units)
	}
	s := &Set{Name: filepath.Base(path), Title: f.Title, Source: f.Source, Basis: Basis(f.Rules), Notes: f.Notes}
	if s.Title == "" {
		s.Title = s.Name
	}
	if s.Source == "" {
		s.Source = s.Name
	}
	switch s.Basis {
	case "":
		s.Basis = Own
	case ASPRSEd1, ASPRSEd2, LBS, Own:
	default:
		return bad(lineOfKey(b, toml.Key{"rules"}), "give own, asprs-ed1, asprs-ed2 or lbs", "rules %q", f.Rules)
	}
	if f.Class != nil {
		if s.ClassM = *f.Class * unit; !(s.ClassM > 0) || math.IsInf(s.ClassM, 0) {
			return bad(lineOfKey(b, toml.Key{"class"}), "give the class as an RMSE above zero, in the units of the file", "class %g", *f.Class)
		}
	} else if s.Basis != Own {
		return bad(0, "give class, the RMSE of the accuracy class in the units of the file", "rules %q need a class", s.Basis)
	}
	if len(f.Criteria) == 0 {
		return bad(0, "add at least one [[criterion]]", "no criterion")
	}
	for i, c := range f.Criteria {
		line := lineOfCriterion(b, i)
		l, err := c.limit(unit, s.Source)
		if err != nil {
			return nil, &FileError{Path: path, Line: line, Err: err}
		}
		if _, twice := s.Find(c.ID); twice {
			return bad(line, "keep one of them", "criterion %q stands twice", c.ID)
		}
		s.Limits = append(s.Limits, l)
	}
	return s, nil
}

func (c *criterion) limit(unitM float64, source string) (Limit, error) {
	m := measureOf(c.ID)
	if m == nil {
		return Limit{}, fmt.Errorf("unknown criterion %q; known are %s", c.ID, strings.Join(Criteria(), ", "))
	}
	l := Limit{ID: c.ID, Sense: m.sense, Source: c.Source, Optional: c.Optional}
	if l.Source == "" {
		l.Source = source
	}
	given, other := c.Max, c.Min
	if m.sense == Min {
		given, other = c.Min, c.Max
	}
	switch {
	case c.Report && (given != nil || other != nil):
		return l, fmt.Errorf("criterion %q: report = true has no limit: take %s away", c.ID, m.sense)
	case c.Report:
		l.Sense = Report
		return l, nil
	case other != nil:
		return l, fmt.Errorf("criterion %q passes when the value is the %s or better: write %s = LIMIT", c.ID, map[string]string{Max: "largest allowed", Min: "least allowed"}[m.sense], m.sense)
	case given == nil:
		return l, fmt.Errorf("criterion %q has no limit: write %s = LIMIT or report = true", c.ID, m.sense)
	case math.IsNaN(*given) || math.IsInf(*given, 0) || *given < 0:
		return l, fmt.Errorf("criterion %q: limit %g: give a number of zero or above", c.ID, *given)
	case m.unit == "pct" && *given > 100:
		return l, fmt.Errorf("criterion %q: limit %g: per cent go to 100", c.ID, *given)
	}
	l.Limit = *given * scale(m.unit, unitM)
	return l, nil
}

// scale turns a limit in the units of a file into the units of the record.
func scale(unit string, unitM float64) float64 {
	switch unit {
	case "m":
		return unitM
	case "m2":
		return unitM * unitM
	case "1/m2":
		return 1 / (unitM * unitM)
	}
	return 1
}

// lineOfKey returns the first line that sets the last part of the key, 0 if none.
func lineOfKey(b []byte, key toml.Key) int {
	want := key[len(key)-1]
	for i, line := range strings.Split(string(b), "\n") {
		name, _, ok := strings.Cut(line, "=")
		name = strings.Trim(strings.TrimSpace(name), `"'`)
		header := strings.Trim(strings.TrimSpace(line), "[] \t\r")
		if (ok && (name == want || strings.HasSuffix(name, "."+want))) || (!ok && header == want) {
			return i + 1
		}
	}
	return 0
}

// lineOfCriterion returns the line of the i-th [[criterion]].
func lineOfCriterion(b []byte, i int) int {
	for n, line := range strings.Split(string(b), "\n") {
		if strings.HasPrefix(strings.TrimSpace(line), "[[criterion]]") {
			if i == 0 {
				return n + 1
			}
			i--
		}
	}
	return 0
}

// TOML returns the named set (see Resolve) as a file to copy and edit.
func TOML(name string) (string, error) {
	s, err := Resolve(name)
	if err != nil {
		return "", err
	}
	return s.TOML(), nil
}

// TOML returns the set as a file that ReadFile reads again, in metres.
func (s *Set) TOML() string {
	var b strings.Builder
	num := func(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }
	fmt.Fprintf(&b, "# Limits for sidelap assess --limits FILE. Made from %s; edit and save under a name of your own.\n", s.Name)
	fmt.Fprintf(&b, "title  = %q\nsource = %q\n", s.Title, s.Source)
	fmt.Fprintf(&b, "rules  = %q  # own, asprs-ed1, asprs-ed2, lbs: number and accuracy of check points\n", s.Basis)
	fmt.Fprintf(&b, "units  = \"metres\"  # or \"international feet\", \"survey feet\": lengths below are in these\n")
	if s.ClassM > 0 {
		fmt.Fprintf(&b, "class  = %s  # accuracy class, RMSE\n", num(s.ClassM))
	}
	if len(s.Notes) > 0 {
		b.WriteString("notes  = [\n")
		for _, n := range s.Notes {
			fmt.Fprintf(&b, "  %q,\n", n)
		}
		b.WriteString("]\n")
	}
	for _, l := range s.Limits {
		m := measureOf(l.ID)
		fmt.Fprintf(&b, "\n[[criterion]]  # %s, %s\nid     = %q\n", m.name, m.unit, l.ID)
		if l.Sense == Report {
			b.WriteString("report = true\n")
		} else {
			fmt.Fprintf(&b, "%-6s = %s\n", l.Sense, num(l.Limit))
		}
		if l.Optional {
			b.WriteString("optional = true\n")
		}
		fmt.Fprintf(&b, "source = %q\n", l.Source)
	}
	return b.String()
}
