package simulate

import (
	"bufio"
	"bytes"
	"context"
	"encoding/binary"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"sidelap/las"
)

// The SBET file holds the used path: 136 bytes a record, ellipsoidal height, true heading with
// wander added; read back by the formulas of sections 1 and 12 it gives the path to 0.1 mm and 1e-9 rad.
func TestTrajectoryFile(t *testing.T) {
	s := SmallScenario()
	s.Process.WanderDeg = 7
	s.Faults.DatumHeightM = 0.25
	f := fly(t, s)
	path := filepath.Join(t.TempDir(), "a", "x.sbet")
	if err := f.WriteTrajectory(path); err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if len(b) != 136*f.Used.Len() {
		t.Fatalf("%d bytes, want 136 x %d", len(b), f.Used.Len())
	}
	last := math.Inf(-1)
	for i := 0; i < f.Used.Len(); i += 97 {
		var r [17]float64
		if _, err := binary.Decode(b[136*i:], binary.LittleEndian, &r); err != nil {
			t.Fatal(err)
		}
		e, n := f.utm.Forward(r[1], r[2])
		near(t, "easting", "m", e, f.Used.EM[i], 1e-4)
		near(t, "northing", "m", n, f.Used.NM[i], 1e-4)
		near(t, "height", "m", r[3]-f.GeoidM(e, n), f.Used.HM[i], 1e-6)
		grid := r[9] - r[10] - f.utm.Convergence(r[1], r[2])
		near(t, "grid heading", "rad", wrapPi(grid-f.Used.HeadingRad[i]), 0, 1e-9)
		near(t, "speed", "m/s", math.Hypot(r[4], r[5]), speedAt(f.Used, i), 1e-6+math.Abs(float64(i/(f.Used.Len()-2))))
		if r[0] <= last {
			t.Fatalf("time %.4f after %.4f", r[0], last)
		}
		last = r[0]
	}
}

// Faults of the path file alone change the file and nothing else; the week ends at 604800 s.
func TestPathFileFaults(t *testing.T) {
	first := func(change func(*Scenario)) (rec [2][17]float64, f *Flight) {
		s := SmallScenario()
		s.Process.WanderDeg = 7
		s.Plan.StillBeforeS = 6
		change(&s)
		f = fly(t, s)
		path := filepath.Join(t.TempDir(), "x.sbet")
		if err := f.WriteTrajectory(path); err != nil {
			t.Fatal(err)
		}
		b, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		for i, at := range []int{0, len(b) - 136} {
			if _, err := binary.Decode(b[at:], binary.LittleEndian, &rec[i]); err != nil {
				t.Fatal(err)
			}
		}
		return rec, f
	}
	clean, c := first(func(*Scenario) {})
	utc, _ := first(func(s *Scenario) { s.Faults.PathTimeLabelS = -18 })
	near(t, "UTC path", "s", utc[0][0]-clean[0][0], -18, 1e-9)
	geoid, _ := first(func(s *Scenario) { s.Faults.PathHeightsAboveGeoid = true })
	near(t, "path above the geoid", "m", clean[0][3]-geoid[0][3], c.GeoidM(c.True.EM[0], c.True.NM[0]), 1e-9)
	heading, _ := first(func(s *Scenario) { s.Faults.PathHeadingIsTrue = true })
	near(t, "true heading", "deg", wrapPi(clean[0][9]-heading[0][9])/deg, 7, 1e-9)
	end, f := first(func(s *Scenario) { s.Site.PowerOnS, s.Label.Time = weekS-90, TimeWeek })
	near(t, "start before the end of the week", "s", end[0][0], weekS-90, 1e-9)
	near(t, "end in the next week", "s", end[1][0], f.PowerOffS()-weekS, 1e-6)
	near(t, "last point in the next week", "s", f.StoredTimeS(f.Strips[3].EndS), f.Strips[3].EndS-weekS, 1e-9)
	if d := f.DateOf(weekS + 1).Weekday(); d != time.Sunday {
		t.Errorf("the GPS week ends on %v, want Sunday", d)
	}
}

// The accuracy file states heading badly until the manoeuvres, and worse without them.
func TestAccuracyFile(t *testing.T) {
	heading := func(eights int) (atFirstStrip float64) {
		s := SmallScenario()
		s.Plan.FigureEightsBefore = eights
		f := fly(t, s)
		path := filepath.Join(t.TempDir(), "x.smrmsg")
		if err := f.WriteAccuracy(path); err != nil {
			t.Fatal(err)
		}
		b, _ := os.ReadFile(path)
		if len(b)%80 != 0 {
			t.Fatalf("%d bytes, not a multiple of 80", len(b))
		}
		for ; len(b) > 0; b = b[80:] {
			var r [10]float64
			if _, err := binary.Decode(b, binary.LittleEndian, &r); err != nil {
				t.Fatal(err)
			}
			if r[0] >= f.Strips[0].StartS {
				return r[9] / 60
			}
		}
		return math.NaN()
	}
	with, without := heading(2), heading(0)
	if !(with < 0.08 && without > 0.3) {
		t.Errorf("stated heading at the first strip %.3f deg with figure-eights, %.3f without; want < 0.08 and > 0.3", with, without)
	}
}

