package adjust

import (
	"math"
	"math/rand/v2"
	"testing"
)

// TestBlockSums is a closed form: what a model leaves in each block, from the block's sums, is what a walk over its rows finds, with
// rows of several strips in any order, outliers and noise of gradients; and the folds add up to all rows.
func TestBlockSums(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 5))
	const strips, blocks = 5, 11
	var rows []row
	for range 600 {
		r := row{y: rng.NormFloat64() * 0.02, weight: 1e4 * rng.Float64(), gE: rng.NormFloat64() * 0.1, gN: rng.NormFloat64() * 0.1, slopeVar: 1e-5,
			timeA: 2*rng.Float64() - 1, timeB: 2*rng.Float64() - 1, a: int32(rng.IntN(strips)), block: int32(rng.IntN(blocks))}
		r.b = (r.a + 1 + int32(rng.IntN(strips-1))) % strips
		if rng.IntN(10) == 0 {
			r.weight = 0
		}
		random := func() move {
			return move{float32(rng.NormFloat64()), float32(rng.NormFloat64()), float32(rng.NormFloat64())}
		}
		for k := range globalKinds {
			r.global[k] = random()
		}
		r.rollA, r.rollB = random(), random()
		rows = append(rows, r)
	}
	p := newProblem(rows, strips, blocks)
	p.accumulate()
	x := make([]float64, p.layout.size())
	for i := range x {
		x[i] = 0.01 * rng.NormFloat64()
	}
	want := make([]float64, blocks)
	weight := 0.0
	var s sparse
	for i := range rows {
		r := &rows[i]
		s.fill(r, p.layout)
		d := r.y - s.predict(x)
		want[r.block] += r.weight * (d*d - s.slopeNoise(x))
		weight += r.weight
	}
	sum := 0.0
	for b := range want {
		sum += want[b]
		if got := p.block[b].leaves(p.block[b].gather(x, nil)); math.Abs(got-want[b]) > 1e-9*math.Abs(want[b]) {
			t.Errorf("block %d: %g from its sums, %g from its rows", b, got, want[b])
		}
	}
	if got := p.total.leaves(x); math.Abs(got-sum) > 1e-9*sum {
		t.Errorf("all rows leave %g, their sums say %g", sum, got)
	}
	if math.Abs(p.total.w-weight) > 1e-9*weight {
		t.Errorf("weights add up to %g, the sums say %g", weight, p.total.w)
	}
}
