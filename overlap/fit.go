package overlap

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// row is one observation of a small linear model: y = x . p, with a weight, and
// the block of cells it belongs to. Neighbouring cells share the errors of a
// trajectory, so blocks, not cells, are taken as independent.
type row struct {
	x     []float64
	y     float64
	w     float64
	block cellID
}

// blockOf is the square of 8 by 8 cells around a cell.
func blockOf(col, row int32) cellID { return cellID{col >> tileBits, row >> tileBits} }

// estimate is the solution of a small linear model.
type estimate struct {
	p, sigma   []float64
	determined []bool // the rows reach this parameter
	v          []float64
}

// huberK is the Huber tuning constant for 95 % efficiency at the normal.
const huberK = 1.345

// robustFit solves by iteratively reweighted least squares (Huber), with the
// block-robust covariance N^-1 [sum_g (A_g' W v_g)(A_g' W v_g)'] N^-1, or the
// plain s0^2 N^-1 where that is larger. Directions of the parameter space that
// the rows do not reach are left out; parameters with a part in them are not
// determined.
func robustFit(rows []row, k int) estimate {
	est := estimate{p: make([]float64, k), sigma: make([]float64, k), determined: make([]bool, k), v: make([]float64, len(rows))}
	factor := make([]float64, len(rows))
	for i := range factor {
		factor[i] = 1
	}
	var inv *mat.SymDense
	for range 20 {
		var p []float64
		inv, p = solve(rows, factor, k, est.determined)
		change := 0.0
		for j := range p {
			change = max(change, math.Abs(p[j]-est.p[j]))
		}
		est.p = p
		for i := range rows {
			est.v[i] = rows[i].y - dot(rows[i].x, p)
		}
		s := standardScale(rows, est.v)
		for i := range rows {
			factor[i] = 1
			if u := math.Abs(est.v[i]) * math.Sqrt(rows[i].w); s > 0 && u > huberK*s {
				factor[i] = huberK * s / u
			}
		}
		if change < 1e-7 {
			break
		}
	}
	est.covariance(rows, factor, inv, k)
	return est
}

func dot(x, p []float64) float64 {
	s := 0.0
	for i := range x {
		s += x[i] * p[i]
	}
	return s
}

// standardScale is the NMAD about 0 of the weighted residuals.
func standardScale(rows []row, v []float64) float64 {
	u := make([]float64, len(v))
	for i := range v {
		u[i] = math.Abs(v[i]) * math.Sqrt(rows[i].w)
	}
	return 1.4826 * median(u)
}

// solve returns the pseudo-inverse of the normal matrix and the parameters.
func solve(rows []row, factor []float64, k int, determined []bool) (*mat.SymDense, []float64) {
	n := mat.NewSymDense(k, nil)
	rhs := make([]float64, k)
	for i := range rows {
		w := rows[i].w * factor[i]
		for a := range k {
			rhs[a] += w * rows[i].x[a] * rows[i].y
			for b := a; b < k; b++ {
				n.SetSym(a, b, n.At(a, b)+w*rows[i].x[a]*rows[i].x[b])
			}
		}
	}
	scale := make([]float64, k) // columns of unit length
	for a := range k {
		scale[a] = 1
		if d := n.At(a, a); d > 0 {
			scale[a] = 1 / math.Sqrt(d)
		}
	}
	scaled := mat.NewSymDense(k, nil)
	for a := range k {
		for b := a; b < k; b++ {
			scaled.SetSym(a, b, n.At(a, b)*scale[a]*scale[b])
		}
	}
	inv := mat.NewSymDense(k, nil)
	var eig mat.EigenSym
	if !eig.Factorize(scaled, true) {
		return inv, rhs
	}
	var vec mat.Dense
	eig.VectorsTo(&vec)
	val := eig.Values(nil)
	for a := range k {
		lost := 0.0
		for j := range k {
			if !reached(val[j], val[k-1]) {
				lost += vec.At(a, j) * vec.At(a, j)
			}
		}
		determined[a] = lost < 1e-6
	}
	for a := range k {
		for b := a; b < k; b++ {
			s := 0.0
			for j := range k {
				if reached(val[j], val[k-1]) {
					s += vec.At(a, j) * vec.At(b, j) / val[j]
				}
			}
			inv.SetSym(a, b, s*scale[a]*scale[b])
		}
	}
	p := make([]float64, k)
	for a := range k {
		for b := range k {
			p[a] += inv.At(a, b) * rhs[b]
		}
	}
	return inv, p
}

// reached tells an eigenvalue of the scaled normal matrix from zero.
func reached(val, largest float64) bool { return val > 1e-10*largest }

func (est *estimate) covariance(rows []row, factor []float64, inv *mat.SymDense, k int) {
	blocks := map[cellID]int{}
	var sums [][]float64
	ss, n := 0.0, float64(len(rows))
	for i := range rows {
		g, ok := blocks[rows[i].block]
		if !ok {
			g = len(sums)
			blocks[rows[i].block] = g
			sums = append(sums, make([]float64, k))
		}
		w := rows[i].w * factor[i]
		ss += w * est.v[i] * est.v[i]
		for a := range k {
			sums[g][a] += w * rows[i].x[a] * est.v[i]
		}
	}
	s0 := 0.0
	if n > float64(k) {
		s0 = ss / (n - float64(k))
	}
	small := 1.0 // few blocks: the usual correction G/(G-1)
	if g := float64(len(sums)); g > 1 {
		small = g / (g - 1)
	}
	for a := range k {
		v := 0.0
		for g := range sums {
			d := 0.0
			for b := range k {
				d += inv.At(a, b) * sums[g][b]
			}
			v += d * d
		}
		est.sigma[a] = math.Sqrt(max(v*small, s0*inv.At(a, a)))
	}
}

