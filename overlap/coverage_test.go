package overlap_test

import (
	"math"
	"testing"

	"sidelap/overlap"
)

// A swath with a pond and a dropped stretch: area, density, distribution and
// voids against what was put in.
func TestCoverageTruth(t *testing.T) {
	const density = 16.0 // ANPS 0.25: voids from 1 m2, test cells 0.5 m
	s := newScene()
	pond := func(e, n float64) bool { return math.Hypot(e-400010, n-5600060) < 6 }
	pause := func(e, n float64) bool { return n > 5600100 && n < 5600104 }
	l := line{id: 1, startS: 1000, e: 400000, n: 5600000, speed: 6, lengthM: 160, heightM: 50, fanDeg: 60, density: density, noiseM: 0.01,
		jitter: rng(51), skip: func(e, n float64) bool { return pond(e, n) || pause(e, n) }}
	s.fly(l)
	sv := mustSurvey(t, sum(t, overlap.DefaultOptions(), s.out))
	c := sv.Coverage(overlap.DefaultCoverageOptions())
	w := 2 * 50 * math.Tan(30*math.Pi/180)
	near(t, "coverage", "ANPS", c.ANPSM, 0.25, 0.005)
	near(t, "coverage", "area", c.AreaM2, w*160, 0.03*w*160)
	near(t, "coverage", "density", c.DensityPerM2, density*(1-(36*math.Pi+4*w)/(w*160)), 0.5)
	near(t, "coverage", "strip density", c.Strips[0].DensityPerM2, density, 0.4)
	near(t, "coverage", "void limit", c.VoidLimitM2, 1, 0.05)
	var large []overlap.Void
	for _, v := range c.Voids {
		if v.AreaM2 > 50 {
			large = append(large, v)
		}
	}
	if len(large) != 2 {
		t.Fatalf("%d large voids: %+v", len(large), large)
	}
	// Half a test cell all around is lost, and the rim of the area is not judged.
	near(t, "coverage", "pause", large[0].AreaM2, (4-0.5)*(w-4), 0.15*4*w)
	near(t, "coverage", "pond", large[1].AreaM2, math.Pi*(6-0.25)*(6-0.25), 8)
	near(t, "coverage", "pond E", large[1].EM, 400010, 0.3)
	near(t, "coverage", "pond N", large[1].NM, 5600060, 0.3)
	near(t, "coverage", "largest", c.LargestVoidM2, large[0].AreaM2, 0)
	// Points at random leave a cell of 2 ANPS empty with exp(-4).
	near(t, "coverage", "distribution", c.Strips[0].Distribution.Pct, 100*(1-math.Exp(-4)), 0.3)
	if d := c.Strips[0].Distribution; !d.Judgeable || math.Abs(d.CellM-0.5) > 0.01 {
		t.Errorf("%+v", d)
	}
	if v := float64(c.Density.At(400010, 5600060)); v != 0 {
		t.Errorf("density in the pond %g, want 0", v)
	}
	if v := float64(c.Count.At(400010, 5600030)); v != 1 {
		t.Errorf("strips there %g, want 1", v)
	}
	if v := float64(c.Density.At(399900, 5600060)); !math.IsNaN(v) {
		t.Errorf("density outside %g, want NaN", v)
	}
	if len(c.Rings) != 1 {
		t.Errorf("%d rings around the area, want 1", len(c.Rings))
	}
}

// A gap between two strips, open at both ends, is a void of the aggregate.
func TestGapBetweenStrips(t *testing.T) {
	s := newScene()
	l := line{id: 1, startS: 1000, e: 400000, n: 5600000, speed: 6, lengthM: 120, heightM: 50, fanDeg: 60, density: 16, noiseM: 0.01, jitter: rng(52)}
	s.fly(l)
	w := 2 * 50 * math.Tan(30*math.Pi/180)
	l.id, l.startS, l.e = 2, 1100, 400000+w+3
	s.fly(l)
	c := mustSurvey(t, sum(t, overlap.DefaultOptions(), s.out)).Coverage(overlap.DefaultCoverageOptions())
	near(t, "gap", "largest void", c.LargestVoidM2, (3-0.5)*(120-4), 60)
	two := overlap.DefaultCoverageOptions()
	two.MinDesignedBy = 2
	c = mustSurvey(t, sum(t, overlap.DefaultOptions(), s.out)).Coverage(two)
	if c.LargestVoidM2 < 0.8*c.AreaM2 {
		t.Errorf("nothing is covered twice: void of %.0f of %.0f m2", c.LargestVoidM2, c.AreaM2)
	}
}

