package overlap_test

import (
	"math"
	"testing"

	"sidelap/overlap"
)

func near(t *testing.T, id, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: %s = %.9g, want %.9g ± %.2g", id, what, got, want, tol)
	}
}

// Check values L-1 to L-7. Source: USGS Lidar Base Specification 2025 rev. A,
// arithmetic computed from its formulas; the ids are those of docs/overlap.md.
func TestLidarBaseSpecification(t *testing.T) {
	near(t, "L-1", "precision", overlap.LBSPrecision(0.12, 0.02, 2), 0.06344, 1e-9)

	for i, want := range []float64{2, 2, 2, 2, 2, 4} {
		anps := []float64{0.05, 0.22, 0.35, 0.71, 1.0, 1.41}[i]
		near(t, "L-2", "cell", overlap.LBSCellM(anps), want, 0)
	}
	for i, want := range []float64{1.96, 8.0656, 31.8096} {
		anps := []float64{0.35, 0.71, 1.41}[i]
		near(t, "L-3", "void area", overlap.VoidAreaM2(anps), want, 1e-9)
	}
	near(t, "L-4", "precision of a perfect plane", overlap.LBSPrecision(0.2, 0.1, 2), -0.0828, 1e-9)

	if !overlap.DistributionPasses(900, 1000) || overlap.DistributionPasses(899, 1000) {
		t.Error("L-5: 900 of 1000 cells pass, 899 fail")
	}
	if overlap.DistributionPasses(0, 0) {
		t.Error("L-5: no cells must not pass")
	}
	near(t, "L-6", "side of the check point patch", overlap.PatchSideM(0.71), 3.55, 1e-9)
	near(t, "L-6", "plane deviation", overlap.PatchDeviationM(0.10), 0.0333, 5e-5)

	for i, want := range []int{1, 2, 3, 1, 1, 2} {
		dz := []float64{0.079, 0.081, 0.161, 0.08, -0.08, -0.16}[i]
		if got := overlap.Level(dz, 0.08); got != want {
			t.Errorf("L-7: level of %g m = %d, want %d", dz, got, want)
		}
	}
	if overlap.Level(math.NaN(), 0.08) != 0 {
		t.Error("L-7: no separation has no level")
	}
}

// interSwath are I-1 to I-6: planes seen by two swaths shifted against each other
// by (0.10, -0.05, 0.02). Source: ASPRS Guidelines on Geometric Inter-Swath
// Accuracy, 2018, in the form of docs/overlap.md; values computed from the formulas.
var interSwath = []struct {
	id       string
	sE, sN   float64
	d, dz    float64
	slopeDeg float64
}{
	{"I-1", 0, 0, 0.020000, 0.020, 0},
	{"I-2", 0.3, 0, -0.009578, -0.010, 16.6992},
	{"I-3", 0, 0.3, 0.033524, 0.035, 16.6992},
	{"I-4", -0.3, 0, 0.047891, 0.050, 16.6992},
	{"I-5", 0, -0.3, 0.004789, 0.005, 16.6992},
	{"I-6", 0.3, 0.3, 0.004603, 0.005, 22.9898},
}

