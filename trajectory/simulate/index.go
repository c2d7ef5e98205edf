package simulate

import "math"

// box is the area of the terrain, metres from the block's centre: a map-aligned
// frame around the block, which itself is alongM x acrossM turned to headingRad.
type box struct {
	e0, n0, e1, n1  float64
	alongM, acrossM float64
	sin, cos        float64
}

// toMap turns block axes (forward, right) to east and north from the centre.
func (b *box) toMap(f, r float64) (e, n float64) {
	return f*b.sin + r*b.cos, f*b.cos - r*b.sin
}

// index lists, for each cell of the ground, the objects that a beam ending in
// the cell could have met on its way down: those whose outline, widened by
// height x tan(largest beam angle), reaches the cell. Houses are k >= 0, plants -k-1.
type index struct {
	e0, n0, inv float64
	cols, rows  int
	start       []int32
	list        []int32
}

const indexCellM = 4

func newIndex(sf *Surface, b box, maxAngleRad float64) *index {
	ix := &index{e0: b.e0, n0: b.n0, inv: 1.0 / indexCellM}
	ix.cols = int(math.Ceil((b.e1-b.e0)*ix.inv)) + 1
	ix.rows = int(math.Ceil((b.n1-b.n0)*ix.inv)) + 1
	tan := math.Tan(maxAngleRad)
	count := make([]int32, ix.cols*ix.rows+1)
	each := func(do func(cell int, k int32)) {
		for k := range sf.houses {
			h := &sf.houses[k]
			g, _, _ := sf.ground.at(h.e, h.n)
			ix.cover(h.e, h.n, math.Hypot(h.halfL, h.halfW)+(h.ridgeM-g+3)*tan, int32(k), do)
		}
		for k := range sf.plants {
			p := &sf.plants[k]
			ix.cover(p.e, p.n, p.r+(p.z+p.rz-p.groundM+3)*tan, int32(-k-1), do)
		}
	}
	each(func(cell int, _ int32) { count[cell+1]++ })
	for i := 1; i < len(count); i++ {
		count[i] += count[i-1]
	}
	ix.start = append([]int32(nil), count...)
	ix.list = make([]int32, count[len(count)-1])
	each(func(cell int, k int32) {
		ix.list[count[cell]] = k
		count[cell]++
	})
	return ix
}

// cover calls do for each cell that a disc touches.
func (ix *index) cover(e, n, r float64, k int32, do func(int, int32)) {
	i0, i1 := ix.col(e-r), ix.col(e+r)
	j0, j1 := ix.row(n-r), ix.row(n+r)
	for j := j0; j <= j1; j++ {
		for i := i0; i <= i1; i++ {
			ce, cn := ix.e0+(float64(i)+0.5)*indexCellM, ix.n0+(float64(j)+0.5)*indexCellM
			if math.Hypot(ce-e, cn-n) <= r+indexCellM*0.7072 {
				do(j*ix.cols+i, k)
			}
		}
	}
}

func (ix *index) col(e float64) int { return min(max(int((e-ix.e0)*ix.inv), 0), ix.cols-1) }
func (ix *index) row(n float64) int { return min(max(int((n-ix.n0)*ix.inv), 0), ix.rows-1) }

// near returns the objects that could stand in the way of a beam ending at (e, n).
func (ix *index) near(e, n float64) []int32 {
	c := ix.row(n)*ix.cols + ix.col(e)
	return ix.list[ix.start[c]:ix.start[c+1]]
}
