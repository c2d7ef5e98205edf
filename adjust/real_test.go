package adjust

import (
	"context"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"sidelap/las"
	"sidelap/overlap"
	"sidelap/trajectory/recover"
)

// TestRealStanding checks the heights at which the strips of open data stand against the separations in the list of the data (README.md
// beside them), measured there with another reader and another method: medians of cell means of flat ground. Tolerance: their NMAD.
func TestRealStanding(t *testing.T) {
	dir := filepath.Join("..", "..", "shared", "data", "real", "lidar")
	if _, err := os.Stat(dir); err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatalf("open data missing: %v", err)
		}
		t.Skip("open data not present")
	}
	acc, err := overlap.NewAccumulator(overlap.DefaultOptions())
	if err != nil {
		t.Fatal(err)
	}
	rays, err := recover.NewCollector(recover.DefaultOptions())
	if err != nil {
		t.Fatal(err)
	}
	for i, name := range []string{"nl-ahn3-delft-1.laz", "nl-ahn3-delft-2.laz"} {
		f, err := las.Open(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		for _, s := range f.Spans(1 << 20) {
			for ch, err := range f.Read(context.Background(), s, overlap.Columns|recover.Columns) {
				if err != nil {
					t.Fatal(err)
				}
				acc.Add(ch, i)
				rays.Add(ch, i)
			}
		}
		if err := f.Close(); err != nil {
			t.Fatal(err)
		}
	}
	s, err := acc.Survey(overlap.DefaultSurveyOptions())
	if err != nil {
		t.Fatal(err)
	}
	d := Diagnose(s, s.Pairs(overlap.DefaultPairOptions()), rays.Recover().Path, FromRays, DefaultOptions())
	height := map[string]float64{}
	for _, h := range d.Standings {
		height[s.Strips[h.Strip].ID] = h.HeightM
	}
	for _, c := range []struct {
		a, b     string
		dz, nmad float64
	}{{"44266", "57138", 0.008, 0.009}, {"44266", "57139", -0.022, 0.011}, {"57138", "57139", -0.030, 0.009}} {
		if got := height[c.b] - height[c.a]; math.Abs(got-c.dz) > c.nmad {
			t.Errorf("%s stands %+.3f m against %s, %+.3f ± %.3f m in the list", c.b, got, c.a, c.dz, c.nmad)
		}
	}
	said := false
	for _, f := range d.Findings(s) {
		said = said || (f.ID == "strip-standing" || f.ID == "cause-strip-height") && strings.Contains(f.Text, "57139")
		t.Logf("%s: %s", f.ID, f.Text)
	}
	if !said {
		t.Errorf("no finding says that 57139 stands lower")
	}
}
