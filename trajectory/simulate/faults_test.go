package simulate

import (
	"math"
	"testing"
)

// effect is the displacement used minus true along, right of and above the strip, m.
type effect struct{ fwd, right, up float64 }

// geometry is what the first-order formulas of section 2 need.
type geometry struct {
	y, h, a float64 // across offset, height above the point, scan angle
	t, u    float64 // true time, share of the strip flown
	st      *Strip
}

// Each fault shows the first-order effect of section 2 of georeferencing-and-adjustment.md on every
// point of level, straight strips (all closed forms there). The tolerance is the 1 mm rounding of
// the coordinates plus the second order of the fault.
func TestFaultSignatures(t *testing.T) {
	const d = 0.02 * deg
	cases := []struct {
		name   string
		faults Faults
		want   func(g geometry) effect
	}{
		{"clean", Faults{}, func(g geometry) effect { return effect{} }},
		{"boresight roll", Faults{BoresightRollDeg: 0.02}, func(g geometry) effect { return effect{0, -g.h * d, -g.y * d} }},
		{"boresight pitch", Faults{BoresightPitchDeg: 0.02}, func(g geometry) effect { return effect{g.h * d, 0, 0} }},
		{"boresight heading", Faults{BoresightHeadingDeg: 0.02}, func(g geometry) effect { return effect{-g.y * d, 0, 0} }},
		{"scan angle scale", Faults{ScanAngleScale: 5e-4}, func(g geometry) effect {
			return effect{0, 5e-4 * g.a * g.h, 5e-4 * g.a * g.y}
		}},
		{"range offset", Faults{RangeOffsetM: 0.03}, func(g geometry) effect {
			return effect{0, 0.03 * math.Sin(g.a), -0.03 * math.Cos(g.a)}
		}},
		{"range scale", Faults{RangeScale: 3e-4}, func(g geometry) effect { return effect{0, 3e-4 * g.y, -3e-4 * g.h} }},
		{"lever", Faults{LeverXM: 0.05, LeverYM: -0.03, LeverZM: 0.04}, func(g geometry) effect { return effect{0.05, -0.03, -0.04} }},
		{"time offset", Faults{TimeOffsetS: 0.005}, func(g geometry) effect { return effect{0.005 * g.st.SpeedMPS, 0, 0} }},
		{"datum", Faults{DatumHeightM: 0.4}, func(g geometry) effect { return effect{0, 0, 0.4} }},
		{"strip height", Faults{Strips: []StripFault{{Strip: 2, HeightM: -0.08}}}, func(g geometry) effect {
			if g.st.Number == 2 {
				return effect{0, 0, -0.08}
			}
			return effect{}
		}},
		{"strip height drift, linear", Faults{Strips: []StripFault{{Strip: 3, DriftH: Drift{Shape: DriftLinear, Size: 0.1}}}}, func(g geometry) effect {
			if g.st.Number == 3 {
				return effect{0, 0, 0.1 * (g.u - 0.5)}
			}
			return effect{}
		}},
		{"strip height drift, wave", Faults{Strips: []StripFault{{Strip: 1, DriftH: Drift{Shape: DriftWave, Size: 0.06, PeriodS: 5}}}}, func(g geometry) effect {
			if g.st.Number == 1 {
				return effect{0, 0, 0.06 * math.Sin(2*math.Pi*(g.t-g.st.StartS)/5)}
			}
			return effect{}
		}},
		{"attitude drift, roll", Faults{Strips: []StripFault{{Strip: 2, Roll: Drift{Shape: DriftLinear, Size: 0.04}}}}, func(g geometry) effect {
			if g.st.Number == 2 {
				r := 0.04 * deg * (g.u - 0.5)
				return effect{0, -g.h * r, -g.y * r}
			}
			return effect{}
		}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			s := FlatScenario()
			s.Scanner.LeverXM, s.Scanner.LeverYM, s.Scanner.LeverZM = 0, 0, 0
			s.Scanner.PulseRateHz = 6000
			s.Faults = c.faults
			f := fly(t, s)
			for i := range f.Strips {
				checkEffect(t, f, i, c.want)
			}
		})
	}
}

