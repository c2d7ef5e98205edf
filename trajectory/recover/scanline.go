package recover

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"sidelap/las"
)

// stepRad is one step of a stored scan angle.
const stepRad = las.ScanAngleStepDeg * math.Pi / 180

// sweep is what the scan lines within a short window tell. With the tangent T of the
// scan angle, a return of a level line scanner lies at
//
//	X = S + V (t - tc) + (h - h0) T r + h0 T r + h m f
//
// S scanner, V velocity, h height of the scanner above the return (mean h0), r unit vector
// to the right, f forward, m tangent of the pitch. The coefficient of T in a regression on 1, time, T and
// (z - mean z) T is h0 r: its length is the height, its direction across.
type sweep struct {
	ok       bool
	timeS    float64
	right    [2]float64 // unit vector
	nadir    vec        // scanner less the forward lean; third: height
	sigma    float64    // of the direction, radians
	scatter  float64    // of the returns off the scan line, over the height
	velocity [2]float64
}

// Windows of the regression: bins on each side, tried in turn.
var windows = []int{1, 2, 4}

const (
	minSweepPulses = 40
	minSpread      = 0.03 // standard deviation of T that makes a direction
)

// sweeps fits every bin of a leg.
func (e *evidence) sweeps() []sweep {
	out := make([]sweep, len(e.bins))
	var buf []pulse
	for i := range e.bins {
		for _, half := range windows {
			buf = buf[:0]
			for j := max(i-half, 0); j < len(e.bins) && j <= i+half; j++ {
				if d := e.bins[j].index - e.bins[i].index; d >= -int64(half) && d <= int64(half) {
					buf = append(buf, e.bins[j].pulses...)
				}
			}
			if out[i] = fitSweep(buf, (float64(e.bins[i].index)+0.5)*e.binS); out[i].ok {
				break
			}
		}
	}
	return out
}

// fitSweep does the regression with two rounds of down-weighting of outliers.
func fitSweep(p []pulse, timeS float64) sweep {
	s := sweep{timeS: timeS}
	if len(p) < minSweepPulses {
		return s
	}
	var zMean, tMean, tVar float64
	origin := p[0].last
	for i := range p {
		zMean += p[i].last[2] / float64(len(p))
		tMean += math.Tan(float64(p[i].angle)*stepRad) / float64(len(p))
	}
	for i := range p {
		d := math.Tan(float64(p[i].angle)*stepRad) - tMean
		tVar += d * d / float64(len(p)-1)
	}
	if math.Sqrt(tVar) < minSpread {
		return s
	}
	w := make([]float64, len(p))
	for i := range w {
		w[i] = 1
	}
	var beta [2][4]float64
	var inv mat.SymDense
	for range 3 {
		var ok bool
		if beta, ok = regress(p, w, origin, zMean, timeS, &inv); !ok {
			return s
		}
		var abs []float64
		res := make([]float64, len(p))
		for i := range p {
			a := sweepRow(&p[i], zMean, timeS)
			res[i] = math.Hypot(p[i].last[0]-origin[0]-dot4(a, beta[0]), p[i].last[1]-origin[1]-dot4(a, beta[1]))
			abs = append(abs, res[i])
		}
		scale := max(1.48*median(abs), 1e-6)
		for i := range w {
			w[i] = tukey(res[i] / scale)
		}
	}
	h := math.Hypot(beta[0][2], beta[1][2])
	if !(h > 1) {
		return s
	}
	s.right = [2]float64{beta[0][2] / h, beta[1][2] / h}
	s.nadir = vec{beta[0][0] + origin[0], beta[1][0] + origin[1], zMean + h}
	s.velocity = [2]float64{beta[0][1], beta[1][1]}
	var sum, sw float64
	for i := range p {
		a := sweepRow(&p[i], zMean, timeS)
		along := -s.right[1]*(p[i].last[0]-origin[0]-dot4(a, beta[0])) + s.right[0]*(p[i].last[1]-origin[1]-dot4(a, beta[1]))
		sum += w[i] * along * along
		sw += w[i]
	}
	scatter := math.Sqrt(sum / max(sw-4, 1))
	s.scatter = scatter / h
	s.sigma = scatter * math.Sqrt(inv.At(2, 2)) / h
	s.ok = s.sigma < 0.1
	return s
}

func sweepRow(p *pulse, zMean, timeS float64) [4]float64 {
	t := math.Tan(float64(p.angle) * stepRad)
	return [4]float64{1, p.timeS - timeS, t, (p.last[2] - zMean) * t}
}

func dot4(a, b [4]float64) float64 { return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] + a[3]*b[3] }

// regress solves the weighted normal equations for east and north; inv becomes the inverse.
func regress(p []pulse, w []float64, origin vec, zMean, timeS float64, inv *mat.SymDense) (beta [2][4]float64, ok bool) {
	n := mat.NewSymDense(4, nil)
	rhs := mat.NewDense(4, 2, nil)
	for i := range p {
		a := sweepRow(&p[i], zMean, timeS)
		d := p[i].last.sub(origin)
		for r := range 4 {
			for c := r; c < 4; c++ {
				n.SetSym(r, c, n.At(r, c)+w[i]*a[r]*a[c])
			}
			rhs.Set(r, 0, rhs.At(r, 0)+w[i]*a[r]*d[0])
			rhs.Set(r, 1, rhs.At(r, 1)+w[i]*a[r]*d[1])
		}
	}
	for r := range 4 { // a ridge of one observation of small weight: level ground leaves the last term open
		n.SetSym(r, r, n.At(r, r)+1e-9*max(n.At(r, r), 1))
	}
	var chol mat.Cholesky
	if !chol.Factorize(n) || chol.InverseTo(inv) != nil {
		return beta, false
	}
	var x mat.Dense
	if chol.SolveTo(&x, rhs) != nil {
		return beta, false
	}
	for r := range 4 {
		beta[0][r], beta[1][r] = x.At(r, 0), x.At(r, 1)
	}
	return beta, true
}

// tukey is the biweight of a residual in standard deviations.
func tukey(r float64) float64 {
	u := r / 4.685
	if u >= 1 || u <= -1 {
		return 0
	}
	return (1 - u*u) * (1 - u*u)
}

// angleStepRad returns the step in which the angles of a leg were stored, a degree
// or 0.006 degrees, and whether they vary at all.
func (e *evidence) angleStepRad() (float64, bool) {
	whole, varies, first := true, false, true
	var one int16
	for i := range e.bins {
		for j := range e.bins[i].pulses {
			a := e.bins[i].pulses[j].angle
			if first {
				one, first = a, false
			}
			varies = varies || a != one
			deg := float64(a) * las.ScanAngleStepDeg
			whole = whole && math.Abs(deg-math.Round(deg)) <= 0.51*las.ScanAngleStepDeg
		}
	}
	if whole {
		return math.Pi / 180, varies
	}
	return stepRad, varies
}
