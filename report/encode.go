package report

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"reflect"
	"sidelap/las/disk"
	"strconv"
	"strings"
)

// Marshal returns the record as the bytes of results.json.
//
// Numbers are written with the decimals that their key's unit asks for
// (Decimals), so the same record gives the same bytes everywhere. A number that
// is not finite is an error that names its key: it can not be written in JSON
// and means that something upstream forgot F.
func Marshal(rec *Record) ([]byte, error) {
	if err := Walk(rec, func(key string, v reflect.Value) error {
		if v.Kind() == reflect.Float64 && (math.IsNaN(v.Float()) || math.IsInf(v.Float(), 0)) {
			return fmt.Errorf("results record: %s is %g, which JSON cannot hold: leave it null", key, v.Float())
		}
		return nil
	}); err != nil {
		return nil, err
	}
	whole := *rec // lists that every run has are empty rather than null
	whole.Inputs, whole.Strips, whole.Pairs = listed(rec.Inputs), listed(rec.Strips), listed(rec.Pairs)
	whole.Loops, whole.Rasters, whole.Warnings = listed(rec.Loops), listed(rec.Rasters), listed(rec.Warnings)
	whole.CommandLine, whole.Verdict.Criteria = listed(rec.CommandLine), listed(rec.Verdict.Criteria)
	raw, err := json.Marshal(&whole)
	if err != nil {
		return nil, fmt.Errorf("results record: %w", err)
	}
	d := json.NewDecoder(bytes.NewReader(raw))
	d.UseNumber()
	root, err := readNode(d, "")
	if err != nil {
		return nil, fmt.Errorf("results record: %w", err)
	}
	var b bytes.Buffer
	root.write(&b, 0)
	b.WriteByte('\n')
	return b.Bytes(), nil
}

func listed[T any](list []T) []T {
	if list == nil {
		return []T{}
	}
	return list
}

// Unmarshal reads the bytes of results.json. A record of a later major schema
// version is an error; unknown fields of the same major version are ignored.
func Unmarshal(b []byte) (*Record, error) {
	var head struct {
		SchemaVersion *string `json:"schema_version"`
	}
	if err := json.Unmarshal(b, &head); err != nil {
		return nil, jsonPlace(b, err)
	}
	if head.SchemaVersion == nil {
		return nil, errors.New("no schema_version: this is not a results record of sidelap")
	}
	major, _, _ := strings.Cut(*head.SchemaVersion, ".")
	if ours, _, _ := strings.Cut(SchemaVersion, "."); major != ours {
		return nil, fmt.Errorf("schema_version %s: this program reads %s.x; use the version of sidelap that wrote it", *head.SchemaVersion, ours)
	}
	rec := new(Record)
	if err := json.Unmarshal(b, rec); err != nil {
		return nil, jsonPlace(b, err)
	}
	return rec, nil
}

// WriteFile writes the record to path under a temporary name, then renames it.
func WriteFile(path string, rec *Record) error {
	b, err := Marshal(rec)
	if err != nil {
		return err
	}
	return writeAtomic(path, func(w io.Writer) error {
		_, err := w.Write(b)
		return err
	})
}

// maxRecordBytes bounds results.json and layers.json; those of a large survey have some ten megabytes.
const maxRecordBytes = 512 << 20

// ReadFile reads the record at path.
func ReadFile(path string) (*Record, error) {
	b, err := disk.Read(path, maxRecordBytes)
	if err != nil {
		return nil, err
	}
	rec, err := Unmarshal(b)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	return rec, nil
}

// jsonPlace adds line and field to an error of encoding/json.
func jsonPlace(b []byte, err error) error {
	var syn *json.SyntaxError
	var typ *json.UnmarshalTypeError
	switch {
	case errors.As(err, &syn):
		return fmt.Errorf("line %d: %w", lineOf(b, syn.Offset), err)
	case errors.As(err, &typ):
		return fmt.Errorf("line %d: %s: a %s is no %s", lineOf(b, typ.Offset), typ.Field, typ.Value, typ.Type)
	}
	return err
}

