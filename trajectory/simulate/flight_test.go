package simulate

import (
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"hash"
	"math"
	"sync"
	"testing"

	"sidelap/las"
)

func fly(t testing.TB, s Scenario) *Flight {
	t.Helper()
	f, err := Fly(s)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// Fault-free points lie on the true surface, off it by no more than the noise of the
// measurement predicts: var(dz) = (sr cos a)^2 + (Y sa)^2 on level ground (closed form, section 2:
// range offset and scan angle offset rows).
func TestCleanFlightWithinNoise(t *testing.T) {
	s := FlatScenario()
	s.Scanner.RangeNoiseM, s.Scanner.AngleNoiseDeg = 0.015, 0.01
	f := fly(t, s)
	var n int
	var ratio, mean float64
	for i := range f.Strips {
		for c, tr := range f.StripChunksWithTruth(i) {
			for k := range c.N {
				dz := c.Frame.ZM(c.Z[k]) - f.Surface.GroundM(c.Frame.XM(c.X[k]), c.Frame.YM(c.Y[k]))
				a := tr.AngleRad[k]
				sigma2 := math.Pow(0.015*math.Cos(a), 2) + math.Pow(tr.RangeM[k]*math.Sin(a)*0.01*deg, 2) + 1e-6/12
				ratio += dz * dz / sigma2
				mean += dz
				n++
			}
		}
	}
	near(t, "normalised variance of dz", "", ratio/float64(n), 1, 5*math.Sqrt(2/float64(n)))
	near(t, "mean of dz", "m", mean/float64(n), 0, 5*0.015/math.Sqrt(float64(n)))
}

// On relief with roofs and trees, every return came from where its cover says.
func TestReturnsComeFromTheSurface(t *testing.T) {
	s := SmallScenario()
	s.Scanner.RangeNoiseM, s.Scanner.AngleNoiseDeg = 0, 0
	f := fly(t, s)
	count := map[Cover]int{}
	multi, groundUnderTrees := 0, 0
	for i := range f.Strips {
		for c, tr := range f.StripChunksWithTruth(i) {
			for k := range c.N {
				e, n, h := tr.EM[k], tr.NM[k], tr.HM[k]
				count[tr.Cover[k]]++
				if c.NumReturns[k] > 1 && c.ReturnNumber[k] == 1 {
					multi++
				}
				switch {
				case tr.Cover[k] == CoverHard:
					near(t, "hard ground", "m", h, f.Surface.GroundM(e, n), 1e-6)
				case tr.Cover[k] == CoverRoof:
					near(t, "roof", "m", h, f.Surface.HeightM(e, n), 1e-6)
				case tr.Cover[k] == CoverGrass, tr.Cover[k] == CoverVegetated && c.Class[k] == 2:
					d := h - f.Surface.GroundM(e, n)
					if d < -1e-6 || d > 4.5*s.Terrain.GrassHeightM+0.08 {
						t.Fatalf("grass return %.3f m over soil", d)
					}
					if c.ReturnNumber[k] > 1 {
						groundUnderTrees++
					}
				case c.Class[k] >= 3 && c.Class[k] <= 5:
					if d := h - f.Surface.GroundM(e, n); d < -3 || d > 20 {
						t.Fatalf("vegetation return %.3f m over soil", d)
					}
				}
				if t.Failed() {
					t.Fatalf("strip %d point %d: cover %v at %.3f %.3f", i, k, tr.Cover[k], e, n)
				}
			}
		}
	}
	for _, c := range []Cover{CoverHard, CoverGrass, CoverVegetated, CoverRoof, CoverWall} {
		if count[c] < 100 {
			t.Errorf("%d returns from %v, want at least 100", count[c], c)
		}
	}
	if multi < 300 || groundUnderTrees < 200 {
		t.Errorf("%d pulses with several returns, %d ground returns behind leaves; want more", multi, groundUnderTrees)
	}
}

// Returns of one pulse share their time and lie on one line through the scanner.
func TestReturnsOfAPulseAreCollinear(t *testing.T) {
	f := fly(t, SmallScenario())
	m := f.UsedMount()
	for c := range f.StripChunks(0) {
		for k := 1; k < c.N; k++ {
			if c.ReturnNumber[k] < 2 {
				continue
			}
			if c.GPSTime[k] != c.GPSTime[k-1] || c.NumReturns[k] != c.NumReturns[k-1] || c.ReturnNumber[k] != c.ReturnNumber[k-1]+1 {
				t.Fatalf("point %d: return %d of %d at %.7f after %d of %d at %.7f", k, c.ReturnNumber[k], c.NumReturns[k], c.GPSTime[k],
					c.ReturnNumber[k-1], c.NumReturns[k-1], c.GPSTime[k-1])
			}
			p := f.Used.At(c.GPSTime[k] - f.timeShift())
			a := m.Scanner(p, c.Frame.XM(c.X[k-1]), c.Frame.YM(c.Y[k-1]), c.Frame.ZM(c.Z[k-1]))
			b := m.Scanner(p, c.Frame.XM(c.X[k]), c.Frame.YM(c.Y[k]), c.Frame.ZM(c.Z[k]))
			// half a millimetre of rounding at ranges of 40 m and more
			near(t, "mirror angle", "rad", math.Atan2(a[1], a[2]), math.Atan2(b[1], b[2]), 4e-5)
		}
	}
}

// Round trip through equation (1) with the used path at the stored times: the forward component
// of a line scanner is zero, range and angle come back (reference section 11).
func TestDirectGeoreferencingRoundTrip(t *testing.T) {
	s := SmallScenario()
	s.Faults = Faults{BoresightRollDeg: 0.05, BoresightPitchDeg: -0.04, BoresightHeadingDeg: 0.1, LeverXM: 0.05, TimeOffsetS: 0.004, DatumHeightM: 0.3,
		Strips: []StripFault{{Strip: 2, HeightM: 0.1, DriftH: Drift{Shape: DriftWave, Size: 0.05, PeriodS: 7}}}}
	s.Process.MapScale = true
	f := fly(t, s)
	m := f.UsedMount()
	var sum, sum2 float64
	var n int
	for i := range f.Strips {
		for c, tr := range f.StripChunksWithTruth(i) {
			for k := range c.N {
				v := m.Scanner(f.Used.At(c.GPSTime[k]-f.pathShift()), c.Frame.XM(c.X[k]), c.Frame.YM(c.Y[k]), c.Frame.ZM(c.Z[k]))
				near(t, "range", "m", math.Hypot(v[1], v[2]), tr.RangeM[k], 0.001)
				near(t, "right", "m", v[1], tr.RangeM[k]*math.Sin(tr.AngleRad[k]), 0.001)
				sum += v[0]
				sum2 += v[0] * v[0]
				n++
			}
			if t.Failed() {
				return
			}
		}
	}
	near(t, "mean forward component", "m", sum/float64(n), 0, 1e-5)
	// rounding of coordinates to 1 mm: standard deviation 0.001/sqrt(12)
	near(t, "RMS forward component", "m", math.Sqrt(sum2/float64(n)), 0.001/math.Sqrt(12), 3e-5)
}

// The stored scan angle is the mirror angle less roll, in steps of 0.006 degrees (LAS 1.4, formats 6 to 10;
// roll included, positive to the right).
func TestScanAngleIncludesRoll(t *testing.T) {
	f := fly(t, SmallScenario())
	for c, tr := range f.StripChunksWithTruth(1) {
		for k := range c.N {
			want := tr.AngleRad[k] - f.Used.At(tr.TimeS[k]).RollRad
			near(t, "scan angle", "deg", float64(c.ScanAngle[k])*las.ScanAngleStepDeg, want/deg, 0.00301)
		}
	}
}

func TestDensity(t *testing.T) {
	s := FlatScenario()
	f := fly(t, s)
	// pulses in the fan per second over speed times swath width: closed form
	fan := s.Scanner.PulseRateHz * s.Scanner.FieldOfViewDeg / 360
	swath := 2 * s.Plan.HeightM * math.Tan(s.Scanner.FieldOfViewDeg/2*deg)
	for i := range f.Strips {
		var n int
		for c := range f.StripChunks(i) {
			n += c.N
		}
		near(t, fmt.Sprintf("density of strip %d", i+1), "1/m2", float64(n)/(s.Plan.StripLengthM*swath), fan/(s.Plan.SpeedMPS*swath), 0.02*fan/(s.Plan.SpeedMPS*swath))
	}
}

func hashChunk(h hash.Hash, c *las.Chunk) {
	for _, v := range []any{c.X, c.Y, c.Z, c.Intensity, c.ReturnNumber, c.NumReturns, c.Flags, c.Class, c.ScanAngle, c.Source, c.GPSTime} {
		if err := binary.Write(h, binary.LittleEndian, v); err != nil {
			panic(err) // a hash never fails
		}
	}
}

func stripHash(f *Flight, i int) [32]byte {
	h := sha256.New()
	for c := range f.StripChunks(i) {
		hashChunk(h, c)
	}
	return [32]byte(h.Sum(nil))
}

// The same seed gives the same points, read serially, backwards or at the same time; another seed others.
func TestDeterminism(t *testing.T) {
	s := SmallScenario()
	f, g := fly(t, s), fly(t, s)
	s.Seed++
	other := fly(t, s)
	want := make([][32]byte, len(f.Strips))
	for i := range f.Strips {
		want[i] = stripHash(f, i)
	}
	got := make([][32]byte, len(f.Strips))
	var wg sync.WaitGroup
	for i := len(f.Strips) - 1; i >= 0; i-- {
		wg.Go(func() { got[i] = stripHash(g, i) })
	}
	wg.Wait()
	for i := range want {
		if want[i] != got[i] {
			t.Errorf("strip %d differs between two flights of the same seed", i+1)
		}
		if want[i] == stripHash(other, i) {
			t.Errorf("strip %d is the same for another seed", i+1)
		}
	}
}

// Clipping a strip leaves the points that remain unchanged: random numbers belong to a place in time.
func TestClippedPointsKeepTheirValues(t *testing.T) {
	s := SmallScenario()
	f := fly(t, s)
	s.Faults.Strips = []StripFault{{Strip: 2, KeepFrom: 0.4, KeepTo: 0.8}}
	g := fly(t, s)
	type key struct {
		time float64
		ret  uint8
	}
	all := map[key][3]int32{}
	for c := range f.StripChunks(1) {
		for k := range c.N {
			all[key{c.GPSTime[k], c.ReturnNumber[k]}] = [3]int32{c.X[k], c.Y[k], c.Z[k]}
		}
	}
	st := g.Strips[1]
	n, same := 0, 0
	for c := range g.StripChunks(1) {
		for k := range c.N {
			n++
			if all[key{c.GPSTime[k], c.ReturnNumber[k]}] == [3]int32{c.X[k], c.Y[k], c.Z[k]} {
				same++
			}
			if tt := c.GPSTime[k] - g.pathShift(); tt < st.StartS+0.4*(st.EndS-st.StartS)-1e-6 || tt > st.StartS+0.8*(st.EndS-st.StartS) {
				t.Fatalf("time %.3f outside the kept part", tt)
			}
		}
	}
	if n == 0 || n-same > 700 { // the line cut by the clip starts its random stream later
		t.Errorf("%d of %d points unchanged", same, n)
	}
}

func TestStopEarly(t *testing.T) {
	f := fly(t, SmallScenario())
	n := 0
	for c := range f.StripChunks(0) {
		n += c.N
		break
	}
	if n == 0 || n > las.MaxChunk {
		t.Fatalf("first chunk has %d points", n)
	}
}
