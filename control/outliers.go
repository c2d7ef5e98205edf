package control

import "math"

// Outliers are the differences far from the others or beyond three times the class. They are shown and
// kept; the statistics stand beside each other with and without them.
type Outliers struct {
	MedianM       float64
	RobustLimitM  float64 // 3 NMAD, on |dz - median|
	ClassLimitM   float64 // 3 times the class, on |dz|; 0 without a class
	Robust        []int   // indices beyond the robust limit
	Class         []int   // indices beyond the class limit
	ChanceOfOne   float64 // chance that clean normal data of this size has one beyond 3 sigma
	With, Without Accuracy
	WithoutOK     bool // false when nothing was beyond a limit, or nothing is left
}

// FindOutliers looks for outliers by both rules. classM 0 means no class.
//
// Source: 3 times the class RMSE is a blunder to be explained: ASPRS Edition 1, section 7.8, from memory;
// 3 NMAD: Hoehle and Hoehle 2009, adapted.
func FindOutliers(dzM []float64, classM float64) (Outliers, error) {
	all, err := Summarize(dzM)
	if err != nil {
		return Outliers{}, err
	}
	o := Outliers{MedianM: all.MedianM, RobustLimitM: 3 * all.NMADM, ClassLimitM: 3 * classM, With: all}
	o.ChanceOfOne = 1 - math.Pow(math.Erf(3/math.Sqrt2), float64(all.N))
	var rest []float64
	for i, d := range dzM {
		robust := o.RobustLimitM > 0 && math.Abs(d-all.MedianM) > o.RobustLimitM
		class := classM > 0 && math.Abs(d) > o.ClassLimitM
		if robust {
			o.Robust = append(o.Robust, i)
		}
		if class {
			o.Class = append(o.Class, i)
		}
		if !robust && !class {
			rest = append(rest, d)
		}
	}
	if len(rest) < len(dzM) && len(rest) > 0 {
		if o.Without, err = Summarize(rest); err == nil {
			o.WithoutOK = true
		}
	}
	return o, nil
}