func TestInterSwath(t *testing.T) {
	shift := [3]float64{0.10, -0.05, 0.02}
	for _, c := range interSwath {
		dz := shift[2] - c.sE*shift[0] - c.sN*shift[1]
		near(t, c.id, "dz", dz, c.dz, 1e-12)
		near(t, c.id, "d", overlap.PointToPlane(dz, c.sE, c.sN), c.d, 5e-7)
		f := overlap.Facet{SlopeE: c.sE, SlopeN: c.sN}
		near(t, c.id, "slope", f.SlopeRad()*180/math.Pi, c.slopeDeg, 5e-5)
	}

	s := overlap.FitShift(shiftCells(0, 1, 2, 3, 4), 0.05)
	near(t, "I-7", "E", s.EM, 0.10, 1e-12)
	near(t, "I-7", "N", s.NM, -0.05, 1e-12)
	near(t, "I-7", "U", s.UM, 0.02, 1e-12)
	if !s.EDeterminable || !s.NDeterminable || !s.UDeterminable {
		t.Errorf("I-7: all three are determinable: %+v", s)
	}

	s = overlap.FitShift(shiftCells(0, 1, 3), 0.05)
	near(t, "I-8", "E", s.EM, 0.10, 1e-12)
	near(t, "I-8", "U", s.UM, 0.02, 1e-12)
	if s.NDeterminable || !math.IsNaN(s.NM) || !math.IsNaN(s.SigmaNM) || !s.EDeterminable || !s.UDeterminable {
		t.Errorf("I-8: N is not determinable, E and U are: %+v", s)
	}

	s = overlap.FitShift(shiftCells(0, 0, 0, 0), 0.05)
	near(t, "flat", "U", s.UM, 0.02, 1e-12)
	if s.EDeterminable || s.NDeterminable {
		t.Errorf("flat ground determines no horizontal shift: %+v", s)
	}
}

// shiftCells makes pair cells of the planes with these indices.
func shiftCells(index ...int) []overlap.PairCell {
	var out []overlap.PairCell
	for i, k := range index {
		c := interSwath[k]
		p := overlap.PairCell{Col: int32(20 * i), DzM: c.dz, SigmaM: 0.005, SlopeE: c.sE, SlopeN: c.sN}
		if c.slopeDeg > 10 {
			p.Flag = overlap.Steep
		}
		out = append(out, p)
	}
	return out
}

// The set D20 and its values. Source: S-1 to S-6 and S-11 of the statistics
// chapter behind docs/overlap.md, computed with the formulas there; the
// percentiles E1-5 to E1-8 with the method of ASPRS Edition 1.
func TestDescribe(t *testing.T) {
	d20 := []float64{0.03, -0.02, 0.05, 0.01, -0.04, 0.02, 0.00, -0.01, 0.06, -0.03, 0.02, 0.04, -0.05, 0.01, 0.03, -0.02, 0.00, 0.05, -0.01, 0.30}
	s := overlap.Describe(d20, 0.05)
	near(t, "S-1", "mean", s.MeanM, 0.022, 5e-7)
	near(t, "S-2", "median", s.MedianM, 0.010, 5e-7)
	near(t, "S-3", "std", s.StdM, 0.072301, 5e-7)
	near(t, "S-4", "RMSD", s.RMSDM, 0.073824, 5e-7)
	near(t, "S-6", "NMAD", s.NMADM, 0.037065, 5e-7)
	near(t, "S-11", "p95 of |dz|", s.P95AbsM, 0.072, 5e-7)
	near(t, "D20", "max |dz|", s.MaxAbsM, 0.30, 0)
	near(t, "D20", "within 0.05", s.WithinPct, 90, 1e-9)
	near(t, "D20", "within 0.10", s.Within2, 95, 1e-9)
	near(t, "S-16", "RMSD^2 = mean^2 + s^2 (n-1)/n", s.RMSDM*s.RMSDM, s.MeanM*s.MeanM+s.StdM*s.StdM*19/20, 1e-15)

	var to20 []float64
	for i := range 20 {
		to20 = append(to20, float64(i+1))
	}
	near(t, "E1-5", "p95", overlap.Describe(to20, 1).P95AbsM, 19.05, 1e-12)
	near(t, "E1-6", "p95", overlap.Describe([]float64{0.12, -0.05, 0.31, 0.08, -0.22}, 1).P95AbsM, 0.292, 1e-12)
	one := overlap.Describe([]float64{-0.07, math.NaN()}, 1)
	near(t, "E1-8", "p95 of one value", one.P95AbsM, 0.07, 0)
	if one.Cells != 1 || !math.IsNaN(one.StdM) {
		t.Errorf("one value: %+v", one)
	}
	if none := overlap.Describe(nil, 1); none.Cells != 0 || !math.IsNaN(none.RMSDM) || !math.IsNaN(none.WithinPct) {
		t.Errorf("no values: %+v", none)
	}
}
