package report_test

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"html"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"sidelap/report"
	"sidelap/report/internal/sample"
)

// keyed returns every scalar of a record by its key.
func keyed(t *testing.T, rec *report.Record) map[string]reflect.Value {
	t.Helper()
	m := map[string]reflect.Value{}
	if err := report.Walk(rec, func(key string, v reflect.Value) error { m[key] = v; return nil }); err != nil {
		t.Fatal(err)
	}
	return m
}

func number(v reflect.Value) (float64, bool) {
	switch {
	case v.CanFloat():
		return v.Float(), true
	case v.CanInt():
		return float64(v.Int()), true
	}
	return 0, false
}

// plain removes the blanks inside numbers.
func plain(s string) string { return strings.NewReplacer("\u202f", "", "\u00a0", " ").Replace(s) }

// rounds tells whether text is x rounded to the decimals that text has.
func rounds(text string, x float64) bool {
	y, err := strconv.ParseFloat(text, 64)
	if err != nil {
		return false
	}
	decimals := 0
	if i := strings.IndexByte(text, '.'); i >= 0 {
		decimals = len(text) - i - 1
	}
	return math.Abs(x-y) <= 0.5*math.Pow10(-decimals)*(1+1e-9)+1e-12*math.Abs(x)
}

var (
	tagged  = regexp.MustCompile(`data-(k|ft)="([^"]+)" data-v="([^"]*)">([^<]*)<`)
	counted = regexp.MustCompile(`data-k="([^"]+)">([^<]+)<`)
	united  = regexp.MustCompile(`data-u="([^"]+)">([^<]+)<`)
)

// Every number of the page that is tagged with a key is that value of the
// record: in metres, in feet, and as the value that the columns are sorted by.
func TestHTMLEqualsRecord(t *testing.T) {
	for name, s := range surveys() {
		values := keyed(t, s.Record)
		var b bytes.Buffer
		if err := report.WriteHTML(&b, s.Record, s.Layers); err != nil {
			t.Fatal(err)
		}
		n := 0
		for _, m := range tagged.FindAllStringSubmatch(b.String(), -1) {
			v, ok := number(values[m[2]])
			if !ok {
				t.Fatalf("%s: %s is no number of the record", name, m[2])
			}
			if m[1] == "ft" {
				v /= *s.Record.CRS.VerticalUnitM
			}
			n++
			if text := plain(html.UnescapeString(m[4])); !rounds(text, v) {
				t.Errorf("%s: %s shows %s, the record has %.9g", name, m[2], text, v)
			}
			if m[1] == "ft" { // made from the metres of results.json
				raw, _ := number(values[m[2]])
				v = math.Round(raw*1e6) / 1e6 / *s.Record.CRS.VerticalUnitM
			}
			if !rounds(m[3], v) {
				t.Errorf("%s: %s sorts by %s, the record has %.9g", name, m[2], m[3], v)
			}
		}
		for _, m := range counted.FindAllStringSubmatch(b.String(), -1) {
			v, ok := number(values[m[1]])
			if n++; ok && !rounds(plain(html.UnescapeString(m[2])), v) {
				t.Errorf("%s: %s shows %s, the record has %.9g", name, m[1], m[2], v)
			}
		}
		for _, m := range united.FindAllStringSubmatch(b.String(), -1) {
			v, _ := number(values[m[1]])
			f := strings.FieldsFunc(plain(html.UnescapeString(m[2])), func(r rune) bool { return strings.ContainsRune(" ()", r) })
			if n++; !rounds(f[0], v) || f[1] != "m" || (len(f) > 2 && !rounds(f[2], v/(*s.Record.CRS.VerticalUnitM))) {
				t.Errorf("%s: %s shows %q, the record has %.9g m", name, m[1], m[2], v)
			}
		}
		if n < 500 {
			t.Errorf("%s: only %d tagged numbers", name, n)
		}
	}
}

// decimals finds numbers with a decimal point in running text.
var decimals = regexp.MustCompile(`-?\d+\.\d+`)

// allowed holds every number of the record as a reader may meet it.
type allowed struct {
	numbers []float64
	texts   string
}

func allow(t *testing.T, rec *report.Record) *allowed {
	t.Helper()
	a := &allowed{}
	foot := 0.0
	if u := rec.CRS.VerticalUnitM; u != nil && *u != 1 {
		foot = *u
	}
	for key, v := range keyed(t, rec) {
		if v.Kind() == reflect.String {
			a.texts += v.String() + "\n"
		}
		if x, ok := number(v); ok {
			a.numbers = append(a.numbers, x)
			if foot != 0 && strings.HasSuffix(key, "_m") || strings.HasSuffix(key, "value") || strings.HasSuffix(key, "limit") {
				a.numbers = append(a.numbers, x/max(foot, 0.3))
			}
		}
	}
	return a
}

