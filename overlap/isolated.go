package overlap

import "math"

// isolatedReach is the number of cells to each side of a cell that make its surroundings.
const isolatedReach = 3

// minIsolatedM is the least departure from its surroundings that isolates a cell.
const minIsolatedM = 0.10

// flagIsolated flags cells whose separation departs from the median of the used
// cells around them by more than six times the pair's NMAD, and by more than
// 0.10 m. A misaligned strip differs over many cells in the same way, so this
// takes nothing off a real separation; what moved between the two passes goes.
// Our choice.
func flagIsolated(cells []PairCell) {
	var dz []float64
	at := map[cellID]float64{}
	for i := range cells {
		if cells[i].Flag == 0 {
			dz = append(dz, cells[i].DzM)
			at[cellID{cells[i].Col, cells[i].Row}] = cells[i].DzM
		}
	}
	mid, limit := median(dz), max(6*nmad(dz), minIsolatedM)
	var isolated []int
	for i := range cells {
		c := &cells[i]
		if c.Flag != 0 || math.Abs(c.DzM-mid) <= limit/2 {
			continue
		}
		around := dz[:0:0]
		for r := int32(-isolatedReach); r <= isolatedReach; r++ {
			for k := int32(-isolatedReach); k <= isolatedReach; k++ {
				if d, ok := at[cellID{c.Col + k, c.Row + r}]; ok && (r != 0 || k != 0) {
					around = append(around, d)
				}
			}
		}
		if len(around) >= 5 && math.Abs(c.DzM-median(around)) > limit {
			isolated = append(isolated, i)
		}
	}
	for _, i := range isolated {
		cells[i].Flag |= Isolated
	}
}
