package report_test

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"unicode/utf8"

	"sidelap/report"
	"sidelap/report/internal/sample"
)

// golden compares with a file under testdata, or rewrites it with -update.
func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, got, 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		t.Errorf("%s differs: read the difference, then go test ./report -update", path)
	}
}

// surveys are the samples, made once: tests that change one make their own.
var surveys = sync.OnceValue(func() map[string]*sample.Survey {
	return map[string]*sample.Survey{"passing": sample.Passing(), "failing": sample.Failing(), "feet": sample.Feet()}
})

var writers = map[string]func(*bytes.Buffer, *report.Record, report.TextOptions) error{
	"text": func(b *bytes.Buffer, r *report.Record, o report.TextOptions) error { return report.WriteText(b, r, o) },
	"strips": func(b *bytes.Buffer, r *report.Record, o report.TextOptions) error {
		return report.WriteStrips(b, r, o)
	},
	"checkpoints": func(b *bytes.Buffer, r *report.Record, o report.TextOptions) error {
		return report.WriteCheckPoints(b, r, o)
	},
}

// No line is wider than the window, in any of the usual widths.
func TestTextFits(t *testing.T) {
	for name, s := range surveys() {
		for kind, write := range writers {
			for _, columns := range []int{20, 40, 60, 80, 120, 200} {
				var b bytes.Buffer
				if err := write(&b, s.Record, report.TextOptions{Columns: columns}); err != nil {
					t.Fatal(err)
				}
				for _, l := range strings.Split(b.String(), "\n") {
					if n := utf8.RuneCountInString(l); n > columns {
						t.Errorf("%s %s, %d columns: %d wide: %s", name, kind, columns, n, l)
					}
				}
				if strings.Contains(b.String(), "\x1b") {
					t.Errorf("%s %s: escape codes without Bold", name, kind)
				}
			}
		}
	}
}

func TestTextGolden(t *testing.T) {
	for name, s := range surveys() {
		for _, columns := range []int{40, 80, 120} {
			var b bytes.Buffer
			if err := report.WriteText(&b, s.Record, report.TextOptions{Columns: columns}); err != nil {
				t.Fatal(err)
			}
			golden(t, fmt.Sprintf("text/%s-%d.txt", name, columns), b.Bytes())
		}
	}
}

// An empty record prints no number and says that nothing was judged.
func TestTextOfNothing(t *testing.T) {
	rec := &report.Record{Verdict: report.Verdict{Result: report.NotJudged}}
	for kind, write := range writers {
		var b bytes.Buffer
		if err := write(&b, rec, report.TextOptions{}); err != nil {
			t.Fatal(err)
		}
		if regexp.MustCompile(`\d|NaN|pass`).MatchString(b.String()) {
			t.Errorf("%s of an empty record: %s", kind, b.String())
		}
	}
}

func TestBoldCarriesNoMeaning(t *testing.T) {
	rec := sample.Failing().Record
	var plain, bold bytes.Buffer
	if err := report.WriteText(&plain, rec, report.TextOptions{Columns: 80}); err != nil {
		t.Fatal(err)
	}
	if err := report.WriteText(&bold, rec, report.TextOptions{Columns: 80, Bold: true}); err != nil {
		t.Fatal(err)
	}
	if plain.String() == bold.String() {
		t.Error("Bold changes nothing")
	}
	if regexp.MustCompile("\x1b\\[[01]m").ReplaceAllString(bold.String(), "") != plain.String() {
		t.Error("Bold changes more than the weight")
	}
}
