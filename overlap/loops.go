package overlap

import "math"

// Loops closes every three lines that are compared two by two.
func Loops(pairs []Pair) []Loop {
	at := map[[2]int]*Pair{}
	for i := range pairs {
		if pairs[i].Used.Cells >= minLoopCells {
			at[[2]int{pairs[i].A, pairs[i].B}] = &pairs[i]
		}
	}
	var out []Loop
	for i := range pairs {
		p := &pairs[i]
		for k := range pairs[i+1:] {
			q := &pairs[i+1+k]
			if q.A != p.A || at[[2]int{p.A, p.B}] == nil || at[[2]int{q.A, q.B}] == nil {
				continue
			}
			r := at[[2]int{p.B, q.B}]
			if r == nil {
				continue
			}
			out = append(out, Loop{
				Strips:   [3]int{p.A, p.B, q.B},
				ClosureM: p.Used.MedianM + r.Used.MedianM - q.Used.MedianM,
				SigmaM:   math.Sqrt(p.MedianSigmaM*p.MedianSigmaM + q.MedianSigmaM*q.MedianSigmaM + r.MedianSigmaM*r.MedianSigmaM),
				Cells:    min(p.Used.Cells, q.Used.Cells, r.Used.Cells),
			})
		}
	}
	return out
}

// minLoopCells is the number of used cells that a pair needs for a loop.
const minLoopCells = 10
