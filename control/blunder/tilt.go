package blunder

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"

	"sidelap/control"
)

// tilt is rule B10: differences that grow across the site.
func (r *run) tilt() {
	s := &r.series
	if s.n() < 6 {
		r.needs("B10", "six check points spread in two directions")
		return
	}
	r.ran("B10")
	all := make([]int, s.n())
	for k := range all {
		all[k] = k
	}
	f, ok := r.fitTilt(all)
	if !ok || f.p >= 0.01 || f.slope() <= 2e-5 || f.rangeM <= r.limitM/2 {
		return
	}
	// One wrong point at a corner can make a plane: the tilt has to stand without any one of them.
	for _, drop := range r.strongest(all) {
		rest := append(append([]int(nil), all[:drop]...), all[drop+1:]...)
		if g, ok := r.fitTilt(rest); !ok || g.p >= 0.01 || g.slope() < f.slope()/2 {
			return
		}
	}
	azimuth := math.Mod(math.Atan2(f.a, f.b)*180/math.Pi+360, 360)
	caution := ""
	if r.e.GeoidGrid != nil {
		if a, b, ok := r.geoidSlope(); ok {
			caution = fmt.Sprintf("the geoid itself slopes by %.1f cm on a kilometre here", 1e5*math.Hypot(a, b))
			if math.Hypot(math.Abs(f.a)-math.Abs(a), math.Abs(f.b)-math.Abs(b)) < 0.3*f.slope() {
				caution += ": as much as the tilt, so a geoid slope left out is likely"
			}
		}
	}
	r.add(Finding{ID: "B10", Title: "tilted plane", Severity: Serious,
		Text:     fmt.Sprintf("differences rise by %.1f cm on a kilometre towards %.0f deg, %.3f m over the points: geoid slope left out, a bad site calibration, or one wrong control in a fit", 1e5*f.slope(), azimuth, f.rangeM),
		Observed: fmt.Sprintf("slope %.1f cm/km, F test p %.2g, n %d", 1e5*f.slope(), f.p, s.n()), Predicted: "no slope",
		ChancePct: 100 * f.p, DecideBy: "the geoid grid over the site, and the points of the site calibration", Caution: caution}, f.predicted)
}

// strongest returns the indices of the points that pull hardest on a fit: all of them up to 200, else those farthest
// from the median.
func (r *run) strongest(index []int) []int {
	if len(index) <= 200 {
		return index
	}
	out := slices.Clone(index)
	s := &r.series
	slices.SortFunc(out, func(a, b int) int {
		return cmp.Compare(math.Abs(s.dz[b]-s.med), math.Abs(s.dz[a]-s.med))
	})
	return out[:100]
}

// tiltFit is the plane dz = c + a E + b N.
type tiltFit struct {
	a, b, p, rangeM float64
	predicted       []float64 // at every point of the series
}

func (t tiltFit) slope() float64 { return math.Hypot(t.a, t.b) }

// fitTilt fits the plane to the points with the indices and tests it against a constant.
func (r *run) fitTilt(index []int) (tiltFit, bool) {
	s := &r.series
	n := len(index)
	var e0, n0 float64
	for _, k := range index {
		e0 += r.e.Points[s.index[k]].EM / float64(n)
		n0 += r.e.Points[s.index[k]].NM / float64(n)
	}
	a := mat.NewDense(n, 3, nil)
	y := mat.NewVecDense(n, nil)
	var ee, nn, en float64
	for i, k := range index {
		p := &r.e.Points[s.index[k]]
		de, dn := (p.EM-e0)/1000, (p.NM-n0)/1000
		a.SetRow(i, []float64{1, de, dn})
		y.SetVec(i, s.dz[k])
		ee, nn, en = ee+de*de, nn+dn*dn, en+de*dn
	}
	if det := ee*nn - en*en; n < 5 || det <= 0.01*(ee+nn)*(ee+nn)/4 {
		return tiltFit{}, false // in a line
	}
	var x, fit mat.VecDense
	if x.SolveVec(a, y) != nil {
		return tiltFit{}, false
	}
	fit.MulVec(a, &x)
	var ss0, ss1 float64
	mean := mat.Sum(y) / float64(n)
	low, high := math.Inf(1), math.Inf(-1)
	for i := range n {
		ss0 += (y.AtVec(i) - mean) * (y.AtVec(i) - mean)
		ss1 += (y.AtVec(i) - fit.AtVec(i)) * (y.AtVec(i) - fit.AtVec(i))
		low, high = min(low, fit.AtVec(i)), max(high, fit.AtVec(i))
	}
	t := tiltFit{a: x.AtVec(1) / 1000, b: x.AtVec(2) / 1000, rangeM: high - low}
	for _, i := range s.index {
		p := &r.e.Points[i]
		t.predicted = append(t.predicted, x.AtVec(0)+t.a*(p.EM-e0)+t.b*(p.NM-n0))
	}
	dof := float64(n - 3)
	f := (ss0 - ss1) / 2 / max(ss1/dof, 1e-9)
	t.p = distuv.F{D1: 2, D2: dof}.Survival(f)
	return t, true
}

