package control

import "math"

// SurveyAccuracy returns the RMSE of the check survey from the points' own standard deviations:
// sqrt(mean(s^2)), our choice where a list has one for each point. A component is 0 (unknown)
// unless every point has it.
func SurveyAccuracy(points []Point) (verticalM, horizontalM float64) {
	if len(points) == 0 {
		return 0, 0
	}
	var v, h float64
	for i := range points {
		sv, sh := points[i].SDVerticalM, points[i].SDHorizontalM
		v += sv * sv
		h += sh * sh
		if sv == 0 {
			v = math.NaN()
		}
		if sh == 0 {
			h = math.NaN()
		}
	}
	n := float64(len(points))
	if !math.IsNaN(v) {
		verticalM = math.Sqrt(v / n)
	}
	if !math.IsNaN(h) {
		horizontalM = math.Sqrt(h / n)
	}
	return verticalM, horizontalM
}
