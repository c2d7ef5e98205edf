package assess

import (
	"context"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"sidelap/control"
	"sidelap/report"
	"sidelap/trajectory/simulate"
)

// assessBlunder flies a survey with one blunder, writes it to files and assesses the files.
func assessBlunder(t *testing.T, c simulate.Case, seed uint64) *report.Record {
	t.Helper()
	s := simulate.SmallScenario()
	s.Seed, s.Survey.TargetRadiusM, s.Scanner.PulseRateHz = seed, 0.5, 40000
	c.Apply(&s)
	_, o := survey(t, s, simulate.CloudOptions{})
	o.SkipCauses = true
	o.GeoidM, o.PolesM = s.Site.GeoidM, []float64{2.0, 1.8}
	o.Base = filepath.Join(filepath.Dir(o.CheckPoints), filepath.FromSlash(simulate.DemoBaseLog))
	o.Control = filepath.Join(filepath.Dir(o.CheckPoints), simulate.DemoControl)
	o.Target = control.TargetOptions{Kind: control.TargetDisc, SizeM: 0.5, SearchM: targetSearchM}
	rec, _, err := Run(context.Background(), o)
	if err != nil {
		t.Fatalf("%s: %v", c.Name, err)
	}
	return rec
}

// rules are the blunder rules that spoke, in the order of the record.
func rules(rec *report.Record) []string {
	var out []string
	for _, f := range rec.Findings {
		if r, ok := strings.CutPrefix(f.ID, "blunder-"); ok {
			out = append(out, strings.ToUpper(r))
		}
	}
	return out
}

// TestBlunders is known truth: blunders injected into simulated surveys are named first by the whole way through the
// files, and a clean survey is met with silence. SIDELAP_LONG=1 runs every case of the catalogue and logs the table.
func TestBlunders(t *testing.T) {
	if testing.Short() {
		t.Skip("flies surveys")
	}
	long := os.Getenv("SIDELAP_LONG") != ""
	short := []string{"clean", "B1 geoid not applied to the cloud", "B3 swapped", "B7 base averaged"}
	hits, cases := 0, 0
	for _, c := range simulate.BlunderCases() {
		if !long && !slices.Contains(short, c.Name) {
			continue
		}
		want, _, _ := strings.Cut(c.Name, " ")
		want = strings.TrimRight(want, "hv")
		got := rules(assessBlunder(t, c, 11))
		first := "none"
		if len(got) > 0 {
			first = got[0]
		}
		if want == "clean" {
			want = "none"
		}
		cases++
		if first == want {
			hits++
		}
		t.Logf("%-36s first %-4s all %v", c.Name, first, got)
		if !long && first != want {
			t.Errorf("%s: first %s, want %s; all %v", c.Name, first, want, got)
		}
	}
	t.Logf("%d of %d", hits, cases)
	if long && 10*hits < 8*cases {
		t.Errorf("%d of %d blunders named first", hits, cases)
	}
}