// The base log obeys the columns of RINEX 3 (reference section 12) and covers what the scenario says.
func TestBaseLog(t *testing.T) {
	s := SmallScenario()
	s.Base.LeadS, s.Base.TrailS, s.Base.IntervalS = -20, 30, 1
	s.Base.Gaps = []Gap{{StartS: 100, DurationS: 12}}
	f := fly(t, s)
	path := filepath.Join(t.TempDir(), "b.26o")
	if err := f.WriteBaseLog(path); err != nil {
		t.Fatal(err)
	}
	file, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	sc := bufio.NewScanner(file)
	labels := map[string]string{}
	for sc.Scan() {
		l := sc.Text()
		if len(l) < 61 {
			t.Fatalf("header line %q has no label in columns 61-80", l)
		}
		labels[strings.TrimSpace(l[60:])] = l[:60]
		if strings.Contains(l[60:], "END OF HEADER") {
			break
		}
	}
	if labels["RINEX VERSION / TYPE"][20] != 'O' || strings.TrimSpace(labels["RINEX VERSION / TYPE"][:9]) != "3.04" {
		t.Errorf("first line %q", labels["RINEX VERSION / TYPE"])
	}
	delta, _ := strconv.ParseFloat(strings.TrimSpace(labels["ANTENNA: DELTA H/E/N"][:14]), 64)
	near(t, "antenna height", "m", delta, s.Base.AntennaHeightM, 5e-5)
	var xyz Vec
	for i := range xyz {
		xyz[i], _ = strconv.ParseFloat(strings.TrimSpace(labels["APPROX POSITION XYZ"][14*i:14*i+14]), 64)
	}
	want := ECEF(f.Station.LatRad, f.Station.LonRad, f.Station.EllipsoidalM)
	near(t, "approximate position", "m", math.Hypot(math.Hypot(xyz[0]-want[0], xyz[1]-want[1]), xyz[2]-want[2]), 0, 1e-4)
	checkEpochs(t, f, sc)
}

func checkEpochs(t *testing.T, f *Flight, sc *bufio.Scanner) {
	t.Helper()
	week := gpsEpoch.Add(time.Duration(f.Scenario.Site.GPSWeek) * 7 * 24 * time.Hour)
	var times []float64
	for sc.Scan() {
		l := sc.Text()
		if l[0] != '>' {
			t.Fatalf("epoch line expected, got %q", l)
		}
		at, err := time.Parse("2006 01 02 15 04", l[2:18])
		if err != nil {
			t.Fatal(err)
		}
		sec, err := strconv.ParseFloat(strings.TrimSpace(l[18:29]), 64)
		if err != nil {
			t.Fatal(err)
		}
		times = append(times, at.Sub(week).Seconds()+sec)
		if l[31] != '0' {
			t.Fatalf("flag %q in column 32", l[31])
		}
		n, err := strconv.Atoi(strings.TrimSpace(l[32:35]))
		if err != nil || n < 10 || n > 40 {
			t.Fatalf("%d satellites in columns 33-35 of %q", n, l)
		}
		for range n {
			sc.Scan()
			o := sc.Text()
			if len(o) < 3+16*5+14 || o[0] != 'G' && o[0] != 'E' {
				t.Fatalf("observation line %q", o)
			}
			if code, err := strconv.ParseFloat(strings.TrimSpace(o[3:17]), 64); err != nil || code < 1.9e7 || code > 3e7 {
				t.Fatalf("code of %.3f m in %q", code, o)
			}
		}
	}
	s := f.Scenario
	near(t, "first epoch", "s", times[0], s.Site.PowerOnS+20, 1)
	near(t, "last epoch", "s", times[len(times)-1], f.PowerOffS()+30, 1)
	for i := 1; i < len(times); i++ {
		d := times[i] - times[i-1]
		inside := times[i-1] > s.Site.PowerOnS+98 && times[i-1] < s.Site.PowerOnS+101
		if inside != (d > 1.5) {
			t.Errorf("step of %.1f s at %.0f", d, times[i-1]-s.Site.PowerOnS)
		}
	}
}

