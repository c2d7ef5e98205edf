package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"testing"

	"sidelap/report"
	"sidelap/trajectory/simulate"
)

// fieldAnswer is what a script reads of the record.
type fieldAnswer struct {
	Field struct {
		report.Field
		Refly []struct {
			Strip string `json:"strip"`
		} `json:"refly"`
	} `json:"field"`
}

// runFieldCommand runs the whole program and returns the exit code, the record that it printed, and stderr.
func runFieldCommand(t *testing.T, args ...string) (int, fieldAnswer, string) {
	t.Helper()
	var stdout, stderr bytes.Buffer
	code := run(context.Background(), append([]string{"field", "--json", "--out", filepath.Join(t.TempDir(), "out")}, args...), &stdout, &stderr)
	var a fieldAnswer
	if stdout.Len() > 0 {
		if err := json.Unmarshal(stdout.Bytes(), &a); err != nil {
			t.Fatalf("stdout is no JSON: %v", err)
		}
	}
	return code, a, stderr.String()
}

func layField(t *testing.T, c *simulate.FieldCase) (dir string, args []string) {
	t.Helper()
	s := simulate.SmallScenario()
	s.Seed = 7
	s.Plan.Strips, s.Plan.StripLengthM, s.Plan.SpacingM = 4, 110, 30
	s.Plan.StillBeforeS, s.Plan.StillAfterS = 45, 45
	s.Scanner.PulseRateHz, s.Scanner.LineRateHz = 8000, 25
	s.Base.LeadS, s.Base.TrailS = 600, 600
	c.Apply(&s)
	dir = t.TempDir()
	if _, err := simulate.WriteSurvey(dir, s, simulate.CloudOptions{Compressed: true}); err != nil {
		t.Fatal(err)
	}
	return dir, []string{"--trajectory", filepath.Join(dir, simulate.DemoPath), "--base", filepath.Join(dir, simulate.DemoBaseLog),
		"--plan", filepath.Join(dir, simulate.DemoArea), filepath.Join(dir, simulate.DemoCloud)}
}

// Known truth from simulation, through files and the whole program: each fault gets the right answer, and the strip
// is named; the good flight is go.
func TestFieldCases(t *testing.T) {
	short := []string{"good", "still too short", "base late", "base header lies about 30 s", "pause in strip 2", "strip 2 missing", "low sidelap", "hole"}
	for _, c := range simulate.FieldCases() {
		t.Run(c.Name, func(t *testing.T) {
			if !slices.Contains(short, c.Name) && os.Getenv("SIDELAP_LONG") == "" {
				t.Skip("set SIDELAP_LONG=1")
			}
			t.Parallel()
			_, args := layField(t, &c)
			code, a, stderr := runFieldCommand(t, args...)
			good := c.Name == "good"
			want := map[string]int{report.Go: exitWithin, report.Caution: exitWithin, report.Refly: exitExceeded, report.NotJudged: exitNotJudged}
			if code != want[a.Field.Verdict] || stderr != "" {
				t.Errorf("verdict %s with exit %d, stderr %q", a.Field.Verdict, code, stderr)
			}
			switch {
			case good != (a.Field.Verdict == report.Go), c.Refly && a.Field.Verdict != report.Refly, a.Field.Verdict == report.NotJudged:
				t.Errorf("verdict %s", a.Field.Verdict)
			}
			checkCause(t, c.Name, &a)
			for _, n := range c.Strips {
				if !namesStrip(&a, n) {
					t.Errorf("strip %d is not named", n)
				}
			}
			for _, k := range a.Field.Checks {
				if t.Failed() && k.Result != report.Go {
					t.Logf("%-16s %-10s %v %s", k.ID, k.Result, k.Strips, k.Note)
				}
			}
		})
	}
}

// causes are the checks that must see each fault of the simulator, and how they answer.
var causes = map[string]struct{ check, result string }{
	"still too short": {"still_before", report.Caution}, "no still at the end": {"still_after", report.Caution},
	"no figure-eights before": {"eights_before", report.Caution}, "no manoeuvre at all": {"eights_before", report.Refly},
	"base late": {"base_covers", report.Refly}, "base ends early": {"base_covers", report.Refly},
	"base every 30 s": {"base_interval", report.Refly}, "base header lies about 30 s": {"base_interval", report.Refly},
	"base gap": {"base_gaps", report.Caution}, "pause in strip 2": {"time_gaps", report.Refly}, "strip 2 missing": {"strips_in_cloud", report.Refly},
	"strip 3 cut short": {"strips_in_cloud", report.Refly}, "speed change in strip 1": {"speed_steady", report.Caution},
	"strip 2 too high": {"height_alike", report.Caution}, "low sidelap": {"sidelap", report.Refly}, "hole": {"coverage", report.Refly},
}

