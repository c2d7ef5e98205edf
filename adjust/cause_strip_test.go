package adjust

import (
	"testing"

	"gonum.org/v1/gonum/mat"
)

// TestDoubtsStayWithTheirStrip: a kind that could have made the height of one strip is no rival of another strip's.
func TestDoubtsStayWithTheirStrip(t *testing.T) {
	p := &problem{layout: newLayout(3), seen: []bool{true, true, true}, rows: []row{{a: 0, b: 1}, {a: 1, b: 2}}}
	small := mat.NewSymDense(3, []float64{1e-6, 0, 0, 0, 1e-6, 0, 0, 0, 1e-6})
	e := &estimate{x: []float64{0.05, 0, -0.05}, share: make([]float64, 3), robust: small, formal: small, loose: small, wide: true}
	for i := range 3 {
		e.cols = append(e.cols, p.layout.first(StripHeight, i))
	}
	e.leaks = []leak{{kind: BoresightRoll, per: mat.NewVecDense(3, []float64{1, 0, 0}), variance: 0.05 * 0.05}}
	found := p.stripCauses(nil, e, Cause{Kind: StripHeight}, DefaultOptions())
	if len(found) != 2 || found[0].Strip != 0 || found[1].Strip != 2 {
		t.Fatalf("%+v", found)
	}
	if len(found[0].ConfoundedWith) != 1 || found[0].ConfoundedWith[0] != BoresightRoll {
		t.Errorf("the strip that a roll could have lifted has the rivals %v", found[0].ConfoundedWith)
	}
	if len(found[1].ConfoundedWith) != 0 {
		t.Errorf("the other strip has its rivals %v", found[1].ConfoundedWith)
	}
}