// Noise of a level and of a sloping strip: the plane residual against the truth
// within its stated error, the LBS range against the range of normal samples.
func TestRepeatabilityTruth(t *testing.T) {
	for _, slope := range []float64{0, 0.08} {
		const noise = 0.02
		s := newScene()
		s.fly(line{id: 1, startS: 1000, e: 400000, n: 5600000, headingDeg: 15, speed: 6, lengthM: 160, heightM: 50, fanDeg: 60, density: 20, noiseM: noise,
			jitter: rng(53), surface: func(e, n float64) float64 { return 50 + slope*(e-400000) }})
		sv := mustSurvey(t, sum(t, overlap.DefaultOptions(), s.out))
		r := sv.Repeatability(overlap.DefaultRepeatabilityOptions())
		if math.Abs(r.NoiseM-noise) > 4*r.NoiseSigmaM || r.NoiseSigmaM > 2e-4 || r.Cells < 5000 {
			t.Errorf("slope %g: noise %.5f ± %.5f from %d cells, want %g", slope, r.NoiseM, r.NoiseSigmaM, r.Cells, noise)
		}
		near(t, "repeatability", "rms", r.RMSM, noise, 0.08*noise)
		if !r.LBSExact || r.LBSCellM != 2 || len(r.Areas) < 10 {
			t.Errorf("LBS cell %g, %d areas", r.LBSCellM, len(r.Areas))
		}
		// 80 normal samples range over 4.85 sigma on average (tables of the
		// relative range, from memory: d2(80) = 4.85).
		if slope == 0 {
			if r.LBSMaxM < 4.85*noise || r.LBSMaxM > 9*noise || r.LBSRMSDM > 4.85*noise {
				t.Errorf("LBS max %.3f, RMSD %.3f", r.LBSMaxM, r.LBSRMSDM)
			}
		}
		parts := map[string]int{}
		for _, a := range r.Areas {
			parts[a.Part]++
			if a.MinM > a.MaxM || a.RMSDM > max(math.Abs(a.MinM), a.MaxM) || len(a.Ring) != 5 {
				t.Errorf("%+v", a)
			}
		}
		if parts["left"] == 0 || parts["centre"] == 0 || parts["right"] == 0 {
			t.Errorf("areas by part of the swath: %v", parts)
		}
	}
}

// The distribution at a design spacing that no whole part of the cell matches:
// points at random with n per m2 leave a share exp(-4 n ANPS^2) of cells of
// 2 ANPS empty, read between two sizes.
func TestDistributionBetween(t *testing.T) {
	for _, sub := range []int{4, 8} {
		s := newScene()
		s.fly(line{id: 1, startS: 1000, e: 400000, n: 5600000, speed: 6, lengthM: 200, heightM: 60, fanDeg: 60, density: 9, noiseM: 0.01, jitter: rng(55)})
		o := overlap.DefaultOptions()
		o.SubCells = sub
		sv := mustSurvey(t, sum(t, o, s.out))
		for _, anps := range []float64{0.2, 0.3, 0.37, 0.45} {
			co := overlap.DefaultCoverageOptions()
			co.ANPSM = anps
			d := sv.Coverage(co).Strips[0].Distribution
			if !d.Judgeable {
				if sub == 8 {
					t.Errorf("ANPS %g: not judged: %+v", anps, d)
				}
				continue
			}
			want := 100 * (1 - math.Exp(-4*9*anps*anps))
			// At 0.2 m, half the spacing flown, chance gathers empty cells to voids, which are taken out.
			tolerance := map[float64]float64{0.2: 2.5}[anps] + 1
			near(t, "distribution", "share", d.Pct, want, tolerance)
		}
	}
}
