package overlap_test

import (
	"math"
	"os"
	"testing"

	"sidelap/overlap"
	"sidelap/trajectory/simulate"
)

// seeds is the number of simulated flights of a study: 20 with SIDELAP_LONG=1.
func seeds() uint64 {
	if os.Getenv("SIDELAP_LONG") != "" {
		return 20
	}
	return 6
}

// flown is a simulated flight, its survey and the truth that only the simulator has.
type flown struct {
	f      *simulate.Flight
	s      *overlap.Survey
	pairs  []overlap.Pair
	noiseM float64 // root mean square of measured minus true height on hard ground
}

func fly(t testing.TB, sc simulate.Scenario) flown {
	t.Helper()
	f, err := simulate.Fly(sc)
	if err != nil {
		t.Fatal(err)
	}
	o := overlap.DefaultOptions()
	o.Classified = true
	a, err := overlap.NewAccumulator(o)
	if err != nil {
		t.Fatal(err)
	}
	out := flown{f: f}
	var ss, n float64
	for i := range f.Strips {
		for c, truth := range f.StripChunksWithTruth(i) {
			a.Add(c, 0)
			for k := range c.N {
				if truth.Cover[k] != simulate.CoverHard {
					continue
				}
				d := c.Frame.ZM(c.Z[k]) - f.Surface.GroundM(c.Frame.XM(c.X[k]), c.Frame.YM(c.Y[k]))
				ss += d * d
				n++
			}
		}
	}
	for i := range f.Turns {
		for c := range f.TurnChunks(i, simulate.Metres) {
			a.Add(c, 0)
		}
	}
	out.noiseM = math.Sqrt(ss / n)
	out.s = mustSurvey(t, a)
	out.pairs = out.s.Pairs(overlap.DefaultPairOptions())
	return out
}

// zScores collects errors in units of their stated sigma.
type zScores struct {
	name string
	z    []float64
}

func (z *zScores) add(got, want, sigma float64) { z.z = append(z.z, (got-want)/sigma) }

// check asks that the stated sigma is neither too small nor twice too large.
func (z *zScores) check(t *testing.T, most float64) {
	t.Helper()
	var ss, worst float64
	for _, v := range z.z {
		ss += v * v
		worst = max(worst, math.Abs(v))
	}
	r := math.Sqrt(ss / float64(len(z.z)))
	t.Logf("%s: %d errors, %.2f of the stated sigma (rms), worst %.2f", z.name, len(z.z), r, worst)
	if !(r < 1.5 && r > 0.4 && worst < most) {
		t.Errorf("%s: %d errors, rms %.2f and worst %.2f of the stated sigma", z.name, len(z.z), r, worst)
	}
}

// Known strip heights, noise, density and sidelap over many flights: every
// figure within its stated uncertainty of the simulator's truth.
func TestSimulatedTruth(t *testing.T) {
	medians, density, sidelap := zScores{name: "median separation"}, zScores{name: "density"}, zScores{name: "sidelap"}
	var ratio []float64
	for seed := uint64(1); seed <= seeds(); seed++ {
		sc := simulate.SmallScenario()
		sc.Seed = seed
		offset := []float64{0, 0.05, -0.03, 0.02}
		for i, h := range offset {
			sc.Faults.Strips = append(sc.Faults.Strips, simulate.StripFault{Strip: i + 1, HeightM: h})
		}
		x := fly(t, sc)
		if len(x.s.Lines()) != 4 {
			t.Fatalf("seed %d: strips %q: %s", seed, ids(x.s), x.s.Why)
		}
		for _, p := range x.pairs {
			if p.Used.Cells >= 30 {
				medians.add(p.Used.MedianM, offset[p.B]-offset[p.A], p.MedianSigmaM)
			}
		}
		sc.Faults.Strips = nil
		clean := fly(t, sc)
		r := clean.s.Repeatability(overlap.DefaultRepeatabilityOptions())
		ratio = append(ratio, r.NoiseM/clean.noiseM)
		for i := range clean.s.Lines() {
			st := &clean.s.Strips[i]
			want := expectedDensity(sc, st.HeightAGLM)
			density.add(st.DensityPerM2, want, 0.03*want) // speed and height change along a strip
			plan := clean.f.Strips[i]
			near(t, st.ID, "heading off, deg", turn(st.HeadingDeg(), plan.HeadingRad*180/math.Pi), 0, 2)
			near(t, st.ID, "speed", st.SpeedMPS, plan.SpeedMPS, 0.2)
		}
		for _, p := range clean.pairs {
			if p.Crossing || p.B != p.A+1 {
				continue
			}
			a, b := &clean.s.Strips[p.A], &clean.s.Strips[p.B]
			wa, wb := swath(sc, a.HeightAGLM), swath(sc, b.HeightAGLM)
			sidelap.add(p.SidelapPct, 100*((wa+wb)/2-sc.Plan.SpacingM)/min(wa, wb), 3) // roll and relief move the edges by a metre
		}
	}
	medians.check(t, 4.5)
	density.check(t, 3)
	sidelap.check(t, 3)
	// The relief curves inside a cell, which the true noise leaves out: up to a fifth more.
	for i, r := range ratio {
		if r < 0.93 || r > 1.25 {
			t.Errorf("seed %d: measured noise %.3f of the true one", i+1, r)
		}
	}
	t.Logf("noise, measured over true: %.3f", ratio)
}

