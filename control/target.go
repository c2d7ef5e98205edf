package control

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// TargetKind is the shape of a target painted or laid on the ground, brighter or darker than what is around it.
type TargetKind string

// The targets that Targets can find. SizeM of TargetOptions is the radius of a disc, the side of a
// checkerboard, the length of a chevron's or cross's arm from its point.
const (
	TargetDisc         TargetKind = "disc"
	TargetCheckerboard TargetKind = "checkerboard" // two by two fields, point in the middle
	TargetChevron      TargetKind = "chevron"      // two arms at a right angle, point at the outer corner
	TargetCross        TargetKind = "cross"        // four arms, point in the middle
)

// TargetOptions controls Collector.Targets.
type TargetOptions struct {
	Kind       TargetKind
	SizeM      float64 // see TargetKind
	ArmM       float64 // width of an arm of a chevron or cross; default SizeM/4
	SearchM    float64 // how far the target may lie from the surveyed place; default 0.5
	FootprintM float64 // blur of the returns, for edges; default 0.05
}

// TargetFix is a target as the cloud's intensity shows it: differences are cloud minus survey.
type TargetFix struct {
	ID          string
	EM, NM      float64 // surveyed place
	DEM, DNM    float64 // NaN when not found
	SigmaM      float64 // standard deviation of each component, from the fit
	Contrast    float64 // intensity of the target minus that of the ground, stored units
	Explained   float64 // share of the intensity's variance in the window that the shape explains
	Returns     int     // on the target
	RotationRad float64 // of the shape, counter-clockwise; 0 for a disc
	OK          bool
	Reason      string  // why not
	HeightM     float64 // mean height of the returns on the target: its thickness is in it
	SurveyedZM  float64
	InWindow    int
	SpacingM    float64
}

// Thresholds of a fix: our proposals.
const (
	minTargetExplained = 0.3
	minTargetReturns   = 5
)

// Targets fits the shape to the intensity of the returns near each point, by least squares over place,
// rotation, background and contrast. The collector's radius should be SizeM + SearchM at least.
//
// The model is intensity = background + contrast x shape, the shape's edges blurred by the footprint. Sigma follows
// from the curvature of the sum of squares and the residual spread; it holds when intensity noise is
// independent from return to return.
func (c *Collector) Targets(o TargetOptions) ([]TargetFix, error) {
	if o.SizeM <= 0 || o.SizeM > 10 {
		return nil, fmt.Errorf("target size %g m: give the radius, side or arm length in metres", o.SizeM)
	}
	switch o.Kind {
	case TargetDisc, TargetCheckerboard, TargetChevron, TargetCross:
	default:
		return nil, fmt.Errorf("target %q is not known: use %s, %s, %s or %s", o.Kind, TargetDisc, TargetCheckerboard, TargetChevron, TargetCross)
	}
	o.ArmM, o.SearchM, o.FootprintM = cmpOr(o.ArmM, o.SizeM/4), cmpOr(o.SearchM, 0.5), cmpOr(o.FootprintM, 0.05)
	out := make([]TargetFix, len(c.points))
	for i := range c.points {
		out[i] = c.target(i, o)
	}
	return out, nil
}

// sample is a return's place from the surveyed point and its intensity.
type sample struct{ x, y, v, z float64 }

