package correct

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"sidelap/adjust"
	"sidelap/report/assess"
	"sidelap/trajectory/simulate"
)

// TestAgain applies a correction to other copies of the flight: to the same files, bit for bit as the run that found it did; to one file with all strips; and refuses
// what is no copy of the flight.
func TestAgain(t *testing.T) {
	if testing.Short() {
		t.Skip("corrects a survey several times")
	}
	fault := func(s *simulate.Scenario) {
		s.Plan.StripLengthM = 60
		s.Faults.BoresightRollDeg = 0.06
		s.Faults.Strips = []simulate.StripFault{{Strip: 2, HeightM: 0.06}}
	}
	dir, a := survey(t, fault, simulate.CloudOptions{})
	o := DefaultOptions()
	o.Out, o.ApplyBeyond = filepath.Join(dir, "out"), true
	a.CheckPoints = ""
	res, err := Run(context.Background(), a, o)
	if err != nil || res.Outcome != Applied {
		t.Fatal(err, res)
	}
	cloud := filepath.Join(o.Out, "cloud")
	twice, more := a, o
	twice.Inputs, more.Out = []string{cloud}, filepath.Join(dir, "twice")
	if res, err := Run(context.Background(), twice, more); err != nil || res.Outcome != Nothing {
		t.Errorf("a corrected cloud is corrected once more: %v %+v", err, res)
	}
	again := AgainOptions{Correction: filepath.Join(cloud, "correction.json"), Inputs: a.Inputs, Out: filepath.Join(dir, "again"), Program: "test"}
	if _, err := Again(context.Background(), again); err != nil {
		t.Fatal(err)
	}
	var all []byte
	for _, name := range []string{"strip_101.las", "strip_102.las", "strip_103.las", "strip_104.las"} {
		x, y := coordinates(t, filepath.Join(cloud, name)), coordinates(t, filepath.Join(again.Out, name))
		if !bytes.Equal(x, y) || len(x) == 0 {
			t.Errorf("%s: applied again the points lie elsewhere", name)
		}
		all = append(all, x...)
	}

	// what is estimated on corrected files is only the rest of a correction, and is refused for files as they came
	clean, b := survey(t, func(s *simulate.Scenario) { s.Plan.StripLengthM = 60 }, simulate.CloudOptions{})
	wrong := again
	wrong.Inputs, wrong.Out = b.Inputs, filepath.Join(clean, "wrong")
	if _, err := Again(context.Background(), wrong); err != nil {
		t.Fatal(err)
	}
	b.Inputs, b.CheckPoints, more.Out = []string{wrong.Out}, "", filepath.Join(clean, "rest")
	rest, err := Run(context.Background(), b, more)
	if err != nil || rest.Outcome != Applied || !strings.Contains(strings.Join(rest.Record.Correction.Notes, " "), "4 of 4 files had been corrected before") {
		t.Fatal(err, rest)
	}
	wrong.Inputs, wrong.Correction, wrong.Out = a.Inputs, filepath.Join(more.Out, "cloud"), filepath.Join(clean, "refused")
	if _, err := Again(context.Background(), wrong); err == nil || !strings.Contains(err.Error(), "only the rest") || !strings.Contains(err.Error(), "--undo") {
		t.Errorf("the rest of a correction for files as they came: %v", err)
	}
	if _, err := os.Stat(wrong.Out); err == nil {
		t.Error("something was written")
	}

	// a correction applied again can be applied again and undone
	one, _ := survey(t, fault, simulate.CloudOptions{OneFile: true, Compressed: true})
	next := AgainOptions{Correction: again.Out, Inputs: []string{filepath.Join(one, "cloud")}, Out: filepath.Join(dir, "one"), Program: "test"}
	if _, err := Again(context.Background(), next); err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(all, coordinates(t, filepath.Join(next.Out, "cloud.laz"))) {
		t.Error("one file with all strips is corrected in another way")
	}
	if _, err := UndoFolder(context.Background(), next.Out, filepath.Join(dir, "back"), 1, nil); err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(coordinates(t, filepath.Join(one, "cloud", "cloud.laz")), coordinates(t, filepath.Join(dir, "back", "cloud.laz"))) {
		t.Error("undoing a folder does not lead back")
	}

	// a folder that is taken away while it is made is called by its final name
	takeAway := func(out string) func(assess.Progress) {
		return func(assess.Progress) {
			made, _ := filepath.Glob(filepath.Join(filepath.Dir(out), ".*.part"))
			for _, m := range made {
				os.RemoveAll(m)
			}
		}
	}
	lost := filepath.Join(t.TempDir(), "lost")
	if _, err := UndoFolder(context.Background(), next.Out, lost, 1, takeAway(lost)); err == nil || strings.Contains(err.Error(), ".part") || !strings.Contains(err.Error(), lost) {
		t.Errorf("undoing into a folder that is taken away: %v", err)
	}
	again2 := again
	again2.Out, again2.Progress = lost, takeAway(lost)
	if _, err := Again(context.Background(), again2); err == nil || strings.Contains(err.Error(), ".part") || !strings.Contains(err.Error(), lost) {
		t.Errorf("applying into a folder that is taken away: %v", err)
	}

	for _, c := range []struct {
		name   string
		change func(s *simulate.Scenario, o *AgainOptions)
		want   string
	}{
		{"corrected before", func(_ *simulate.Scenario, o *AgainOptions) { o.Inputs = []string{cloud} }, "this very correction"},
		{"corrected before, force", func(_ *simulate.Scenario, o *AgainOptions) { o.Inputs, o.Force = []string{cloud}, true }, "this very correction"},
		{"corrected otherwise", func(_ *simulate.Scenario, o *AgainOptions) { o.Inputs = []string{filepath.Join(more.Out, "cloud")} }, "has been corrected before"},
		{"another zone", func(s *simulate.Scenario, _ *AgainOptions) { s.Site.UTMZone++ }, "coordinate system is"},
		{"another day", func(s *simulate.Scenario, _ *AgainOptions) { s.Site.GPSWeek++ }, "belong to no strip"},
		{"another place", func(s *simulate.Scenario, _ *AgainOptions) { s.Site.CentreEM += 3000 }, "outside the cloud that was corrected"},
		{"other heights", func(s *simulate.Scenario, _ *AgainOptions) { s.Site.GroundM -= 40 }, "outside the cloud that was corrected"},
		{"other sources", func(s *simulate.Scenario, _ *AgainOptions) { s.Label.FirstID = 900 }, "belong to no strip"},
		{"existing folder", func(_ *simulate.Scenario, o *AgainOptions) { o.Out = again.Out }, "--force"},
		{"no correction", func(_ *simulate.Scenario, o *AgainOptions) {
			o.Correction = filepath.Join(o.Correction, "..", "..", "results.json")
		}, "no correction"},
	} {
		t.Run(c.name, func(t *testing.T) {
			x := again
			x.Out = filepath.Join(t.TempDir(), "x")
			inputs := ""
			other, _ := survey(t, func(s *simulate.Scenario) { fault(s); c.change(s, &x) }, simulate.CloudOptions{OneFile: true})
			inputs = filepath.Join(other, "cloud")
			if !strings.HasPrefix(c.name, "corrected") {
				x.Inputs = []string{inputs}
			}
			_, err := Again(context.Background(), x)
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("%v, want %q", err, c.want)
			}
			if c.name != "existing folder" {
				if _, err := os.Stat(x.Out); err == nil {
					t.Error("something was written")
				}
			}
		})
	}

	if err := os.Remove(filepath.Join(again.Out, pathName)); err != nil {
		t.Fatal(err)
	}
	next.Out = filepath.Join(dir, "two")
	if _, err := Again(context.Background(), next); err == nil || !strings.Contains(err.Error(), "with a path") {
		t.Errorf("without its path: %v", err)
	}
}

