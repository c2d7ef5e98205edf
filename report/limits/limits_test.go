package limits_test

import (
	"math"
	"strings"
	"testing"

	"sidelap/report"
	"sidelap/report/limits"
)

func resolve(t *testing.T, name string) *limits.Set {
	t.Helper()
	s, err := limits.Resolve(name)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// record makes a record with the figures of one criterion each, metres.
func record() *report.Record {
	return &report.Record{
		Pairs:         []report.Pair{{A: "1", B: "2", Cells: 400, RMSDM: report.F(0.03), MedianM: report.F(-0.02), SidelapPct: report.F(40), Relation: "opposite"}},
		Separation:    &report.Separation{Cells: 400, RMSDM: report.F(0.03), MaxAbsM: report.F(0.07)},
		Repeatability: &report.Repeatability{Cells: 400, RMSM: report.F(0.01), LBS: &report.Precision{Cells: 400, MaxM: report.F(0.02), RMSDM: report.F(0.02)}},
		Checkpoints: &report.Checkpoints{SurveyRMSEM: report.F(0.01),
			NVA: &report.Accuracy{N: 30, RMSEM: report.F(0.04), RMSEWithSurveyM: report.F(math.Hypot(0.04, 0.01)), Accuracy95M: report.F(1.96 * 0.04), MeanM: report.F(0.001), MinM: report.F(-0.06), MaxM: report.F(0.05)},
			VVA: &report.Accuracy{N: 5, RMSEM: report.F(0.3), RMSEWithSurveyM: report.F(0.3), P95AbsM: report.F(0.6)}},
		Coverage: &report.Coverage{StripDensityPerM2: report.F(9), Distribution: &report.Distribution{Cells: 400, WithReturnPct: report.F(95)}, Voids: report.I(0)},
	}
}

func find(t *testing.T, v report.Verdict, id string) report.Criterion {
	t.Helper()
	for _, c := range v.Criteria {
		if c.ID == id {
			return c
		}
	}
	t.Fatalf("no criterion %s in %s", id, v.Limits)
	return report.Criterion{}
}

// Source: accuracy-standards digest, tables 1.2, 1.7 (E1-2, E1-3), 2.8 (E2-5): products of
// the class and 1.96, 3.00, 0.60, 0.80, 1.60, printed with one decimal of a centimetre.
func TestClassLimits(t *testing.T) {
	for _, c := range []struct {
		id, set string
		cm      map[string]float64
	}{
		{"E1-2", "asprs-ed1:10", map[string]float64{"nva_rmse": 10, "nva_95": 19.6, "vva_p95": 30, "smooth_max": 6, "swath_rmsd": 8, "swath_max": 16}},
		{"E1-3", "asprs-ed1:2.5", map[string]float64{"nva_95": 4.9, "vva_p95": 7.5, "smooth_max": 1.5, "swath_rmsd": 2, "swath_max": 4}},
		{"E2-5", "asprs-ed2:10", map[string]float64{"nva_rmse_v": 10, "smooth_max": 6, "swath_rmsd": 8, "swath_max": 16}},
		{"table 1.2", "asprs-ed1:1", map[string]float64{"nva_95": 2.0, "vva_p95": 3, "smooth_max": 0.6, "swath_rmsd": 0.8, "swath_max": 1.6}},
		{"table 1.2", "asprs-ed1:33.3", map[string]float64{"nva_rmse": 33.3, "nva_95": 65.3, "vva_p95": 100, "smooth_max": 20, "swath_rmsd": 26.7, "swath_max": 53.3}},
		{"table 1.2", "asprs-ed1:333.3", map[string]float64{"nva_95": 653.3, "vva_p95": 1000, "smooth_max": 200, "swath_rmsd": 266.7, "swath_max": 533.3}},
		{"LBS 4.1", "lbs:QL0", map[string]float64{"nva_rmse_v": 5, "smooth_rmsd": 3, "swath_rmsd": 4}},
		{"LBS 4.1", "lbs:ql2", map[string]float64{"nva_rmse_v": 10, "smooth_rmsd": 6, "swath_rmsd": 8}},
		{"LBS 4.1", "lbs:QL3", map[string]float64{"nva_rmse_v": 20, "smooth_rmsd": 12, "swath_rmsd": 16}},
	} {
		s := resolve(t, c.set)
		for id, cm := range c.cm {
			l, ok := s.Find(id)
			if got := math.Round(1000*l.Limit) / 10; !ok || got != cm {
				t.Errorf("%s: %s %s = %g cm, want %g cm", c.id, c.set, id, got, cm)
			}
		}
	}
	for name, density := range map[string]float64{"lbs:QL0": 8, "lbs:QL1": 8, "lbs:QL2": 2, "lbs:QL3": 0.5} {
		if l, _ := resolve(t, name).Find("strip_density"); l.Limit != density || l.Sense != limits.Min {
			t.Errorf("%s: density %g, want at least %g per square metre (LBS 4.1)", name, l.Limit, density)
		}
	}
}

// L-7: differences against QL2. Source: LBS 2025 rev. A by the digest, 4.8.
func TestLevels(t *testing.T) {
	l, _ := resolve(t, "lbs:QL2").Find("swath_rmsd")
	for _, c := range []struct {
		dz   float64
		want int
	}{{0.079, 1}, {0.081, 2}, {0.161, 3}, {0.08, 1}, {-0.08, 1}, {-0.161, 3}, {0.16, 2}} {
		if got := limits.Level(c.dz, l.Limit); got != c.want {
			t.Errorf("L-7: level of %g m = %d, want %d", c.dz, got, c.want)
		}
	}
}

func TestJudge(t *testing.T) {
	for _, c := range []struct {
		name, set string
		change    func(*report.Record)
		result    string
		exit      int
		criterion string
		want      string
	}{
		{"all kept", "asprs-ed2:5", func(*report.Record) {}, report.Pass, 0, "swath_rmsd", report.Pass},
		{"equal passes", "asprs-ed2:5", func(r *report.Record) { r.Separation.RMSDM = report.F(0.04) }, report.Pass, 0, "swath_rmsd", report.Pass},
		{"a hair above fails although it prints as 0.040", "asprs-ed2:5", func(r *report.Record) { r.Separation.RMSDM = report.F(0.0400001) }, report.Fail, 1, "swath_rmsd", report.Fail},
		{"E2-3: the fit passes, the survey error makes it fail", "asprs-ed2:10", func(r *report.Record) {
			r.Checkpoints.SurveyRMSEM, r.Checkpoints.NVA.RMSEM, r.Checkpoints.NVA.RMSEWithSurveyM = report.F(0.05), report.F(0.10), report.F(0.111803)
		}, report.Fail, 1, "nva_rmse_v", report.Fail},
		{"E2-4", "asprs-ed2:10", func(r *report.Record) {
			r.Checkpoints.SurveyRMSEM, r.Checkpoints.NVA.RMSEM, r.Checkpoints.NVA.RMSEWithSurveyM = report.F(0.02), report.F(0.095), report.F(0.097082)
		}, report.Pass, 0, "nva_rmse_v", report.Pass},
		{"Edition 2 without the survey's accuracy", "asprs-ed2:5", func(r *report.Record) {
			r.Checkpoints.SurveyRMSEM, r.Checkpoints.NVA.RMSEWithSurveyM = nil, nil
		}, report.NotJudged, 4, "nva_rmse_v", report.NotJudged},
		{"Edition 2 without the survey's accuracy: a fit beyond the limit fails whatever that is", "asprs-ed2:5", func(r *report.Record) {
			r.Checkpoints.SurveyRMSEM, r.Checkpoints.NVA.RMSEWithSurveyM, r.Checkpoints.NVA.RMSEM = nil, nil, report.F(1.796)
		}, report.Fail, 1, "nva_rmse_v", report.Fail},
		{"Edition 2 without the survey's accuracy: a fit on the limit may keep it", "asprs-ed2:5", func(r *report.Record) {
			r.Checkpoints.SurveyRMSEM, r.Checkpoints.NVA.RMSEWithSurveyM, r.Checkpoints.NVA.RMSEM = nil, nil, report.F(0.05)
		}, report.NotJudged, 4, "nva_rmse_v", report.NotJudged},
		{"strips compared in 14 cells", "asprs-ed2:5", func(r *report.Record) { r.Separation.Cells = 14 }, report.NotJudged, 4, "swath_rmsd", report.NotJudged},
		{"14 cells, one of them beyond the limit", "asprs-ed2:5", func(r *report.Record) {
			r.Separation.Cells, r.Separation.MaxAbsM = 14, report.F(0.3)
		}, report.Fail, 1, "swath_max", report.Fail},
		{"one smooth cell", "asprs-ed2:5", func(r *report.Record) { r.Repeatability.LBS.Cells = 1 }, report.NotJudged, 4, "smooth_max", report.NotJudged},
		{"40 smooth cells", "asprs-ed2:5", func(r *report.Record) { r.Repeatability.LBS.Cells = 40 }, report.Pass, 0, "smooth_max", report.Pass},
		{"the largest counts by its size, as the RMSD does", "asprs-ed2:5", func(r *report.Record) {
			r.Repeatability.LBS.MinM, r.Repeatability.LBS.MaxM = report.F(-0.025), report.F(0.01)
		}, report.Pass, 0, "smooth_max", report.Pass},
		{"slope takes off more than the range: no pass from that", "asprs-ed2:5", func(r *report.Record) {
			r.Repeatability.LBS.MinM, r.Repeatability.LBS.MaxM = report.F(-0.12), report.F(0.01)
		}, report.NotJudged, 4, "smooth_max", report.NotJudged},
		{"no check points", "asprs-ed2:5", func(r *report.Record) { r.Checkpoints = nil }, report.NotJudged, 4, "nva_rmse_v", report.NotJudged},
		{"a failing strip is a fail also without check points", "asprs-ed2:5", func(r *report.Record) {
			r.Checkpoints, r.Separation.RMSDM = nil, report.F(0.2)
		}, report.Fail, 1, "swath_rmsd", report.Fail},
		{"Edition 2 never judges vegetation", "asprs-ed2:5", func(r *report.Record) { r.Checkpoints.VVA.RMSEWithSurveyM = report.F(9) }, report.Pass, 0, "vva_rmse_v", report.NotJudged},
		{"Edition 1 judges vegetation at 3 X", "asprs-ed1:5", func(*report.Record) {}, report.Fail, 1, "vva_p95", report.Fail},
		{"E1-9: check points too coarse for Edition 1", "asprs-ed1:10", func(r *report.Record) {
			r.Checkpoints.SurveyRMSEM, r.Checkpoints.VVA = report.F(0.034), nil
		}, report.NotJudged, 4, "nva_rmse", report.NotJudged},
		{"E1-9: fine enough", "asprs-ed1:10", func(r *report.Record) {
			r.Checkpoints.SurveyRMSEM, r.Checkpoints.VVA = report.F(0.033), nil
		}, report.Pass, 0, "nva_rmse", report.Pass},
		{"nothing at all", "lbs:QL1", func(r *report.Record) { *r = report.Record{} }, report.NotJudged, 4, "voids", report.NotJudged},
		{"LBS takes the RMSD of smooth surfaces", "lbs:QL0", func(r *report.Record) { r.Repeatability.LBS.MaxM = report.F(1) }, report.Pass, 0, "smooth_rmsd", report.Pass},
		{"ASPRS takes the maximum", "asprs-ed2:5", func(r *report.Record) { r.Repeatability.LBS.MaxM = report.F(1) }, report.Fail, 1, "smooth_max", report.Fail},
		{"L-5: 90 % of the cells", "lbs:QL0", func(r *report.Record) { r.Coverage.Distribution.LowestPct = report.F(90) }, report.Pass, 0, "distribution", report.Pass},
		{"L-5: 89.9 %", "lbs:QL0", func(r *report.Record) { r.Coverage.Distribution.LowestPct = report.F(89.9) }, report.Fail, 1, "distribution", report.Fail},
		{"voids over water are none", "lbs:QL0", func(r *report.Record) {
			r.Coverage.Voids, r.Coverage.VoidList = report.I(1), []report.Void{{ID: "V1", Note: "water"}}
		}, report.Pass, 0, "voids", report.Pass},
		{"other voids need an eye", "lbs:QL0", func(r *report.Record) { r.Coverage.Voids = report.I(2) }, report.NotJudged, 4, "voids", report.NotJudged},
		{"a value that is no number", "asprs-ed2:5", func(r *report.Record) { n := math.NaN(); r.Separation.RMSDM = &n }, report.NotJudged, 4, "swath_rmsd", report.NotJudged},
	} {
		t.Run(c.name, func(t *testing.T) {
			rec := record()
			c.change(rec)
			v := limits.Judge(rec, resolve(t, c.set))
			if v.Result != c.result || limits.ExitCode(v) != c.exit {
				t.Errorf("result %s, exit %d, want %s, %d", v.Result, limits.ExitCode(v), c.result, c.exit)
			}
			if got := find(t, v, c.criterion); got.Result != c.want {
				t.Errorf("%s: %s, want %s", c.criterion, got.Result, c.want)
			} else if got.Result == report.NotJudged && got.Reason == "" {
				t.Errorf("%s is not judged and does not say why", c.criterion)
			}
		})
	}
}

// E2-6: 2.4 cm no warning, 2.6 cm a warning, 2.5 cm none (strictly above); E2-7: 29 and 30 points.
func TestNotesOfTheStandard(t *testing.T) {
	for _, c := range []struct {
		meanCm float64
		n      int64
		mean   bool
		caseIs string
	}{{2.4, 30, false, "tested"}, {2.6, 30, true, "tested"}, {2.5, 30, false, "tested"}, {0, 29, false, "tested_reduced"}, {0, 0, false, "produced"}} {
		rec := record()
		rec.Checkpoints.NVA.MeanM, rec.Checkpoints.NVA.N = report.F(c.meanCm/100), c.n
		rec.Reference.CheckpointIndependent = report.B(true)
		s := resolve(t, "asprs-ed2:10")
		all := strings.Join(limits.Judge(rec, s).Notes, "\n")
		if got := strings.Contains(all, "25 %"); got != c.mean {
			t.Errorf("E2-6: mean %g cm: warning %v, want %v", c.meanCm, got, c.mean)
		}
		if got := limits.Statement(rec, s).Case; got != c.caseIs {
			t.Errorf("E2-7: %d points: %s, want %s", c.n, got, c.caseIs)
		}
		for _, i := range []*bool{nil, report.B(false)} { // tested by points known to be independent, else not
			rec.Reference.CheckpointIndependent = i
			if st := limits.Statement(rec, s); st.Case != "produced" || c.n > 0 && st.Complete {
				t.Errorf("E2-7: %d points of unknown independence or of the base: %s, missing %q", c.n, st.Case, st.Missing)
			}
		}
		if got := strings.Contains(all, "reduced number"); got != (c.caseIs == "tested_reduced") {
			t.Errorf("E2-7: %d points: note about the reduced number: %v", c.n, got)
		}
	}
}

// A set written as TOML reads back as the same limits.
func TestTOMLRoundTrip(t *testing.T) {
	for _, l := range append(limits.List(), limits.Listing{Name: "asprs-ed1:33.3"}) {
		s := resolve(t, l.Name)
		again, err := limits.Parse("own.toml", []byte(s.TOML()))
		if err != nil {
			t.Fatal(l.Name, err)
		}
		if again.ClassM != s.ClassM || again.Basis != s.Basis || len(again.Limits) != len(s.Limits) {
			t.Fatalf("%s reads back as %+v", l.Name, again)
		}
		for i := range s.Limits {
			if again.Limits[i] != s.Limits[i] {
				t.Errorf("%s: %+v reads back as %+v", l.Name, s.Limits[i], again.Limits[i])
			}
		}
	}
}

func TestFeet(t *testing.T) {
	for units, m := range map[string]float64{"metres": 1, "international feet": 0.3048, "survey feet": 1200. / 3937} {
		s, err := limits.Parse("c.toml", []byte("units = \""+units+"\"\n[[criterion]]\nid = \"swath_rmsd\"\nmax = 0.25\n[[criterion]]\nid = \"density\"\nmin = 2\n"))
		if err != nil {
			t.Fatal(err)
		}
		if l, _ := s.Find("swath_rmsd"); l.Limit != 0.25*m {
			t.Errorf("0.25 %s = %g m, want %g m", units, l.Limit, 0.25*m)
		}
		if l, _ := s.Find("density"); math.Abs(l.Limit-2/(m*m)) > 1e-12 {
			t.Errorf("2 per square of %s = %g per m2, want %g", units, l.Limit, 2/(m*m))
		}
	}
}

func TestBadFiles(t *testing.T) {
	head := "units = \"metres\"\n"
	for _, c := range []struct{ name, text, want string }{
		{"unknown key", head + "\ncolour = 3\n", `c.toml: line 3: unknown key "colour"`},
		{"unknown key in a criterion", head + "[[criterion]]\nid = \"swath_rmsd\"\nmaximum = 1\n", `c.toml: line 4: unknown key "criterion.maximum"`},
		{"feet alone", "units = \"feet\"\n", `c.toml: line 1: units "feet"; give units = "metres", "international feet" or "survey feet"`},
		{"no units", "[[criterion]]\n", "units \"\""},
		{"unknown criterion", head + "[[criterion]]\nid = \"rmse\"\nmax = 1\n", `c.toml: line 2: unknown criterion "rmse"; known are `},
		{"wrong sense", head + "[[criterion]]\nid = \"density\"\nmax = 1\n", "write min = LIMIT"},
		{"no limit", head + "[[criterion]]\nid = \"density\"\n", "has no limit"},
		{"negative", head + "[[criterion]]\nid = \"swath_max\"\nmax = -0.1\n", "zero or above"},
		{"not a number", head + "[[criterion]]\nid = \"swath_max\"\nmax = nan\n", "zero or above"},
		{"twice", head + "[[criterion]]\nid = \"voids\"\nmax = 1\n[[criterion]]\nid = \"voids\"\nmax = 2\n", "c.toml: line 5: criterion \"voids\" stands twice"},
		{"empty", head, "no criterion"},
		{"no TOML", "units = \n", "c.toml: line 1"},
		{"wrong type", "units = 3\n", "c.toml: line 1"},
		{"rules without a class", head + "rules = \"asprs-ed2\"\n[[criterion]]\nid = \"voids\"\nmax = 1\n", "need a class"},
		{"unknown rules", head + "rules = \"x\"\n", "c.toml: line 2: rules \"x\""},
	} {
		_, err := limits.Parse("c.toml", []byte(c.text))
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %s", c.name, err, c.want)
		}
	}
	for _, name := range []string{"asprs-ed2", "asprs-ed2:", "asprs-ed2:x", "asprs-ed2:-5", "asprs-ed2:NaN", "asprs-ed2:1e9", "lbs:QL9", "lbs", "no-such-file.toml"} {
		if s, err := limits.Resolve(name); err == nil {
			t.Errorf("%s: no error, %+v", name, s)
		}
	}
}