// A time offset in unsteady flight adds the body rates (section 2, row "time tag"): forward
// +v tau + H q tau - Y r tau, right -H p tau, up -Y p tau + vz tau.
func TestTimeOffsetWithMotion(t *testing.T) {
	s := FlatScenario()
	s.Motion = SmallScenario().Motion
	s.Scanner.LeverXM, s.Scanner.LeverYM, s.Scanner.LeverZM = 0, 0, 0
	const tau = 0.005
	s.Faults.TimeOffsetS = tau
	f := fly(t, s)
	k := f.kinematics(f.True)
	rate := func(v []float64, ts float64) float64 { return v[int((ts-f.True.TimeS[0])*s.Process.RateHz+0.5)] }
	var up, upRate, n float64
	for c, tr := range f.StripChunksWithTruth(1) {
		for q := 0; q < c.N; q += 7 {
			p := f.True.At(tr.TimeS[q])
			sin, cos := math.Sincos(p.HeadingRad)
			y := (tr.EM[q]-p.EM)*cos - (tr.NM[q]-p.NM)*sin
			h := p.HM - tr.HM[q]
			mid := tr.TimeS[q] + tau/2
			roll, pitch, head := rate(k.roll, mid)*tau, rate(k.pitch, mid)*tau, rate(k.heading, mid)*tau
			vE, vN := rate(k.vE, mid)*tau, rate(k.vN, mid)*tau
			de, dn := c.Frame.XM(c.X[q])-tr.EM[q]-vE, c.Frame.YM(c.Y[q])-tr.NM[q]-vN
			dz := c.Frame.ZM(c.Z[q]) - tr.HM[q] - rate(k.vU, mid)*tau
			near(t, "forward", "m", de*sin+dn*cos, h*pitch-y*head, 0.0025)
			near(t, "right", "m", de*cos-dn*sin, -h*roll, 0.0025)
			near(t, "up", "m", dz, -y*roll, 0.0025)
			up, upRate, n = up+dz*dz, upRate+y*y*roll*roll, n+1
		}
		if t.Failed() {
			return
		}
	}
	if math.Sqrt(upRate/n) < 0.002 {
		t.Errorf("the motion moves points by %.4f m only: nothing was tested", math.Sqrt(upRate/n))
	}
	near(t, "RMS of height effect over prediction", "", math.Sqrt(up/upRate), 1, 0.05)
}

// checkEffect compares the errors of a strip's points with a first-order formula.
func checkEffect(t *testing.T, f *Flight, i int, want func(geometry) effect) {
	t.Helper()
	const tol = 0.0007 // half a millimetre of rounding, second order
	st := &f.Strips[i]
	sin, cos := math.Sincos(st.HeadingRad)
	var sum effect
	n := 0.0
	for c, tr := range f.StripChunksWithTruth(i) {
		for k := range c.N {
			de := c.Frame.XM(c.X[k]) - tr.EM[k]
			dn := c.Frame.YM(c.Y[k]) - tr.NM[k]
			g := geometry{a: tr.AngleRad[k] / (1 + f.Scenario.Faults.ScanAngleScale), t: tr.TimeS[k], st: st}
			p := f.True.At(g.t)
			g.y = (tr.EM[k]-p.EM)*cos - (tr.NM[k]-p.NM)*sin
			g.h = p.HM - tr.HM[k]
			g.u = (g.t - st.StartS) / (st.EndS - st.StartS)
			w := want(g)
			fwd, right, up := de*sin+dn*cos-w.fwd, de*cos-dn*sin-w.right, c.Frame.ZM(c.Z[k])-tr.HM[k]-w.up
			if math.Abs(fwd) > 2*tol || math.Abs(right) > 2*tol || math.Abs(up) > tol {
				t.Fatalf("strip %d at Y %.2f, H %.2f: effect off by (%.5f, %.5f, %.5f) m from (%.5f, %.5f, %.5f)", st.Number, g.y, g.h, fwd, right, up, w.fwd, w.right, w.up)
			}
			sum.fwd, sum.right, sum.up, n = sum.fwd+fwd, sum.right+right, sum.up+up, n+1
		}
	}
	if n < 1000 {
		t.Fatalf("strip %d has %g points", st.Number, n)
	}
	near(t, "mean forward", "m", sum.fwd/n, 0, 1e-4)
	near(t, "mean right", "m", sum.right/n, 0, 1e-4)
	near(t, "mean up", "m", sum.up/n, 0, 1e-4)
}

