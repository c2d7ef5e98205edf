package adjust

import (
	"math"
	"slices"

	"sidelap/overlap"
)

// Figures is what an eye wants to see of a diagnosis, as plain numbers: separations across the overlap of each pair and
// along each strip, before and after the model, and the map of what is left.
type Figures struct {
	Pairs  []PairFigure
	Strips []StripFigure
	Map    []MapCell
	MapM   float64 // side of a map cell
}

// PairFigure is the separation of a pair, later minus earlier, against the place across the earlier strip, metres right of its path.
type PairFigure struct {
	A, B     int // indices into Survey.Strips
	IDA, IDB string
	Across   []Bin
}

// StripFigure shows one strip against all others: separations count positive where this strip is the higher one.
type StripFigure struct {
	Strip  int
	ID     string
	Time   []Bin // against seconds since the start of the strip
	Across []Bin // against metres right of its path
}

// Bin holds the cells of an interval of the horizontal axis.
type Bin struct {
	At      float64 // middle of the interval: metres or seconds
	Cells   int
	BeforeM Spread
	AfterM  Spread
}

// Spread is the median of separations with their lower and upper quartile.
type Spread struct{ MedianM, LowM, HighM float64 }

// MapCell is a square of ground, all pairs together.
type MapCell struct {
	EM, NM  float64 // its middle
	Cells   int
	BeforeM float64 // rms of the separations as they are
	AfterM  float64 // rms after the model
}

// Sizes of figures: enough bins to show a bend, enough cells in a bin for a median.
const (
	binsAcross  = 24
	binsAlong   = 40
	minBinCells = 5
	mapCells    = 4000
)

// Figures gathers the numbers of the figures from the residuals of a diagnosis; pairs and s are those it was made from. It
// is empty for a diagnosis that was not judged. Cells that count as outliers are left out of bins, not of the map.
func (d *Diagnosis) Figures(s *overlap.Survey, pairs []overlap.Pair) *Figures {
	f := &Figures{}
	perPair := map[int][]Residual{}
	for _, r := range d.Residuals {
		perPair[r.Pair] = append(perPair[r.Pair], r)
	}
	along, across := make([][]sample, len(s.Strips)), make([][]sample, len(s.Strips))
	for pi := range pairs {
		list := perPair[pi]
		if len(list) == 0 {
			continue
		}
		p := &pairs[pi]
		var own []sample
		for _, r := range list {
			if r.Weight <= 0 {
				continue
			}
			own = append(own, sample{r.AcrossA, r.BeforeM, r.AfterM})
			along[p.A] = append(along[p.A], sample{r.TimeAS - s.Strips[p.A].StartGPSS, -r.BeforeM, -r.AfterM})
			along[p.B] = append(along[p.B], sample{r.TimeBS - s.Strips[p.B].StartGPSS, r.BeforeM, r.AfterM})
			across[p.A] = append(across[p.A], sample{r.AcrossA, -r.BeforeM, -r.AfterM})
			across[p.B] = append(across[p.B], sample{r.AcrossB, r.BeforeM, r.AfterM})
		}
		f.Pairs = append(f.Pairs, PairFigure{p.A, p.B, p.IDA, p.IDB, bin(own, binsAcross)})
	}
	for i := range s.Strips {
		if len(along[i]) > 0 {
			f.Strips = append(f.Strips, StripFigure{i, s.Strips[i].ID, bin(along[i], binsAlong), bin(across[i], binsAcross)})
		}
	}
	f.Map, f.MapM = residualMap(d.Residuals)
	return f
}

// sample is one separation on an axis.
type sample struct{ at, before, after float64 }

// bin sorts samples into intervals of the same width between the 1st and the 99th percentile of their places.
func bin(all []sample, bins int) []Bin {
	all = slices.DeleteFunc(all, func(s sample) bool { return math.IsNaN(s.at) })
	at := make([]float64, len(all))
	for i, s := range all {
		at[i] = s.at
	}
	if len(all) < minBinCells {
		return nil
	}
	slices.Sort(at)
	low, high := at[len(at)/100], at[len(at)-1-len(at)/100]
	if !(high > low) {
		return nil
	}
	before, after := make([][]float64, bins), make([][]float64, bins)
	for _, s := range all {
		if k := int(math.Floor((s.at - low) / (high - low) * float64(bins))); k >= 0 && k < bins {
			before[k], after[k] = append(before[k], s.before), append(after[k], s.after)
		}
	}
	var out []Bin
	for k := range bins {
		if len(before[k]) >= minBinCells {
			out = append(out, Bin{low + (float64(k)+0.5)*(high-low)/float64(bins), len(before[k]), spread(before[k]), spread(after[k])})
		}
	}
	return out
}

func spread(v []float64) Spread {
	return Spread{quantile(v, 0.5), quantile(v, 0.25), quantile(v, 0.75)}
}

// residualMap gathers residuals into at most some thousands of squares, in the order of rows and columns.
func residualMap(list []Residual) ([]MapCell, float64) {
	if len(list) == 0 {
		return nil, 0
	}
	lo, hi := [2]float64{inf, inf}, [2]float64{-inf, -inf}
	for _, r := range list {
		lo = [2]float64{math.Min(lo[0], r.EM), math.Min(lo[1], r.NM)}
		hi = [2]float64{math.Max(hi[0], r.EM), math.Max(hi[1], r.NM)}
	}
	side := math.Ceil(math.Max(1, math.Sqrt((hi[0]-lo[0])*(hi[1]-lo[1])/mapCells)))
	type key struct{ row, col int }
	sums := map[key]*MapCell{}
	var keys []key
	for _, r := range list {
		k := key{int(math.Floor(r.NM / side)), int(math.Floor(r.EM / side))}
		c := sums[k]
		if c == nil {
			c = &MapCell{EM: (float64(k.col) + 0.5) * side, NM: (float64(k.row) + 0.5) * side}
			sums[k] = c
			keys = append(keys, k)
		}
		c.Cells++
		c.BeforeM += r.BeforeM * r.BeforeM
		c.AfterM += r.AfterM * r.AfterM
	}
	slices.SortFunc(keys, func(a, b key) int {
		if a.row != b.row {
			return a.row - b.row
		}
		return a.col - b.col
	})
	out := make([]MapCell, len(keys))
	for i, k := range keys {
		out[i] = *sums[k]
		n := float64(out[i].Cells)
		out[i].BeforeM, out[i].AfterM = math.Sqrt(out[i].BeforeM/n), math.Sqrt(out[i].AfterM/n)
	}
	return out, side
}