// TestDenseCloud is a rule of ours: the range in a cell is not judged where density alone makes it, and does not
// keep the rest from passing; in a cloud of the density that the rule was written for it is judged.
func TestDenseCloud(t *testing.T) {
	for _, c := range []struct {
		densityPerM2 float64
		result       string
	}{{2, report.Fail}, {8, report.Fail}, {10.1, report.NotJudged}, {200, report.NotJudged}} {
		rec := &report.Record{
			Separation:    &report.Separation{Cells: 100, Pairs: 1, RMSDM: report.F(0.01), MaxAbsM: report.F(0.02)},
			Repeatability: &report.Repeatability{LBS: &report.Precision{CellM: 2, Cells: 100, MaxM: report.F(0.5), RMSDM: report.F(0.2)}},
			Coverage:      &report.Coverage{StripDensityPerM2: report.F(c.densityPerM2)},
			Checkpoints:   &report.Checkpoints{SurveyRMSEM: report.F(0.01), NVA: &report.Accuracy{N: 30, RMSEM: report.F(0.02), RMSEWithSurveyM: report.F(0.022)}},
		}
		s, err := limits.Resolve("asprs-ed2:10")
		if err != nil {
			t.Fatal(err)
		}
		v := limits.Judge(rec, s)
		for _, k := range v.Criteria {
			if k.ID == "smooth_max" && (k.Result != c.result || k.Value == nil) {
				t.Errorf("%g returns per m2: %s, want %s with its value", c.densityPerM2, k.Result, c.result)
			}
		}
		if want := map[string]string{report.Fail: report.Fail, report.NotJudged: report.Pass}[c.result]; v.Result != want {
			t.Errorf("%g returns per m2: verdict %s, want %s: %+v", c.densityPerM2, v.Result, want, v.Criteria)
		}
	}
}

