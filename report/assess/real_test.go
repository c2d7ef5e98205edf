package assess

import (
	"context"
	"math"
	"path/filepath"
	"testing"

	"sidelap/report"
)

func assessReal(t *testing.T, change func(*Options), names ...string) *report.Record {
	t.Helper()
	o := DefaultOptions()
	for _, n := range names {
		m, err := filepath.Glob(filepath.Join(openData(t, "real", "lidar"), n))
		if err != nil || len(m) == 0 {
			t.Fatalf("%s: %v", n, err)
		}
		o.Inputs = append(o.Inputs, m...)
	}
	if change != nil {
		change(&o)
	}
	rec, _, err := Run(context.Background(), o)
	if err != nil {
		t.Fatal(err)
	}
	return rec
}

// TestRealSets compares the pair medians of the open data sets A, B and C with the figures of their README, which
// were measured with another reader and another method (cell means of ground points in flat cells). Tolerance: the
// spread (NMAD) that the README states for the pair.
func TestRealSets(t *testing.T) {
	type pair struct {
		a, b          string
		medianM, tolM float64
	}
	for _, set := range []struct {
		name  string
		files []string
		lines int
		pairs []pair
	}{
		{"A", []string{"nl-ahn3-delft-*.laz"}, 3, []pair{
			{"44266", "57138", 0.008, 0.009}, {"44266", "57139", -0.022, 0.011}, {"57139", "57138", 0.030, 0.009}}},
		{"B", []string{"fr-ign-block-*.laz"}, 2, []pair{{"707", "706", 0.006, 0.013}}},
		{"C", []string{"fr-ign-decimated-*.laz"}, 2, []pair{{"138", "139", -0.002, 0.031}}},
	} {
		t.Run(set.name, func(t *testing.T) {
			rec := assessReal(t, nil, set.files...)
			lines := 0
			for _, s := range rec.Strips {
				if len(s.Notes) == 0 || s.Notes[0] != "not compared: stray" {
					lines++
				}
			}
			if lines != set.lines {
				t.Errorf("%d strips, want %d (README)", lines, set.lines)
			}
			for _, want := range set.pairs {
				found := false
				for _, p := range rec.Pairs {
					m := report.Get(p.MedianM)
					switch {
					case p.A == want.a && p.B == want.b:
					case p.A == want.b && p.B == want.a:
						m = -m
					default:
						continue
					}
					found = true
					if math.Abs(m-want.medianM) > want.tolM {
						t.Errorf("%s - %s: median %+.3f m, want %+.3f ± %.3f (README)", want.b, want.a, m, want.medianM, want.tolM)
					}
				}
				if !found {
					t.Errorf("pair %s, %s is missing", want.a, want.b)
				}
			}
			if rec.Verdict.Result == report.Pass {
				t.Error("passed without check points")
			}
		})
	}
}

// TestRealUnits reads the open files in feet: the record keeps the kind of foot and metres in it.
func TestRealUnits(t *testing.T) {
	const ift, usft = 0.3048, 1200.0 / 3937.0
	for _, c := range []struct {
		file   string
		h, v   float64
		source string
	}{
		{"us-or-autzen-thin-feet.las", ift, ift, "README: international feet (9002)"},
		{"us-ms-mvk-thin-usft-navd88.las", usft, usft, "README: US survey feet (9003)"},
		{"us-or-autzen-2010-mixed-units.las", 1, usft, "README: metres horizontally, US survey feet vertically"},
		{"us-nm-4_6-crop-usft.las", usft, usft, "README: US survey feet"},
	} {
		rec := assessReal(t, func(o *Options) { o.OnlyStrips = true }, c.file)
		if h, v := report.Get(rec.CRS.HorizontalUnitM), report.Get(rec.CRS.VerticalUnitM); math.Abs(h/c.h-1) > 1e-9 || math.Abs(v/c.v-1) > 1e-9 {
			t.Errorf("%s: units %v and %v m, want %v and %v (%s)", c.file, h, v, c.h, c.v, c.source)
		}
	}
}
