package adjust

import (
	"math"
	"testing"

	"sidelap/overlap"
)

// TestChooseCells is a closed form: of 3000 flat cells, 40 on a bank and 30 on two roofs, 160 places go whole to the rare normals and for the rest evenly over
// the flat ground; with room for all, all are taken.
func TestChooseCells(t *testing.T) {
	pairs := []overlap.Pair{{B: 1}, {A: 1, B: 2}}
	add := func(pair, n int, slopeE, slopeN float64) {
		for range n {
			i := len(pairs[pair].Cells)
			pairs[pair].Cells = append(pairs[pair].Cells, overlap.PairCell{EM: float64(i), SlopeE: slopeE, SlopeN: slopeN, SigmaM: 0.01})
		}
	}
	add(0, 1500, 0, 0.01)
	add(0, 40, 0.2, 0)
	add(1, 20, 0, 0.6)
	add(1, 1500, 0.02, 0)
	add(1, 10, 0, -0.6)
	add(1, 10, 0, math.Tan(60*math.Pi/180)) // too steep
	const most = 160
	limit := 50 * math.Pi / 180
	if n := len(chooseCells(pairs, limit, 5000)); n != 3070 {
		t.Errorf("%d cells with room for all of 3070", n)
	}
	classes := map[[2]float64]int{}
	var flat []int
	for _, r := range chooseCells(pairs, limit, most) {
		c := &pairs[r.pair].Cells[r.cell]
		classes[[2]float64{c.SlopeE, c.SlopeN}]++
		if math.Hypot(c.SlopeE, c.SlopeN) < 0.05 {
			flat = append(flat, int(r.pair)*1540+int(r.cell))
		}
	}
	if classes[[2]float64{0.2, 0}] != 40 || classes[[2]float64{0, 0.6}] != 20 || classes[[2]float64{0, -0.6}] != 10 || len(flat) != most-70 {
		t.Errorf("of normals %v, %d flat", classes, len(flat))
	}
	for i := 1; i < len(flat); i++ {
		if gap := flat[i] - flat[i-1]; gap < 33 || gap > 34+60 { // 3000 / 90, and the bank and the roof between
			t.Errorf("flat cells %d and %d follow each other", flat[i-1], flat[i])
		}
	}
}