// has tells whether a number in a text is a value of the record or stands in
// one of its texts; 1.96, 0.5 m (width of a profile) and the like are named by the caller.
func (a *allowed) has(s string, named ...string) bool {
	for _, n := range named {
		if s == n {
			return true
		}
	}
	if strings.Contains(a.texts, s) {
		return true
	}
	for _, x := range a.numbers {
		if rounds(s, x) {
			return true
		}
	}
	return false
}

// profilePlace is where the profile of the samples lies, in the unit of the cloud.
func profilePlace(s *sample.Survey) []string {
	unitM := *s.Record.CRS.HorizontalUnitM
	var out []string
	for _, x := range []float64{567310, 5934278, 567350} {
		out = append(out, fmt.Sprintf("%.1f", x/unitM))
	}
	return out
}

// constants are numbers of methods, not of this survey.
var constants = []string{"1.96", "68.3"}

// Every number with a decimal point in the terminal's text, in the Markdown
// tables and in the text of the page is a value of the record.
func TestTextEqualsRecord(t *testing.T) {
	for name, s := range surveys() {
		a := allow(t, s.Record)
		var texts [4]bytes.Buffer
		if err := report.WriteText(&texts[0], s.Record, report.TextOptions{Columns: 200}); err != nil {
			t.Fatal(err)
		}
		if err := report.WriteCheckPoints(&texts[1], s.Record, report.TextOptions{Columns: 200}); err != nil {
			t.Fatal(err)
		}
		if err := report.WriteMarkdown(&texts[2], s.Record); err != nil {
			t.Fatal(err)
		}
		var page bytes.Buffer
		if err := report.WriteHTML(&page, s.Record, s.Layers); err != nil {
			t.Fatal(err)
		}
		texts[3].WriteString(visible(page.String()))
		for i := range texts {
			text := texts[i].String()
			found := decimals.FindAllString(text, -1)
			if len(found) < 30 {
				t.Errorf("%s, text %d: only %d numbers", name, i, len(found))
			}
			for _, n := range found {
				if !a.has(n, append(append(constants, "0.50"), profilePlace(s)...)...) { // the profile's place is not in the record
					at := strings.Index(text, n)
					t.Errorf("%s, text %d: %s is no value of the record: %q", name, i, n, text[max(0, at-60):min(len(text), at+40)])
				}
			}
		}
	}
}

// visible returns the text of the page without figures, styles, scripts, tags.
func visible(page string) string {
	for _, name := range []string{"svg", "style", "script"} {
		page = regexp.MustCompile(`(?s)<`+name+`[ >].*?</`+name+`>`).ReplaceAllString(page, " ")
	}
	return html.UnescapeString(regexp.MustCompile(`<[^>]*>`).ReplaceAllString(page, " "))
}

// Every number with a decimal point in the PDF is a value of the record, a tick
// of an axis, or a key's. Outside the project: poppler reads the text.
func TestPDFEqualsRecord(t *testing.T) {
	for name, s := range surveys() {
		a := allow(t, s.Record)
		path := filepath.Join(t.TempDir(), "report.pdf")
		l := *s.Layers
		l.Relief, l.Separation, l.Density, l.StripCount, l.Pairs, l.Profiles, l.Separations = nil, nil, nil, nil, nil, nil, nil // no axes
		rec := *s.Record
		var b bytes.Buffer
		if err := report.WritePDF(&b, &rec, &l, report.PDFOptions{}); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, b.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
		text := run(t, "pdftotext", "-layout", path, "-")
		found := decimals.FindAllString(text, -1)
		if len(found) < 200 {
			t.Errorf("%s: only %d numbers in the PDF", name, len(found))
		}
		for _, n := range found {
			if !a.has(n, append(constants, axisOfPairs...)...) {
				at := strings.Index(text, n)
				t.Errorf("%s: %s is no value of the record: %q", name, n, text[max(0, at-80):min(len(text), at+40)])
			}
		}
		// n in the text = rows in the table (practice 4.2).
		for i := range s.Record.Checkpoints.Points {
			if id := s.Record.Checkpoints.Points[i].ID; !strings.Contains(text, id) {
				t.Errorf("%s: check point %s is not in the PDF", name, id)
			}
		}
	}
}

// axisOfPairs are the ticks of the figure of pairs.
var axisOfPairs = func() []string {
	var s []string
	for _, step := range []float64{0.005, 0.01, 0.02, 0.05} {
		for k := -10; k <= 10; k++ {
			for d := 1; d <= 3; d++ {
				s = append(s, fmt.Sprintf("%.*f", d, float64(k)*step))
			}
		}
	}
	return s
}()

