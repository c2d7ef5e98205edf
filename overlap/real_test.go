package overlap_test

import (
	"context"
	"errors"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
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

// read keeps what was read, for the tests after.
var read = map[string]*overlap.Accumulator{}

// readFiles probes a sample of the files and accumulates them whole, file i with
// the number i.
func readFiles(t testing.TB, names ...string) *overlap.Accumulator {
	t.Helper()
	key := strings.Join(names, " ")
	if read[key] == nil {
		read[key] = readAnew(t, names)
	}
	return read[key]
}

func readAnew(t testing.TB, names []string) *overlap.Accumulator {
	t.Helper()
	var probe overlap.Probe
	var files []*las.File
	for _, name := range names {
		f, err := las.Open(realFile(t, name))
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		files = append(files, f)
		h, frame := f.Header(), f.Frame()
		probe.File(h.Points, (h.Max[0]-h.Min[0])*(h.Max[1]-h.Min[1])*frame.HorizontalM*frame.HorizontalM)
		for _, span := range f.Spans(2 * las.MaxChunk) {
			for c, err := range f.Read(context.Background(), span, overlap.Columns) {
				if err == nil {
					probe.Add(c)
				}
				break
			}
		}
	}
	o, _ := probe.Options()
	a, err := overlap.NewAccumulator(o)
	if err != nil {
		t.Fatal(err)
	}
	for i, f := range files {
		for c, err := range f.Chunks(context.Background(), overlap.Columns, 1) {
			if err != nil {
				t.Fatal(err)
			}
			a.Add(c, i)
		}
	}
	return a
}

var (
	setA = []string{"lidar/nl-ahn3-delft-1.laz", "lidar/nl-ahn3-delft-2.laz"}
	setB = []string{
		"lidar/fr-ign-block-77050_627755.laz", "lidar/fr-ign-block-77050_627760.laz", "lidar/fr-ign-block-77055_627755.laz",
		"lidar/fr-ign-block-77055_627760.laz", "lidar/fr-ign-block-77060_627755.laz", "lidar/fr-ign-block-77060_627760.laz",
	}
	setC = []string{"lidar/fr-ign-decimated-0382_6565.laz"}
)

// Separations of open data against medians that another program measured on
// them (cell means of flat ground, data/real/README.md). The tolerance is less
// than half the spread (NMAD) stated there: 0.009, 0.013, 0.031 m.
func TestRealSeparation(t *testing.T) {
	for _, c := range []struct {
		set                 []string
		earlier, later      string
		laterMinusEarlier   float64
		tolerance           float64
		cells               int
		crossing            bool
		headingA, headingB  float64
		knowsHeadings, tile bool
	}{
		{set: setA, earlier: "44266", later: "57138", laterMinusEarlier: 0.008, tolerance: 0.003, cells: 1000},
		{set: setA, earlier: "44266", later: "57139", laterMinusEarlier: -0.022, tolerance: 0.003, cells: 1000},
		{set: setA, earlier: "57139", later: "57138", laterMinusEarlier: 0.0305, tolerance: 0.0035, cells: 1000},
		{set: setB, earlier: "707", later: "706", laterMinusEarlier: 0.006, tolerance: 0.005, cells: 1000},
		{set: setC, earlier: "138", later: "139", laterMinusEarlier: -0.002, tolerance: 0.008, cells: 300},
	} {
		s := mustSurvey(t, readFiles(t, c.set...))
		if s.Mode != overlap.StripsByID {
			t.Errorf("%v: mode %s: %s", c.set, s.Mode, s.Why)
		}
		found := false
		for _, p := range s.Pairs(overlap.DefaultPairOptions()) {
			if p.IDA != c.earlier || p.IDB != c.later {
				continue
			}
			found = true
			near(t, c.later+"-"+c.earlier, "median", p.Used.MedianM, c.laterMinusEarlier, c.tolerance)
			if p.Used.Cells < c.cells {
				t.Errorf("%s-%s: %d cells, want %d at least", c.later, c.earlier, p.Used.Cells, c.cells)
			}
		}
		if !found {
			t.Errorf("no pair %s, %s among %q", c.earlier, c.later, ids(s))
		}
	}
}

// Set A: strips joined over the tiles, the stray ID named, the loop closed.
func TestRealSetA(t *testing.T) {
	s := mustSurvey(t, readFiles(t, setA...))
	if ids(s) != "44266 57139 57138" || len(s.Strips) != 4 || s.Strips[3].ID != "57140" || s.Strips[3].Kind != overlap.Stray {
		t.Errorf("strips %q of %d", ids(s), len(s.Strips))
	}
	if f := s.Strips[1].Files; len(f) != 2 {
		t.Errorf("57139 is of files %v, want both", f)
	}
	loops := overlap.Loops(s.Pairs(overlap.DefaultPairOptions()))
	if len(loops) != 1 || math.Abs(loops[0].ClosureM) > 0.005 {
		t.Errorf("loops %+v", loops)
	}
}

// Set B: the second look of line 707, 5.3 s later, is no line of its own, and
// differs from the first as the README says (-0.022 m, NMAD 0.017).
func TestRealSetB(t *testing.T) {
	s := mustSurvey(t, readFiles(t, setB...))
	if ids(s) != "707 706" || s.Strips[0].Looks != 2 || s.Strips[1].Looks != 1 {
		t.Fatalf("strips %q, looks %d and %d", ids(s), s.Strips[0].Looks, s.Strips[1].Looks)
	}
	near(t, "707", "time between its looks", s.Strips[0].LookGapS, 5.3, 0.5)
	r := s.Repeatability(overlap.DefaultRepeatabilityOptions())
	near(t, "707", "second look minus first", r.Strips[0].LookM, -0.022, 0.004)

	o := overlap.DefaultSurveyOptions()
	o.Mode = overlap.StripsByTime
	s, err := readFiles(t, setB...).Survey(o)
	if err != nil || len(s.Lines()) != 2 {
		t.Errorf("by time: %d lines, %v, want 2", len(s.Lines()), err)
	}
}

// Hard cases of the open data: how their strips come out.
func TestRealStrips(t *testing.T) {
	for _, c := range []struct {
		file string
		mode overlap.StripMode
		ids  string
		note string // in the survey's or a strip's notes
	}{
		{"lidar/ca-bc-forest-1.laz", overlap.StripsByID, "66 67 68", ""},
		// Every ID 0, four distinct times left of the damaged ones.
		{"lidar/us-ne-wkt-and-geokeys-usft.las", overlap.StripsByTime, "1 2 3 4", "times are damaged"},
		// 145 IDs of sub-frames. The times show two recordings, 43 minutes apart.
		{"odd/laszip4j-500m_IM2023_subset.laz", overlap.StripsByTime, "1 2", "no survey can have"},
		{"lidar/fr-ign-4lines-pdrf8-wkt2.laz", overlap.StripsByID, "800 801 802", "3 points only"},
		{"lidar/us-or-autzen-thin-feet.las", overlap.StripsByID, "7326 7327 7328 7329 7330 7331 7332 7333 7334", ""},
		{"lidar/us-pa-las10-pdrf0-usft.las", overlap.StripsByID, "238 239", ""},
		{"lidar/fi-sotkamo-1line.laz", overlap.StripsByID, "10", ""},
		{"lidar/fr-alps-7lines-crop.laz", overlap.StripsByID, "5280 5332 5333 5340 5341 5643 5646", ""},
	} {
		t.Run(c.file, func(t *testing.T) {
			s := mustSurvey(t, readFiles(t, c.file))
			if s.Mode != c.mode || ids(s) != c.ids {
				t.Errorf("mode %s (%s), strips %q, want %s, %q", s.Mode, s.Why, ids(s), c.mode, c.ids)
			}
			notes := slices.Clone(s.Notes)
			for _, st := range s.Strips {
				notes = append(notes, st.Notes...)
			}
			if !strings.Contains(strings.Join(notes, "\n"), c.note) {
				t.Errorf("no note with %q in %q", c.note, notes)
			}
		})
	}
	s := mustSurvey(t, readFiles(t, "lidar/fi-sotkamo-1line.laz"))
	if p := s.Pairs(overlap.DefaultPairOptions()); len(p) != 0 {
		t.Errorf("%d pairs of one line", len(p))
	}
	// Flown north, south, north (README), told from the points alone.
	s = mustSurvey(t, readFiles(t, "lidar/ca-bc-forest-1.laz"))
	for i, want := range []float64{0, 180, 0} {
		near(t, s.Strips[i].ID, "heading off, deg", turn(s.Strips[i].HeadingDeg(), want), 0, 6)
	}
}

// Every file that can be opened goes through everything without a panic.
func TestRealAll(t *testing.T) {
	for _, dir := range []string{"lidar", "odd"} {
		entries, err := os.ReadDir(realFile(t, dir))
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range entries {
			if ext := strings.ToLower(filepath.Ext(e.Name())); ext != ".las" && ext != ".laz" {
				continue
			}
			everything(t, dir+"/"+e.Name())
		}
	}
}

func everything(t *testing.T, name string) {
	t.Helper()
	f, err := las.Open(realFile(t, name))
	if err != nil {
		return // package las tests what is refused, and why
	}
	defer f.Close()
	auto := overlap.DefaultOptions()
	auto.AutoCell = true
	a, err := overlap.NewAccumulator(auto)
	if err != nil {
		t.Fatal(err)
	}
	for c, err := range f.Chunks(context.Background(), overlap.Columns, 1) {
		if err != nil {
			break
		}
		a.Add(c, 0)
	}
	for _, mode := range []overlap.StripMode{overlap.StripsAuto, overlap.StripsByID, overlap.StripsByTime, overlap.StripsByFile} {
		o := overlap.DefaultSurveyOptions()
		o.Mode = mode
		s, err := a.Survey(o)
		if errors.Is(err, overlap.ErrNoPoints) {
			return
		}
		if err != nil {
			t.Errorf("%s, by %s: %v", name, mode, err)
			return
		}
		if mode != overlap.StripsAuto {
			continue
		}
		pairs := s.Pairs(overlap.DefaultPairOptions())
		overlap.Loops(pairs)
		s.CombinedSeparation(pairs)
		s.Repeatability(overlap.DefaultRepeatabilityOptions())
		s.Coverage(overlap.DefaultCoverageOptions())
	}
}

// Leaving unclassified points out of a classified forest: the pair medians come
// to those measured on its ground points (README: +0.015, 0.000, 0.000 m from 22
// to 98 cells), which they miss by centimetres with them. Backs ExcludedClasses.
func TestRealClasses(t *testing.T) {
	worst := func(o overlap.Options) float64 {
		a, err := overlap.NewAccumulator(o)
		if err != nil {
			t.Fatal(err)
		}
		f, err := las.Open(realFile(t, "lidar/ca-bc-forest-1.laz"))
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		for c, err := range f.Chunks(context.Background(), overlap.Columns, 1) {
			if err != nil {
				t.Fatal(err)
			}
			a.Add(c, 0)
		}
		w := 0.0
		for i, p := range mustSurvey(t, a).Pairs(overlap.DefaultPairOptions()) {
			w = max(w, math.Abs(p.Used.MedianM-[]float64{0.015, 0, 0}[i]))
		}
		return w
	}
	o := overlap.DefaultOptions()
	o.CellM, o.Classified = 2, true
	if w := worst(o); w > 0.01 {
		t.Errorf("without class 1 a median is off by %.3f m, want 0.01 at most", w)
	}
	o.Classes = []uint8{1, 2}
	if w := worst(o); w < 0.02 {
		t.Errorf("with class 1 the worst median is off by %.3f m: leaving it out gains nothing here", w)
	}
}
