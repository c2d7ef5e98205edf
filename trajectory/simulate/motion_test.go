package simulate

import (
	"math"
	"os/exec"
	"strconv"
	"strings"
	"testing"
)

// UTM agrees with PROJ (cs2cs) within 0.1 mm, both ways; convergence and scale with their definitions
// by finite steps of PROJ-checked positions are implied.
func TestUTMAgainstPROJ(t *testing.T) {
	cs2cs, err := exec.LookPath("cs2cs")
	if err != nil {
		t.Skip("cs2cs of PROJ is not installed")
	}
	for _, c := range []struct {
		epsg     string
		u        UTM
		lat, lon float64 // degrees
	}{
		{"EPSG:32633", UTM{33, false}, 50.19, 12.97},
		{"EPSG:32633", UTM{33, false}, 69.5, 17.8},
		{"EPSG:32755", UTM{55, true}, -37.1, 147.9},
		{"EPSG:32701", UTM{1, true}, -0.02, -179.9},
	} {
		cmd := exec.Command(cs2cs, "-f", "%.6f", "EPSG:4326", c.epsg)
		cmd.Stdin = strings.NewReader(strconv.FormatFloat(c.lat, 'f', -1, 64) + " " + strconv.FormatFloat(c.lon, 'f', -1, 64) + "\n")
		out, err := cmd.Output()
		if err != nil {
			t.Fatalf("cs2cs: %v", err)
		}
		w := strings.Fields(string(out))
		wantE, _ := strconv.ParseFloat(w[0], 64)
		wantN, _ := strconv.ParseFloat(w[1], 64)
		e, n := c.u.Forward(c.lat*deg, c.lon*deg)
		near(t, c.epsg+" easting", "m", e, wantE, 1e-4)
		near(t, c.epsg+" northing", "m", n, wantN, 1e-4)
		lat, lon := c.u.Inverse(wantE, wantN)
		near(t, c.epsg+" latitude", "deg", lat/deg, c.lat, 1e-9)
		near(t, c.epsg+" longitude", "deg", lon/deg, c.lon, 1e-9)
	}
}

// Convergence gamma ~ (lon - lon0) sin(lat), positive east of the axis in the north (section 1); point
// scale 0.9996 on the axis, and 0.9996 (1 + dE^2 / 2 R^2) off it.
func TestConvergenceAndScale(t *testing.T) {
	u := UTM{33, false}
	near(t, "convergence", "rad", u.Convergence(50*deg, 15.5*deg), 0.5*deg*math.Sin(50*deg), 1e-6)
	near(t, "convergence west", "rad", u.Convergence(50*deg, 14.5*deg), -0.5*deg*math.Sin(50*deg), 1e-6)
	near(t, "convergence south", "rad", UTM{33, true}.Convergence(-50*deg, 15.5*deg), -0.5*deg*math.Sin(50*deg), 1e-6)
	near(t, "scale on the axis", "", u.PointScale(50*deg, 15*deg), 0.9996, 1e-9)
	e, n := 355420.0, 5561260.0
	lat, lon := u.Inverse(e, n)
	near(t, "scale at 145 km", "", u.PointScale(lat, lon), 0.9996*(1+math.Pow((e-5e5)/0.9996/6.384e6, 2)/2), 2e-7)
}

// Each Dubins path ends where it should, with the turns asked for.
func TestDubins(t *testing.T) {
	p := place{10, 20, 0.3}
	for i := range 400 {
		f := float64(i)
		q := place{10 + 60*math.Sin(f*1.7), 20 + 60*math.Cos(f*0.9), f * 0.61}
		arcs := dubins(p, q, 12)
		at, l := p, 0.0
		for _, a := range arcs {
			if a.curv != 0 && math.Abs(math.Abs(a.curv)-1.0/12) > 1e-12 {
				t.Fatalf("curvature %g", a.curv)
			}
			at = at.along(a.lenM, a.curv)
			l += a.lenM
		}
		near(t, "end easting", "m", at.e, q.e, 1e-4)
		near(t, "end northing", "m", at.n, q.n, 1e-4)
		near(t, "end azimuth", "", math.Cos(at.az-q.az), 1, 1e-9)
		if d := math.Hypot(q.e-p.e, q.n-p.n); l < d || l > d+2*math.Pi*12*2 {
			t.Fatalf("path of %.1f m over a distance of %.1f m", l, d)
		}
	}
}