// medianSigma is the standard error of the median of dz: that of the mean by
// blocks, times sqrt(pi/2) for the median at the normal.
func medianSigma(cells []PairCell) float64 {
	if len(cells) < 2 {
		return math.NaN()
	}
	rows := make([]row, len(cells))
	one := []float64{1}
	for i := range cells {
		rows[i] = row{one, cells[i].DzM, 1, blockOf(cells[i].Col, cells[i].Row)}
	}
	return math.Sqrt(math.Pi/2) * robustFit(rows, 1).sigma[0]
}

// minTrendCells is the number of cells from which a trend is fitted.
const minTrendCells = 10

// fitTrend fits dz = a + b (x - centre), x to the right of strip A's flight.
func fitTrend(cells []PairCell, axis frame) Trend {
	nan := math.NaN()
	t := Trend{Cells: len(cells), MPerM: nan, SigmaMPerM: nan, AtCentreM: nan, HalfWidthM: nan}
	if len(cells) < minTrendCells {
		return t
	}
	lo, hi := math.Inf(1), math.Inf(-1)
	for i := range cells {
		x := axis.across(cells[i].EM, cells[i].NM)
		lo, hi = min(lo, x), max(hi, x)
	}
	t.HalfWidthM = (hi - lo) / 2
	rows := make([]row, len(cells))
	for i := range cells {
		c := &cells[i]
		rows[i] = row{[]float64{1, axis.across(c.EM, c.NM) - (lo+hi)/2}, c.DzM, 1, blockOf(c.Col, c.Row)}
	}
	est := robustFit(rows, 2)
	if !est.determined[0] || !est.determined[1] {
		return t
	}
	t.AtCentreM, t.MPerM, t.SigmaMPerM = est.p[0], est.p[1], est.sigma[1]
	t.Significant = math.Abs(t.MPerM) > 2*t.SigmaMPerM
	return t
}

// PointToPlane is the distance of a point from a plane of gradient (sE, sN)
// when it stands dzM above it: d = n . (p - q) = dz / sqrt(1 + sE^2 + sN^2).
//
// Source: ASPRS Guidelines on Geometric Inter-Swath Accuracy, 2018, in the form
// of docs/overlap.md.
func PointToPlane(dzM, slopeE, slopeN float64) float64 {
	return dzM / math.Sqrt(1+slopeE*slopeE+slopeN*slopeN)
}

// modelSigmaM is what two planes differ by beyond their residuals: surfaces are
// not planes and the strips do not sample the same places. Our choice.
const modelSigmaM = 0.01

// FitShift estimates the shift t = (E, N, U) of strip B against strip A from
// the point-to-plane distances d = n . t over cells of all slopes, n the unit
// normal. Components with a standard error above sigmaLimitM, and those that
// the slopes do not reach (it takes slopes in two directions for both E and N),
// are not determinable.
//
// Source: ASPRS Guidelines on Geometric Inter-Swath Accuracy, 2018.
func FitShift(cells []PairCell, sigmaLimitM float64) Shift {
	nan := math.NaN()
	s := Shift{EM: nan, NM: nan, UM: nan, SigmaEM: nan, SigmaNM: nan, SigmaUM: nan, ResidualM: nan}
	var rows []row
	for i := range cells {
		c := &cells[i]
		slope := math.Hypot(c.SlopeE, c.SlopeN)
		if c.Flag&^Steep != 0 || math.IsNaN(c.DzM) || slope > 1 {
			continue
		}
		nz := 1 / math.Sqrt(1+slope*slope)
		w := 1 / (c.SigmaM*c.SigmaM*nz*nz + modelSigmaM*modelSigmaM)
		rows = append(rows, row{[]float64{-c.SlopeE * nz, -c.SlopeN * nz, nz}, c.DzM * nz, w, blockOf(c.Col, c.Row)})
		if slope > math.Tan(5*degree) {
			s.SlopedCells++
		}
	}
	s.Cells = len(rows)
	if len(rows) < 3 {
		return s
	}
	est := robustFit(rows, 3)
	for k, to := range []struct {
		p, sigma *float64
		ok       *bool
	}{{&s.EM, &s.SigmaEM, &s.EDeterminable}, {&s.NM, &s.SigmaNM, &s.NDeterminable}, {&s.UM, &s.SigmaUM, &s.UDeterminable}} {
		if est.determined[k] && est.sigma[k] <= sigmaLimitM {
			*to.p, *to.sigma, *to.ok = est.p[k], est.sigma[k], true
		}
	}
	for i := range est.v {
		est.v[i] /= rows[i].x[2]
	}
	s.ResidualM = nmad(est.v)
	return s
}
