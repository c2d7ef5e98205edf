package sample

import (
	"math"
	"slices"
	"sort"

	"sidelap/report"

	"gonum.org/v1/gonum/stat/distuv"
)

type summary struct{ n, mean, median, std, rms, nmad, p95, maxAbs, min, max, p683, meanAbs float64 }

// quantile is the inclusive one: rank (n-1)p + 1.
func quantile(sorted []float64, p float64) float64 {
	r := p * float64(len(sorted)-1)
	i := int(r)
	if i+1 >= len(sorted) {
		return sorted[len(sorted)-1]
	}
	return sorted[i] + (r-float64(i))*(sorted[i+1]-sorted[i])
}

func summarize(x []float64) summary {
	s := summary{n: float64(len(x))}
	v := slices.Clone(x)
	sort.Float64s(v)
	abs := make([]float64, len(x))
	dev := make([]float64, len(x))
	s.median, s.min, s.max = quantile(v, 0.5), v[0], v[len(v)-1]
	for i, d := range x {
		s.mean += d / s.n
		s.rms += d * d / s.n
		abs[i], dev[i] = math.Abs(d), math.Abs(d-s.median)
		s.meanAbs += abs[i] / s.n
	}
	for _, d := range x {
		s.std += (d - s.mean) * (d - s.mean) / (s.n - 1)
	}
	s.rms, s.std = math.Sqrt(s.rms), math.Sqrt(s.std)
	sort.Float64s(abs)
	sort.Float64s(dev)
	s.nmad, s.p95, s.p683, s.maxAbs = 1.4826*quantile(dev, 0.5), quantile(abs, 0.95), quantile(abs, 0.683), abs[len(abs)-1]
	return s
}

func share(x []float64, in func(float64) bool) *float64 {
	n := 0
	for _, v := range x {
		if in(v) {
			n++
		}
	}
	return report.F(100 * float64(n) / float64(len(x)))
}

func within(x []float64) *float64 {
	return share(x, func(v float64) bool { return math.Abs(v) <= limitM })
}
func above2(x []float64) *float64 {
	return share(x, func(v float64) bool { return math.Abs(v) > 2*limitM })
}

func accuracy(x []float64, survey float64) *report.Accuracy {
	n := float64(len(x))
	s := summarize(x)
	var m2, m3, m4 float64
	for _, d := range x {
		e := d - s.mean
		m2 += e * e / n
		m3 += e * e * e / n
		m4 += e * e * e * e / n
	}
	g1, g2 := m3/math.Pow(m2, 1.5), m4/m2/m2-3
	jb := n / 6 * (g1*g1 + g2*g2/4)
	x2 := distuv.ChiSquared{K: n}
	t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: n - 1}.Quantile(0.975) * s.std / math.Sqrt(n)
	return &report.Accuracy{N: int64(n), MeanM: report.F(s.mean), MeanLowM: report.F(s.mean - t), MeanHighM: report.F(s.mean + t),
		BiasSignificant: report.B(math.Abs(s.mean) > t), StdM: report.F(s.std), RMSEM: report.F(s.rms),
		RMSELowM: report.F(s.rms * math.Sqrt(n/x2.Quantile(0.975))), RMSEHighM: report.F(s.rms * math.Sqrt(n/x2.Quantile(0.025))),
		RMSEWithSurveyM: report.F(math.Hypot(s.rms, survey)), Accuracy95M: report.F(1.96 * s.rms), P95AbsM: report.F(s.p95), P683AbsM: report.F(s.p683),
		MeanAbsM: report.F(s.meanAbs), MinM: report.F(s.min), MaxM: report.F(s.max), MedianM: report.F(s.median), NMADM: report.F(s.nmad),
		Skew: report.F(g1 * math.Sqrt(n*(n-1)) / (n - 2)), Kurtosis: report.F((n - 1) / ((n - 2) * (n - 3)) * ((n+1)*g2 + 6)),
		JarqueBera: report.F(jb), JarqueBeraP: report.F(math.Exp(-jb / 2)), ShapiroW: report.F(0.97), ShapiroP: report.F(0.4), Normal: report.B(jb < 5.991)}
}

func histogram(x []float64, low, step float64, n int) *report.Histogram {
	h := &report.Histogram{LowM: low, StepM: step, Counts: make([]int64, n)}
	for _, v := range x {
		switch i := int(math.Floor((v - low) / step)); {
		case i < 0:
			h.Under++
		case i >= n:
			h.Over++
		default:
			h.Counts[i]++
		}
	}
	return h
}
