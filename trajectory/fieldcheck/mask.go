package fieldcheck

import (
	"math"
	"slices"

	"github.com/paulmach/orb"
)

// mostRows bounds the rows of cells of an area; an area of more is of another
// site or another unit, and all of it counts as beyond the raster.
const mostRows = 1 << 20

// mask marks the cells whose centres lie in the polygons, and counts those that
// lie outside the raster. A cell in several polygons counts once; the direction
// of rings does not matter.
func (c *Coverage) mask(area orb.MultiPolygon) (inside []bool, beyond int) {
	inside = make([]bool, len(c.First))
	b := area.Bound()
	r0, r1 := math.Floor((b.Min[1]-c.NM)/c.CellM), math.Floor((b.Max[1]-c.NM)/c.CellM)
	if !(r1-r0 < mostRows) {
		return inside, math.MaxInt32
	}
	for row := int(r0); row <= int(r1); row++ {
		end := math.MinInt // first column behind what was counted
		for _, s := range c.spans(area, c.NM+(float64(row)+0.5)*c.CellM) {
			for lo := max(s[0], end); lo <= s[1]; lo = s[1] + 1 {
				n := s[1] - lo + 1
				if row >= 0 && row < c.Rows {
					for col := max(lo, 0); col <= min(s[1], c.Cols-1); col++ {
						inside[row*c.Cols+col] = true
						n--
					}
				}
				beyond = min(beyond+n, math.MaxInt32)
			}
			end = max(end, s[1]+1)
		}
	}
	return inside, beyond
}

// spans returns the columns, first and last, of the cells in one row whose
// centres lie in a polygon, in order.
func (c *Coverage) spans(area orb.MultiPolygon, n float64) (out [][2]int) {
	const most = 1 << 30
	for _, p := range area {
		var e []float64
		for _, ring := range p {
			for i := range ring {
				a, b := ring[i], ring[(i+1)%len(ring)]
				if (a[1] > n) != (b[1] > n) {
					e = append(e, a[0]+(n-a[1])/(b[1]-a[1])*(b[0]-a[0]))
				}
			}
		}
		slices.Sort(e)
		for i := 0; i+1 < len(e); i += 2 {
			lo, hi := math.Ceil((e[i]-c.EM)/c.CellM-0.5), math.Ceil((e[i+1]-c.EM)/c.CellM-0.5)-1
			if lo <= hi {
				out = append(out, [2]int{int(max(lo, -most)), int(min(hi, most))})
			}
		}
	}
	slices.SortFunc(out, func(a, b [2]int) int { return a[0] - b[0] })
	return out
}
