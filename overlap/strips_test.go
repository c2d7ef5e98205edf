package overlap_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"sidelap/overlap"
)

// ids lists the lines of a survey.
func ids(s *overlap.Survey) string {
	var v []string
	for _, st := range s.Lines() {
		v = append(v, st.ID)
	}
	return strings.Join(v, " ")
}

// twoLines are two opposed passes 30 m apart.
func twoLines(idA, idB uint16) *scene {
	s := newScene()
	r := rng(11)
	l := line{id: idA, startS: 1000, e: 400000, n: 5600000, speed: 6, lengthM: 120, heightM: 50, fanDeg: 70, density: 8, noiseM: 0.01, jitter: r}
	s.fly(l)
	l.id, l.startS, l.e, l.n, l.headingDeg = idB, 1060, 400030, 5600120, 180
	s.fly(l)
	return s
}

func TestStripRule(t *testing.T) {
	for _, c := range []struct {
		name string
		s    *scene
		mode overlap.StripMode
		ids  string
	}{
		{"an ID each", twoLines(7, 9), overlap.StripsByID, "7 9"},
		{"all zero", twoLines(0, 0), overlap.StripsByTime, "1 2"},
		{"one ID for all", twoLines(4, 4), overlap.StripsByID, "4 4.2"},
		{"no time, IDs", twoLines(7, 9).withoutTime(), overlap.StripsByID, "7 9"},
		{"no time, no IDs", twoLines(0, 0).withoutTime(), overlap.StripsByID, "0"},
		{"IDs of parts of a pass", subFrames(), overlap.StripsByTime, "1 2"},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := mustSurvey(t, sum(t, overlap.DefaultOptions(), c.s.out))
			if s.Mode != c.mode || ids(s) != c.ids {
				t.Errorf("mode %s, strips %q (%s), want %s, %q", s.Mode, ids(s), s.Why, c.mode, c.ids)
			}
			if s.Why == "" {
				t.Error("no reason given")
			}
		})
	}
}

// subFrames gives every second of two passes an ID of its own.
func subFrames() *scene {
	s := twoLines(0, 0)
	for _, c := range s.out {
		for i := range c.N {
			c.Source[i] = uint16(c.GPSTime[i] - 900)
		}
	}
	return s
}

// Headings, speeds, heights, widths of a pass in every direction, from the
// points alone, against how it was flown.
func TestStripFigures(t *testing.T) {
	for _, heading := range []float64{0, 45, 100, 200, 330} {
		s := newScene()
		s.fly(line{id: 1, startS: 500, e: 400000, n: 5600000, headingDeg: heading, speed: 7, lengthM: 140, heightM: 55, fanDeg: 70,
			density: 15, noiseM: 0.02, jitter: rng(uint64(heading))})
		st := mustSurvey(t, sum(t, overlap.DefaultOptions(), s.out)).Strips[0]
		what := fmt.Sprintf("heading %g", heading)
		width := 2 * 55 * math.Tan(35*math.Pi/180)
		near(t, what, "heading off, deg", turn(st.HeadingDeg(), heading), 0, 0.5)
		near(t, what, "speed", st.SpeedMPS, 7, 0.05)
		near(t, what, "height", st.HeightAGLM, 55, 0.2)
		near(t, what, "width", st.WidthM, width, 2)
		near(t, what, "length", st.LengthM, 140, 3)
		near(t, what, "density", st.DensityPerM2, 15, 0.1)
		near(t, what, "ANPS", st.ANPSM, 1/math.Sqrt(15), 0.002)
		near(t, what, "start", st.StartGPSS, 500, 0.01)
		near(t, what, "end", st.EndGPSS, 520, 0.01)
	}
}

// turn is the angle between two headings in degrees.
func turn(a, b float64) float64 {
	d := math.Mod(math.Abs(a-b), 360)
	return min(d, 360-d)
}