// Every number of the CSV tables equals the record, under its key, and the
// tables have a row for each row of the record.
func TestCSVEqualsRecord(t *testing.T) {
	for name, s := range surveys() {
		dir := folder(t, s)
		values := keyed(t, s.Record)
		for table, base := range map[string]string{"strips": "strips", "pairs": "pairs", "checkpoints": "checkpoints.points", "voids": "coverage.void_list", "criteria": "verdict.criteria", "findings": "findings", "causes": "causes", "inputs": "inputs"} {
			f, err := os.Open(filepath.Join(dir, "tables", table+".csv"))
			if os.IsNotExist(err) && name != "failing" && table == "causes" {
				continue // no causes, no table
			}
			if err != nil {
				t.Fatal(err)
			}
			rows, err := csv.NewReader(f).ReadAll()
			f.Close()
			if err != nil {
				t.Fatal(err)
			}
			next := fmt.Sprintf("%s[%d].", base, len(rows)-1)
			for key := range values {
				if strings.HasPrefix(key, next) {
					t.Errorf("%s %s: %d rows, the record has more", name, table, len(rows)-1)
					break
				}
			}
			for i, row := range rows[1:] {
				for k, text := range row {
					field := rows[0][k]
					foot := 1.0
					if f, ok := strings.CutSuffix(field, "_ftus"); ok {
						field, foot = f+"_m", *s.Record.CRS.VerticalUnitM
						if f == "value" || f == "limit" {
							field = f
						}
					}
					v, ok := number(values[fmt.Sprintf("%s[%d].%s", base, i, field)])
					if foot != 1 {
						v = math.Round(v*1e6) / 1e6 // feet are made from the metres of results.json
					}
					switch {
					case ok && !rounds(text, v/foot):
						t.Errorf("%s %s row %d: %s is %s, the record has %.9g", name, table, i, rows[0][k], text, v)
					case !ok && values[fmt.Sprintf("%s[%d].%s", base, i, field)].Kind() == reflect.String && !strings.Contains(field, "[") && text != values[fmt.Sprintf("%s[%d].%s", base, i, field)].String():
						t.Errorf("%s %s row %d: %s is %q", name, table, i, field, text)
					}
				}
			}
		}
	}
}

// The rules of practice 4.2 for numbers of one report: RMSE >= abs(mean);
// RMSE^2 = mean^2 + s^2 (n-1)/n; 95 % = 1.96 RMSE; the largest difference is at least the
// RMSE; n equals the rows used; results follow from value and limit.
func TestFiguresAgree(t *testing.T) {
	for name, s := range surveys() {
		for group, a := range map[string]*report.Accuracy{"open": s.Record.Checkpoints.NVA, "vegetated": s.Record.Checkpoints.VVA} {
			used := int64(0)
			for _, p := range s.Record.Checkpoints.Points {
				if p.Used && p.Cover == group {
					used++
				}
			}
			n := float64(a.N)
			if used != a.N || *a.RMSEM < math.Abs(*a.MeanM) || math.Abs(*a.Accuracy95M-1.96**a.RMSEM) > 1e-9 ||
				math.Abs(*a.RMSEM**a.RMSEM-*a.MeanM**a.MeanM-*a.StdM**a.StdM*(n-1)/n) > 1e-9 || max(math.Abs(*a.MinM), math.Abs(*a.MaxM)) < *a.RMSEM {
				t.Errorf("%s, %s: figures do not agree", name, group)
			}
		}
		if problems := report.Check(s.Record); len(problems) > 0 {
			t.Errorf("%s: %v", name, problems)
		}
	}
	for damage, break_ := range map[string]func(*report.Record){
		"RMSE below the mean":        func(r *report.Record) { r.Checkpoints.NVA.MeanM = report.F(0.5) },
		"95 % of another RMSE":       func(r *report.Record) { r.Checkpoints.NVA.Accuracy95M = report.F(0.053) },
		"n of another table":         func(r *report.Record) { r.Checkpoints.NVA.N = 31 },
		"a result against its limit": func(r *report.Record) { r.Verdict.Criteria[0].Value = report.F(9) },
		"a verdict without data":     func(r *report.Record) { r.Verdict.Criteria[0].Value = nil },
		"a largest below the RMSE":   func(r *report.Record) { r.Separation.MaxAbsM = report.F(0.0001) },
		"more used than read":        func(r *report.Record) { r.Checkpoints.NRead = 3 },
	} {
		rec := sample.Passing().Record
		break_(rec)
		if len(report.Check(rec)) == 0 {
			t.Errorf("%s: not noticed", damage)
		}
	}
}
