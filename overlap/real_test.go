package overlap_test

import (
	"context"
	"math"
	"os"
	"path/filepath"
	"testing"

	"sidelap/las"
	"sidelap/overlap"
)

// realFile returns a file of the open data outside the repository. Without the
// data the test is skipped, or fails where CI is set.
func realFile(t testing.TB, name string) string {
	t.Helper()
	path := filepath.Join("..", "..", "shared", "data", "real", name)
	if _, err := os.Stat(path); err != nil {
		if os.Getenv("CI") != "" {
			t.Fatalf("the open data are missing: %v", err)
		}
		t.Skipf("the open data are not here: %v", err)
	}
	return path
}

// accumulate reads files whole, each with its place in the list as number.
func accumulate(t testing.TB, o overlap.Options, paths ...string) *overlap.Accumulator {
	t.Helper()
	a, err := overlap.NewAccumulator(o)
	if err != nil {
		t.Fatal(err)
	}
	for i, p := range paths {
		f, err := las.Open(p)
		if err != nil {
			t.Fatal(err)
		}
		for c, err := range f.Chunks(context.Background(), overlap.Columns, 1) {
			if err != nil {
				t.Fatal(err)
			}
			a.Add(c, i)
		}
		f.Close()
	}
	return a
}

func survey(t testing.TB, a *overlap.Accumulator, o overlap.SurveyOptions) *overlap.Survey {
	t.Helper()
	s, err := a.Survey(o)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func show(t testing.TB, s *overlap.Survey) {
	t.Logf("mode %s: %s; ANPS %.3f rough limit %.3f", s.Mode, s.Why, s.ANPSM, s.RoughLimitM())
	for _, n := range s.Notes {
		t.Logf("  note: %s", n)
	}
	for _, st := range s.Strips {
		t.Logf("  %-6s %-8s n=%d t=%.1f..%.1f hdg=%.0f v=%.1f L=%.0f W=%.0f H=%.0f looks=%d dens=%.2f cells=%d files=%v", st.Kind, st.ID, st.Points, st.StartGPSS, st.EndGPSS, st.HeadingDeg(), st.SpeedMPS, st.LengthM, st.WidthM, st.HeightAGLM, st.Looks, st.DensityPerM2, len(st.Facets), st.Files)
		for _, n := range st.Notes {
			t.Logf("      %s", n)
		}
	}
	for _, p := range s.Pairs(overlap.DefaultPairOptions()) {
		t.Logf("  %s-%s: used %d of %d med=%.4f +-%.4f nmad=%.4f rmsd=%.4f p95=%.3f area=%.0f side=%.0f/%.0f regions=%d flags=%v trend=%.5f+-%.5f shift=(%.3f %.3f %.3f)+-(%.3f %.3f %.3f)", p.IDB, p.IDA, p.Used.Cells, len(p.Cells), p.Used.MedianM, p.MedianSigmaM, p.Used.NMADM, p.Used.RMSDM, p.Used.P95AbsM, p.OverlapM2, p.SidelapPct, p.SidelapLowPct, len(p.Regions), p.Flagged, p.Trend.MPerM, p.Trend.SigmaMPerM, p.Shift.EM, p.Shift.NM, p.Shift.UM, p.Shift.SigmaEM, p.Shift.SigmaNM, p.Shift.SigmaUM)
	}
	_ = math.Pi
}

func TestRealShow(t *testing.T) {
	o := overlap.DefaultOptions()
	o.Classified = true
	for _, set := range [][]string{
		{"lidar/nl-ahn3-delft-1.laz", "lidar/nl-ahn3-delft-2.laz"},
		{"lidar/fr-ign-block-77050_627755.laz", "lidar/fr-ign-block-77050_627760.laz", "lidar/fr-ign-block-77055_627755.laz", "lidar/fr-ign-block-77055_627760.laz", "lidar/fr-ign-block-77060_627755.laz", "lidar/fr-ign-block-77060_627760.laz"},
		{"lidar/fr-ign-decimated-0382_6565.laz"},
		{"lidar/ca-bc-forest-1.laz"},
		{"lidar/us-ne-wkt-and-geokeys-usft.las"},
		{"odd/laszip4j-500m_IM2023_subset.laz"},
		{"lidar/fr-ign-4lines-pdrf8-wkt2.laz"},
		{"lidar/ch-8lines-10k.las"}, {"lidar/us-or-autzen-thin-feet.las"}, {"lidar/us-or-autzen-2023-mixed-units.las"}, {"lidar/us-pa-las10-pdrf0-usft.las"}, {"lidar/unknown-4lines-oblique.las"}, {"lidar/us-ms-mvk-thin-usft-navd88.las"}, {"lidar/fr-alps-7lines-crop.laz"}, {"lidar/fr-ground-20m-2lines.laz"}, {"lidar/fi-sotkamo-1line.laz"}, {"lidar/fr-reunion-utm40s.laz"},
	} {
		var paths []string
		for _, f := range set {
			paths = append(paths, realFile(t, f))
		}
		t.Log(set)
		if set[0] == "lidar/fr-ign-decimated-0382_6565.laz" {
			o.CellM, o.AutoCell = 1, true
		} else {
			o.CellM, o.AutoCell, o.SubCells = 0.5, true, 4
		}
		showAll(t, survey(t, accumulate(t, o, paths...), overlap.DefaultSurveyOptions()))
	}
}

func showAll(t testing.TB, s *overlap.Survey) {
	show(t, s)
	r := s.Repeatability(overlap.DefaultRepeatabilityOptions())
	t.Logf("repeatability: %d cells rms %.4f med %.4f p95 %.4f noise %.5f+-%.5f limit %.4f | LBS cell %g exact %v n=%d rmsd %.4f max %.4f areas %d", r.Cells, r.RMSM, r.MedianM, r.P95M, r.NoiseM, r.NoiseSigmaM, r.RoughLimitM, r.LBSCellM, r.LBSExact, r.LBSCells, r.LBSRMSDM, r.LBSMaxM, len(r.Areas))
	for _, x := range r.Strips {
		t.Logf("   %+v", x)
	}
	c := s.Coverage(overlap.DefaultCoverageOptions())
	t.Logf("coverage: area %.0f with %.1f%% density %.2f low %.2f ANPS %.3f voids %d %.0f m2 largest %.0f; dist %+v", c.AreaM2, c.WithReturnPct, c.DensityPerM2, c.LowDensity, c.ANPSM, c.VoidCount, c.VoidM2, c.LargestVoidM2, c.Distribution)
	for _, x := range c.Strips {
		t.Logf("   %+v", x)
	}
	ps := s.Pairs(overlap.DefaultPairOptions())
	t.Logf("separation %+v", overlap.Separation(ps, 0.08, false))
	t.Logf("loops %+v", overlap.Loops(ps))
}
