package adjust

import (
	"math"
	"testing"
)

// flatRows makes the sixty cells of the reference's section 13: six across (y = 0, 10 .. 50), ten along, sigma 0.02 m,
// H 100 m, D 50 m. slope is the gradient along the track, its sign alternating from cell to cell.
func flatRows(heading2Deg, slope float64) *problem {
	var rows []row
	m1, m2 := BodyToMap(0, 0, 0), BodyToMap(0, 0, heading2Deg*deg)
	for along := range 10 {
		for across := range 6 {
			y := 10 * float64(across)
			g := slope
			if (along+across)%2 == 1 {
				g = -slope
			}
			a := sight{body: m1.MulT(Vec{y, 0, -100}), toMap: m1}
			b := sight{body: m2.MulT(Vec{y - 50, 0, -100}), toMap: m2}
			r := row{a: 0, b: 1, gN: g, weight: 1 / (0.02 * 0.02), block: int32(len(rows) / 5)}
			for k := range globalKinds {
				r.global[k] = moveOf(b.displacement(k).Sub(a.displacement(k)))
			}
			r.rollA, r.rollB = moveOf(a.displacement(BoresightRoll)), moveOf(b.displacement(BoresightRoll))
			rows = append(rows, r)
		}
	}
	p := newProblem(rows, 2, 12)
	p.accumulate()
	return p
}

// TestPredictedSigmas asserts the standard deviations of section 13 (closed form).
func TestPredictedSigmas(t *testing.T) {
	// roll with a free offset between the strips, opposed
	p := flatRows(180, 0)
	l := p.layout
	cols := []int{int(BoresightRoll), l.first(StripHeight, 0), l.first(StripHeight, 1)}
	inv := p.total.solve(cols, p.prior).inverse()
	if got := math.Sqrt(inv.At(0, 0)); math.Abs(got-7.559e-5) > 1e-8 {
		t.Errorf("sigma of roll, opposed pair with free offset: %.4g rad, want 7.559e-5 (section 13)", got)
	}
	offset := math.Sqrt(inv.At(1, 1) + inv.At(2, 2) - 2*inv.At(1, 2))
	if math.Abs(offset-0.00258) > 5e-6 {
		t.Errorf("sigma of the offset: %.5f m, want 0.00258 (section 13)", offset)
	}
	// same direction: roll and offset are one and the same
	p = flatRows(0, 0)
	inv = p.total.solve(cols, p.prior).inverse()
	if sigma := math.Sqrt(inv.At(0, 0)); sigma < 0.3*p.prior[BoresightRoll] {
		t.Errorf("same-direction pair: roll beside a free offset has sigma %.4g rad; section 13 says rank defect 1", sigma)
	}
	for _, c := range []struct {
		name     string
		heading2 float64
		slope    float64
		kind     Kind
		wantDeg  float64
		tolDeg   float64
	}{
		{"pitch, opposed, 10 %", 180, 0.1, BoresightPitch, 0.00740, 5e-6},
		{"pitch, opposed, 2 %", 180, 0.02, BoresightPitch, 0.0370, 5e-5},
		{"heading, same direction, 10 %", 0, 0.1, BoresightHeading, 0.0296, 5e-5},
		{"heading, same direction, 2 %", 0, 0.02, BoresightHeading, 0.148, 5e-4},
	} {
		p := flatRows(c.heading2, c.slope)
		s := p.total.solve([]int{int(c.kind)}, p.prior)
		// the prior of 2 deg is far away but not infinite: take it out
		n := 1/s.inverse().At(0, 0) - 1/(p.prior[c.kind]*p.prior[c.kind])
		if got := 1 / math.Sqrt(n) / deg; math.Abs(got-c.wantDeg) > c.tolDeg {
			t.Errorf("%s: sigma %.5f deg, want %.5f (section 13)", c.name, got, c.wantDeg)
		}
	}
	// one opposed pair: pitch and heading have correlation of magnitude 1
	p = flatRows(180, 0.1)
	alike := p.alike(p.observability())
	found := false
	for _, a := range alike {
		found = found || a == [2]Kind{BoresightPitch, BoresightHeading}
	}
	if !found {
		t.Errorf("one opposed pair: pitch and heading are not reported alike: %v", alike)
	}
}