// The cloud's files hold the streamed points, in any format, unit and layout.
func TestCloudFiles(t *testing.T) {
	s := SmallScenario()
	s.Scanner.PulseRateHz, s.Scanner.LineRateHz = 4000, 12
	f := fly(t, s)
	var points int64
	for c := range f.Chunks() {
		points += int64(c.N)
	}
	for _, c := range []struct {
		name  string
		o     CloudOptions
		files int
	}{
		{"strips, LAS 1.4 format 6", CloudOptions{}, 4},
		{"LAZ format 6", CloudOptions{Compressed: true}, 4},
		{"one file, format 1, GeoTIFF keys", CloudOptions{Format: 1, OneFile: true}, 1},
		{"US survey feet, format 6", CloudOptions{Units: Units{USSurveyFootM, USSurveyFootM}}, 4},
		{"metres and feet, format 3", CloudOptions{Format: 3, Units: Units{MetreM, InternationalFootM}}, 4},
		{"international feet, format 1", CloudOptions{Format: 1, Units: Units{InternationalFootM, InternationalFootM}}, 4},
		{"tiles of 60 m", CloudOptions{TileM: 60}, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			names, err := f.WriteCloud(t.TempDir(), c.o)
			if err != nil {
				t.Fatal(err)
			}
			if c.files > 0 && len(names) != c.files {
				t.Errorf("%d files, want %d", len(names), c.files)
			}
			if got := readCloud(t, f, names, c.o); got != points {
				t.Errorf("%d points in the files, %d streamed", got, points)
			}
		})
	}
}

// readCloud reads the files back; their units must come from the coordinate system they state.
func readCloud(t *testing.T, f *Flight, names []string, o CloudOptions) int64 {
	t.Helper()
	var n int64
	o.complete()
	for _, name := range names {
		file, err := las.Open(name)
		if err != nil {
			t.Fatal(err)
		}
		defer file.Close()
		if fr := file.Frame(); math.Abs(fr.HorizontalM-o.Units.HorizontalM) > 1e-12 || math.Abs(fr.VerticalM-o.Units.VerticalM) > 1e-12 {
			t.Errorf("%s: units %.9f and %.9f m, want %.9f and %.9f", filepath.Base(name), fr.HorizontalM, fr.VerticalM, o.Units.HorizontalM, o.Units.VerticalM)
		}
		for c, err := range file.Chunks(context.Background(), las.ColAll&^las.ColRecord, 1) {
			if err != nil {
				t.Fatal(err)
			}
			n += int64(c.N)
			h := f.Surface.GroundM(c.Frame.XM(c.X[0]), c.Frame.YM(c.Y[0]))
			if d := c.Frame.ZM(c.Z[0]) - h; d < -1 || d > 20 {
				t.Errorf("%s: first point %.2f m over ground", filepath.Base(name), d)
			}
		}
	}
	return n
}

// The same files for any number of workers.
func TestCloudBytesDoNotDependOnWorkers(t *testing.T) {
	s := SmallScenario()
	s.Scanner.PulseRateHz, s.Scanner.LineRateHz = 4000, 12
	f := fly(t, s)
	var want [][]byte
	for _, workers := range []int{1, 3} {
		names, err := f.WriteCloud(t.TempDir(), CloudOptions{Workers: workers})
		if err != nil {
			t.Fatal(err)
		}
		for i, n := range names {
			b, err := os.ReadFile(n)
			if err != nil {
				t.Fatal(err)
			}
			if workers == 1 {
				want = append(want, b)
			} else if !bytes.Equal(b, want[i]) {
				t.Errorf("%s differs", filepath.Base(n))
			}
		}
	}
}

func TestSurveyFolder(t *testing.T) {
	dir := t.TempDir()
	s := smallDemo()
	f, err := WriteSurvey(dir, s, CloudOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if len(f.Strips) != 4 {
		t.Errorf("%d strips", len(f.Strips))
	}
	for _, name := range []string{DemoPath, DemoAccuracy, DemoBaseLog, DemoCheckPoints, DemoControl, DemoArea, DemoReadme, DemoTruth} {
		if st, err := os.Stat(filepath.Join(dir, name)); err != nil || st.Size() == 0 {
			t.Errorf("%s: %v", name, err)
		}
	}
	readme, _ := os.ReadFile(filepath.Join(dir, DemoReadme))
	truth, _ := os.ReadFile(filepath.Join(dir, DemoTruth))
	if !bytes.Contains(readme, []byte("INVENTED")) || bytes.Contains(bytes.ToLower(readme), []byte("boresight")) {
		t.Error("the README must say that the survey is invented, and not what is wrong")
	}
	if !bytes.Contains(truth, []byte("boresight_roll")) {
		t.Error("the truth does not name the fault")
	}
	if _, err := WriteSurvey(dir, s, CloudOptions{}); err == nil {
		t.Error("a second survey overwrote the first")
	}
}