// An ID that comes back on another day, or in the other direction, is another
// strip; one that a tile border cuts is not.
func TestIDReused(t *testing.T) {
	base := line{id: 5, startS: 1000, e: 400000, n: 5600000, speed: 6, lengthM: 120, heightM: 50, fanDeg: 70, density: 8, noiseM: 0.01}
	for _, c := range []struct {
		name   string
		second func(*line)
		ids    string
		note   string
	}{
		{"next day", func(l *line) { l.startS += 86400 }, "5 5.2", "used before"},
		{"back after 20 s", func(l *line) { l.startS, l.headingDeg, l.n, l.e = 1040, 180, 5600120, 400060 }, "5 5.2", "heading changes"},
		{"cut by a border", func(l *line) { l.startS, l.n = 1030, 5600180 }, "5", "cut by a border"},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := newScene()
			l := base
			l.jitter = rng(12)
			s.fly(l)
			c.second(&l)
			s.fly(l)
			sv := mustSurvey(t, sum(t, overlap.DefaultOptions(), s.out))
			if ids(sv) != c.ids {
				t.Errorf("strips %q, want %q", ids(sv), c.ids)
			}
			found := false
			for _, st := range sv.Strips {
				for _, n := range st.Notes {
					found = found || strings.Contains(n, c.note)
				}
			}
			if !found {
				t.Errorf("no note with %q: %+v", c.note, sv.Strips[0].Notes)
			}
		})
	}
}

// A sensor that looks forward and back sees every spot twice, seconds apart, in
// one pass: no false line, and the looks are compared.
func TestTwoLooks(t *testing.T) {
	s := newScene()
	l := line{id: 5, startS: 1000, e: 400000, n: 5600000, speed: 8, lengthM: 160, heightM: 60, fanDeg: 60, density: 10, noiseM: 0.01, jitter: rng(13)}
	l.skip = func(e, n float64) bool { return n < 5600070 || n > 5600110 } // a tile of 40 m
	l.lookAheadM = 40
	s.fly(l)
	l.lookAheadM, l.offsetM = -40, 0.03
	s.fly(l)
	for _, id := range []uint16{5, 0} {
		for _, c := range s.out {
			for i := range c.N {
				c.Source[i] = id
			}
		}
		sv := mustSurvey(t, sum(t, overlap.DefaultOptions(), s.out))
		if len(sv.Lines()) != 1 || sv.Strips[0].Looks != 2 {
			t.Fatalf("ID %d: %d lines, %d looks, want 1 and 2; %s", id, len(sv.Lines()), sv.Strips[0].Looks, sv.Why)
		}
		near(t, "two looks", "time between", sv.Strips[0].LookGapS, 10, 1)
		near(t, "two looks", "heading off, deg", turn(sv.Strips[0].HeadingDeg(), 0), 0, 2)
		r := sv.Repeatability(overlap.DefaultRepeatabilityOptions())
		near(t, "two looks", "later minus earlier", r.Strips[0].LookM, 0.03, 0.001)
	}
}

// The same strip in two tiles is one strip; a file each, without IDs and time,
// are two.
func TestFiles(t *testing.T) {
	s := newScene()
	l := line{id: 5, startS: 1000, e: 400000, n: 5600000, speed: 8, lengthM: 160, heightM: 60, fanDeg: 60, density: 10, noiseM: 0.01, jitter: rng(14)}
	l.skip = func(e, n float64) bool { return n < 5600080 }
	s.fly(l)
	split := len(s.out)
	l.skip = func(e, n float64) bool { return n >= 5600080 }
	s.c = nil
	s.fly(l)
	build := func() *overlap.Accumulator {
		a, err := overlap.NewAccumulator(overlap.DefaultOptions())
		if err != nil {
			t.Fatal(err)
		}
		for i, c := range s.out {
			file := 0
			if i >= split {
				file = 1
			}
			a.Add(c, file)
		}
		return a
	}
	sv := mustSurvey(t, build())
	if ids(sv) != "5" || len(sv.Strips[0].Files) != 2 || sv.Strips[0].LengthM < 155 {
		t.Errorf("strips %q of files %v, length %.0f m, want 5 of both", ids(sv), sv.Strips[0].Files, sv.Strips[0].LengthM)
	}
	s.withoutTime()
	for _, c := range s.out {
		c.Source = nil
	}
	a := build()
	if sv = mustSurvey(t, a); sv.Mode != overlap.StripsByFile || ids(sv) != "1 2" {
		t.Errorf("mode %s, strips %q, want file, 1 2 (%s)", sv.Mode, ids(sv), sv.Why)
	}
	o := overlap.DefaultSurveyOptions()
	o.FileNames = []string{"north", "south"}
	sv, err := a.Survey(o)
	if err != nil || ids(sv) != "north south" && ids(sv) != "south north" {
		t.Errorf("strips %q, %v: want the files' names", ids(sv), err)
	}
}