// checkCause asks that the right check answers, as it must, and that a fault that a repeat would not mend asks for none.
func checkCause(t *testing.T, name string, a *fieldAnswer) {
	t.Helper()
	want, ok := causes[name]
	if !ok {
		if name != "good" {
			t.Errorf("no check is named for the fault %q", name)
		}
		return
	}
	found := false
	for _, k := range a.Field.Checks {
		if k.ID == want.check {
			if found = true; k.Result != want.result {
				t.Errorf("%s is %s, want %s: %s", k.ID, k.Result, want.result, k.Note)
			}
		}
	}
	if !found {
		t.Errorf("the record has no check %s", want.check)
	}
	if want.result == report.Caution && a.Field.Verdict != report.Caution {
		t.Errorf("verdict %s for %s", a.Field.Verdict, name)
	}
}

// namesStrip reports whether strip n of the flight is named: point source IDs begin at 101. A strip without a point
// has no number in the cloud and is named by its neighbours.
func namesStrip(a *fieldAnswer, n int) bool {
	id := strconv.Itoa(100 + n)
	for _, k := range a.Field.Checks {
		if (k.Result == report.Caution || k.Result == report.Refly) && slices.Contains(k.Strips, id) {
			return true
		}
	}
	for _, it := range a.Field.Refly {
		if it.Strip == id || it.Strip == "between "+strconv.Itoa(99+n)+" and "+strconv.Itoa(101+n) {
			return true
		}
	}
	return false
}

