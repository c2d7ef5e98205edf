package correct

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"sidelap/report/assess"
	"sidelap/trajectory/simulate"
)

// raised writes a copy of a list of points with all heights changed.
func raised(t *testing.T, list string, byM float64) string {
	t.Helper()
	b, err := os.ReadFile(list)
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(strings.TrimSpace(string(b)), "\n")
	for i := range lines[1:] {
		f := strings.Split(lines[i+1], ",")
		h, err := strconv.ParseFloat(f[3], 64)
		if err != nil {
			t.Fatalf("%s: %v", lines[0], err)
		}
		f[3] = fmt.Sprintf("%.3f", h+byM)
		lines[i+1] = strings.Join(f, ",")
	}
	out := filepath.Join(t.TempDir(), "control.csv")
	if err := os.WriteFile(out, []byte(strings.Join(lines, "\n")+"\n"), 0o666); err != nil {
		t.Fatal(err)
	}
	return out
}

// TestControlIsDoubted: a list of control points that is wrong by a geoid separation, a foot or a pole moves no cloud unless asked to.
func TestControlIsDoubted(t *testing.T) {
	if testing.Short() {
		t.Skip("assesses a survey several times")
	}
	dir, a := survey(t, nil, simulate.CloudOptions{})
	checks := a.CheckPoints
	list := filepath.Join(dir, "control.csv")
	for _, c := range []struct {
		name, checks string
		byM          float64
		want         Outcome
		note, says   string // says: in the first paragraph
	}{
		{"geoid", checks, 46.2, Held, "geoid separation", "rather an error of the list"},
		{"geoid, no check points", "", 46.2, Held, "more than 0.50 m", "rather an error of the list"},
		{"pole against check points", checks, 0.15, Held, "contradict each other", "over the check points, which the shift would bring to"},
		{"no check points to contradict", "", 0.15, Shown, "which may be fitted to", "whole cloud"},
	} {
		t.Run(c.name, func(t *testing.T) {
			a.Control, a.CheckPoints = raised(t, list, c.byM), c.checks
			o := DefaultOptions()
			o.Out, o.DryRun = filepath.Join(t.TempDir(), "out"), true
			said := ""
			run := func(a assess.Options, o Options) (Outcome, string) {
				res, err := Run(context.Background(), a, o)
				if err != nil {
					t.Fatal(err)
				}
				said = string(res.Record.Correction.Statement)
				return res.Outcome, string(res.Record.Correction.Statement) + strings.Join(res.Record.Correction.Notes, " ")
			}
			if got, text := run(a, o); got != c.want || !strings.Contains(text, c.note) || !strings.Contains(said, c.says) {
				t.Errorf("%s: %s", got, text)
			}
			o.Out, o.ApplyBeyond = o.Out+"2", true
			if got, text := run(a, o); got != Shown || !strings.Contains(text, "(the whole cloud +"+strconv.Itoa(int(c.byM))+".") {
				t.Errorf("asked for: %s: %s", got, text)
			}
		})
	}
}

// TestControlElsewhere: control points 100 km away are said to lie outside the cloud, beside the result and with their distance.
func TestControlElsewhere(t *testing.T) {
	dir, a := survey(t, func(s *simulate.Scenario) { s.Plan.StripLengthM = 60 }, simulate.CloudOptions{})
	b, err := os.ReadFile(filepath.Join(dir, "control.csv"))
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(strings.TrimSpace(string(b)), "\n")
	for i := range lines[1:] {
		f := strings.Split(lines[i+1], ",")
		n, err := strconv.ParseFloat(f[2], 64)
		if err != nil {
			t.Fatalf("%s: %v", lines[0], err)
		}
		f[2] = fmt.Sprintf("%.3f", n+100_000)
		lines[i+1] = strings.Join(f, ",")
	}
	a.Control = filepath.Join(t.TempDir(), "control.csv")
	if err := os.WriteFile(a.Control, []byte(strings.Join(lines, "\n")+"\n"), 0o666); err != nil {
		t.Fatal(err)
	}
	o := DefaultOptions()
	o.Out = filepath.Join(t.TempDir(), "out")
	res, err := Run(context.Background(), a, o)
	if err != nil {
		t.Fatal(err)
	}
	k := res.Record.Correction
	if text := strings.Join(k.Notes, " "); res.Outcome != Nothing || !strings.Contains(text, fmt.Sprintf("%d of %[1]d control points lie outside the cloud, by up to 100 km", len(lines)-1)) || strings.Contains(text, "no smooth") {
		t.Errorf("%s: %s", res.Outcome, text)
	}
	if !strings.Contains(string(k.Statement), "none of the control points could be used") {
		t.Errorf("%s", k.Statement)
	}
}
