package report

import (
	"bytes"
	"strings"
	"testing"
	"unicode/utf8"
)

// TestSentences: texts of a record that begin with a letter of two bytes stay texts on the page.
func TestSentences(t *testing.T) {
	if got := sentenceText("über den Wiesen nur drei Punkte"); got != "Über den Wiesen nur drei Punkte." {
		t.Errorf("%q", got)
	}
	rec := &Record{SchemaVersion: SchemaVersion, Checkpoints: &Checkpoints{Notes: []string{"über den Wiesen"}}, Verdict: Verdict{Result: NotJudged}, Findings: []Finding{{Severity: "überaus", Text: "x"}, {}}}
	var b bytes.Buffer
	if err := WriteHTML(&b, rec, &Layers{}); err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(b.String(), "Über den Wiesen.") || !strings.Contains(b.String(), "<h3>Überaus: x") || !utf8.Valid(b.Bytes()) {
		t.Error("a first letter is broken")
	}
}

// TestChecksWithoutDifference: check points at which the cloud does not differ at all, with and without a limit, are drawn at
// places that are numbers.
func TestChecksWithoutDifference(t *testing.T) {
	for _, n := range []int{2, 12} { // 12: with a curve and a line
		for _, limits := range [][]Criterion{nil, {{ID: "nva_rmse", Group: "absolute", Unit: "m", Sense: "max", Value: F(0), Limit: F(0.05), Result: Pass}}} {
			c := &Checkpoints{NRead: int64(n), NUsed: int64(n), NVA: &Accuracy{N: int64(n), MeanM: F(0), RMSEM: F(0)}}
			for i := range n {
				c.Points = append(c.Points, CheckRow{ID: strings.Repeat("P", i+1), EM: float64(100 * i), NM: float64(50 * i * i), ZM: F(float64(i)), DzM: F(0), Cover: "open", Used: true, SlopePct: F(float64(i))})
			}
			rec := &Record{SchemaVersion: SchemaVersion, Checkpoints: c, Verdict: Verdict{Result: NotJudged, Criteria: limits}}
			var b bytes.Buffer
			if err := WriteHTML(&b, rec, &Layers{}); err != nil {
				t.Fatal(err)
			}
			page := b.String()
			if strings.Count(page, "<svg") < 3 {
				t.Error("the figures are missing: the test looks at nothing")
			}
			for _, s := range strings.SplitAfter(page, "<svg")[1:] {
				if svg, _, _ := strings.Cut(s, "</svg>"); strings.Contains(svg, "NaN") || strings.Contains(svg, "Inf") {
					t.Errorf("%d points, %d limits: NaN or Inf in %.300s", n, len(limits), svg[max(0, strings.Index(svg, "NaN")-200):])
				}
			}
		}
	}
}
