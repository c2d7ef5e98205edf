package correct

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"sidelap/adjust"
	"sidelap/las"
	"sidelap/overlap"
	"sidelap/report"
	"sidelap/report/assess"
	"sidelap/trajectory/simulate"
)

// survey writes a simulated survey and returns the options to assess it.
func survey(t testing.TB, change func(s *simulate.Scenario), cloud simulate.CloudOptions) (dir string, a assess.Options) {
	t.Helper()
	dir = t.TempDir()
	s := simulate.SmallScenario()
	s.Survey.ControlPoints, s.Survey.SigmaVM, s.Survey.SeparationM = 12, 0.005, 3
	if change != nil {
		change(&s)
	}
	if _, err := simulate.WriteSurvey(dir, s, cloud); err != nil {
		t.Fatal(err)
	}
	a = assess.DefaultOptions()
	a.Inputs = []string{filepath.Join(dir, "cloud")}
	a.Trajectory = filepath.Join(dir, "trajectory", "flight.sbet")
	a.CheckPoints = filepath.Join(dir, "checkpoints.csv")
	a.Program = "test"
	return dir, a
}

// sums are the check sums of all files below a folder.
func sums(t testing.TB, dir string) map[string][32]byte {
	t.Helper()
	out := map[string][32]byte{}
	err := filepath.WalkDir(dir, func(path string, d os.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		b, err := os.ReadFile(path)
		out[path] = sha256.Sum256(b)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func same(a, b map[string][32]byte) bool {
	if len(a) != len(b) {
		return false
	}
	for k, v := range a {
		if b[k] != v {
			return false
		}
	}
	return true
}

// TestRunBoresight is the whole job on a simulated flight of known truth: boresight, and the datum by control.
func TestRunBoresight(t *testing.T) {
	dir, a := survey(t, func(s *simulate.Scenario) {
		s.Faults.BoresightRollDeg, s.Faults.BoresightPitchDeg, s.Faults.BoresightHeadingDeg = 0.04, 0.05, -0.12
		s.Faults.DatumHeightM = 0.12
	}, simulate.CloudOptions{})
	a.Control = filepath.Join(dir, "control.csv")
	before := sums(t, filepath.Join(dir, "cloud"))
	o := DefaultOptions()
	o.Out = filepath.Join(dir, "out")
	res, err := Run(context.Background(), a, o)
	if err != nil {
		t.Fatal(err)
	}
	if !same(before, sums(t, filepath.Join(dir, "cloud"))) {
		t.Error("the inputs were changed")
	}
	if res.Outcome != Applied {
		t.Fatalf("outcome %s: %s", res.Outcome, res.Record.Correction.Statement)
	}
	c := res.Record.Correction
	want := map[string]float64{"boresight_roll": 0.04, "boresight_pitch": 0.05, "boresight_heading": -0.12, "datum_height": 0.12}
	tolerance := map[string]float64{"boresight_roll": 0.001, "boresight_pitch": 0.002, "boresight_heading": 0.006, "datum_height": 0.01}
	for _, p := range c.Parameters {
		if w, ok := want[p.Kind]; ok && math.Abs(*p.Value-w) <= tolerance[p.Kind] {
			delete(want, p.Kind)
		}
	}
	if len(want) > 0 {
		t.Errorf("not found as they were made: %v; parameters %+v; notes %q", want, c.Parameters, c.Notes)
	}
	if *c.After.RMSDM > 0.5**c.Before.RMSDM || *c.Holdout.AfterRMSM > 1.2**c.Holdout.NoiseFloorM {
		t.Errorf("separation %.4f m after, %.4f before; hold-out %.4f m with a floor of %.4f", *c.After.RMSDM, *c.Before.RMSDM, *c.Holdout.AfterRMSM, *c.Holdout.NoiseFloorM)
	}
	if math.Abs(*c.After.CheckMean) > 0.02 || math.Abs(*c.Before.CheckMean) < 0.1 {
		t.Errorf("check points: mean %.3f m before, %.3f after", *c.Before.CheckMean, *c.After.CheckMean)
	}
	if problems := report.Check(res.Record); len(problems) > 0 {
		t.Errorf("figures of the record do not agree: %q", problems)
	}
	files(t, dir, o.Out)
}

// files checks what lies in the results folder, and undoes one file.
func files(t *testing.T, dir, out string) {
	t.Helper()
	for _, name := range []string{"results.json", "report.html", "before/results.json", "cloud/correction.json", "cloud/strip_101.las", "cloud/strip_101.las.undo"} {
		if _, err := os.Stat(filepath.Join(out, name)); err != nil {
			t.Error(err)
		}
	}
	rec, err := report.ReadFile(filepath.Join(out, "results.json"))
	if err != nil {
		t.Fatal(err)
	}
	if rec.Correction == nil || !rec.Correction.Applied {
		t.Error("results.json does not tell of the correction")
	}
	for _, in := range rec.Inputs {
		if filepath.Dir(in.Path) != filepath.ToSlash(filepath.Join(out, "cloud")) {
			t.Errorf("input %s of the record is not where the corrected cloud is", in.Path)
		}
	}
	b, err := os.ReadFile(filepath.Join(out, "cloud", "correction.json"))
	if err != nil {
		t.Fatal(err)
	}
	var s stored
	if err := json.Unmarshal(b, &s); err != nil || s.Correction == nil || len(s.Files) != 4 || s.Correction.Zero() {
		t.Errorf("correction.json: %v, %d files", err, len(s.Files))
	}
	back := filepath.Join(dir, "back.las")
	if _, err := adjust.UndoFile(context.Background(), filepath.Join(out, "cloud", "strip_101.las"), back, adjust.ApplyOptions{}); err != nil {
		t.Fatal(err)
	}
	x, _ := os.ReadFile(filepath.Join(dir, "cloud", "strip_101.las"))
	y, _ := os.ReadFile(back)
	if !bytes.Equal(x, y) {
		t.Error("the undone file is not the input, bit for bit")
	}
	if left, _ := filepath.Glob(filepath.Join(dir, ".*")); len(left) > 0 {
		t.Errorf("left behind: %q", left)
	}
}

// TestNothingToCorrect: a clean flight is left as it is, and says so.
func TestNothingToCorrect(t *testing.T) {
	dir, a := survey(t, nil, simulate.CloudOptions{OneFile: true, Compressed: true})
	o := DefaultOptions()
	o.Out = filepath.Join(dir, "out")
	res, err := Run(context.Background(), a, o)
	if err != nil {
		t.Fatal(err)
	}
	if res.Outcome != Nothing || res.Record.Correction.Applied {
		t.Fatalf("outcome %s: %s %+v", res.Outcome, res.Record.Correction.Statement, res.Record.Correction.Parameters)
	}
	if _, err := os.Stat(filepath.Join(o.Out, "cloud")); !errors.Is(err, os.ErrNotExist) {
		t.Error("a cloud was written")
	}
	if _, err := Run(context.Background(), a, o); !errors.Is(err, report.ErrExists) {
		t.Errorf("a second run into the same folder: %v", err)
	}
	o.Force, o.Format = true, "las"
	if res, err = Run(context.Background(), a, o); err != nil || res.Outcome != Applied {
		t.Fatalf("forced: %v, outcome %v", err, res)
	}
	a1, b1 := coordinates(t, filepath.Join(dir, "cloud", "cloud.laz")), coordinates(t, filepath.Join(o.Out, "cloud", "cloud.las"))
	if !bytes.Equal(a1, b1) {
		t.Error("the forced copy of a clean cloud has other points")
	}
}

func coordinates(t testing.TB, path string) []byte {
	t.Helper()
	f, err := las.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	var b []byte
	for c, err := range f.Chunks(context.Background(), las.ColRecord, 1) {
		if err != nil {
			t.Fatal(err)
		}
		b = append(b, c.Record...)
	}
	return b
}

// TestGuards: what is larger than the path states of itself is not applied unless asked for, and a single strip is not judged.
func TestGuards(t *testing.T) {
	dir, a := survey(t, func(s *simulate.Scenario) {
		s.Faults.Strips = []simulate.StripFault{{Strip: 2, HeightM: 0.3}}
	}, simulate.CloudOptions{})
	o := DefaultOptions()
	o.Out = filepath.Join(dir, "out")
	res, err := Run(context.Background(), a, o)
	if err != nil {
		t.Fatal(err)
	}
	if res.Outcome != Held || res.Record.Correction.Applied {
		t.Errorf("0.3 m with a stated accuracy of 13 mm: outcome %s, %s, notes %q", res.Outcome, res.Record.Correction.Statement, res.Record.Correction.Notes)
	}
	o.Out, o.ApplyBeyond, o.DryRun = filepath.Join(dir, "out2"), true, true
	if res, err = Run(context.Background(), a, o); err != nil || res.Outcome != Shown || len(res.Record.Correction.Parameters) == 0 {
		t.Errorf("asked for, dry: %v %+v", err, res)
	}
	a.Inputs = []string{filepath.Join(dir, "cloud", "strip_101.las")}
	o.Out = filepath.Join(dir, "out3")
	if res, err = Run(context.Background(), a, o); err != nil || res.Outcome != NotJudged {
		t.Errorf("one strip: %v %+v", err, res)
	}
}

// TestSecondRoundKeepsWhatTheFirstHeld: a strip that is far off asks for a second round; the roll that parallel strips of one direction cannot tell from heights, which
// the first round held, is not applied by it, and nothing is said to have been asked for that was not.
func TestSecondRoundKeepsWhatTheFirstHeld(t *testing.T) {
	dir, a := survey(t, func(s *simulate.Scenario) {
		s.Plan.CrossStrips, s.Plan.SameDirection = 0, true
		s.Faults.BoresightRollDeg = 0.06
		s.Faults.Strips = []simulate.StripFault{{Strip: 2, EastM: 0.5, NorthM: 0.3}}
	}, simulate.CloudOptions{})
	o := DefaultOptions()
	o.Out, o.ApplyBeyond, o.DryRun = filepath.Join(dir, "out"), true, true
	res, err := Run(context.Background(), a, o)
	if err != nil {
		t.Fatal(err)
	}
	c := res.Record.Correction
	notes := strings.Join(c.Notes, "\n")
	far := false
	for _, p := range c.Parameters {
		far = far || *p.Value > secondRound*overlap.DefaultOptions().CellM && p.Unit == "m"
		if p.Kind == "boresight_roll" {
			t.Errorf("the roll was applied: %.4f deg", *p.Value)
		}
	}
	if !far {
		t.Fatalf("nothing moves far enough for a second round: %q", notes)
	}
	if !strings.Contains(notes, "Not applied: "+adjust.BoresightRoll.Plain()+": these data cannot tell") {
		t.Errorf("it is not said that the roll is held: %q", c.Notes)
	}
	for _, n := range c.Notes {
		if strings.Contains(n, "as asked for, although") {
			t.Errorf("nobody asked: %q", n)
		}
	}
}

func TestOutputNames(t *testing.T) {
	for _, c := range []struct {
		in     []string
		format string
		want   []string
	}{
		{[]string{"a/x.las", "a/y.laz"}, "", []string{"x.las", "y.laz"}},
		{[]string{"a/x.las", "b/x.las"}, "", []string{"a/x.las", "b/x.las"}},
		{[]string{"a/x.LAZ"}, "las", []string{"x.las"}},
	} {
		got, err := outputNames(c.in, c.format)
		if err != nil {
			t.Fatal(err)
		}
		for i := range got {
			if filepath.ToSlash(got[i]) != c.want[i] {
				t.Errorf("%v %q: %v, want %v", c.in, c.format, got, c.want)
			}
		}
	}
	if _, err := outputNames([]string{"a/x.las", "a/x.laz"}, "laz"); err == nil {
		t.Error("two inputs of one name in one folder were accepted")
	}
}