// geoidSlope is the gradient of the geoid grid over the points.
func (r *run) geoidSlope() (a, b float64, ok bool) {
	s := &r.series
	e, n := r.e.Points[s.index[0]].EM, r.e.Points[s.index[0]].NM
	const h = 500
	e1, ok1 := r.e.GeoidGrid(e+h, n)
	e2, ok2 := r.e.GeoidGrid(e-h, n)
	n1, ok3 := r.e.GeoidGrid(e, n+h)
	n2, ok4 := r.e.GeoidGrid(e, n-h)
	return (e1 - e2) / (2 * h), (n1 - n2) / (2 * h), ok1 && ok2 && ok3 && ok4
}

// vegetation is rule B12: open points that stand in something soft.
func (r *run) vegetation() {
	s := &r.series
	if s.n() < 3 {
		r.needs("B12", "three check points with a height in the cloud")
		return
	}
	r.ran("B12")
	soft := make([]bool, s.n())
	var rest []float64
	for k, i := range s.index {
		soft[k] = r.soft(&r.e.Points[i])
		if !soft[k] {
			rest = append(rest, s.dz[k])
		}
	}
	base, spread := s.med, s.sr
	if len(rest) >= 3 {
		base, spread = control.Median(rest), control.NMAD(rest)
	}
	p := make([]float64, s.n())
	var ids []string
	var high []float64
	for k, i := range s.index {
		if soft[k] {
			ids = append(ids, r.e.Points[i].ID)
			high = append(high, s.dz[k]-base)
		}
	}
	if len(ids) == 0 {
		r.softCodes()
		return
	}
	lift := control.Median(high)
	for k := range p {
		if soft[k] {
			p[k] = lift
		}
	}
	severity := Notice
	if lift > max(3*spread/math.Sqrt(float64(len(ids))), r.limitM/4) {
		severity = Serious
	}
	r.add(Finding{ID: "B12", Title: "vegetation at open points", Severity: severity,
		Text: fmt.Sprintf("%d of %d open points do not look like hard ground: heights within 0.5 m spread by more than 0.15 m or three times the hard-ground noise; they stand %+.3f m against the others. They belong to the vegetated statistic",
			len(ids), s.n(), lift),
		Observed:  fmt.Sprintf("dz of these points %+.3f m over the others (spread %.3f m)", lift, spread),
		Predicted: "positive, only at these points", ChancePct: math.NaN(), Points: ids,
		DecideBy: "photographs of the points, and hard-ground points alone"}, p)
}

// soft reports whether the site of an open point is no hard surface.
func (r *run) soft(p *control.PointResult) bool {
	if p.Cover == control.CoverVegetated {
		return false
	}
	return p.Has(control.FlagRough) || r.e.NoiseM > 0 && p.PlaneRMSM > 3*r.e.NoiseM && p.StepM == 0
}

// softCodes looks for a feature code whose points lie higher than the rest.
func (r *run) softCodes() {
	s := &r.series
	codes := map[string][]int{}
	var order []string
	for k, i := range s.index {
		c := r.e.Points[i].Surface
		if c == "" {
			c = r.e.Points[i].Code
		}
		if c == "" {
			continue
		}
		if len(codes[c]) == 0 {
			order = append(order, c)
		}
		codes[c] = append(codes[c], k)
	}
	for _, c := range order {
		in := codes[c]
		if len(in) < 3 || s.n()-len(in) < 3 {
			continue
		}
		var out []int
		for k := range s.n() {
			if !slices.Contains(in, k) {
				out = append(out, k)
			}
		}
		a, b := pick(s.dz, in), pick(s.dz, out)
		lift := control.Median(a) - control.Median(b)
		spread := max(control.NMAD(b), 0.003)
		se := math.Sqrt(max(control.NMAD(a), 0.003)*max(control.NMAD(a), 0.003)/float64(len(a)) + spread*spread/float64(len(b)))
		if lift <= max(4*se, r.limitM/2) {
			continue
		}
		p := make([]float64, s.n())
		var ids []string
		for _, k := range in {
			p[k] = lift
			ids = append(ids, r.e.Points[s.index[k]].ID)
		}
		r.add(Finding{ID: "B12", Title: "vegetation at open points", Severity: Serious,
			Text:     fmt.Sprintf("the %d points coded %q stand %.3f m above the others: grass or scrub, or another thickness under the rod", len(in), c, lift),
			Observed: fmt.Sprintf("medians apart by %+.3f +- %.3f m", lift, se), Predicted: "positive, only at these points",
			ChancePct: 100 * normalTail(lift/se) * float64(len(order)), Points: ids, DecideBy: "photographs of the points, and hard-ground points alone"}, p)
	}
}