// The flight has the parts of the plan in order: still, straight run fast enough, figure-eights with full
// turns both ways, strips at speed, height and heading, and a still end (practice.md section 5).
func TestFlightFollowsThePlan(t *testing.T) {
	s := DefaultScenario()
	f := fly(t, s)
	p := f.True
	still, after := 0.0, 0.0
	for i := 0; f.Events[i] == EventStill; i++ {
		still += 1 / s.Process.RateHz
		if v := speedAt(p, i); v > 1e-5 && still < s.Plan.StillBeforeS-2 { // take-off is smoothed over 1.5 s
			t.Fatalf("moves at %.4f m/s while still", v)
		}
	}
	for i := p.Len() - 1; f.Events[i] == EventStill; i-- {
		after += 1 / s.Process.RateHz
	}
	near(t, "still before", "s", still, s.Plan.StillBeforeS, 0.1)
	near(t, "still after", "s", after, s.Plan.StillAfterS, 0.1)
	var left, right, fastest, fastS float64
	for i := 1; i < p.Len(); i++ {
		switch {
		case f.Events[i] == EventStraightRun:
			fastest = math.Max(fastest, speedAt(p, i))
			if speedAt(p, i) > 5 {
				fastS += 1 / s.Process.RateHz
			}
		case f.Events[i] == EventFigureEight && p.TimeS[i] < f.Strips[0].StartS:
			d := courseAt(p, i) - courseAt(p, i-1)
			d = wrapPi(d)
			left += math.Max(-d, 0)
			right += math.Max(d, 0)
		}
	}
	if fastest < 8 || fastS < 6 {
		t.Errorf("straight run: %.1f m/s at most, %.1f s above 5 m/s", fastest, fastS)
	}
	want := 2 * math.Pi * float64(s.Plan.FigureEightsBefore)
	near(t, "turned left in figure-eights", "rad", left, want, 0.1*want)
	near(t, "turned right in figure-eights", "rad", right, want, 0.1*want)
	for i := range f.Strips {
		checkStripMotion(t, f, &f.Strips[i])
	}
}

func speedAt(p *Path, i int) float64 {
	i = min(max(i, 1), p.Len()-2)
	return math.Hypot(p.EM[i+1]-p.EM[i-1], p.NM[i+1]-p.NM[i-1]) * p.rateHz / 2
}

func courseAt(p *Path, i int) float64 {
	i = min(max(i, 1), p.Len()-2)
	return math.Atan2(p.EM[i+1]-p.EM[i-1], p.NM[i+1]-p.NM[i-1])
}

func checkStripMotion(t *testing.T, f *Flight, st *Strip) {
	t.Helper()
	s := &f.Scenario
	sin, cos := math.Sincos(st.HeadingRad)
	var n, roll, roll2, h float64
	for i, ts := range f.True.TimeS {
		if ts < st.StartS || ts > st.EndS {
			continue
		}
		p := f.True
		near(t, "speed on the strip", "m/s", speedAt(p, i), st.SpeedMPS, 0.6)
		off := (p.EM[i]-st.FromEM)*cos - (p.NM[i]-st.FromNM)*sin
		near(t, "distance from the line", "m", off, 0, 5*s.Motion.TrackRMSM)
		near(t, "crab", "rad", wrapPi(p.HeadingRad[i]-st.HeadingRad), 0, (s.Motion.CrabDeg+5*s.Motion.HeadingRMSDeg)*deg)
		roll, roll2, h, n = roll+p.RollRad[i], roll2+p.RollRad[i]*p.RollRad[i], h+p.HM[i], n+1
		if t.Failed() {
			t.Fatalf("strip %d at %.2f s", st.Number, ts)
		}
	}
	near(t, "height of the strip", "m", h/n-s.Site.GroundM, st.HeightM, 3*s.Motion.HeightRMSM)
	near(t, "RMS roll", "deg", math.Sqrt(roll2/n)/deg, s.Motion.RollRMSDeg, 0.5*s.Motion.RollRMSDeg)
	length := math.Hypot(st.ToEM-st.FromEM, st.ToNM-st.FromNM)
	near(t, "time on the strip", "s", st.EndS-st.StartS, length/st.SpeedMPS, 0.5)
	a := f.True.At(st.StartS)
	near(t, "start, along", "m", (a.EM-st.FromEM)*sin+(a.NM-st.FromNM)*cos, 0, 5*s.Motion.TrackRMSM+0.3)
}

// In a turn to the right the right wing is down (roll positive), as section 12 checks trajectories.
func TestBankIntoTheTurn(t *testing.T) {
	s := DefaultScenario()
	s.Motion.RollRMSDeg = 0
	f := fly(t, s)
	var sum, n float64
	for i := 1; i < f.True.Len(); i++ {
		if f.Events[i] != EventFigureEight {
			continue
		}
		rate := (f.True.HeadingRad[i] - f.True.HeadingRad[i-1]) * s.Process.RateHz
		if math.Abs(rate) < 0.2 {
			continue
		}
		sum += f.True.RollRad[i] / math.Atan(s.Plan.TurnSpeedMPS*rate/gravityMPS2)
		n++
	}
	near(t, "bank over coordinated bank", "", sum/n, s.Motion.Bank, 0.25)
}

