package recover

import "math"

// Limits of the smoothing of scan line directions.
const (
	strayRad  = 0.3  // from its neighbours, over five standard deviations: no sweep of this flight
	fineSweep = 0.01 // standard deviation of a direction that is taken nearly as it is
)

// steady drops the sweeps whose direction has nothing to do with that of their
// neighbours: at the edges of a clipped strip few pulses can make a direction.
func steady(in []sweep) []sweep {
	var out []sweep
	for i := range in {
		var d []float64
		for _, span := range []float64{1, 3, 10} {
			d = d[:0]
			for j := range in {
				if j != i && math.Abs(in[j].timeS-in[i].timeS) <= span {
					d = append(d, turn(in[i].right, in[j].right))
				}
			}
			if len(d) >= 4 {
				break
			}
		}
		if len(d) < 2 || math.Abs(median(d)) < strayRad+5*in[i].sigma {
			out = append(out, in[i])
		}
	}
	return out
}

// turn returns the angle from a to b, clockwise seen from above.
func turn(a, b [2]float64) float64 {
	return math.Atan2(a[1]*b[0]-a[0]*b[1], a[0]*b[0]+a[1]*b[1])
}

// smooth replaces each direction by the weighted mean about it, over half a second
// where sweeps are fine and up to four where they are not.
func smooth(in []sweep) []sweep {
	out := make([]sweep, len(in))
	for i := range in {
		half := min(max(0.5*in[i].sigma/fineSweep, 0.5), 4)
		var sum [2]float64
		weight := 0.0
		for j := range in {
			u := math.Abs(in[j].timeS-in[i].timeS) / half
			if u >= 1 {
				continue
			}
			w := (1 - u) / (in[j].sigma*in[j].sigma + 1e-6)
			sum[0] += w * in[j].right[0]
			sum[1] += w * in[j].right[1]
			weight += w
		}
		out[i] = in[i]
		if l := math.Hypot(sum[0], sum[1]); l > 0 {
			out[i].right = [2]float64{sum[0] / l, sum[1] / l}
			out[i].sigma = math.Sqrt(1 / weight)
		}
	}
	return out
}
