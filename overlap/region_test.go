package overlap

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/planar"
)

// Outlines of random sets of cells: the rings' signed areas add up to the cells,
// and every cell lies inside, every hole outside, by a general library.
func TestOutline(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 3))
	for _, share := range []float64{0.2, 0.5, 0.8, 1} {
		var cells []cellID
		for row := range int32(20) {
			for col := range int32(25) {
				if r.Float64() < share {
					cells = append(cells, cellID{col - 7, row - 3})
				}
			}
		}
		for _, part := range parts(cells, true) {
			var area float64
			var poly []orb.Ring
			for _, ring := range outline(part, 2, 0) {
				var o orb.Ring
				for _, p := range ring {
					o = append(o, orb.Point{p[0], p[1]})
				}
				a := planar.Area(o)
				if o.Orientation() == orb.CW {
					a = -math.Abs(a)
				}
				area += a
				poly = append(poly, o)
			}
			if math.Abs(area-4*float64(len(part))) > 1e-9 {
				t.Fatalf("share %g: rings enclose %g m2, the cells %d", share, area, 4*len(part))
			}
			for _, c := range part {
				e, n := c.centre(2)
				inside := 0
				for _, o := range poly {
					if planar.RingContains(o, orb.Point{e, n}) {
						inside++
					}
				}
				if inside%2 != 1 {
					t.Fatalf("share %g: cell %v lies in %d rings", share, c, inside)
				}
			}
		}
	}
}

// The array and the map behind outlines draw the same.
func TestOutlineSparse(t *testing.T) {
	cells := []cellID{{0, 0}, {1, 0}, {2, 0}, {0, 1}, {2, 1}, {0, 2}, {1, 2}, {2, 2}, {3, 3}}
	far := append(append([]cellID{}, cells...), cellID{2_000_000_000, 2_000_000_000})
	a, b := outline(cells, 1, 0), outline(far, 1, 0)
	if len(b) != len(a)+1 || newCellSides(far).bytes != nil || newCellSides(cells).bytes == nil {
		t.Fatalf("%d and %d rings", len(a), len(b))
	}
	for i := range a {
		if len(a[i]) != len(b[i]) {
			t.Errorf("ring %d: %v and %v", i, a[i], b[i])
		}
	}
	if h := outline(cells, 1, 2); len(h) != len(a)-1 {
		t.Errorf("%d rings without the hole of one cell, %d with it", len(h), len(a))
	}
}

func TestComponents(t *testing.T) {
	cells := []cellID{{0, 0}, {1, 0}, {5, 0}, {2, 1}, {5, 1}, {0, 3}}
	if set, n := components(cells, false); n != 4 || set[0] != set[1] || set[2] != set[4] || set[3] == set[1] {
		t.Errorf("by sides: %v, %d", set, n)
	}
	if set, n := components(cells, true); n != 3 || set[3] != set[1] {
		t.Errorf("by corners: %v, %d", set, n)
	}
}

// Growing and shrinking against the definition, cell by cell.
func TestSpread(t *testing.T) {
	r := rand.New(rand.NewPCG(4, 4))
	const cols, rows = 23, 17
	mask := make([]bool, cols*rows)
	for i := range mask {
		mask[i] = r.Float64() < 0.1
	}
	for _, n := range []int{0, 1, 3} {
		for _, v := range []bool{true, false} {
			got := spread(mask, cols, rows, n, v)
			for i := range got {
				near := false
				for j := range mask {
					if mask[j] == v && max(abs(i%cols-j%cols), abs(i/cols-j/cols)) <= n {
						near = true
					}
				}
				if (got[i] == v) != near {
					t.Fatalf("n %d, %v: cell %d is %v", n, v, i, got[i])
				}
			}
		}
	}
	hole := []bool{
		false, false, false, false, false, false,
		false, true, true, true, false, false,
		false, true, false, true, false, true,
		false, true, true, true, false, false,
		false, false, false, false, false, false,
	}
	fillHoles(hole, 6, 5)
	if !hole[14] || hole[10] || hole[0] {
		t.Errorf("holes: %v", hole)
	}
}

func abs(a int) int { return max(a, -a) }

// Second moments of absolute heights wrap around 2^64; about the mean they are exact.
func TestCentral(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 5))
	var s1 int64
	var s2 uint64
	var v []int64
	base := int64(8800) * unitsPerM
	for range 3_000 {
		z := base + r.Int64N(40*unitsPerM)
		v = append(v, z)
		s1 += z
		s2 += uint64(z) * uint64(z)
	}
	n := int64(len(v))
	mean := float64(s1) / float64(n)
	want := 0.0
	for _, z := range v {
		want += (float64(z) - mean) * (float64(z) - mean)
	}
	if got := central(s2, s1, s1, n); math.Abs(got-want) > 1e-9*want {
		t.Errorf("sum of squares about the mean %g, want %g", got, want)
	}
	wrapped := s2
	s1, n = s1<<10, n<<10
	wrapped <<= 10 // the same points 1024 times: beyond 2^64
	if got := central(wrapped, s1, s1, n); math.Abs(got-1024*want) > 1e-9*1024*want {
		t.Errorf("after wrapping %g, want %g", got, 1024*want)
	}
}