// A handful of points with an ID of their own is named and not compared.
func TestStray(t *testing.T) {
	s := twoLines(7, 9)
	for i := range 50 {
		s.add(pulse{e: 400010 + float64(i%7), n: 5600050 + float64(i/7), z: 100, t: 1010, id: 8})
	}
	sv := mustSurvey(t, sum(t, overlap.DefaultOptions(), s.out))
	if len(sv.Lines()) != 2 || len(sv.Strips) != 3 || sv.Strips[2].Kind != overlap.Stray || sv.Strips[2].ID != "8" {
		t.Errorf("lines %q of %d strips", ids(sv), len(sv.Strips))
	}
	for _, p := range sv.Pairs(overlap.DefaultPairOptions()) {
		if p.A == 2 || p.B == 2 {
			t.Error("the stray is compared")
		}
	}
}

// Two channels of one scanner are looks of one strip, or strips when asked for.
func TestChannels(t *testing.T) {
	s := newScene()
	l := line{id: 5, startS: 1000, e: 400000, n: 5600000, speed: 6, lengthM: 60, heightM: 50, fanDeg: 70, density: 8, noiseM: 0.01, jitter: rng(15)}
	s.fly(l)
	l.channel = 1
	s.fly(l)
	a := sum(t, overlap.DefaultOptions(), s.out)
	if sv := mustSurvey(t, a); ids(sv) != "5" || len(sv.Strips[0].Channels) != 2 {
		t.Errorf("strips %q", ids(sv))
	}
	o := overlap.DefaultSurveyOptions()
	o.SplitChannels = true
	sv, err := a.Survey(o)
	if err != nil || ids(sv) != "5/0 5/1" {
		t.Errorf("strips %q, %v", ids(sv), err)
	}
}

// A strip left unclassified among classified ones is named.
func TestUnclassifiedStrip(t *testing.T) {
	s := twoLines(7, 9)
	for _, c := range s.out {
		for i := range c.N {
			c.Class[i] = 1
			if c.Source[i] == 7 {
				c.Class[i] = 2
			}
		}
	}
	o := overlap.DefaultOptions()
	o.Classified = true
	notes := strings.Join(mustSurvey(t, sum(t, o, s.out)).Notes, "\n")
	if !strings.Contains(notes, "strip 9: none of") || strings.Contains(notes, "strip 7") {
		t.Errorf("notes %q", notes)
	}
}

func TestNoPoints(t *testing.T) {
	a, err := overlap.NewAccumulator(overlap.DefaultOptions())
	if err != nil {
		t.Fatal(err)
	}
	if _, err := a.Survey(overlap.DefaultSurveyOptions()); err != overlap.ErrNoPoints {
		t.Errorf("error %v, want ErrNoPoints", err)
	}
	s := newScene()
	s.add(pulse{e: 400000, n: 5600000, z: 5, t: 3, id: 1})
	sv := mustSurvey(t, sum(t, overlap.DefaultOptions(), s.out))
	if p := sv.Pairs(overlap.DefaultPairOptions()); len(p) != 0 {
		t.Error("one point has no pairs")
	}
	if r := sv.Repeatability(overlap.DefaultRepeatabilityOptions()); r.Cells != 0 || !math.IsNaN(r.RMSM) {
		t.Errorf("one point has no repeatability: %+v", r)
	}
	sv.Coverage(overlap.DefaultCoverageOptions())
	// First returns only, of pulses with several: no facet anywhere.
	s = newScene()
	for i := range 500 {
		s.add(pulse{e: 400000 + float64(i%25), n: 5600000 + float64(i/25), z: 5, t: 3 + float64(i)/100, id: 1, ret: 1, of: 2})
	}
	sv = mustSurvey(t, sum(t, overlap.DefaultOptions(), s.out))
	sv.Pairs(overlap.DefaultPairOptions())
	sv.Repeatability(overlap.DefaultRepeatabilityOptions())
	if c := sv.Coverage(overlap.DefaultCoverageOptions()); c.AreaM2 < 400 {
		t.Errorf("area %g m2", c.AreaM2)
	}
	if _, err := a.Survey(overlap.SurveyOptions{Mode: "colour"}); err == nil {
		t.Error("an unknown mode is an error")
	}
	if _, err := overlap.NewAccumulator(overlap.Options{}); err == nil {
		t.Error("the zero Options are an error")
	}
}

