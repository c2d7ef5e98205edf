package report

import (
	"cmp"
	"math"
	"strconv"
	"strings"
	"testing"

	"sidelap/adjust"

	"github.com/paulmach/orb"
)

func criterion(id, result string, value, limit float64, reason Text) Criterion {
	c := Criterion{ID: id, Name: id, Group: "relative", Unit: "m", Sense: "max", Result: result, Limit: F(limit), Reason: reason}
	if !math.IsNaN(value) {
		c.Value = F(value)
	}
	return c
}

// TestGroupLine: a group of which a part was judged says so, and does not call the criterion that it quotes not judged.
func TestGroupLine(t *testing.T) {
	rec := &Record{Verdict: Verdict{Result: NotJudged, Criteria: []Criterion{
		criterion("RMSD of all", Pass, 0.03, 0.08, ""), criterion("largest", Pass, 0.086, 0.16, ""),
		criterion("within a strip", NotJudged, 0.1, 0.06, "too dense")}}}
	lines := newView(rec).verdictLines()
	want := "strip against strip: 2 of 3 pass (RMSD of all 0.030\u00a0m, at most 0.080\u00a0m; largest 0.086\u00a0m, at most 0.160\u00a0m); not judged: within a strip"
	if lines[1] != want {
		t.Errorf("%q, want %q", lines[1], want)
	}
	rec.Verdict.Criteria[2].Result = Pass
	if l := newView(rec).verdictLines()[1]; !strings.HasPrefix(l, "strip against strip: pass – ") {
		t.Errorf("all pass: %q", l)
	}
}

// TestReasonOnce: criteria with the same reason share a line, and a failing one tells what stands beside it.
func TestReasonOnce(t *testing.T) {
	rec := &Record{Verdict: Verdict{Result: Fail, Criteria: []Criterion{
		criterion("one", NotJudged, math.NaN(), 0.08, "no overlap"), criterion("two", NotJudged, math.NaN(), 0.16, "no overlap"),
		criterion("three", Fail, 1.8, 0.05, "the fit alone")}}}
	all := strings.Join(newView(rec).verdictLines(), "\n")
	if strings.Count(all, "no overlap") != 1 || !strings.Contains(all, "not judged: one; two: no overlap") || !strings.Contains(all, "at most 0.050\u00a0m (the fit alone)") {
		t.Error(all)
	}
	var b strings.Builder
	if err := WriteText(&b, rec, TextOptions{Columns: 200}); err != nil {
		t.Fatal(err)
	}
	if strings.Count(b.String(), "no overlap") != 1 || !strings.Contains(b.String(), "see above") {
		t.Error(b.String())
	}
}

// TestEvidenceOnce: a long clause that several findings share is printed with the first.
func TestEvidenceOnce(t *testing.T) {
	tail := "with it, ground that was not fitted to is left with 0.007 m rms instead of 0.031 m"
	said := map[string]bool{}
	if got := once("tilts across; "+tail, said); got != "tilts across; "+tail {
		t.Errorf("first: %q", got)
	}
	if got := once("follows the slope; "+tail, said); got != "follows the slope; the rest as above" {
		t.Errorf("second: %q", got)
	}
}

// TestMixedUnits: with x and y in metres and heights in feet, only heights are repeated in feet; and the other way round.
func TestMixedUnits(t *testing.T) {
	const foot = 1200.0 / 3937
	for _, c := range []struct {
		h, v          float64
		length, zFeet bool
	}{{1, foot, false, true}, {foot, 1, true, false}, {foot, foot, true, true}, {1, 1, false, false}} {
		rec := &Record{CRS: CRS{HorizontalUnitM: F(c.h), VerticalUnitM: F(c.v)}, Strips: []Strip{{ID: "1", LengthM: F(100), HeightAboveGroundM: F(50)}}}
		v := newView(rec)
		heads := ""
		for _, col := range v.build(stripSpec).cols {
			heads += col.header() + ","
		}
		if got := strings.Contains(heads, "length [ftUS]"); got != c.length {
			t.Errorf("x and y of %g m, heights of %g m: length in feet %v: %s", c.h, c.v, got, heads)
		}
		if got := strings.Contains(heads, "height [ftUS]"); got != c.zFeet {
			t.Errorf("x and y of %g m, heights of %g m: height in feet %v: %s", c.h, c.v, got, heads)
		}
		rec.Verdict.Criteria = []Criterion{criterion("largest", Fail, 0.2, 0.1, "")}
		if got := strings.Contains(v.criterionPhrase(0), "ftUS)"); got != c.zFeet {
			t.Errorf("heights of %g m: criterion in feet %v", c.v, got)
		}
		if got := v.inFeet("checkpoints.points[0]") != ""; got != c.length {
			t.Errorf("x and y of %g m: place in feet %v", c.h, got)
		}
	}
}