func (c *Collector) target(i int, o TargetOptions) TargetFix {
	p := &c.points[i]
	fix := TargetFix{ID: p.ID, EM: p.EM, NM: p.NM, DEM: math.NaN(), DNM: math.NaN(), SigmaM: math.NaN(), SurveyedZM: p.ZM, HeightM: math.NaN()}
	returns, _ := c.Returns(i)
	window := o.SizeM + o.SearchM
	var s []sample
	for k := range returns {
		if r := &returns[k]; r.DistM2 <= window*window && (r.ReturnNumber <= 1 || r.Last()) {
			s = append(s, sample{r.EM - p.EM, r.NM - p.NM, float64(r.Intensity), r.ZM})
		}
	}
	fix.InWindow = len(s)
	if len(s) < 4*minTargetReturns {
		fix.Reason = fmt.Sprintf("%d returns around the point", len(s))
		return fix
	}
	fix.SpacingM = math.Sqrt(math.Pi * window * window / float64(len(s)))
	fit := newTargetFit(s, o)
	if !fit.search() {
		fix.Reason = "intensity does not vary around the point"
		return fix
	}
	fix.Explained, fix.Contrast, fix.RotationRad = fit.explained, fit.contrast, fit.at[2]
	fix.Returns, fix.HeightM = fit.onTarget()
	reach := math.Hypot(fit.at[0], fit.at[1])
	switch {
	case fit.explained < minTargetExplained:
		fix.Reason = fmt.Sprintf("no %s seen: the shape explains %.0f %% of the intensity", o.Kind, 100*fit.explained)
		return fix
	case fix.Returns < minTargetReturns:
		fix.Reason = fmt.Sprintf("%d returns on the target", fix.Returns)
		return fix
	case reach > o.SearchM:
		fix.Reason = fmt.Sprintf("the best place lies %.2f m off, at the edge of the search", reach)
		return fix
	}
	sigma, ok := fit.sigma()
	if !ok {
		fix.Reason = "the place of the target is not determined"
		return fix
	}
	fix.DEM, fix.DNM, fix.SigmaM, fix.OK = fit.at[0], fit.at[1], sigma, true
	return fix
}

// targetFit searches place and rotation of a shape.
type targetFit struct {
	s         []sample
	o         TargetOptions
	total     float64 // sum of squares about the mean
	at        [3]float64
	explained float64
	contrast  float64
}

func newTargetFit(s []sample, o TargetOptions) *targetFit {
	f := &targetFit{s: s, o: o}
	mean := 0.0
	for _, p := range s {
		mean += p.v / float64(len(s))
	}
	for _, p := range s {
		f.total += (p.v - mean) * (p.v - mean)
	}
	return f
}

// inside is the blurred membership of a place in the shape: 0 outside, 1 inside, 0.5 on an edge.
func (f *targetFit) inside(x, y float64, at [3]float64) float64 {
	x, y = x-at[0], y-at[1]
	if at[2] != 0 {
		sin, cos := math.Sincos(at[2])
		x, y = cos*x+sin*y, -sin*x+cos*y
	}
	edge := func(d float64) float64 { // d inside positive
		return 0.5 + 0.5*max(-1, min(1, d/f.o.FootprintM))
	}
	switch f.o.Kind {
	case TargetDisc:
		return edge(f.o.SizeM - math.Hypot(x, y))
	case TargetCheckerboard:
		half := f.o.SizeM / 2
		out := edge(half-math.Abs(x)) * edge(half-math.Abs(y))
		px, py := edge(x), edge(y)
		return out * (px*py + (1-px)*(1-py))
	case TargetChevron:
		a := edge(x) * edge(f.o.SizeM-x) * edge(y) * edge(f.o.ArmM-y)
		b := edge(y) * edge(f.o.SizeM-y) * edge(x) * edge(f.o.ArmM-x)
		return max(a, b)
	}
	w := f.o.ArmM / 2
	a := edge(f.o.SizeM-math.Abs(x)) * edge(w-math.Abs(y))
	b := edge(f.o.SizeM-math.Abs(y)) * edge(w-math.Abs(x))
	return max(a, b)
}

// gain is the sum of squares that the shape at a place explains, and its contrast, from every
// nth sample.
func (f *targetFit) gain(at [3]float64, every int) (gain, contrast float64) {
	n := float64((len(f.s) + every - 1) / every)
	var st, stt, sv, stv float64
	for i := 0; i < len(f.s); i += every {
		p := &f.s[i]
		t := f.inside(p.x, p.y, at)
		st, stt, sv, stv = st+t, stt+t*t, sv+p.v, stv+t*p.v
	}
	tt, tv := stt-st*st/n, stv-st*sv/n
	if tt < 1e-6*n {
		return 0, 0
	}
	return tv * tv / tt, tv / tt
}

