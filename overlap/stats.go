package overlap

import (
	"math"
	"slices"

	"sidelap/las/rank"

	"gonum.org/v1/gonum/floats"
)

// quantileSorted is the type 7 quantile of ascending values: rank
// p (n-1) + 1, linear between neighbours. NaN for none.
//
// Source: the percentile method of ASPRS and the USGS Lidar Base Specification
// glossary.
func quantileSorted(v []float64, p float64) float64 {
	if len(v) == 0 {
		return math.NaN()
	}
	r := p * float64(len(v)-1)
	i := int(r)
	if i+1 >= len(v) {
		return v[len(v)-1]
	}
	return v[i] + (r-float64(i))*(v[i+1]-v[i])
}

func quantile(v []float64, p float64) float64 { return rank.Quantile(v, p) }

func median(v []float64) float64 { return quantile(v, 0.5) }

// nmad is 1.4826 median |v - median v|.
func nmad(v []float64) float64 {
	m := median(v)
	d := make([]float64, len(v))
	for i := range v {
		d[i] = math.Abs(v[i] - m)
	}
	return 1.4826 * median(d)
}

// Describe returns the statistics of separations, in any order. Values that are
// not finite are left out. limitM is that of PairOptions.LimitM.
//
//	RMSD = sqrt(sum dz^2 / n)   Std = sqrt(sum (dz-mean)^2 / (n-1))   NMAD = 1.4826 median |dz - median|
//
// Source: accuracy standards as in docs/overlap.md; percentile type 7.
func Describe(dzM []float64, limitM float64) Stats {
	v := make([]float64, 0, len(dzM))
	for _, d := range dzM {
		if !math.IsNaN(d) && !math.IsInf(d, 0) {
			v = append(v, d)
		}
	}
	nan := math.NaN()
	if len(v) == 0 {
		return Stats{MeanM: nan, MedianM: nan, StdM: nan, RMSDM: nan, NMADM: nan, P95AbsM: nan, MaxAbsM: nan, WithinPct: nan, Within2: nan}
	}
	n := float64(len(v))
	s := Stats{Cells: len(v), MeanM: floats.SumCompensated(v) / n, MedianM: median(v), NMADM: nmad(v), StdM: nan}
	abs := make([]float64, len(v))
	var ss, within, within2 float64
	for i, d := range v {
		abs[i] = math.Abs(d)
		ss += (d - s.MeanM) * (d - s.MeanM)
		if abs[i] <= limitM {
			within++
		}
		if abs[i] <= 2*limitM {
			within2++
		}
	}
	if n > 1 {
		s.StdM = math.Sqrt(ss / (n - 1))
	}
	s.RMSDM = math.Sqrt(ss/n + s.MeanM*s.MeanM)
	slices.Sort(abs)
	s.P95AbsM, s.MaxAbsM = quantileSorted(abs, 0.95), abs[len(abs)-1]
	s.WithinPct, s.Within2 = 100*within/n, 100*within2/n
	return s
}

// Level grades one separation against a limit: 1 up to and with the limit, 2 up
// to and with twice the limit, 3 beyond. 0 for a value that is not a number.
//
// Source: USGS Lidar Base Specification 2025 rev. A, swath separation image:
// breaks at one and two times the limit of table 2.
func Level(dzM, limitM float64) int {
	switch d := math.Abs(dzM); {
	case math.IsNaN(d):
		return 0
	case d <= limitM:
		return 1
	case d <= 2*limitM:
		return 2
	}
	return 3
}