// slopeOfDz grids the heights of two strips on a plane and returns the difference first minus second by
// across offset from the first strip: a line fitted to it.
func slopeOfDz(t *testing.T, f *Flight, i, j int) (atMiddle, slope float64) {
	t.Helper()
	type acc struct{ n, z, y float64 }
	cells := [2]map[[2]int]*acc{{}, {}}
	first := &f.Strips[i]
	sin, cos := math.Sincos(first.HeadingRad)
	for k, strip := range []int{i, j} {
		for c := range f.StripChunks(strip) {
			for q := range c.N {
				e, n := c.Frame.XM(c.X[q])-first.FromEM, c.Frame.YM(c.Y[q])-first.FromNM
				key := [2]int{int(math.Floor(e / 2)), int(math.Floor(n / 2))}
				a := cells[k][key]
				if a == nil {
					a = &acc{}
					cells[k][key] = a
				}
				a.n, a.z, a.y = a.n+1, a.z+c.Frame.ZM(c.Z[q]), a.y+e*cos-n*sin
			}
		}
	}
	mid := f.Scenario.Plan.SpacingM / 2
	var n, sx, sxx, sy, sxy float64
	for key, a := range cells[0] {
		if b := cells[1][key]; b != nil && a.n > 3 && b.n > 3 {
			x, dz := a.y/a.n-mid, a.z/a.n-b.z/b.n
			n, sx, sxx, sy, sxy = n+1, sx+x, sxx+x*x, sy+dz, sxy+x*dz
		}
	}
	slope = (n*sxy - sx*sy) / (n*sxx - sx*sx)
	return (sy - slope*sx) / n, slope
}

// Overlap signatures of section 3 in the finished clouds: roll tilts opposed overlaps by -2 dphi about their
// middle and steps same-direction ones by -D dphi; angle scale is odd about the middle in both.
func TestOverlapSignatures(t *testing.T) {
	s := FlatScenario()
	s.Faults.BoresightRollDeg = 0.05
	r := 0.05 * deg
	f := fly(t, s)
	mid, slope := slopeOfDz(t, f, 0, 1)
	near(t, "roll, opposed: dz at the middle", "m", mid, 0, 4e-4)
	near(t, "roll, opposed: slope", "m/m", slope, -2*r, 0.03*r)
	s.Plan.SameDirection = true
	f = fly(t, s)
	mid, slope = slopeOfDz(t, f, 0, 1)
	near(t, "roll, same direction: step", "m", mid, -s.Plan.SpacingM*r, 4e-4)
	near(t, "roll, same direction: slope", "m/m", slope, 0, 0.03*r)
	s.Faults = Faults{ScanAngleScale: 1e-3}
	f = fly(t, s)
	mid, slope = slopeOfDz(t, f, 0, 1)
	near(t, "angle scale: dz at the middle", "m", mid, 0, 4e-4)
	if slope < 5e-4 {
		t.Errorf("angle scale: slope %.2e, want clearly positive (section 3)", slope)
	}
}

// The stored time is GPS time; labels move it and nothing else (practice.md B16, B17).
func TestTimeLabels(t *testing.T) {
	s := SmallScenario()
	f := fly(t, s)
	s.Faults.TimeLabelS = -18
	g := fly(t, s)
	s.Label.Time = TimeWeek
	w := fly(t, s)
	a, b, c := firstPoint(f), firstPoint(g), firstPoint(w)
	near(t, "UTC label", "s", b.time-a.time, -18, 1e-6)
	// 2026-05-19 is in GPS week 2419: adjusted = seconds of week + 2419 x 604800 - 1e9
	near(t, "week seconds", "s", b.time-c.time, 2419*604800-1e9, 1e-6)
	if a.x != b.x || a.z != b.z {
		t.Error("a time label moved a point")
	}
	near(t, "week 2300, second 345600 in adjusted time (section 1)", "s", 345600+2300*weekS-adjustedS, 391385600, 0)
}

