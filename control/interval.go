package control

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// RMSEInterval returns the interval that holds the true RMSE with the given confidence
// (0.95, say), for n normal errors without bias:
//
//	[ RMSE sqrt(n / X2(1-a/2; n)), RMSE sqrt(n / X2(a/2; n)) ]
//
// X2(p; k) being the p-quantile of chi-square with k degrees of freedom. ok is false for
// n < 1. With real bias it is approximate: see BootstrapRMSE.
func RMSEInterval(rmseM float64, n int, confidence float64) (lowM, highM float64, ok bool) {
	if n < 1 || !(confidence > 0 && confidence < 1) || !finite(rmseM) {
		return 0, 0, false
	}
	x := distuv.ChiSquared{K: float64(n)}
	a := (1 - confidence) / 2
	return rmseM * math.Sqrt(float64(n)/x.Quantile(1-a)), rmseM * math.Sqrt(float64(n)/x.Quantile(a)), true
}

// StdInterval is RMSEInterval for a standard deviation, with n-1 degrees of freedom.
func StdInterval(stdM float64, n int, confidence float64) (lowM, highM float64, ok bool) {
	return RMSEInterval(stdM, n-1, confidence)
}

// RMSEUpper returns the value that the true RMSE stays under with the given one-sided
// confidence, for n normal errors without bias. ok is false for n < 1.
func RMSEUpper(rmseM float64, n int, confidence float64) (upperM float64, ok bool) {
	if n < 1 || !(confidence > 0 && confidence < 1) || !finite(rmseM) {
		return 0, false
	}
	return rmseM * math.Sqrt(float64(n)/distuv.ChiSquared{K: float64(n)}.Quantile(1-confidence)), true
}

// ClassConfidence returns how sure n errors with the RMSE found make it that the true RMSE
// is within the class: P( X2(n) >= n RMSE^2 / X^2 ), the confidence at which the upper
// bound of RMSEUpper reaches the class. Normal errors without bias; NaN for n < 1.
func ClassConfidence(rmseM float64, n int, classM float64) float64 {
	if n < 1 || !(classM > 0) || !finite(rmseM) {
		return math.NaN()
	}
	r := rmseM / classM
	return distuv.ChiSquared{K: float64(n)}.Survival(float64(n) * r * r)
}

// PassProbability returns the chance that n points show an RMSE within the class when the
// true RMSE is ratio times the class: P( X2(n) <= n / ratio^2 ). Normal errors without
// bias; NaN for n < 1. It is the power of the sample: PassProbability(5, 1.25) is 0.33, so five
// points pass a cloud that is 25 % out of class one time in three.
func PassProbability(n int, ratio float64) float64 {
	if n < 1 || !(ratio > 0) {
		return math.NaN()
	}
	return distuv.ChiSquared{K: float64(n)}.CDF(float64(n) / (ratio * ratio))
}

// MeanTest is the t test of the mean and its 95 % interval.
type MeanTest struct {
	MeanM, LowM, HighM float64
	T                  float64 // mean sqrt(n) / std
	LimitT             float64 // t(0.975; n-1)
	P                  float64 // two-sided
	Significant        bool    // |T| > LimitT: a bias that chance does not explain
}

// TestMean tests whether the mean of values differs from zero. ok is false for fewer than
// two values or a standard deviation of zero.
func TestMean(valuesM []float64) (m MeanTest, ok bool) {
	a, err := Summarize(valuesM)
	if err != nil || a.N < 2 || a.StdM == nil || *a.StdM == 0 {
		return m, false
	}
	t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(a.N - 1)}
	se := *a.StdM / math.Sqrt(float64(a.N))
	m.MeanM, m.T, m.LimitT = a.MeanM, a.MeanM/se, t.Quantile(0.975)
	m.LowM, m.HighM = a.MeanM-m.LimitT*se, a.MeanM+m.LimitT*se
	m.P = 2 * t.Survival(math.Abs(m.T))
	m.Significant = math.Abs(m.T) > m.LimitT
	return m, true
}

// Normality tells whether errors look normal: by the Shapiro-Wilk test, which holds for few points too, beside the
// Jarque-Bera test on the plain moments g1 and g2, which is unreliable below 50.
type Normality struct {
	G1, G2   float64 // m3/m2^1.5 and m4/m2^2-3
	JB, P    float64 // n/6 (g1^2 + g2^2/4); chance of as much in normal errors, exp(-JB/2)
	W, WP    float64 // Shapiro-Wilk, see ShapiroWilk; NaN beyond 5000 values
	Rejected bool    // WP < 0.05; beyond 5000 values P < 0.05
}

// TestNormal returns the tests. ok is false for fewer than four values or values that are all equal.
func TestNormal(values []float64) (t Normality, ok bool) {
	a, err := Summarize(values)
	if err != nil || a.N < 4 || a.MaxM == a.MinM {
		return t, false
	}
	n := float64(a.N)
	t.G1 = *a.Skew * (n - 2) / math.Sqrt(n*(n-1))
	t.G2 = (*a.Kurtosis*(n-2)*(n-3)/(n-1) - 6) / (n + 1)
	t.JB = n / 6 * (t.G1*t.G1 + t.G2*t.G2/4)
	t.P = math.Exp(-t.JB / 2)
	t.W, t.WP, ok = ShapiroWilk(values)
	if t.Rejected = t.WP < 0.05; !ok {
		t.W, t.WP, t.Rejected = math.NaN(), math.NaN(), t.P < 0.05
	}
	return t, true
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }
