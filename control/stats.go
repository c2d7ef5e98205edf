package control

import (
	"fmt"
	"math"
	"slices"

	"sidelap/las/rank"
)

// NMADFactor makes the median absolute deviation of normal errors equal their standard
// deviation. Source: Hoehle and Hoehle 2009, ISPRS J. 64, 398-406; 1/Phi^-1(0.75).
const NMADFactor = 1.4826

// Vertical95 turns RMSEz into the value that 95 % of normal, unbiased height errors stay
// under. Source: FGDC-STD-007.3-1998 (NSSDA), appendix 3-A; ASPRS Edition 1.
const Vertical95 = 1.9600

// Accuracy describes a set of height differences, in metres unless said.
//
// Pointers are nil where the number is not defined for so few or such equal values.
type Accuracy struct {
	N           int
	MeanM       float64
	StdM        *float64 // n-1; needs 2
	RMSEM       float64  // n
	RMSELowM    *float64 // 95 % interval of the true RMSE, chi-square with n degrees of freedom: normal, no bias
	RMSEHighM   *float64
	Accuracy95M float64 // Vertical95 times RMSE: normal errors without bias
	MinM, MaxM  float64
	MaxAbsM     float64
	MedianM     float64
	MeanAbsM    float64
	NMADM       float64
	Q683AbsM    float64  // 68.3 % quantile of the absolute values
	P95AbsM     float64  // 95th percentile of the absolute values
	Skew        *float64 // bias-corrected G1; needs 3 and values that differ
	Kurtosis    *float64 // bias-corrected excess G2; needs 4 and values that differ
}

// Summarize returns the statistics of height differences dzM in metres, cloud minus survey.
//
// With n differences of mean m,
//
//	RMSE = sqrt( sum dz^2 / n )      Std = sqrt( sum (dz-m)^2 / (n-1) )
//
// Skew and Kurtosis are the bias-corrected G1 and G2 that spreadsheets print as SKEW and
// KURT. An empty set or a non-finite difference is an error, not a skip: the caller
// decides which points count. dzM is not changed.
//
// Source: ASPRS Positional Accuracy Standards, Edition 1 (2014), section 7 and annex D.
func Summarize(dzM []float64) (Accuracy, error) {
	var a Accuracy
	if len(dzM) == 0 {
		return a, fmt.Errorf("no differences to summarize")
	}
	for i, d := range dzM {
		if math.IsNaN(d) || math.IsInf(d, 0) {
			return a, fmt.Errorf("difference %d of %d is not a finite number", i+1, len(dzM))
		}
	}
	sorted := slices.Clone(dzM)
	slices.Sort(sorted)
	abs := absolutes(dzM)
	n := float64(len(dzM))
	a.N = len(dzM)
	a.MinM, a.MaxM = sorted[0], sorted[len(sorted)-1]
	a.MaxAbsM = abs[len(abs)-1]
	a.MedianM = quantileSorted(sorted, 0.5)
	a.Q683AbsM = quantileSorted(abs, 0.683)
	a.P95AbsM = quantileSorted(abs, 0.95)
	a.NMADM = NMAD(dzM)
	for _, d := range sorted { // in sorted order: the sums do not depend on the order of the points
		a.MeanM += d
		a.MeanAbsM += math.Abs(d)
		a.RMSEM += d * d
	}
	a.MeanM /= n
	a.MeanAbsM /= n
	a.RMSEM = math.Sqrt(a.RMSEM / n)
	a.Accuracy95M = Vertical95 * a.RMSEM
	a.moments(sorted)
	if low, high, ok := RMSEInterval(a.RMSEM, a.N, 0.95); ok && a.N >= 2 {
		a.RMSELowM, a.RMSEHighM = &low, &high
	}
	return a, nil
}

// moments fills the standard deviation, skewness and kurtosis from sorted values.
func (a *Accuracy) moments(sorted []float64) {
	n := float64(a.N)
	var m2, m3, m4 float64
	for _, d := range sorted {
		v := d - a.MeanM
		m2 += v * v
		m3 += v * v * v
		m4 += v * v * v * v
	}
	if a.N >= 2 {
		std := math.Sqrt(m2 / (n - 1))
		a.StdM = &std
	}
	m2, m3, m4 = m2/n, m3/n, m4/n
	if a.MaxM == a.MinM || m2 == 0 {
		return
	}
	g1 := m3 / math.Pow(m2, 1.5)
	g2 := m4/(m2*m2) - 3
	if a.N >= 3 {
		skew := g1 * math.Sqrt(n*(n-1)) / (n - 2)
		a.Skew = &skew
	}
	if a.N >= 4 {
		kurt := (n - 1) / ((n - 2) * (n - 3)) * ((n+1)*g2 + 6)
		a.Kurtosis = &kurt
	}
}

// absolutes returns the absolute values, ascending.
func absolutes(v []float64) []float64 {
	out := make([]float64, len(v))
	for i, d := range v {
		out[i] = math.Abs(d)
	}
	slices.Sort(out)
	return out
}

// Quantile returns the p-quantile of values, 0 <= p <= 1: rank p(N-1)+1 with linear
// interpolation (type 7, the inclusive percentile of spreadsheets). NaN for no values.
//
// Source: USGS Lidar Base Specification 2025 rev. A, glossary, percentile; the rank formula is from memory.
func Quantile(values []float64, p float64) float64 { return rank.Quantile(values, p) }

func quantileSorted(s []float64, p float64) float64 {
	if len(s) == 0 {
		return math.NaN()
	}
	rank := p * float64(len(s)-1)
	i := int(rank)
	if i >= len(s)-1 {
		return s[len(s)-1]
	}
	return s[i] + (rank-float64(i))*(s[i+1]-s[i])
}

// Median returns the middle of values, NaN for none.
func Median(values []float64) float64 { return Quantile(values, 0.5) }

// NMAD returns 1.4826 times the median of |v - median(v)|: the standard deviation, if the
// values are normal, that a few outliers cannot move. NaN for no values.
//
// Source: Hoehle and Hoehle 2009, ISPRS J. 64, 398-406.
func NMAD(values []float64) float64 {
	m := Median(values)
	dev := make([]float64, len(values))
	for i, v := range values {
		dev[i] = math.Abs(v - m)
	}
	return NMADFactor * Median(dev)
}

// RMS returns the root of the mean square of values, NaN for none.
func RMS(values []float64) float64 {
	if len(values) == 0 {
		return math.NaN()
	}
	s := slices.Clone(values)
	slices.Sort(s)
	sum := 0.0
	for _, v := range s {
		sum += v * v
	}
	return math.Sqrt(sum / float64(len(s)))
}
