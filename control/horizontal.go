package control

import (
	"fmt"
	"math"
)

// Radial95 turns RMSEr into the radius that holds 95 % of normal, unbiased errors of equal
// spread in both axes: sqrt(-2 ln 0.05)/sqrt 2. Source: FGDC-STD-007.3-1998 (NSSDA), appendix 3-A, case 1.
const Radial95 = 1.7308

// circular95 is the same factor on one axis. Source: NSSDA, appendix 3-A.
const circular95 = 2.4477

// Horizontal describes horizontal differences, cloud minus survey, in metres.
type Horizontal struct {
	N           int
	East, North Accuracy
	RMSERM      float64 // sqrt(RMSEx^2 + RMSEy^2); Edition 2 calls it RMSE_H
	Ratio       float64 // smaller over larger RMSE; 1 when both are 0
	Accuracy95M float64 // Radial95 x RMSEr, ASPRS Edition 1
	// NSSDA95M is the 95 % radius of the NSSDA: case 1 for equal axes, case 2 (2.4477 x half the sum) for
	// a ratio from 0.6 up. Below, the standard gives no formula and it is nil.
	NSSDA95M *float64
	// Exact95M is the 95 % radius of an unbiased bivariate normal with these two RMSE; it belongs to no standard.
	Exact95M float64
}

// SummarizeHorizontal returns the statistics of horizontal differences; both slices have
// one value for each target, in the same order.
//
// Source: ASPRS Edition 1, annex D; FGDC-STD-007.3-1998, appendix 3-A.
func SummarizeHorizontal(deM, dnM []float64) (Horizontal, error) {
	var h Horizontal
	if len(deM) != len(dnM) {
		return h, fmt.Errorf("%d eastings but %d northings", len(deM), len(dnM))
	}
	var err error
	if h.East, err = Summarize(deM); err != nil {
		return h, err
	}
	if h.North, err = Summarize(dnM); err != nil {
		return h, err
	}
	h.N = len(deM)
	x, y := h.East.RMSEM, h.North.RMSEM
	h.RMSERM = math.Hypot(x, y)
	h.Accuracy95M = Radial95 * h.RMSERM
	h.Ratio = 1
	if max(x, y) > 0 {
		h.Ratio = min(x, y) / max(x, y)
	}
	switch {
	case h.Ratio == 1:
		r := circular95 * x
		h.NSSDA95M = &r
	case h.Ratio >= 0.6:
		r := circular95 * 0.5 * (x + y)
		h.NSSDA95M = &r
	}
	h.Exact95M = radius95(x, y)
	return h, nil
}

// radius95 is the radius that holds 95 % of an unbiased bivariate normal with standard
// deviations a and b, by bisection on the integral over the angle:
//
//	P(r) = 1 - mean over t of exp( -r^2 / (2 s(t)^2) ) with the weight of the ellipse
func radius95(a, b float64) float64 {
	if a < b {
		a, b = b, a
	}
	if a == 0 {
		return 0
	}
	if b < 1e-9*a {
		return Vertical95 * a
	}
	outside := func(r float64) float64 {
		// Points of the unit normal at angle t, scaled by a and b, leave the circle beyond r/s(t).
		const steps = 720
		sum := 0.0
		for k := range steps {
			sin, cos := math.Sincos(2 * math.Pi * (float64(k) + 0.5) / steps)
			s2 := a*a*cos*cos + b*b*sin*sin
			sum += math.Exp(-r * r / (2 * s2))
		}
		return sum / steps
	}
	low, high := 0.0, 4*a
	for range 60 {
		mid := (low + high) / 2
		if outside(mid) > 0.05 {
			low = mid
		} else {
			high = mid
		}
	}
	return (low + high) / 2
}

// ExpectedHorizontalEdition1M is the horizontal RMSEr that lidar may be expected to have,
// an estimate and never a test: trajectory error gnssM (radial), angular error imuRad for
// all axes, height heightM above mean terrain. Flat ground; range, timing and divergence neglected.
//
//	sqrt( GNSS^2 + ( tan(IMU) / 0.55894170 * H )^2 )
//
// Source: ASPRS Edition 1, section 7.5 (formula and constant from memory; they reproduce the
// standard's table of ten entries).
func ExpectedHorizontalEdition1M(gnssM, imuRad, heightM float64) float64 {
	return math.Hypot(gnssM, math.Tan(imuRad)/0.55894170*heightM)
}

// ExpectedHorizontalEdition2M is the same after Edition 2, with roll and pitch apart from
// heading:
//
//	sqrt( GNSS^2 + ( (tan(rp) + tan(heading)) / 1.478 * H )^2 )
//
// Source: ASPRS Edition 2 as restated by one secondary source; check the constant before quoting.
func ExpectedHorizontalEdition2M(gnssM, rollPitchRad, headingRad, heightM float64) float64 {
	return math.Hypot(gnssM, (math.Tan(rollPitchRad)+math.Tan(headingRad))/1.478*heightM)
}