// TestAgainKnowsFilesByName: where only their files tell the strips apart, a file is known by its name and its folders, and none is taken for another.
func TestAgainKnowsFilesByName(t *testing.T) {
	a := again{s: stored{Correction: &adjust.Correction{}, Files: []fileRow{
		{Input: "raw/day1/strip.las", Output: "day1/strip.las"}, {Input: "raw/day2/strip.las", Output: "day2/strip.las"}, {Input: "raw/cross.las", Output: "cross.laz"}}}}
	for _, c := range []struct {
		file string
		want int // -1: refused
	}{
		{"/else/day1/strip.las", 0}, {"/else/day2/strip.las", 1}, {"/else/cross.las", 2}, {"/else/cross.laz", 2},
		{"/else/strip.las", -1}, {"/else/day3/strip.las", -1}, {"/else/other.las", -1},
	} {
		_, n, err := a.of(filepath.FromSlash(c.file))
		if (err == nil) != (c.want >= 0) || err == nil && n != c.want {
			t.Errorf("%s: file %d, %v", c.file, n, err)
		}
	}
}

// TestAgainWithoutFiles: a correction whose strips only their files tell apart, and that names no files, is refused.
func TestAgainWithoutFiles(t *testing.T) {
	s := stored{SchemaVersion: 1, Extent: &extent{}, Correction: &adjust.Correction{Version: adjust.CorrectionVersion, BoresightRollRad: 1e-3}}
	for i := range 2 { // one source, no times
		s.Correction.Strips = append(s.Correction.Strips, adjust.StripCorrection{ID: string(rune('A' + i)), Line: true, Files: []int{i}, Sources: []int{1}, Channels: []int{0}, UpM: adjust.Curve{TimeS: []float64{0}, Value: []float64{0.1 * float64(i)}}})
	}
	if _, ok := s.Correction.ForAnyFile(); ok {
		t.Fatal("the strips can be told without their files")
	}
	dir := t.TempDir()
	if err := s.write(filepath.Join(dir, correctionName)); err != nil {
		t.Fatal(err)
	}
	_, err := Again(t.Context(), AgainOptions{Correction: dir, Inputs: []string{filepath.Join(dir, "x.las")}, Out: filepath.Join(dir, "out")})
	if err == nil || !strings.Contains(err.Error(), "it names none") {
		t.Error(err)
	}
}