// What is missing is not judged, exit 4; with a caution beside it, too. Mistakes of the command line are exit 2.
func TestFieldMissingAndWrong(t *testing.T) {
	dir, args := layField(t, &simulate.FieldCases()[0])
	path := []string{"--trajectory", filepath.Join(dir, simulate.DemoPath)}
	for name, c := range map[string]struct {
		args []string
		code int
	}{
		"path alone":        {path, exitNotJudged},
		"cloud alone":       {args[6:], exitNotJudged},
		"base alone":        {args[2:4], exitNotJudged},
		"headers":           {append([]string{"--headers"}, args...), exitNotJudged},
		"caution, no cloud": {append([]string{"--still", "60"}, args[:6]...), exitNotJudged},
		"caution":           {append([]string{"--still", "60"}, args...), exitWithin},
		"own limits":        {append([]string{"--limit", "base-step-s=2", "--limit", "crab-deg=12"}, args...), exitWithin},
		"contract":          {append([]string{"--sidelap", "80"}, args...), exitExceeded},
		"wrong limit":       {append([]string{"--limit", "crab=12"}, args...), exitUsage},
		"base mark":         {append([]string{"--base-mark", "355420,5561260,412", "--antenna-height", "1.638"}, args...), exitWithin},
		"mark of nowhere":   {append([]string{"--base-mark", "5,6,7"}, args...), exitUsage},
		"no mark":           {append([]string{"--base-mark", "somewhere"}, args...), exitUsage},
		"water of nowhere":  {append([]string{"--water", filepath.Join(dir, "none.kml")}, args...), exitInput},
		"service":           {append([]string{"--no-base"}, append(path, args[4:]...)...), exitWithin},
		"nothing":           {nil, exitUsage},
		"storage":           {append([]string{"--storage-free", "lots"}, args...), exitUsage},
		"height":            {append([]string{"--height", "-3"}, args...), exitUsage},
		"no such cloud":     {[]string{filepath.Join(dir, "nowhere")}, exitInput},
		"no path file":      {[]string{"--trajectory", filepath.Join(dir, simulate.DemoArea)}, exitInput},
	} {
		if code, a, stderr := runFieldCommand(t, c.args...); code != c.code {
			t.Errorf("%s: exit %d, want %d; verdict %q, stderr %s", name, code, c.code, a.Field.Verdict, stderr)
		}
	}
	out := filepath.Join(dir, "out")
	var stdout, stderr bytes.Buffer
	for i, want := range []int{exitWithin, exitUsage, exitWithin} { // a folder in the way, then --force
		full := append([]string{"field", "--out", out}, args...)
		if i == 2 {
			full = append(full, "--force")
		}
		stdout.Reset()
		if code := run(context.Background(), full, &stdout, &stderr); code != want {
			t.Fatalf("run %d: exit %d: %s", i, code, stderr.String())
		}
	}
	if first, _, _ := strings.Cut(stdout.String(), "\n"); first != "GO" {
		t.Errorf("first line %q", first)
	}
	for _, name := range []string{"field.html", "field.json", "refly.geojson", "refly.kml"} {
		if st, err := os.Stat(filepath.Join(out, name)); err != nil || st.Size() == 0 {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// realData returns the folder of open data; without it the test is skipped, and fails where CI=true.
func realData(t *testing.T) string {
	t.Helper()
	dir := filepath.Join("..", "..", "..", "shared", "data", "real")
	if _, err := os.Stat(dir); errors.Is(err, fs.ErrNotExist) {
		if os.Getenv("CI") == "true" {
			t.Fatal("no open data beside the repository")
		}
		t.Skip("no open data beside the repository")
	}
	return dir
}

// Outside the project: open path files are read, or refused with the reason, as their README rows say.
func TestFieldRealPaths(t *testing.T) {
	dir := realData(t)
	for name, c := range map[string]struct {
		code int
		says string
	}{
		"sbet-2-points.sbet":                                {exitNotJudged, ""},
		"pdal-badfile.sbet":                                 {exitInput, "271 bytes"},
		"pdal-smrmsg.smrmsg":                                {exitInput, "holds no positions"},
		"posrs-sbet_mission_1.poq":                          {exitInput, "not supported"},
		"pdaldata-sbet_047_IGS08-UTM15N-Ellipsoid-trim.txt": {exitNotJudged, ""},
		"pdaldata-C2_L2-traj3.txt":                          {exitNotJudged, ""},
	} {
		code, a, stderr := runFieldCommand(t, "--no-base", "--trajectory", filepath.Join(dir, "trajectory", name))
		if code != c.code || !strings.Contains(stderr, c.says) || code == exitInput && !strings.Contains(stderr, name) {
			t.Errorf("%s: exit %d, verdict %q, %s", name, code, a.Field.Verdict, stderr)
		}
	}
}

// Outside the project: open base logs in every wrapping are read, or refused with the reason; compact files give the
// same checks as their plain twins.
func TestFieldRealBaseLogs(t *testing.T) {
	dir := filepath.Join(realData(t), "gnss")
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	answers := map[string][]report.FieldCheck{}
	for _, e := range entries {
		code, a, stderr := runFieldCommand(t, "--base", filepath.Join(dir, e.Name()))
		if blank := e.Name() == "georinex-blank.10o"; blank != (code == exitInput) || blank && !strings.Contains(stderr, "no epoch") {
			t.Errorf("%s: exit %d, %s", e.Name(), code, stderr)
		}
		answers[e.Name()] = a.Field.Checks
	}
	value := func(file, id string) float64 {
		for _, c := range answers[file] {
			if c.ID == id {
				return report.Get(c.Value)
			}
		}
		t.Errorf("%s: no check %s", file, id)
		return 0
	}
	for file, step := range map[string]float64{"nav-crx-v3-GRAS00FRA_R_20223151700_15M_01S_MO.crx.gz": 1, "georinex-CEDA00USA_R_20182100000_23H_15S_MO.rnx.gz": 15,
		"nav-crx-v3-KMS300DNK_R_20221591000_01H_30S_MO.crx": 30, "nav-obs-v2-AJAC3550.21O": 30, "rtklib-07590920.05o": 30} {
		if v := value(file, "base_interval"); v != step {
			t.Errorf("%s: every %g s, want %g", file, v, step)
		}
	}
	for compact, plain := range map[string]string{"nav-crx-v1-KOSG0010.95D": "nav-obs-v2-KOSG0010.95O", "nav-crx-v1-aopr0010.17d": "nav-obs-v2-aopr0010.17o",
		"nav-crx-v1-AJAC3550.21D": "nav-obs-v2-AJAC3550.21O", "nav-crx-v1-zegv0010.21d": "nav-obs-v2-zegv0010.21o",
		"nav-crx-v3-ACOR00ESP_R_20213550000_01D_30S_MO.crx": "nav-obs-v3-ACOR00ESP_R_20213550000_01D_30S_MO.rnx", "nav-crx-v3-DUTH0630.22D": "nav-obs-v3-DUTH0630.22O",
		"hatanaka-sample.crx": "hatanaka-sample.rnx", "hatanaka-sample.crx.Z": "hatanaka-sample.rnx", "hatanaka-sample.crx.gz": "hatanaka-sample.rnx", "hatanaka-sample.rnx.bz2": "hatanaka-sample.rnx"} {
		if len(answers[plain]) == 0 || !reflect.DeepEqual(answers[compact], answers[plain]) {
			t.Errorf("%s and %s differ", compact, plain)
		}
	}
}