// Plan options change what they name.
func TestPlanVariants(t *testing.T) {
	s := SmallScenario()
	s.Plan.SecondHeightM, s.Plan.SecondStrips = 80, 2
	s.Plan.LandBetweenBlocksS = 40
	s.Plan.SpeedChangeStrip, s.Plan.SpeedChangeFactor = 2, 0.6
	s.Plan.StripOffsetsM = []float64{0, 0, 18}
	s.Plan.StillBeforeS, s.Plan.FigureEightsBefore = 5, 0
	s.Plan.ExtendRecordingPast = true
	f := fly(t, s)
	if n := len(f.Strips); n != 6 || f.Strips[5].Kind != KindSecond {
		t.Fatalf("%d strips, last %v; want 6, second height", n, f.Strips[n-1].Kind)
	}
	mid := f.True.At((f.Strips[4].StartS + f.Strips[4].EndS) / 2)
	near(t, "height of the second block", "m", mid.HM-s.Site.GroundM, 80, 1)
	i := int((0.5*(f.Strips[1].StartS+f.Strips[1].EndS) - f.True.TimeS[0]) * s.Process.RateHz)
	near(t, "changed speed", "m/s", speedAt(f.True, i), 0.6*s.Plan.SpeedMPS, 0.5)
	ground := 0.0
	for k := range f.Events {
		if f.Events[k] == EventFigureEight && f.True.TimeS[k] < f.Strips[0].StartS {
			t.Fatal("a figure-eight before the strips though none was planned")
		}
		if f.Events[k] == EventStill && f.True.TimeS[k] > f.Strips[3].EndS && f.True.TimeS[k] < f.Strips[4].StartS {
			ground += 1 / s.Process.RateHz
		}
	}
	near(t, "battery swap", "s", ground, 40, 0.5)
	if len(f.Turns) < 5 {
		t.Errorf("%d recorded turns, want one between each two strips", len(f.Turns))
	}
	n := 0
	for i := range f.Turns {
		for c := range f.TurnChunks(i, Metres) {
			n += c.N
		}
	}
	if n < 10000 {
		t.Errorf("%d points in turns", n)
	}
}

// Slow path noise has the size asked for; a clean path is the true one.
func TestPathNoise(t *testing.T) {
	s := SmallScenario()
	f := fly(t, s)
	if e := f.ErrorAt(f.Strips[2].StartS + 3); e != [6]float64{} {
		t.Errorf("a clean flight has path errors %v", e)
	}
	s.Process.NoiseVerticalM = 0.02
	var sum2, n float64
	for seed := range uint64(12) {
		s.Seed = seed + 1
		f = fly(t, s)
		for ts := f.True.TimeS[0]; ts < f.PowerOffS(); ts += 15 {
			e := f.ErrorAt(ts)[2]
			sum2, n = sum2+e*e, n+1
		}
	}
	near(t, "standard deviation of the height error", "m", math.Sqrt(sum2/n), 0.02, 0.005)
}

func TestValidateNamesTheField(t *testing.T) {
	for _, c := range []struct {
		change func(*Scenario)
		want   string
	}{
		{func(s *Scenario) { s.Plan.HeightM = 0 }, "Plan.HeightM"},
		{func(s *Scenario) { s.Terrain.ReliefM = math.NaN() }, "Terrain.ReliefM"},
		{func(s *Scenario) { s.Scanner.FieldOfViewDeg = 200 }, "Scanner.FieldOfViewDeg"},
		{func(s *Scenario) { s.Faults.Strips = []StripFault{{Strip: 9}} }, "Faults.Strips"},
		{func(s *Scenario) { s.Faults.Strips = []StripFault{{Strip: 1, Roll: Drift{Shape: DriftWave, Size: 1}}} }, "PeriodS"},
		{func(s *Scenario) { s.Faults.Strips = []StripFault{{Strip: 1, HeightM: math.Inf(1)}} }, "Faults.Strips[0].HeightM"},
		{func(s *Scenario) { s.Plan.Strips, s.Plan.CrossStrips = 0, 0 }, "strips"},
		{func(s *Scenario) { s.Plan.StripLengthM = 1e9 }, "km"},
		{func(s *Scenario) { s.Plan.SecondStrips = 2 }, "SecondHeightM"},
	} {
		s := SmallScenario()
		c.change(&s)
		if _, err := Fly(s); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("error %v, want one that names %s", err, c.want)
		}
	}
}
