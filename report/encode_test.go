package report_test

import (
	"bytes"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"sidelap/report"
	"sidelap/report/internal/sample"
)

// Written, read and written again gives the same bytes; nothing is left beside the file.
func TestMarshalRoundTrip(t *testing.T) {
	for name, s := range surveys() {
		path := filepath.Join(t.TempDir(), "results.json")
		if err := report.WriteFile(path, s.Record); err != nil {
			t.Fatal(err)
		}
		first, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		rec, err := report.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		again, err := report.Marshal(rec)
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(first, again) {
			t.Errorf("%s: differs after reading", name)
		}
		if list, _ := os.ReadDir(filepath.Dir(path)); len(list) != 1 {
			t.Errorf("%s: left behind %v", name, list)
		}
	}
}

// Numbers that are not finite never reach JSON: F drops them, and what goes
// around F is an error that names the key.
func TestMarshalRefusesNaN(t *testing.T) {
	for _, v := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
		if report.F(v) != nil {
			t.Errorf("F(%g) is not nil", v)
		}
		rec := sample.Passing().Record
		rec.Pairs[3].RMSDM = &v
		if _, err := report.Marshal(rec); err == nil || !strings.Contains(err.Error(), "pairs[3].rmsd_m") {
			t.Errorf("%g: %v", v, err)
		}
		rec = sample.Passing().Record
		rec.Checkpoints.Points[2].EM = v
		if _, err := report.Marshal(rec); err == nil || !strings.Contains(err.Error(), "checkpoints.points[2].e_m") {
			t.Errorf("%g: %v", v, err)
		}
	}
}

// Decimals follow the unit at the end of the key; zero has no sign; what was not
// determined is null.
func TestMarshalDecimals(t *testing.T) {
	tiny := -1e-9
	rec := &report.Record{SchemaVersion: report.SchemaVersion, Separation: &report.Separation{CellM: 0.5, MeanM: &tiny, RMSDM: report.F(0.12345678), WithinLimitPct: report.F(99.123456)},
		CRS:    report.CRS{HorizontalUnitM: report.F(1200. / 3937)},
		Pairs:  []report.Pair{{A: "1", B: "2", OverlapM2: report.F(1234.56789), Trend: &report.Trend{SlopeMPerM: report.F(0.000123456789)}}},
		Causes: []report.Cause{{Estimate: report.F(0.001234567890123)}}}
	b, err := report.Marshal(rec)
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{`"mean_m": 0,`, `"rmsd_m": 0.123457`, `"within_limit_pct": 99.1235`, `"horizontal_unit_m": 0.3048006096012192`, `"overlap_m2": 1234.568`,
		`"slope_m_per_m": 0.000123457`, `"estimate": 0.00123456789`, `"max_abs_m": null`, `"findings": null`, `"cell_m": 0.5`} {
		if !strings.Contains(string(b), want) {
			t.Errorf("no %s in\n%s", want, b)
		}
	}
}

func FuzzUnmarshal(f *testing.F) {
	b, err := report.Marshal(sample.Failing().Record)
	if err != nil {
		f.Fatal(err)
	}
	f.Add(b)
	f.Add([]byte(`{"schema_version":"1.0","pairs":[null,{}],"checkpoints":{"nva":{"n":-3}}}`))
	f.Fuzz(func(t *testing.T, b []byte) {
		rec, err := report.Unmarshal(b)
		if err != nil {
			return
		}
		var out bytes.Buffer
		if err := report.WriteText(&out, rec, report.TextOptions{}); err != nil {
			t.Fatal(err)
		}
		report.Check(rec)
	})
}

func FuzzReadGeoTIFF(f *testing.F) {
	path := filepath.Join(f.TempDir(), "g.tif")
	for _, typ := range []report.SampleType{report.Float32, report.Uint8, report.Uint16} {
		if err := report.WriteGeoTIFF(path, ramp(5, 4, typ != report.Float32), report.RasterOptions{Type: typ}); err != nil {
			f.Fatal(err)
		}
		b, err := os.ReadFile(path)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(b)
	}
	f.Fuzz(func(t *testing.T, b []byte) {
		p := filepath.Join(t.TempDir(), "f.tif")
		if err := os.WriteFile(p, b, 0o644); err != nil {
			t.Fatal(err)
		}
		if g, err := report.ReadGeoTIFF(p, 1); err == nil && len(g.Values) != g.Cols*g.Rows {
			t.Errorf("%d x %d cells with %d values", g.Cols, g.Rows, len(g.Values))
		}
	})
}
