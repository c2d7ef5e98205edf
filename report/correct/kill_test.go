package correct

import (
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"testing"
	"time"

	"sidelap/adjust"
	"sidelap/las"
	"sidelap/report"
	"sidelap/trajectory/simulate"
)

// TestKilled builds the program and kills it, without warning, at places all over its run. Never may a half-written file bear a final name or an input change, and
// the next run must work with what the killed ones left behind.
func TestKilled(t *testing.T) {
	if testing.Short() || runtime.GOOS == "windows" {
		t.Skip("builds and kills the program")
	}
	dir, a := survey(t, func(s *simulate.Scenario) {
		s.Faults.BoresightRollDeg, s.Faults.BoresightHeadingDeg = 0.05, -0.12
	}, simulate.CloudOptions{})
	bin := filepath.Join(dir, "sidelap")
	if b, err := exec.Command("go", "build", "-o", bin, "sidelap/cmd/sidelap").CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, b)
	}
	out := filepath.Join(dir, "out")
	args := []string{"correct", "--quiet", "--trajectory", a.Trajectory, "--checkpoints", a.CheckPoints, "--out", out, filepath.Join(dir, "cloud")}
	inputs := sums(t, filepath.Join(dir, "cloud"))
	start := time.Now()
	first := exec.Command(bin, args...)
	if b, err := first.CombinedOutput(); err != nil && first.ProcessState.ExitCode() > 1 {
		t.Fatalf("%v\n%s", err, b)
	}
	whole := time.Since(start)
	if err := os.RemoveAll(out); err != nil {
		t.Fatal(err)
	}
	const kills = 8
	killed := 0
	for i := range kills {
		c := exec.Command(bin, args...)
		if err := c.Start(); err != nil {
			t.Fatal(err)
		}
		time.Sleep(whole * time.Duration(2*i+1) / (2 * kills))
		if err := c.Process.Kill(); err == nil {
			killed++
		}
		_ = c.Wait()
		if !same(inputs, sums(t, filepath.Join(dir, "cloud"))) {
			t.Fatal("an input was changed")
		}
		if _, err := os.Stat(out); errors.Is(err, os.ErrNotExist) {
			continue
		}
		complete(t, out) // it was through before it was killed
		if err := os.RemoveAll(out); err != nil {
			t.Fatal(err)
		}
	}
	if killed < kills/2 {
		t.Errorf("only %d of %d runs were killed under way", killed, kills)
	}
	last := exec.Command(bin, args...)
	if b, err := last.CombinedOutput(); err != nil && last.ProcessState.ExitCode() > 1 {
		t.Fatalf("the run after the killed ones: %v\n%s", err, b)
	}
	complete(t, out)
	// the last run swept what the killed ones left
	if left, _ := filepath.Glob(filepath.Join(dir, ".*")); len(left) > 0 {
		t.Errorf("left behind: %q", left)
	}
}

// complete checks that a results folder is whole: its record can be read, and each of its clouds with all points and what undoing needs.
func complete(t *testing.T, out string) {
	t.Helper()
	rec, err := report.ReadFile(filepath.Join(out, "results.json"))
	if err != nil {
		t.Fatal(err)
	}
	for _, in := range rec.Inputs {
		path := filepath.FromSlash(in.Path)
		f, err := las.Open(path)
		if err != nil {
			t.Fatal(err)
		}
		if f.Header().Points != in.Points || len(f.Warnings()) > 0 {
			t.Errorf("%s: %d points, %d in the record; %q", path, f.Header().Points, in.Points, f.Warnings())
		}
		f.Close()
		if _, err := os.Stat(path + adjust.UndoSuffix); err != nil {
			t.Error(err)
		}
	}
}
