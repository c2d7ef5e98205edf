package overlap

import (
	"math/rand/v2"
	"testing"
)

// TestCellCount is a property: the table counts what a map counts.
func TestCellCount(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 9))
	c := newCellCount(5000)
	for _, side := range []int{1, 7, 100, 1 << 40} {
		c.clear()
		seen := map[[2]int64]bool{}
		for range 5000 {
			k := [2]int64{int64(r.IntN(side) - side/2), int64(r.IntN(side) - side/2)}
			c.add(k)
			seen[k] = true
		}
		if c.n != len(seen) {
			t.Errorf("side %d: %d cells, %d by a map", side, c.n, len(seen))
		}
	}
}
