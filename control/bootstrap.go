package control

import (
	"math"
	"math/rand/v2"
	"slices"
)

// bootstrapSeed and bootstrapRounds are fixed: the same differences give the same interval.
const (
	bootstrapSeed   = 20140315
	bootstrapRounds = 4000
)

// Bootstrap returns the percentile interval of a statistic over resamples of values with
// replacement, at the confidence given. It assumes no distribution, only that the values are
// independent; below ten values it is too narrow. ok is false for fewer than three values.
// The random numbers are seeded alike each time.
//
// Source: Efron and Tibshirani, An Introduction to the Bootstrap, 1993, chapter 13 (from memory).
func Bootstrap(values []float64, confidence float64, statistic func([]float64) float64) (low, high float64, ok bool) {
	if len(values) < 3 || !(confidence > 0 && confidence < 1) {
		return 0, 0, false
	}
	sorted := slices.Clone(values)
	slices.Sort(sorted)
	rng := rand.New(rand.NewPCG(bootstrapSeed, uint64(len(values))))
	found := make([]float64, bootstrapRounds)
	sample := make([]float64, len(values))
	for k := range found {
		for i := range sample {
			sample[i] = sorted[rng.IntN(len(sorted))]
		}
		found[k] = statistic(sample)
	}
	slices.Sort(found)
	a := (1 - confidence) / 2
	return quantileSorted(found, a), quantileSorted(found, 1-a), true
}

// rmsPlain is RMS without the fixed order of summation, for resamples.
func rmsPlain(v []float64) float64 {
	sum := 0.0
	for _, x := range v {
		sum += x * x
	}
	return math.Sqrt(sum / float64(len(v)))
}

// BootstrapRMSE is the bootstrap interval of the RMSE.
func BootstrapRMSE(valuesM []float64, confidence float64) (lowM, highM float64, ok bool) {
	return Bootstrap(valuesM, confidence, rmsPlain)
}

// BootstrapP95 is the bootstrap interval of the 95th percentile of absolute values.
func BootstrapP95(valuesM []float64, confidence float64) (lowM, highM float64, ok bool) {
	return Bootstrap(absolutes(valuesM), confidence, func(v []float64) float64 { return Quantile(v, 0.95) })
}

// P95Upper returns the smallest absolute value of the sample that bounds the true 95th percentile
// from above with the confidence given, whatever the distribution: the k-th smallest with
// P( Binomial(n, 0.95) < k ) >= confidence. ok is false when no value does, as for all n below
// 59 at 95 %.
func P95Upper(valuesM []float64, confidence float64) (boundM float64, ok bool) {
	abs := absolutes(valuesM)
	n := len(abs)
	cumulated := 0.0
	for k := 1; k <= n; k++ {
		cumulated += binomial(n, k-1, 0.95)
		if cumulated >= confidence {
			return abs[k-1], true
		}
	}
	return 0, false
}

// binomial is the probability of k successes in n trials.
func binomial(n, k int, p float64) float64 {
	a, _ := math.Lgamma(float64(n + 1))
	b, _ := math.Lgamma(float64(k + 1))
	c, _ := math.Lgamma(float64(n - k + 1))
	return math.Exp(a - b - c + float64(k)*math.Log(p) + float64(n-k)*math.Log(1-p))
}