// TestTwoFeet: international feet in plan and US survey feet in height, or the other way round, are each shown in their
// own; so are the figures of check targets, which lie over ground. A place of 1 000 000 m differs by 6.6 ft between the two.
// Both feet by their definitions: 0.3048 m and 1200/3937 m.
func TestTwoFeet(t *testing.T) {
	const us = 1200.0 / 3937
	for _, c := range []struct {
		h, v       float64
		flat, high string
		place      string
	}{{0.3048, us, "ft", "ftUS", "3280839.9"}, {us, 0.3048, "ftUS", "ft", "3280833.3"}, {0.3048, 1, "ft", "", "3280839.9"}, {1, us, "", "ftUS", "1000000.0"}} {
		rec := &Record{CRS: CRS{HorizontalUnitM: F(c.h), VerticalUnitM: F(c.v)}, Strips: []Strip{{ID: "1", LengthM: F(100), HeightAboveGroundM: F(50)}},
			Separation: &Separation{CellM: 1}, Checkpoints: &Checkpoints{NRead: 1, Horizontal: &Horizontal{N: 1, RMSEM: F(0.3048), Targets: []Target{{ID: "T", DxM: F(0.1), AcrossM: F(0.2), DzM: F(0.3)}}}}}
		largest, plan := criterion("largest", Fail, 0.2, 0.1, ""), criterion("targets", Fail, 0.4, 0.1, "")
		plan.ID = "horizontal_rmse"
		rec.Verdict.Criteria = []Criterion{largest, plan}
		v := newView(rec)
		is := func(what, text, foot string) {
			t.Helper()
			if got := strings.Contains(text, "ftUS"); got != (foot == "ftUS") {
				t.Errorf("%g and %g m: %s: %q", c.h, c.v, what, text)
			}
			if got := strings.Contains(strings.ReplaceAll(text, "ftUS", ""), "ft"); got != (foot == "ft") {
				t.Errorf("%g and %g m: %s: %q", c.h, c.v, what, text)
			}
		}
		if got := v.placeText(orb.Point{1e6, 5}); !strings.HasPrefix(got, "E "+c.place+",") {
			t.Errorf("%g and %g m: %s", c.h, c.v, got)
		}
		is("place", v.placeText(orb.Point{1e6, 5}), c.flat)
		is("length", v.withUnit("strips[0].length_m"), c.flat)
		is("height", v.withUnit("strips[0].height_above_ground_m"), c.high)
		is("cell", v.withUnit("separation.cell_m"), c.flat)
		is("targets", v.withUnit("checkpoints.horizontal.rmse_m"), c.flat)
		is("criterion", v.criterionPhrase(0), c.high)
		is("criterion in plan", v.criterionPhrase(1), c.flat)
		for _, col := range v.build(targetSpec).cols {
			if col.unit == "ft" || col.unit == "ftUS" {
				is("column "+col.head, col.header(), map[bool]string{true: c.high, false: c.flat}[col.head == "dz"])
			}
		}
		shown := ""
		for _, row := range v.criteria().rows {
			for _, x := range row {
				if x.foot.ok() {
					shown += x.foot.name + " "
				}
			}
		}
		if want := strings.Repeat(cmp.Or(c.high, c.flat)+" ", 2); shown != want { // value and limit of the one row that has this foot
			t.Errorf("%g and %g m: criteria in %q, want %q", c.h, c.v, shown, want)
		}
	}
}

// TestNoTimes: strips without times have a first and a second, none is earlier.
func TestNoTimes(t *testing.T) {
	rec := &Record{Strips: []Strip{{ID: "7"}, {ID: "9"}}, Pairs: []Pair{{A: "7", B: "9"}}}
	tab := newView(rec).build(pairSpec)
	if tab.cols[0].head != "first" || tab.cols[1].head != "second" || strings.Contains(tab.note, "later") {
		t.Errorf("%s, %s: %s", tab.cols[0].head, tab.cols[1].head, tab.note)
	}
	words := func() string {
		v := newView(rec)
		groups := v.diagnosisPanels(&Layers{Diagnosis: &adjust.Figures{Pairs: []adjust.PairFigure{{IDA: "7", IDB: "9", Across: []adjust.Bin{{At: 1}, {At: 2}}}}}})
		return v.overlapStyle() + groups[0].caption
	}
	if s := words(); strings.Contains(s, "later") || strings.Count(s, "second strip") != 6 || !strings.Contains(s, "second minus first strip") {
		t.Error(s)
	}
	rec.Strips[0].StartGPSS = F(5)
	if s := words(); strings.Count(s, "later strip") != 6 || !strings.Contains(s, "later minus earlier strip") {
		t.Error(s)
	}
	if tab := newView(rec).build(pairSpec); tab.cols[0].head != "earlier" {
		t.Error(tab.cols[0].head)
	}
}

