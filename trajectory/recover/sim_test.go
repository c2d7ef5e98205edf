package recover

import (
	"fmt"
	"math"
	"os"
	"testing"

	"sidelap/las"
	"sidelap/trajectory"
	"sidelap/trajectory/simulate"
)

func collector(t testing.TB) *Collector {
	t.Helper()
	c, err := NewCollector(DefaultOptions())
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func fly(t testing.TB, s simulate.Scenario) *simulate.Flight {
	t.Helper()
	f, err := simulate.Fly(s)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// errors are the differences of a recovered path to the true place of the scanner.
type errors struct {
	along, across, up, heading []float64 // m, m, m, rad
	norm                       []float64 // along, across and up over their standard deviations
}

func (e *errors) rms(v []float64) float64 {
	s := 0.0
	for _, x := range v {
		s += x * x
	}
	return math.Sqrt(s / float64(len(v)))
}

// shareBeyond returns the share of normalised errors beyond k.
func (e *errors) shareBeyond(k float64) float64 {
	n := 0
	for _, x := range e.norm {
		if math.Abs(x) > k {
			n++
		}
	}
	return float64(n) / float64(len(e.norm))
}

// against compares the samples of a path with the flight, which is in the stored time
// less shift. The scanner is at the reference point plus the true lever arm.
func against(p *trajectory.Path, f *simulate.Flight) *errors {
	e := &errors{}
	mount := f.TrueMount()
	shift := f.StoredTimeS(0)
	for i, ts := range p.TimeS {
		pose := f.True.At(ts - shift)
		var d vec
		d[0], d[1], d[2] = mount.Georeference(pose, 0, 0)
		d = vec{p.EM[i], p.NM[i], p.HM[i]}.sub(d)
		v := f.True.At(ts - shift + 0.05)
		course := math.Atan2(v.EM-pose.EM, v.NM-pose.NM)
		sin, cos := math.Sincos(course)
		along, across := d[0]*sin+d[1]*cos, d[0]*cos-d[1]*sin
		e.along, e.across, e.up = append(e.along, along), append(e.across, across), append(e.up, d[2])
		s := p.Sigma
		e.norm = append(e.norm, d[0]/s.EastM[i], d[1]/s.NorthM[i], d[2]/s.UpM[i])
		if p.HeadingRad != nil {
			e.heading = append(e.heading, math.Remainder(p.HeadingRad[i]-pose.HeadingRad, 2*math.Pi))
		}
	}
	return e
}

// wholeDegrees rounds scan angles as formats 0 to 5 store them.
func wholeDegrees(c *las.Chunk) {
	for i := range c.N {
		deg := math.Round(float64(c.ScanAngle[i]) * las.ScanAngleStepDeg)
		c.ScanAngle[i] = int16(math.Round(deg / las.ScanAngleStepDeg))
	}
}

func noAngles(c *las.Chunk) { clear(c.ScanAngle[:c.N]) }

func leftPositive(c *las.Chunk) {
	for i := range c.N {
		c.ScanAngle[i] = -c.ScanAngle[i]
	}
}

func bare(s *simulate.Scenario) {
	s.Terrain.Woods, s.Terrain.ScatteredTrees, s.Terrain.BrushPerHa, s.Terrain.Houses = 0, 0, 0, 0
}

// TestSimulatedFlights recovers the scanner of simulated flights whose truth is known.
// The limits are the metres that the correction without a trajectory needs (an error
// of 3 m leaves 2.6 mm of a boresight of 0.05 degrees: georeferencing-and-adjustment.md,
// section 9), and half of the stated sigma rule: no more than 5 % of errors beyond 3
// of them.
func TestSimulatedFlights(t *testing.T) {
	for _, c := range []struct {
		name       string
		change     func(s *simulate.Scenario)
		points     func(c *las.Chunk)
		level      Level
		alongM     float64 // largest RMS
		acrossM    float64
		upM        float64
		headingDeg float64 // largest RMS; 0 = no heading expected
	}{
		{"woods", func(s *simulate.Scenario) {}, nil, LevelRays, 1, 0.1, 0.15, 1},
		{"whole degrees", func(s *simulate.Scenario) {}, wholeDegrees, LevelRays, 1, 0.5, 1, 1},
		{"no scan angles", func(s *simulate.Scenario) { s.Terrain.Woods, s.Terrain.ScatteredTrees = 8, 150 }, noAngles, LevelRays, 2, 2, 2, 0},
		{"bare", bare, nil, LevelAngles, 5, 0.1, 0.15, 1},
		{"bare, whole degrees", bare, wholeDegrees, LevelAngles, 5, 0.5, 1, 1.5},
		{"bare plane", func(s *simulate.Scenario) { bare(s); s.Terrain.ReliefM, s.Terrain.SlopeE, s.Terrain.SlopeN = 0, 0, 0 }, nil, LevelAngles, 5, 0.1, 0.15, 1},
		{"angles positive to the left", func(s *simulate.Scenario) {}, leftPositive, LevelRays, 1, 0.1, 0.15, 1},
		{"one source, turns recorded", func(s *simulate.Scenario) {
			s.Label.SourceIDs, s.Plan.ExtendRecordingPast = simulate.SourceOne, true
		}, nil, LevelRays, 1, 0.1, 0.15, 1},
		{"oscillating, week seconds", func(s *simulate.Scenario) {
			s.Scanner.Oscillating, s.Label.Time = true, simulate.TimeWeek
		}, nil, LevelRays, 1, 0.1, 0.15, 1},
		{"low and gusty", func(s *simulate.Scenario) {
			s.Plan.HeightM = 40
			s.Motion.RollRMSDeg, s.Motion.PitchRMSDeg, s.Motion.HeadingRMSDeg, s.Motion.TrackRMSM = 2, 1.5, 1.5, 0.4
		}, nil, LevelRays, 1.2, 0.2, 0.2, 1.5},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := simulate.SmallScenario()
			c.change(&s)
			f := fly(t, s)
			col := collector(t)
			for ch := range f.Chunks() {
				if c.points != nil {
					c.points(ch)
				}
				col.Add(ch, 0)
			}
			r := col.Recover()
			if r.Path == nil {
				t.Fatalf("no path: %+v", r.Legs)
			}
			if err := r.Path.Validate(); err != nil {
				t.Fatal(err)
			}
			e := against(r.Path, f)
			text := fmt.Sprintf("level %s, RMS along %.3f, across %.3f, up %.3f m, heading %.2f degrees, %.1f %% beyond 3 sigma", r.Level,
				e.rms(e.along), e.rms(e.across), e.rms(e.up), e.rms(e.heading)*180/math.Pi, 100*e.shareBeyond(3))
			t.Log(text)
			for _, l := range r.Legs {
				t.Logf("%+v", l)
			}
			if r.Level != c.level || !(e.rms(e.along) < c.alongM) || !(e.rms(e.across) < c.acrossM) || !(e.rms(e.up) < c.upM) || e.shareBeyond(3) > 0.05 {
				t.Errorf("%s; want level %s, below %g, %g, %g m and 5 %%", text, c.level, c.alongM, c.acrossM, c.upM)
			}
			if c.headingDeg == 0 {
				if r.Path.HasAttitude() {
					t.Error("heading without scan angles")
				}
			} else if !(e.rms(e.heading)*180/math.Pi < c.headingDeg) {
				t.Errorf("heading RMS %.2f degrees, want below %g", e.rms(e.heading)*180/math.Pi, c.headingDeg)
			}
		})
	}
}

