package adjust

// blockSums are the normal equations of one block of ground, over the columns of the global kinds and of the strips that meet
// there only. What a model leaves in a block follows from them, without a walk over its rows.
type blockSums struct {
	strips []int32 // in order of first appearance; strip i has the columns from globalKinds + i*stripColumns
	*normal
}

// place returns where the columns of a strip begin, -1 for a strip that the block does not know.
func (b *blockSums) place(strip int32) int {
	for i, s := range b.strips {
		if s == strip {
			return int(globalKinds) + stripColumns*i
		}
	}
	return -1
}

// gather picks the values of the block's columns from a whole parameter vector.
func (b *blockSums) gather(x, into []float64) []float64 {
	into = append(into[:0], x[:globalKinds]...)
	for _, s := range b.strips {
		at := int(globalKinds) + stripColumns*int(s)
		into = append(into, x[at:at+stripColumns]...)
	}
	return into
}

// addTo adds the block's sums to those over all columns.
func (b *blockSums) addTo(q *normal) {
	at := make([]int, 0, b.size)
	for k := range int(globalKinds) {
		at = append(at, k)
	}
	for _, s := range b.strips {
		for c := range stripColumns {
			at = append(at, int(globalKinds)+stripColumns*int(s)+c)
		}
	}
	for i, ai := range at {
		q.u[ai] += b.u[i]
		q.slope[ai] += b.slope[i]
		for j := i; j < len(at); j++ {
			lo, hi := min(ai, at[j]), max(ai, at[j])
			q.n[lo*q.size+hi] += b.n[i*b.size+j]
		}
	}
	q.yy += b.yy
	q.w += b.w
	q.rows += b.rows
}

// blockStrips lists for each block the strips that meet there.
func (p *problem) blockStrips() [][]int32 {
	out := make([][]int32, p.blocks)
	for i := range p.rows {
		r := &p.rows[i]
		for _, s := range [2]int32{r.a, r.b} {
			known := false
			for _, o := range out[r.block] {
				known = known || o == s
			}
			if !known {
				out[r.block] = append(out[r.block], s)
			}
		}
	}
	return out
}

// sumBlocks fills the sums of the blocks of fold f from the rows in their order.
func (p *problem) sumBlocks(f int, strips [][]int32) {
	for b := f; b < p.blocks; b += folds {
		p.block[b] = blockSums{strips[b], newNormal(int(globalKinds) + stripColumns*len(strips[b]))}
	}
	var s sparse
	for i := range p.rows {
		r := &p.rows[i]
		if r.weight <= 0 || foldOf(r.block) != f {
			continue
		}
		b := &p.block[r.block]
		s.fillAt(r, p.layout, b.place(r.a), b.place(r.b))
		b.add(&s, r.y, r.weight)
	}
}