// TestFoldedStrips: of many strips half a page stands open; without times these are not called the first by time.
func TestFoldedStrips(t *testing.T) {
	rec := &Record{}
	for i := range mostOpenRows + 5 {
		rec.Strips = append(rec.Strips, Strip{ID: strconv.Itoa(i)})
	}
	for _, c := range []struct {
		start *float64
		want  string
	}{{nil, "Strips: 40 strips, the first as listed, out of 85"}, {F(5), "Strips: 40 strips, the first by time, out of 85"}} {
		rec.Strips[0].StartGPSS = c.start
		page := ""
		for _, p := range newView(rec).acquisitionSection().Parts {
			page += string(p)
		}
		if !strings.Contains(page, c.want) || !strings.Contains(page, "<summary>Strips: all 85 rows</summary>") {
			t.Errorf("no %q", c.want)
		}
	}
}

// TestCorrectionSaid: page, full PDF, brief and terminal say beside the verdict that the cloud was corrected, and what became worse.
func TestCorrectionSaid(t *testing.T) {
	rec := &Record{Correction: &Correction{Applied: true, Statement: "Corrected for height drift. The check points agree less well than before: look into this.",
		Before: &Level{RMSDM: F(0.049), CheckM: F(0.017)}, After: &Level{RMSDM: F(0.007), CheckM: F(0.027)}, Holdout: &Holdout{BeforeRMSM: F(0.05), AfterRMSM: F(0.006), NoiseFloorM: F(0.0061)},
		Parameters: []Parameter{{Kind: "strip_drift", Strip: "102", Value: F(0.1), Sigma: F(0.01), Unit: "m"}}, Notes: []string{"It moves points by up to 96 mm."}}}
	want := []string{"This cloud was corrected for height drift. The check points agree less well", "RMSD of the strips 0.049\u00a0m → 0.007\u00a0m", "(noise floor 0.006\u00a0m)", "RMSE 0.017\u00a0m → 0.027\u00a0m"}
	lines := strings.Join(newView(rec).correctionLines(), "\n")
	var text, page strings.Builder
	if err := WriteText(&text, rec, TextOptions{Columns: 500}); err != nil {
		t.Fatal(err)
	}
	if err := WriteHTML(&page, rec, nil); err != nil {
		t.Fatal(err)
	}
	box, _, _ := strings.Cut(page.String(), "</section>")
	for _, w := range want {
		for name, s := range map[string]string{"lines": lines, "text": text.String(), "page": box} {
			if !strings.Contains(s, w) {
				t.Errorf("%s: no %q in %q", name, w, s)
			}
		}
	}
	rec.Correction.Applied, rec.Correction.Statement = false, "Estimated, not applied: height drift."
	if l := newView(rec).correctionLines()[0]; l != "Correction: Estimated, not applied: height drift." {
		t.Error(l)
	}
	rec.Correction = nil
	if l := newView(rec).correctionLines(); l != nil {
		t.Error(l)
	}
}

// Where the Shapiro-Wilk test gives no figure, the other one decides and is named.
func TestNormalityNamesItsTest(t *testing.T) {
	a := &Accuracy{N: 6000, Normal: B(true), JarqueBera: F(1), JarqueBeraP: F(0.6), ShapiroW: F(0.99), ShapiroP: F(0.6)}
	rec := &Record{Checkpoints: &Checkpoints{NVA: a}}
	if text := newView(rec).statisticsHTML(); !strings.Contains(text, "(Shapiro-Wilk, 5 %)") {
		t.Error(text)
	}
	a.ShapiroW, a.ShapiroP = nil, nil
	if text := newView(rec).statisticsHTML(); !strings.Contains(text, "open ground: the differences look normal (Jarque-Bera, 5 %)") {
		t.Error(text)
	}
}
