package overlap

import (
	"cmp"
	"math"
	"slices"
)

// testCells is the grid of the tests: the cell divided into k by k, k dividing
// SubCells.
type testCells struct {
	k     int // test cells along the side of a cell
	merge int // sub-cells along the side of a test cell
	sideM float64
}

// minTestSpacings is the smallest test cell in nominal spacings: a smaller one
// is empty by chance too often (with 2, one in 55 for points at random).
const minTestSpacings = 1.7

func (s *Survey) testCells(anpsM float64) testCells {
	t := testCells{k: s.Options.SubCells, merge: 1, sideM: s.Options.SubCellM()}
	for t.k > 1 && t.sideM < minTestSpacings*anpsM {
		t.k, t.merge, t.sideM = t.k/2, t.merge*2, t.sideM*2
	}
	return t
}

// occupied returns the test cells with a first return, bit row*k+col.
func (t testCells) occupied(bits uint64) uint64 {
	for m := t.merge; m > 1; m /= 2 {
		bits = halve(bits, t.k*m)
	}
	return bits
}

// halve joins the bits of a k by k grid two by two.
func halve(bits uint64, k int) uint64 {
	if full := ^uint64(0) >> (64 - k*k); bits == full {
		return full >> (k*k - k*k/4)
	}
	var out uint64
	for r := range k {
		for c := range k {
			if bits&(1<<(r*k+c)) != 0 {
				out |= 1 << (r/2*(k/2) + c/2)
			}
		}
	}
	return out
}

func (t testCells) count(bits uint64) int {
	n := 0
	for ; bits != 0; bits &= bits - 1 {
		n++
	}
	return n
}

// empties appends the test cells of a cell without a first return.
func (t testCells) empties(dst []cellID, col, row int32, occupied uint64) []cellID {
	k := int32(t.k)
	for r := range k {
		for c := range k {
			if occupied&(1<<(r*k+c)) == 0 {
				dst = append(dst, cellID{col*k + c, row*k + r})
			}
		}
	}
	return dst
}

// distribution closes a count of occupied test cells: voids are left out.
func (t testCells) distribution(cells, occupied, inVoids int, anpsM float64) Distribution {
	d := Distribution{CellM: t.sideM, Cells: cells - inVoids, Occupied: occupied, Pct: math.NaN()}
	if d.Cells > 0 {
		d.Pct = 100 * float64(d.Occupied) / float64(d.Cells)
		r := t.sideM / (2 * anpsM)
		d.Judgeable = r > 1/1.5 && r < 1.5
	}
	return d
}

// voids joins empty test cells by their sides and keeps the parts of at least
// the limit. It returns how many test cells lie in them.
func (t testCells) voids(empty []cellID, strip int, limitM2 float64) (out []Void, cells int) {
	slices.SortFunc(empty, func(x, y cellID) int { return cmp.Or(cmp.Compare(x.row, y.row), cmp.Compare(x.col, y.col)) })
	for _, p := range parts(empty, false) {
		area := float64(len(p)) * t.sideM * t.sideM
		if area < limitM2*(1-1e-9) {
			continue
		}
		v := Void{Strip: strip, AreaM2: area, Rings: outline(p, t.sideM, 0)}
		for _, q := range p {
			e, n := q.centre(t.sideM)
			v.EM += e / float64(len(p))
			v.NM += n / float64(len(p))
		}
		out = append(out, v)
		cells += len(p)
	}
	return out, cells
}

func largest(v []Void, n int) []Void {
	slices.SortStableFunc(v, func(x, y Void) int { return cmp.Compare(y.AreaM2, x.AreaM2) })
	if n > 0 && len(v) > n {
		v = v[:n:n]
	}
	return v
}
