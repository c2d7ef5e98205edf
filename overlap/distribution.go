package overlap

import (
	"math"
	"math/bits"
)

// regularity counts occupied test cells at two sizes, one up to and one above
// twice the nominal spacing, so that the share at exactly twice can be read
// between them.
type regularity struct {
	t            testCells
	other        testCells // twice or half as wide; k 0: the grid has no such size
	cells, empty [2]float64
}

func (t testCells) regularity(anpsM float64) *regularity {
	g := &regularity{t: t}
	switch {
	case t.sideM >= 2*anpsM && t.merge > 1:
		g.other = testCells{t.k * 2, t.merge / 2, t.sideM / 2}
	case t.sideM < 2*anpsM && t.k > 1:
		g.other = testCells{t.k / 2, t.merge * 2, t.sideM * 2}
	}
	return g
}

// add counts one cell: raw is its bitmap of sub-cells, void the test cells of
// size t that lie in voids, which do not count.
func (g *regularity) add(raw, void uint64) {
	g.count(0, g.t, raw, void)
	switch {
	case g.other.k == 0:
	case g.other.k < g.t.k: // wider: in a void when all its parts are
		full := ^uint64(0) >> (64 - g.t.k*g.t.k)
		wide := ^uint64(0) >> (64 - g.other.k*g.other.k)
		g.count(1, g.other, raw, ^halve(^void&full, g.t.k)&wide)
	default:
		g.count(1, g.other, raw, double(void, g.t.k))
	}
}

func (g *regularity) count(i int, t testCells, raw, void uint64) {
	full := ^uint64(0) >> (64 - t.k*t.k)
	g.cells[i] += float64(bits.OnesCount64(full &^ void))
	g.empty[i] += float64(bits.OnesCount64(full &^ void &^ t.occupied(raw)))
}

// double is the opposite of halve: each bit of a k by k grid becomes four.
func double(b uint64, k int) uint64 {
	var out uint64
	for ; b != 0; b &= b - 1 {
		i := bits.TrailingZeros64(b)
		at := 2*(i/k)*2*k + 2*(i%k)
		out |= 3<<at | 3<<(at+2*k)
	}
	return out
}

// result reads the share at a side of 2 ANPS: the logarithm of the share of empty
// cells is linear in their area for points at random, exp(-density area).
func (g *regularity) result(anpsM float64) Distribution {
	d := Distribution{CellM: g.t.sideM, Cells: int(g.cells[0]), Pct: math.NaN()}
	if g.cells[0] == 0 {
		return d
	}
	p := g.empty[0] / g.cells[0]
	r := g.t.sideM / (2 * anpsM)
	d.Judgeable = r > 1/1.25 && r < 1.25
	if g.other.k > 0 && g.cells[1] > 0 {
		a, b := g.t.sideM*g.t.sideM, g.other.sideM*g.other.sideM
		u := (4*anpsM*anpsM - a) / (b - a)
		q := math.Log(share(g.empty[1], g.cells[1]))
		p0 := math.Log(share(g.empty[0], g.cells[0]))
		if g.empty[0] > 0 || g.empty[1] > 0 {
			p = math.Exp(p0 + u*(q-p0))
		}
		d.CellM, d.Judgeable = 2*anpsM, true
	}
	d.Pct = 100 * (1 - p)
	d.Occupied = int(math.Round((1 - p) * g.cells[0]))
	return d
}

// share is n of all, with half a cell for none.
func share(n, all float64) float64 { return max(n, 0.5) / all }