// turns are the rotations that tell a shape apart from itself.
func (f *targetFit) turns() (period float64, steps int) {
	switch f.o.Kind {
	case TargetDisc:
		return 0, 1
	case TargetCheckerboard: // turned by a right angle it is its negative
		return math.Pi, 18
	case TargetChevron:
		return 2 * math.Pi, 36
	}
	return math.Pi / 2, 9
}

// search looks on a grid, then around the best place on ever finer ones.
func (f *targetFit) search() bool {
	if f.total <= 0 {
		return false
	}
	period, steps := f.turns()
	best, every := 0.0, 1+len(f.s)/300 // the grid on some 300 samples, the rest on all
	try := func(at [3]float64) {
		if g, c := f.gain(at, every); g > best {
			best, f.at, f.contrast = g, at, c
		}
	}
	step := max(f.o.SearchM/10, min(f.o.SizeM/5, 0.1))
	k := int(math.Ceil(f.o.SearchM/step)) + 1
	for i := -k; i <= k; i++ {
		for j := -k; j <= k; j++ {
			for r := range steps {
				try([3]float64{float64(i) * step, float64(j) * step, period * float64(r) / float64(max(steps, 1))})
			}
		}
	}
	if best == 0 {
		return false
	}
	every = 1
	best, f.contrast = f.gain(f.at, every)
	turn := 0.0
	if steps > 1 {
		turn = period / float64(steps)
	}
	for step > 0.0005 {
		before := best
		at := f.at
		for i := -1; i <= 1; i++ {
			for j := -1; j <= 1; j++ {
				for r := -1; r <= 1; r++ {
					if r == 0 || turn > 0 {
						try([3]float64{at[0] + float64(i)*step, at[1] + float64(j)*step, at[2] + float64(r)*turn})
					}
				}
			}
		}
		if best == before {
			step, turn = step/2, turn/2
		}
	}
	f.explained = best / f.total
	return best > 0
}

// onTarget counts the returns on the shape and gives their mean height.
func (f *targetFit) onTarget() (n int, heightM float64) {
	for _, p := range f.s {
		if f.inside(p.x, p.y, f.at) > 0.5 {
			n++
			heightM += p.z
		}
	}
	return n, heightM / float64(n)
}

// sigma is the standard deviation of the place from the linearised model: residual variance times the
// inverse of the normal matrix of background, contrast, place and rotation; the larger axis' share. A twentieth of
// the footprint is added for what the straight ramp of the model misses of a real edge.
func (f *targetFit) sigma() (sigmaM float64, ok bool) {
	h := max(f.o.FootprintM/2, 0.01)
	cols := 4
	if f.o.Kind != TargetDisc {
		cols = 5
	}
	normal := mat.NewSymDense(cols, nil)
	row := make([]float64, cols)
	for _, p := range f.s {
		diff := func(k int, step float64) float64 {
			a, b := f.at, f.at
			a[k], b[k] = a[k]+step, b[k]-step
			return f.contrast * (f.inside(p.x, p.y, a) - f.inside(p.x, p.y, b)) / (2 * step)
		}
		row[0], row[1], row[2], row[3] = 1, f.inside(p.x, p.y, f.at), diff(0, h), diff(1, h)
		if cols == 5 {
			row[4] = diff(2, h/f.o.SizeM)
		}
		normal.SymRankOne(normal, 1, mat.NewVecDense(cols, row))
	}
	var chol mat.Cholesky
	if !chol.Factorize(normal) || chol.Cond() > 1e14 {
		return 0, false
	}
	var inv mat.SymDense
	if chol.InverseTo(&inv) != nil {
		return 0, false
	}
	s2 := f.total * (1 - f.explained) / float64(max(len(f.s)-cols, 1))
	return math.Hypot(math.Sqrt(s2*max(inv.At(2, 2), inv.At(3, 3))), f.o.FootprintM/20), true
}

// HorizontalDifferences returns the differences of the fixes that were found, for SummarizeHorizontal.
func HorizontalDifferences(fixes []TargetFix) (deM, dnM []float64) {
	for i := range fixes {
		if fixes[i].OK {
			deM, dnM = append(deM, fixes[i].DEM), append(dnM, fixes[i].DNM)
		}
	}
	return deM, dnM
}