func lineOf(b []byte, offset int64) int {
	return 1 + bytes.Count(b[:min(int(offset), len(b))], []byte("\n"))
}

// decimalsOf maps the ending of a key to the decimals of its numbers. The
// first ending that fits counts. -1: as many digits as the number has;
// -2: nine significant digits.
var decimalsOf = []struct {
	ending   string
	decimals int
}{
	{"_unit_m", -1},
	{"_m_per_m", 9},
	{"_per_m2", 4},
	{"_m2", 3},
	{"_m", 6},
	{"_pct", 4},
	{"_deg", 6},
	{"_s", 6},
	{"_mps", 4},
	{"_hz", 4},
	{"", -2},
}

// Decimals returns the number of decimals that a key of the record is written
// with, -1 for all digits of the number, -2 for nine significant digits.
func Decimals(key string) int {
	for _, d := range decimalsOf {
		if strings.HasSuffix(key, d.ending) {
			return d.decimals
		}
	}
	return -2
}

// number formats v for the key; integers of the record stay as they are.
func number(key string, v json.Number) string {
	s := v.String()
	if !strings.ContainsAny(s, ".eE") {
		return s
	}
	f, err := v.Float64()
	if err != nil {
		return s
	}
	switch d := Decimals(key); d {
	case -1:
		return strconv.FormatFloat(f, 'g', -1, 64)
	case -2:
		return strconv.FormatFloat(f, 'g', 9, 64)
	default:
		s = strconv.FormatFloat(f, 'f', d, 64)
	}
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	if s == "-0" {
		return "0"
	}
	return s
}

// node is one JSON value with the order of its keys kept.
type node struct {
	open  byte // '{', '[' or 0 for a scalar
	text  string
	keys  []string
	items []*node
}

func readNode(d *json.Decoder, key string) (*node, error) {
	t, err := d.Token()
	if err != nil {
		return nil, err
	}
	delim, ok := t.(json.Delim)
	if !ok {
		return scalar(key, t)
	}
	n := &node{open: byte(delim)}
	for d.More() {
		inner := key
		if n.open == '{' {
			k, err := d.Token()
			if err != nil {
				return nil, err
			}
			inner, _ = k.(string)
			n.keys = append(n.keys, inner)
		}
		c, err := readNode(d, inner)
		if err != nil {
			return nil, err
		}
		n.items = append(n.items, c)
	}
	_, err = d.Token()
	return n, err
}

func scalar(key string, t json.Token) (*node, error) {
	if v, ok := t.(json.Number); ok {
		return &node{text: number(key, v)}, nil
	}
	b := new(bytes.Buffer)
	e := json.NewEncoder(b)
	e.SetEscapeHTML(false)
	if err := e.Encode(t); err != nil {
		return nil, err
	}
	return &node{text: strings.TrimSuffix(b.String(), "\n")}, nil
}

// flat tells whether the value fits on one line: scalars, lists of scalars, and
// inside lists, objects of these. One row of a table is then one line.
func (n *node) flat(depth int) bool {
	if n.open == 0 {
		return true
	}
	if n.open == '{' && depth < 2 && len(n.items) > 0 {
		return false
	}
	for _, c := range n.items {
		if !c.flat(depth + 1) {
			return false
		}
	}
	return n.open == '{' || len(n.items) == 0 || n.items[0].open == 0
}

func (n *node) write(b *bytes.Buffer, depth int) {
	if n.open == 0 {
		b.WriteString(n.text)
		return
	}
	one := n.flat(depth)
	b.WriteByte(n.open)
	for i, c := range n.items {
		if i > 0 {
			b.WriteByte(',')
		}
		switch {
		case !one:
			b.WriteByte('\n')
			b.WriteString(strings.Repeat("  ", depth+1))
		case i > 0:
			b.WriteByte(' ')
		}
		if n.open == '{' {
			b.WriteString(strconv.Quote(n.keys[i]))
			b.WriteString(": ")
		}
		c.write(b, depth+1)
	}
	if !one {
		b.WriteByte('\n')
		b.WriteString(strings.Repeat("  ", depth))
	}
	b.WriteByte(n.open + 2) // '{'+2 is '}', '['+2 is ']'
}
