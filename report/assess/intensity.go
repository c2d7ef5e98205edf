package assess

import (
	"math"

	"sidelap/las"
	"sidelap/report"
)

// intensity gathers the mean intensity of the last returns in each cell, for the swath separation image. The sums are
// whole numbers, so that parts merge to the same image for any number of workers.
type intensity struct {
	cellM float64
	cells map[[2]int32]*lightSum
}

type lightSum struct {
	sum uint64
	n   uint64
}

func newIntensity(cellM float64) *intensity {
	return &intensity{cellM, map[[2]int32]*lightSum{}}
}

// Add implements sink: last returns that are neither withheld nor noise.
func (a *intensity) Add(c *las.Chunk, _ int) {
	if len(c.Intensity) == 0 {
		return
	}
	var key [2]int32
	var cell *lightSum
	for i := range c.N {
		if c.ReturnNumber[i] < c.NumReturns[i] || c.Flags[i]&las.FlagWithheld != 0 || c.Class[i] == 7 || c.Class[i] == 18 {
			continue
		}
		e, n := math.Floor(c.Frame.XM(c.X[i])/a.cellM), math.Floor(c.Frame.YM(c.Y[i])/a.cellM)
		if !(math.Abs(e) < math.MaxInt32 && math.Abs(n) < math.MaxInt32) {
			continue
		}
		if k := [2]int32{int32(e), int32(n)}; cell == nil || k != key { // neighbours in time are neighbours in place
			if key, cell = k, a.cells[k]; cell == nil {
				cell = &lightSum{}
				a.cells[k] = cell
			}
		}
		cell.sum += uint64(c.Intensity[i])
		cell.n++
	}
}

func (a *intensity) merge(o *intensity) {
	for k, c := range o.cells {
		if mine := a.cells[k]; mine != nil {
			mine.sum += c.sum
			mine.n += c.n
		} else {
			a.cells[k] = c
		}
	}
}

// grid is the mean of each cell inside the frame of the relief, so that a wild point makes no huge picture; nil when
// the files carry no intensity.
func (a *intensity) grid(frame *report.Grid) *report.Grid {
	if frame == nil || len(a.cells) == 0 {
		return nil
	}
	e, n := frame.Origin()
	at := func(m float64) int32 { return int32(math.Floor(m/a.cellM + 1e-6)) }
	g := &report.Grid{CellM: a.cellM, Col0: at(e), Row0: at(n)}
	g.Cols = int(at(e+float64(frame.Cols)*frame.CellM-a.cellM/2)-g.Col0) + 1
	g.Rows = int(at(n+float64(frame.Rows)*frame.CellM-a.cellM/2)-g.Row0) + 1
	g.Values = make([]float32, g.Cols*g.Rows)
	any := false
	for i := range g.Values {
		g.Values[i] = float32(math.NaN())
		if c := a.cells[[2]int32{g.Col0 + int32(i%g.Cols), g.Row0 + int32(i/g.Cols)}]; c != nil {
			g.Values[i] = float32(float64(c.sum) / float64(c.n))
			any = any || c.sum > 0
		}
	}
	if !any {
		return nil
	}
	return g
}