// TestManySeeds: the errors stay inside the stated standard deviations over seeds.
func TestManySeeds(t *testing.T) {
	seeds := 6
	if os.Getenv("SIDELAP_LONG") == "1" {
		seeds = 60
	}
	var all errors
	for seed := range seeds {
		s := simulate.SmallScenario()
		s.Seed = uint64(100 + seed)
		if seed%2 == 1 {
			bare(&s)
		}
		f := fly(t, s)
		col := collector(t)
		for ch := range f.Chunks() {
			col.Add(ch, 0)
		}
		r := col.Recover()
		if r.Path == nil {
			t.Fatalf("seed %d: no path: %+v", seed, r.Legs)
		}
		e := against(r.Path, f)
		all.norm = append(all.norm, e.norm...)
		if e.shareBeyond(3) > 0.1 {
			t.Errorf("seed %d: %.1f %% of errors beyond 3 sigma; along %.2f across %.2f up %.2f m RMS", seed, 100*e.shareBeyond(3), e.rms(e.along), e.rms(e.across), e.rms(e.up))
		}
	}
	t.Logf("%d seeds: %.2f %% beyond 3 sigma, RMS of normalised errors %.2f", seeds, 100*all.shareBeyond(3), all.rms(all.norm))
	if all.shareBeyond(3) > 0.02 {
		t.Errorf("%.2f %% of errors beyond 3 sigma, want at most 2 %%", 100*all.shareBeyond(3))
	}
}