// swath is the width of a swath over level ground.
func swath(sc simulate.Scenario, heightM float64) float64 {
	return 2 * heightM * math.Tan(sc.Scanner.FieldOfViewDeg/2*math.Pi/180)
}

// expectedDensity is pulses for each m2 over the central 95 % of the swath: even
// in angle, so thinner at the edges than at nadir.
func expectedDensity(sc simulate.Scenario, heightM float64) float64 {
	half := sc.Scanner.FieldOfViewDeg / 2 * math.Pi / 180
	inner := math.Atan(0.95 * math.Tan(half))
	pulses := sc.Scanner.PulseRateHz * 2 * inner / (2 * math.Pi) * (1 - sc.Scanner.DropoutShare)
	return pulses / (sc.Plan.SpeedMPS * 0.95 * swath(sc, heightM))
}

// A horizontal offset of one strip is found from roofs and slopes.
func TestSimulatedShift(t *testing.T) {
	z := zScores{name: "shift"}
	for seed := uint64(1); seed <= seeds(); seed++ {
		sc := simulate.SmallScenario()
		sc.Seed, sc.Terrain.AllHard = seed, true
		sc.Faults.Strips = []simulate.StripFault{{Strip: 2, EastM: 0.12, NorthM: -0.08}}
		x := fly(t, sc)
		for _, p := range x.pairs {
			var want [2]float64
			switch {
			case p.Used.Cells < 100:
				continue
			case p.B == 1:
				want = [2]float64{0.12, -0.08}
			case p.A == 1:
				want = [2]float64{-0.12, 0.08}
			}
			if p.Shift.EDeterminable {
				z.add(p.Shift.EM, want[0], math.Hypot(p.Shift.SigmaEM, 0.001))
			}
			if p.Shift.NDeterminable {
				z.add(p.Shift.NM, want[1], math.Hypot(p.Shift.SigmaNM, 0.001))
			}
		}
	}
	z.check(t, 5)
}

// Lines told from GPS time alone, with everything between them recorded: each
// flown strip is found, to the seconds of a turn's trimming.
func TestSimulatedTime(t *testing.T) {
	for seed := uint64(1); seed <= seeds(); seed++ {
		sc := simulate.SmallScenario()
		sc.Seed, sc.Label.SourceIDs, sc.Plan.ExtendRecordingPast = seed, simulate.SourceOne, true
		x := fly(t, sc)
		if x.s.Mode != overlap.StripsByTime {
			t.Fatalf("mode %s: %s", x.s.Mode, x.s.Why)
		}
		for _, want := range x.f.Strips {
			from, to := x.f.StoredTimeS(want.RecordStartS), x.f.StoredTimeS(want.RecordES)
			var best *overlap.Strip
			for i := range x.s.Lines() {
				if st := &x.s.Strips[i]; best == nil || common(st, from, to) > common(best, from, to) {
					best = st
				}
			}
			near(t, best.ID, "heading off, deg", turn(best.HeadingDeg(), want.HeadingRad*180/math.Pi), 0, 2)
			if c := common(best, from, to); c < 0.85*(to-from) || best.EndGPSS-best.StartGPSS > (to-from)+7 {
				t.Errorf("seed %d: strip %d of %.1f..%.1f s found as %.1f..%.1f s", seed, want.Number, from, to, best.StartGPSS, best.EndGPSS)
			}
		}
		if last := x.s.Strips[len(x.s.Strips)-1]; last.Kind != overlap.Turn || last.Points == 0 {
			t.Error("no turns")
		}
	}
}

// common is the time a strip shares with an interval.
func common(st *overlap.Strip, from, to float64) float64 {
	return max(0, min(st.EndGPSS, to)-max(st.StartGPSS, from))
}
