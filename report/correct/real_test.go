package correct

import (
	"context"
	"os"
	"path/filepath"
	"testing"

	"sidelap/adjust"
	"sidelap/report/assess"
)

// realFiles returns files of the open data outside the repository. Without the data the test is skipped, or fails where CI is set.
func realFiles(t testing.TB, names ...string) []string {
	t.Helper()
	var out []string
	for _, n := range names {
		path := filepath.Join("..", "..", "..", "shared", "data", "real", "lidar", n)
		if _, err := os.Stat(path); err != nil {
			if os.Getenv("CI") != "" {
				t.Fatalf("the open data are missing: %v", err)
			}
			t.Skipf("the open data are not here: %v", err)
		}
		out = append(out, path)
	}
	return out
}

// TestRealSets corrects open data that nobody made for it, without trajectory. There is no truth: what must hold is that ground outside the fit does
// not get worse, that the assessment of the corrected files, made anew from the files, agrees with that, and that nothing is moved by more
// than the strips lie apart, nor by what is within twice its standard deviation. What docs/correction.md states of a set is a bound: a release does not fall behind it.
func TestRealSets(t *testing.T) {
	if testing.Short() {
		t.Skip("reads open data twice")
	}
	for _, c := range []struct {
		name  string
		files []string

		rmsdM, holdoutM float64 // as docs/correction.md states them after the correction, with a tenth to spare; 0: none stated
	}{
		{"A, urban, NL", []string{"nl-ahn3-delft-1.laz", "nl-ahn3-delft-2.laz"}, 0.0065, 0.0055},
		{"B, built-up, FR", []string{"fr-ign-block-77050_627755.laz", "fr-ign-block-77050_627760.laz", "fr-ign-block-77055_627755.laz",
			"fr-ign-block-77055_627760.laz", "fr-ign-block-77060_627755.laz", "fr-ign-block-77060_627760.laz"}, 0, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			a := assess.DefaultOptions()
			a.Inputs = realFiles(t, c.files...)
			o := DefaultOptions()
			o.Out = filepath.Join(t.TempDir(), "out")
			res, err := Run(context.Background(), a, o)
			if err != nil {
				t.Fatal(err)
			}
			k := res.Record.Correction
			t.Logf("%s: %s", res.Outcome, k.Statement)
			for _, p := range k.Parameters {
				t.Logf("  %s %s %+.4f +- %.4f %s", p.Kind, p.Strip, *p.Value, *p.Sigma, p.Unit)
				if !p.Significant && p.Kind != adjust.StripHeight.String() && p.Kind != adjust.StripHorizontal.String() {
					t.Errorf("%s %s %+.4f +- %.4f %s is taken off and is not significant", p.Kind, p.Strip, *p.Value, *p.Sigma, p.Unit)
				}
			}
			for _, n := range k.Notes {
				t.Logf("  %s", n)
			}
			if h := k.Holdout; h == nil || *h.AfterRMSM > *h.BeforeRMSM {
				t.Errorf("ground outside the fit got worse: %+v", h)
			}
			if c.rmsdM > 0 && (res.Outcome != Applied || *k.After.RMSDM > c.rmsdM || *k.Holdout.AfterRMSM > c.holdoutM) {
				t.Errorf("%s, RMSD and held-out ground after: %+v, %+v; documented are %.4f and %.4f m", res.Outcome, k.After, k.Holdout, c.rmsdM, c.holdoutM)
			}
			if res.Outcome == Applied {
				t.Logf("RMSD %.4f -> %.4f m, NMAD %.4f -> %.4f m, 95 %% %.4f -> %.4f m", *k.Before.RMSDM, *k.After.RMSDM, *k.Before.NMADM, *k.After.NMADM, *k.Before.P95AbsM, *k.After.P95AbsM)
				if *k.After.RMSDM > *k.Before.RMSDM {
					t.Errorf("strips of the corrected files lie %.4f m apart, %.4f m before", *k.After.RMSDM, *k.Before.RMSDM)
				}
			}
		})
	}
}
