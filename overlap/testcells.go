package overlap

import (
	"cmp"
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

// voids joins empty test cells by their sides and keeps the parts of at least
// the limit. in holds the test cells of each cell that lie in them, as bits.
func (t testCells) voids(empty []cellID, strip int, limitM2 float64) (out []Void, in map[cellID]uint64) {
	in = map[cellID]uint64{}
	k := int64(t.k)
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
			c, r := floorDiv(int64(q.col), k), floorDiv(int64(q.row), k)
			in[cellID{int32(c), int32(r)}] |= 1 << ((int64(q.row)-r*k)*k + int64(q.col) - c*k)
		}
		out = append(out, v)
	}
	return out, in
}

func largest(v []Void, n int) []Void {
	slices.SortStableFunc(v, func(x, y Void) int { return cmp.Compare(y.AreaM2, x.AreaM2) })
	if n > 0 && len(v) > n {
		v = v[:n:n]
	}
	return v
}