// TestWorstPair leaves pairs of a few cells out while others have enough.
func TestWorstPair(t *testing.T) {
	s, err := limits.Parse("own.toml", []byte("units = \"metres\"\n[[criterion]]\nid = \"pair_rmsd\"\nmax = 0.1\n"))
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		cells [2]int64
		want  string
	}{{[2]int64{400, 3}, report.Pass}, {[2]int64{400, 40}, report.Fail}, {[2]int64{39, 3}, report.NotJudged}} {
		rec := &report.Record{Pairs: []report.Pair{{A: "1", B: "2", Cells: c.cells[0], RMSDM: report.F(0.03)}, {A: "1", B: "3", Cells: c.cells[1], RMSDM: report.F(0.5)}}}
		if got := limits.Judge(rec, s); got.Result != c.want {
			t.Errorf("pairs of %d cells: %s, want %s", c.cells, got.Result, c.want)
		}
	}
}

// TestNoComparableCells: overlaps without a cell to compare are not called no overlap.
func TestNoComparableCells(t *testing.T) {
	rec := record()
	rec.Separation = &report.Separation{Pairs: 1, Flagged: []report.Flagged{{Reason: "steep", Cells: 120}, {Reason: "thin", Cells: 7}}}
	rec.Pairs[0].Cells = 0
	c := find(t, limits.Judge(rec, resolve(t, "asprs-ed2:5")), "swath_rmsd")
	if c.Result != report.NotJudged || !strings.Contains(string(c.Reason), "steep 120, thin 7") {
		t.Errorf("%s: %s", c.Result, c.Reason)
	}
	rec.Pairs = nil
	if c := find(t, limits.Judge(rec, resolve(t, "asprs-ed2:5")), "swath_rmsd"); c.Reason != report.NoOverlap {
		t.Errorf("without a pair: %s", c.Reason)
	}
}