type stored struct {
	time float64
	x, z int32
}

func firstPoint(f *Flight) stored {
	for c := range f.StripChunks(0) {
		return stored{c.GPSTime[0], c.X[0], c.Z[0]}
	}
	return stored{}
}

// Geoid faults raise the whole cloud by N, or by 2 N.
func TestGeoidFaults(t *testing.T) {
	s := SmallScenario()
	clean := firstPoint(fly(t, s))
	s.Faults.GeoidNotApplied = true
	n := firstPoint(fly(t, s))
	near(t, "geoid left out", "m", float64(n.z-clean.z)/1000, s.Site.GeoidM, 0.01)
	s.Faults = Faults{GeoidWrongSign: true}
	n = firstPoint(fly(t, s))
	near(t, "geoid with the wrong sign", "m", float64(n.z-clean.z)/1000, 2*s.Site.GeoidM, 0.02)
}

// Recording faults: missing strip, pause, hole, clip.
func TestRecordingFaults(t *testing.T) {
	s := SmallScenario()
	s.Faults.Missing = []int{3}
	s.Faults.Holes = []Hole{{EastM: 5, NorthM: -4, RadiusM: 9}}
	s.Faults.Strips = []StripFault{{Strip: 1, Gaps: []Gap{{StartS: 4, DurationS: 2}}}}
	f := fly(t, s)
	for range f.StripChunks(2) {
		t.Fatal("a lost strip has points")
	}
	var last, widest, at float64
	for i := range f.Strips {
		for c, tr := range f.StripChunksWithTruth(i) {
			for k := range c.N {
				if math.Hypot(tr.EM[k]-s.Site.CentreEM-5, tr.NM[k]-s.Site.CentreNM+4) < 6 && c.Class[k] == 2 {
					t.Fatalf("ground return inside the hole")
				}
				if i == 0 {
					if d := tr.TimeS[k] - last; last > 0 && d > widest {
						widest, at = d, last
					}
					last = tr.TimeS[k]
				}
			}
		}
	}
	near(t, "pause", "s", widest, 2, 0.06)
	near(t, "start of pause", "s", at-f.Strips[0].StartS, 4, 0.06)
}

// Label options: IDs and classes.
func TestLabels(t *testing.T) {
	s := SmallScenario()
	for _, c := range []struct {
		ids  SourceIDs
		want uint16
	}{{SourceStrip, 103}, {SourceZero, 0}, {SourceOne, 101}} {
		s.Label.SourceIDs, s.Label.Unclassified = c.ids, true
		f := fly(t, s)
		for ch := range f.StripChunks(2) {
			for k := range ch.N {
				if ch.Source[k] != c.want || ch.Class[k] != 1 {
					t.Fatalf("ID %d class %d, want %d and 1", ch.Source[k], ch.Class[k], c.want)
				}
			}
		}
	}
}

func TestCausesNameTheFaults(t *testing.T) {
	f := fly(t, SmallScenario())
	if c := f.Causes(); len(c) != 0 {
		t.Errorf("a clean flight has causes: %v", c)
	}
	f = fly(t, smallDemo())
	want := []Cause{{"boresight_roll", 0, 0.04, "deg"}, {"boresight_pitch", 0, 0.03, "deg"}, {"boresight_heading", 0, 0.06, "deg"}}
	got := f.Causes()
	if len(got) != 3 {
		t.Fatalf("causes %v, want %v", got, want)
	}
	for i := range want {
		if got[i] != want[i] {
			t.Errorf("cause %v, want %v", got[i], want[i])
		}
	}
}

// smallDemo is the demonstration's fault on the small block.
func smallDemo() Scenario {
	s := SmallScenario()
	s.Faults = DemoScenario().Faults
	return s
}
