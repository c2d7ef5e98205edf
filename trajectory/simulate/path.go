package simulate

import "math"

// Path holds poses at a constant rate. Between poses every component is linear
// in time: that is the definition of the path, not an approximation of it.
type Path struct {
	TimeS      []float64 // GPS seconds of week
	EM, NM, HM []float64 // map grid; height above the geoid
	RollRad    []float64
	PitchRad   []float64
	HeadingRad []float64 // from grid north, continuous (not wrapped)
	rateHz     float64
}

func newPath(n int, startS, rateHz float64) *Path {
	p := &Path{rateHz: rateHz}
	for _, c := range p.columns() {
		*c = make([]float64, n)
	}
	p.TimeS = make([]float64, n)
	for i := range p.TimeS {
		p.TimeS[i] = startS + float64(i)/rateHz
	}
	return p
}

// columns returns E, N, H, roll, pitch, heading.
func (p *Path) columns() [6]*[]float64 {
	return [6]*[]float64{&p.EM, &p.NM, &p.HM, &p.RollRad, &p.PitchRad, &p.HeadingRad}
}

// Len returns the number of poses.
func (p *Path) Len() int { return len(p.TimeS) }

// At returns the pose at tS; outside the path the first or last interval is extended.
func (p *Path) At(tS float64) Pose {
	x := (tS - p.TimeS[0]) * p.rateHz
	i := min(max(int(x), 0), len(p.TimeS)-2)
	u := x - float64(i)
	return Pose{
		TimeS:      tS,
		EM:         p.EM[i] + u*(p.EM[i+1]-p.EM[i]),
		NM:         p.NM[i] + u*(p.NM[i+1]-p.NM[i]),
		HM:         p.HM[i] + u*(p.HM[i+1]-p.HM[i]),
		RollRad:    p.RollRad[i] + u*(p.RollRad[i+1]-p.RollRad[i]),
		PitchRad:   p.PitchRad[i] + u*(p.PitchRad[i+1]-p.PitchRad[i]),
		HeadingRad: p.HeadingRad[i] + u*(p.HeadingRad[i+1]-p.HeadingRad[i]),
	}
}

// clone returns a deep copy.
func (p *Path) clone() *Path {
	q := &Path{rateHz: p.rateHz, TimeS: append([]float64(nil), p.TimeS...)}
	qc := q.columns()
	for i, c := range p.columns() {
		*qc[i] = append([]float64(nil), *c...)
	}
	return q
}

// boxSmooth replaces v by three passes of a moving mean over 2 half + 1 samples,
// close to a Gaussian; the ends repeat the end values.
func boxSmooth(v []float64, half int) {
	if half < 1 || len(v) == 0 {
		return
	}
	n := len(v)
	tmp := make([]float64, n)
	for range 3 {
		base := v[0] // differences from it keep the running sum exact enough for map coordinates
		get := func(i int) float64 { return v[min(max(i, 0), n-1)] - base }
		var sum float64
		for i := -half; i <= half; i++ {
			sum += get(i)
		}
		for i := range n {
			tmp[i] = base + sum/float64(2*half+1)
			sum += get(i+half+1) - get(i-half)
		}
		copy(v, tmp)
	}
}

// derivative returns the central differences of v, per second.
func derivative(v []float64, rateHz float64) []float64 {
	n := len(v)
	d := make([]float64, n)
	for i := range v {
		a, b := max(i-1, 0), min(i+1, n-1)
		if b > a {
			d[i] = (v[b] - v[a]) * rateHz / float64(b-a)
		}
	}
	return d
}

// wrapPi brings an angle to (-pi, pi].
func wrapPi(a float64) float64 {
	a = math.Mod(a, 2*math.Pi)
	if a > math.Pi {
		a -= 2 * math.Pi
	} else if a <= -math.Pi {
		a += 2 * math.Pi
	}
	return a
}
