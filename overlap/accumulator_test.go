package overlap_test

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat"
	"sidelap/las"
	"sidelap/overlap"
)

// A facet against gonum's least squares (QR) over the same points: outside the
// project. High ground and a far origin, so that lost digits would show.
func TestFacetAgainstQR(t *testing.T) {
	r := rng(1)
	s := newScene()
	const n = 37
	a, y := mat.NewDense(n, 3, nil), mat.NewVecDense(n, nil)
	var es, ns, zs, ts, as []float64
	for i := range n {
		e := math.Round((400000.5+(r.Float64()-0.5)*0.99)*1000) / 1000
		nn := math.Round((5600000.5+(r.Float64()-0.5)*0.99)*1000) / 1000
		z := math.Round((4123+0.31*(e-400000)-0.17*(nn-5600000)+0.02*r.NormFloat64())*1000) / 1000
		tm := 3.1e8 + 0.02*float64(i)
		ang := math.Round(10*r.NormFloat64()/las.ScanAngleStepDeg) * las.ScanAngleStepDeg
		s.add(pulse{e: e, n: nn, z: z, t: tm, id: 5, angleDeg: ang})
		a.SetRow(i, []float64{1, e - 400000.5, nn - 5600000.5})
		y.SetVec(i, z-4123)
		es, ns, zs, ts, as = append(es, e), append(ns, nn), append(zs, z), append(ts, tm), append(as, ang)
	}
	sv := mustSurvey(t, sum(t, overlap.DefaultOptions(), s.out))
	f := sv.Strips[0].Facets[0]
	var x mat.VecDense
	if err := x.SolveVec(a, y); err != nil {
		t.Fatal(err)
	}
	var res mat.VecDense
	res.MulVec(a, &x)
	res.SubVec(y, &res)
	const q = 5e-5 // coordinates are held to 2^-14 m = 6.1e-5, half of it at most
	near(t, "QR", "slope E", f.SlopeE, x.AtVec(1), q)
	near(t, "QR", "slope N", f.SlopeN, x.AtVec(2), q)
	near(t, "QR", "residual", f.RoughM, math.Sqrt(mat.Dot(&res, &res)/(n-3)), q)
	near(t, "mean", "E", f.EM, stat.Mean(es, nil), q)
	near(t, "mean", "N", f.NM, stat.Mean(ns, nil), q)
	near(t, "mean", "Z", f.ZM, stat.Mean(zs, nil), q)
	near(t, "mean", "time", f.TimeS, stat.Mean(ts, nil), 1e-4)
	near(t, "mean", "angle", f.AngleRad, stat.Mean(as, nil)*math.Pi/180, 1e-9)
	near(t, "moments", "VarE", f.VarE, stat.Variance(es, nil)*(n-1)/n, q)
	near(t, "moments", "CovEN", f.CovEN, stat.Covariance(es, ns, nil)*(n-1)/n, q)

	// The leverage is the diagonal of the hat matrix for a place of the design.
	var inv mat.Dense
	var ata mat.Dense
	ata.Mul(a.T(), a)
	if err := inv.Inverse(&ata); err != nil {
		t.Fatal(err)
	}
	v := mat.NewVecDense(3, []float64{1, 0.4, -0.2})
	want := mat.Inner(v, &inv, v)
	near(t, "QR", "leverage", f.Leverage(400000.9, 5600000.3), want, 1e-3*want)
}