// Assign gives each point the strip that Survey put it into, in every mode.
func TestAssign(t *testing.T) {
	s := twoLines(0, 0)
	s.add(pulse{e: 400010, n: 5600010, z: 100, t: 1005, class: 7})
	sv := mustSurvey(t, sum(t, overlap.DefaultOptions(), s.out))
	count := map[int32]int64{}
	var dst []int32
	for _, c := range s.out {
		dst = sv.Assign(dst[:0], c, 0)
		if len(dst) != c.N {
			t.Fatalf("%d strips for %d points", len(dst), c.N)
		}
		for i, k := range dst {
			count[k]++
			if k >= 0 && (c.GPSTime[i] < sv.Strips[k].StartGPSS || c.GPSTime[i] > sv.Strips[k].EndGPSS) {
				t.Fatalf("a point of %.3f s in a strip of %.3f..%.3f s", c.GPSTime[i], sv.Strips[k].StartGPSS, sv.Strips[k].EndGPSS)
			}
		}
	}
	if count[0] != sv.Strips[0].Points || count[1] != sv.Strips[1].Points || count[overlap.NoStrip] != 1 {
		t.Errorf("%v, want %d, %d and one of none", count, sv.Strips[0].Points, sv.Strips[1].Points)
	}
	if got := sv.Assign(nil, s.out[0], 5); got[0] != overlap.NoStrip {
		t.Errorf("a file that was never read: strip %d", got[0])
	}
}

// A multirotor that flies a line and comes back tail first beside it, without
// turning round and without a pause: two lines, told by the movement.
func TestFlownBackwards(t *testing.T) {
	s := newScene()
	l := line{startS: 1000, e: 400000, n: 5600000, speed: 5, lengthM: 100, heightM: 40, fanDeg: 60, density: 10, noiseM: 0.01, jitter: rng(16)}
	s.fly(l)
	l.startS, l.e, l.backward = 1021, 400025, true
	s.fly(l)
	sv := mustSurvey(t, sum(t, overlap.DefaultOptions(), s.out))
	if sv.Mode != overlap.StripsByTime || ids(sv) != "1 2" {
		t.Fatalf("mode %s, strips %q: %s", sv.Mode, ids(sv), sv.Why)
	}
	near(t, "out", "heading off, deg", turn(sv.Strips[0].HeadingDeg(), 0), 0, 2)
	near(t, "back", "heading off, deg", turn(sv.Strips[1].HeadingDeg(), 180), 0, 2)
	if p := sv.Pairs(overlap.DefaultPairOptions()); len(p) != 1 || math.Abs(p[0].Used.MedianM) > 0.002 {
		t.Errorf("%d pairs", len(p))
	}
}

// A flight over Saturday midnight in seconds of the week: the line that midnight
// cuts is one, the lines keep their order, and Assign takes the times as stored.
func TestEndOfWeek(t *testing.T) {
	s := newScene()
	r := rng(17)
	l := line{id: 1, startS: 604790, e: 400000, n: 5600000, speed: 6, lengthM: 120, heightM: 50, fanDeg: 70, density: 8, noiseM: 0.01, jitter: r}
	s.fly(l)
	l.id, l.startS, l.e, l.n, l.headingDeg = 2, 604850, 400030, 5600120, 180
	s.fly(l)
	for _, c := range s.out {
		for i, x := range c.GPSTime {
			c.GPSTime[i] = math.Mod(x, 604800)
		}
	}
	sv := mustSurvey(t, sum(t, overlap.DefaultOptions(), s.out))
	if ids(sv) != "1 2" || !strings.Contains(strings.Join(sv.Notes, " "), "end of a GPS week") {
		t.Fatalf("strips %q, notes %q", ids(sv), sv.Notes)
	}
	near(t, "week", "start", sv.Strips[0].StartGPSS, 604790, 0.1)
	near(t, "week", "end", sv.Strips[0].EndGPSS, 604810, 0.1)
	near(t, "week", "speed", sv.Strips[0].SpeedMPS, 6, 0.05)
	p := sv.Pairs(overlap.DefaultPairOptions())[0]
	if c := p.Cells[0]; p.IDA != "1" || c.TimeAS < 604790 || c.TimeBS < 604850 {
		t.Errorf("A is %s, times %.1f and %.1f s", p.IDA, c.TimeAS, c.TimeBS)
	}
	for _, c := range s.out {
		for i, k := range sv.Assign(nil, c, 0) {
			if int(c.Source[i]) != int(k)+1 {
				t.Fatalf("a point of ID %d at %.2f s in strip %d", c.Source[i], c.GPSTime[i], k)
			}
		}
	}
}
