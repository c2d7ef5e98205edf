package simulate

import (
	"math"
	"os"
	"testing"

	"sidelap/las"
)

// Every case flies over every geometry, names exactly its kinds, and gives points. SIDELAP_LONG=1: 10 seeds each.
func TestCatalogue(t *testing.T) {
	seeds := uint64(1)
	if os.Getenv("SIDELAP_LONG") != "" {
		seeds = 10
	}
	var cases []Case
	for _, g := range Geometries() {
		for _, c := range FaultCases() {
			if seeds > 1 || g.Name == "with cross strip" || c.Name == "clean" {
				cases = append(cases, Case{g.Name + ", " + c.Name, c.Kinds, func(s *Scenario) { g.Apply(s); c.Apply(s) }})
			}
		}
	}
	for _, c := range FieldCases() {
		cases = append(cases, Case{c.Name, nil, c.Apply})
	}
	for _, c := range cases {
		for seed := range seeds {
			s := SmallScenario()
			s.Seed = seed + 1
			c.Apply(&s)
			f := fly(t, s)
			got := map[string]bool{}
			for _, k := range f.Causes() {
				got[k.Kind] = true
			}
			if len(got) != len(c.Kinds) {
				t.Errorf("%s: causes %v, want %v", c.Name, f.Causes(), c.Kinds)
			}
			for _, k := range c.Kinds {
				if !got[k] {
					t.Errorf("%s: no cause %s", c.Name, k)
				}
			}
			for i := 1; i < len(f.Strips); i++ {
				if f.Strips[i].StartS <= f.Strips[i-1].EndS {
					t.Errorf("%s: strip %d starts before strip %d ends", c.Name, i+1, i)
				}
			}
			for ch := range f.StripChunks(0) {
				if ch.N == 0 {
					t.Errorf("%s: empty chunk", c.Name)
				}
				break
			}
		}
	}
	for _, c := range BlunderCases() {
		s := SmallScenario()
		c.Apply(&s)
		fly(t, s)
	}
}

func TestOscillatingScanner(t *testing.T) {
	s := FlatScenario()
	s.Scanner.Oscillating = true
	s.Scanner.PulseRateHz = 8000
	f := fly(t, s)
	var up, down int
	var lastA float64
	var lastFlag uint8
	for c, tr := range f.StripChunksWithTruth(0) {
		for k := range c.N {
			if flag := c.Flags[k] & las.FlagScanDirection; k > 0 && flag == lastFlag {
				if flag != 0 && tr.AngleRad[k] > lastA {
					up++
				} else if flag == 0 && tr.AngleRad[k] < lastA {
					down++
				} else {
					t.Fatalf("angle %.4f after %.4f with direction flag %d", tr.AngleRad[k], lastA, flag)
				}
			}
			lastA, lastFlag = tr.AngleRad[k], c.Flags[k]&las.FlagScanDirection
		}
	}
	if up < 1000 || down < 1000 {
		t.Errorf("%d steps to the right, %d to the left", up, down)
	}
}

// Water gives returns near the vertical only, class 9; painted targets are bright.
func TestWaterAndTargets(t *testing.T) {
	s := SmallScenario()
	s.Terrain.WaterRadiusM = 12
	s.Survey.TargetRadiusM = 0.6
	f := fly(t, s)
	var water, wide, bright, dark float64
	for i := range f.Strips {
		for c, tr := range f.StripChunksWithTruth(i) {
			for k := range c.N {
				switch tr.Cover[k] {
				case CoverWater:
					water++
					if c.Class[k] != 9 {
						t.Fatalf("class %d on water", c.Class[k])
					}
					if math.Abs(tr.AngleRad[k]) > 20*deg {
						wide++
					}
				case CoverHard:
					if f.onTarget(tr.EM[k]-s.Site.CentreEM, tr.NM[k]-s.Site.CentreNM) {
						bright++
						if c.Intensity[k] < 25000 {
							t.Fatalf("intensity %d on a target", c.Intensity[k])
						}
					} else {
						dark++
						if c.Intensity[k] > 25000 {
							t.Fatalf("intensity %d on asphalt", c.Intensity[k])
						}
					}
				}
			}
		}
	}
	if water < 100 || wide > 0.1*water || bright < 50 || dark < 1000 {
		t.Errorf("%g returns from water, %g of them wide; %g on targets, %g on asphalt", water, wide, bright, dark)
	}
}

// A random spline has the standard deviation asked for; the other drifts their formulas.
func TestDriftShapes(t *testing.T) {
	var ss, n float64
	for seed := range uint64(200) {
		c := Drift{Shape: DriftSpline, PeriodS: 5}.curve(100, 150, seed)
		for x := 100.0; x <= 150; x += 0.5 {
			ss, n = ss+c(x)*c(x), n+1
		}
	}
	near(t, "standard deviation of splines", "", math.Sqrt(ss/n), 1, 0.06)
	l := Drift{Shape: DriftLinear}.curve(10, 20, 1)
	near(t, "linear, start and end", "", l(20)-l(10), 1, 1e-12)
	st := Drift{Shape: DriftStep, At: 0.3}.curve(10, 20, 1)
	near(t, "step", "", st(13.01)-st(12.99), 1, 0)
	w := Drift{Shape: DriftWave, PeriodS: 4}.curve(10, 20, 1)
	near(t, "wave", "", w(11), 1, 1e-12)
}

// Following the terrain keeps the height above ground steadier than a level flight.
func TestFollowTerrain(t *testing.T) {
	spread := func(follow bool) float64 {
		s := SmallScenario()
		s.Terrain.SlopeE, s.Terrain.SlopeN, s.Plan.FollowTerrain = 0.1, 0.08, follow
		f := fly(t, s)
		var n, h, h2 float64
		for i, ts := range f.True.TimeS {
			if f.stripAt(ts) > 0 {
				a := f.True.HM[i] - f.Surface.GroundM(f.True.EM[i], f.True.NM[i])
				n, h, h2 = n+1, h+a, h2+a*a
			}
		}
		return math.Sqrt(h2/n - h*h/n/n)
	}
	if level, follow := spread(false), spread(true); follow > 0.4*level {
		t.Errorf("height above ground spreads %.2f m following the terrain, %.2f m level", follow, level)
	}
}