// Splitting, order and merging change no bit: the property on which equal
// results for any number of workers rest.
func TestMergeIsExact(t *testing.T) {
	s := newScene()
	r := rng(2)
	for i := range 4 {
		s.fly(line{id: uint16(i + 1), startS: 1000 + 100*float64(i), e: 400020 + 12*float64(i), n: 5600005, speed: 6,
			lengthM: 40, heightM: 30, fanDeg: 60, density: 12, noiseM: 0.02, jitter: r,
			surface: func(e, n float64) float64 { return 812 + 0.1*(e-400000) }})
	}
	o := overlap.DefaultOptions()
	whole := sum(t, o, s.out)
	want := bytesOf(t, whole)
	for _, k := range []int{2, 4, 8} {
		parts := make([]*overlap.Accumulator, k)
		for i := range parts {
			parts[i], _ = overlap.NewAccumulator(o)
		}
		for i := len(s.out) - 1; i >= 0; i-- { // backwards, dealt round
			parts[i%k].Add(s.out[i], 0)
		}
		merged, _ := overlap.NewAccumulator(o)
		for i := range k {
			if err := merged.Merge(parts[(3*i+1)%k]); err != nil { // 3 has no factor in common with 2, 4, 8
				t.Fatal(err)
			}
		}
		if bytesOf(t, merged) != want {
			t.Errorf("%d parts: bytes differ", k)
		}
	}
	single := sum(t, o, singles(s.out))
	if bytesOf(t, single) != want {
		t.Error("one point at a time, backwards: bytes differ")
	}

	var back overlap.Accumulator
	if err := back.UnmarshalBinary([]byte(want)); err != nil {
		t.Fatal(err)
	}
	if bytesOf(t, &back) != want {
		t.Error("bytes read and written again differ")
	}
	if back.Counts() != whole.Counts() || back.Cells() != whole.Cells() {
		t.Errorf("counts %+v, want %+v", back.Counts(), whole.Counts())
	}
	if err := back.Merge(&back); err == nil {
		t.Error("merging with itself is an error")
	}
	o.CellM = 2
	other, _ := overlap.NewAccumulator(o)
	if err := back.Merge(other); err == nil {
		t.Error("merging other cells is an error")
	}
}

// singles makes a chunk of each point, last first.
func singles(chunks []*las.Chunk) []*las.Chunk {
	var out []*las.Chunk
	for k := len(chunks) - 1; k >= 0; k-- {
		c := chunks[k]
		for i := c.N - 1; i >= 0; i-- {
			j := i + 1
			out = append(out, &las.Chunk{Frame: c.Frame, N: 1, X: c.X[i:j], Y: c.Y[i:j], Z: c.Z[i:j],
				ReturnNumber: c.ReturnNumber[i:j], NumReturns: c.NumReturns[i:j], Flags: c.Flags[i:j], Channel: c.Channel[i:j],
				Class: c.Class[i:j], ScanAngle: c.ScanAngle[i:j], Source: c.Source[i:j], GPSTime: c.GPSTime[i:j]})
		}
	}
	return out
}

// Cells that grow by themselves give the facets of cells made wide at once.
func TestAutoCellIsExact(t *testing.T) {
	s := newScene()
	s.fly(line{id: 3, startS: 50, e: 399990, n: 5599980, headingDeg: 20, speed: 5, lengthM: 60, heightM: 40, fanDeg: 50,
		density: 3, noiseM: 0.03, jitter: rng(3), surface: func(e, n float64) float64 { return -3 + 0.2*(n-5600000) }})
	o := overlap.DefaultOptions()
	o.CellM, o.AutoCell = 0.25, true
	auto := mustSurvey(t, sum(t, o, s.out))
	o.CellM, o.AutoCell = auto.Options.CellM, false
	if o.CellM != 2 {
		t.Errorf("3 points per m2 give cells of %g m, want 2 (7 returns at least)", o.CellM)
	}
	direct := mustSurvey(t, sum(t, o, s.out))
	if len(auto.Strips[0].Facets) != len(direct.Strips[0].Facets) {
		t.Fatalf("%d and %d facets", len(auto.Strips[0].Facets), len(direct.Strips[0].Facets))
	}
	for i, f := range auto.Strips[0].Facets {
		g := direct.Strips[0].Facets[i]
		if f != g && !(math.IsNaN(f.RoughM) || math.IsNaN(f.SlopeE)) {
			t.Fatalf("facet %d:\n%+v\n%+v", i, f, g)
		}
	}
}

// What does not count, and is counted.
func TestLeftOut(t *testing.T) {
	s := newScene()
	s.frame.Scale[0], s.frame.Scale[2] = 1000, 1000 // reaches anything
	at := func(p pulse) {
		p.e, p.n = 400500, 5600000.5
		s.add(p)
	}
	at(pulse{z: 1000})
	at(pulse{z: 1000, flags: las.FlagWithheld})
	at(pulse{z: 1000, class: 7})
	at(pulse{z: 1000, class: 18})
	at(pulse{z: 200000})
	at(pulse{z: 1000, t: math.NaN()})
	at(pulse{z: 1000, flags: las.FlagOverlap, class: 12})
	at(pulse{z: 1000, ret: 1, of: 2})
	at(pulse{z: 1000, ret: 2, of: 2})
	s.frame.Offset[0] = 0
	s.add(pulse{e: 2e9 * 0.9, n: 5600000.5, z: 1000})
	a := sum(t, overlap.DefaultOptions(), s.out)
	// The frame was changed after the first points: judge only the counts that this leaves alone.
	c := a.Counts()
	if c.Points != 10 || c.Withheld != 1 || c.Noise != 2 || c.Absurd != 2 || c.NoTime != 1 {
		t.Errorf("%+v", c)
	}
	if c.Facet != 4 || c.First != 4 {
		t.Errorf("facet points %d, first returns %d, want 4 and 4: %+v", c.Facet, c.First, c)
	}
}

// A point hundreds of kilometres away costs one tile of memory and is named.
func TestWildPoint(t *testing.T) {
	s := newScene()
	s.fly(line{id: 1, startS: 10, e: 400000, n: 5600000, speed: 5, lengthM: 50, heightM: 40, fanDeg: 60, density: 10, jitter: rng(4)})
	s.add(pulse{e: 946000, n: 5600000, z: 90000, t: 12, id: 1})
	a := sum(t, overlap.DefaultOptions(), s.out)
	sv := mustSurvey(t, a)
	if len(sv.Outliers) != 1 || math.Abs(sv.Outliers[0].EM-946000) > 1 {
		t.Errorf("outliers %+v, want the point at E 946000", sv.Outliers)
	}
	if w := sv.Strips[0].WidthM; math.Abs(w-2*40*math.Tan(30*math.Pi/180)) > 2 {
		t.Errorf("width %g m in spite of the wild point", w)
	}
	if c := sv.Coverage(overlap.DefaultCoverageOptions()); c.Count.Cols > 200 {
		t.Errorf("raster of %d columns", c.Count.Cols)
	}
}

// The same ground in metres and in both kinds of foot. The factors are those of
// EPSG units 9002 and 9003.
func TestFeet(t *testing.T) {
	build := func(unit float64) *overlap.Survey {
		s := newScene()
		s.frame.HorizontalM, s.frame.VerticalM = unit, unit
		s.frame.Scale = [3]float64{0.0001, 0.0001, 0.0001}
		s.frame.Offset = [3]float64{math.Round(400000 / unit), math.Round(5600000 / unit), 0}
		r := rng(5)
		for i := range 2 {
			s.fly(line{id: uint16(i + 1), startS: 100 * float64(i+1), e: 400000 + 20*float64(i), n: 5600000 + 60*float64(i), headingDeg: 180 * float64(i),
				speed: 5, lengthM: 60, heightM: 40, fanDeg: 60, density: 20, noiseM: 0.01, offsetM: 0.03 * float64(i), jitter: r})
		}
		return mustSurvey(t, sum(t, overlap.DefaultOptions(), s.out))
	}
	want := build(1)
	for _, unit := range []float64{0.3048, 1200.0 / 3937} {
		got := build(unit)
		for i := range want.Strips {
			near(t, "feet", "heading", got.Strips[i].HeadingRad, want.Strips[i].HeadingRad, 1e-3)
			near(t, "feet", "height", got.Strips[i].HeightAGLM, want.Strips[i].HeightAGLM, 0.05)
			near(t, "feet", "density", got.Strips[i].DensityPerM2, want.Strips[i].DensityPerM2, 0.05)
		}
		a, b := want.Pairs(overlap.DefaultPairOptions()), got.Pairs(overlap.DefaultPairOptions())
		near(t, "feet", "median", b[0].Used.MedianM, a[0].Used.MedianM, 1e-4)
		near(t, "feet", "overlap", b[0].OverlapM2, a[0].OverlapM2, 0.01*a[0].OverlapM2)
	}
}

// FuzzUnmarshal: no panic, no error but ErrBinary, and what is read is written
// back the same.
func FuzzUnmarshal(f *testing.F) {
	s := newScene()
	for i := range 20 {
		s.add(pulse{e: 400000 + float64(i), n: 5600000, z: 10, t: float64(i) / 7, id: uint16(i % 2)})
	}
	b := []byte(bytesOf(f, sum(f, overlap.DefaultOptions(), s.out)))
	f.Add(b)
	f.Add(b[:len(b)/2])
	f.Add([]byte("sidelap facets 1\n"))
	f.Fuzz(func(t *testing.T, b []byte) {
		var a overlap.Accumulator
		if err := a.UnmarshalBinary(b); err != nil {
			return
		}
		c, err := a.MarshalBinary()
		if err != nil {
			t.Fatal(err)
		}
		var again overlap.Accumulator
		if err := again.UnmarshalBinary(c); err != nil {
			t.Fatalf("what was written cannot be read: %v", err)
		}
	})
}
