package adjust

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"sidelap/overlap"
)

// ControlPoint is a surveyed height to which the cloud may be shifted. Check points never become one.
type ControlPoint struct {
	ID         string
	EM, NM, ZM float64
	SigmaM     float64 // 0: 0.02
}

// controlZ is how many standard errors a shift must have to be applied. Our proposal: a shift that control points ask for by chance alone in
// one flight of four hundred.
const controlZ = 3

// controlDiff is the height of the cloud over a control point, before the datum shift.
type controlDiff struct {
	eM, nM, dz, sigma float64
	id                string
}

// fitControl fits the height of the whole cloud to control: one shift, a tilt only with six points or more that are well spread. The strips
// are fitted to each other before, freely. x nil: no strip was fitted.
func (e *estimation) fitControl(x []float64) {
	if len(e.o.Control) == 0 {
		return
	}
	diffs := e.overAllControl(x)
	fit := e.fit
	outside, far := e.outsideControl()
	if outside > 0 {
		e.note("%d of %d control points lie outside the cloud, by up to %s: the list is of another site, or its coordinates are of another zone or system, or easting and northing are exchanged; they were not used.",
			outside, len(e.o.Control), distance(far))
	}
	if n := len(e.o.Control) - outside - len(diffs); n > 0 {
		e.note("%d of %d control points lie on no smooth, gently sloping cell of a strip and were not used.", n, len(e.o.Control))
	}
	diffs, out, med := withoutOutliers(diffs)
	for _, c := range out {
		e.note("Control point %s was left out: the cloud lies %+.3f m over it, %+.3f m over the median of the others.", c.id, c.dz, med)
	}
	fit.ControlUsed = len(diffs)
	if len(diffs) == 0 {
		return
	}
	fit.ControlRMSM = rmsOf(diffs, Datum{})
	mean, se := meanOf(diffs)
	d := Datum{}
	d.EM, d.NM = centreOf(diffs)
	switch {
	case len(diffs) < 3:
		e.refuse(DatumHeight, -1, fmt.Sprintf("%d usable control points; at least 3 are needed, so that one of them cannot move the cloud alone", len(diffs)))
	case math.Abs(mean) < controlZ*se:
		fit.Notes = append(fit.Notes, fmt.Sprintf("The cloud lies %+.3f m over %d control points, which is within three standard errors of %.3f m: not shifted.", mean, len(diffs), se))
	case math.Abs(mean) < 0.002:
	case e.doubtful(mean, se) != "" && !e.o.ApplyBeyond:
		e.refuse(DatumHeight, -1, e.doubtful(mean, se)+" --apply-beyond-accuracy applies it all the same")
		fit.ControlAfter = fit.ControlRMSM
		return
	default:
		if why := e.doubtful(mean, se); why != "" {
			e.note("Height datum: %s It is applied as asked for.", why)
		}
		d.UpM = mean
		fit.Fitted = append(fit.Fitted, Fitted{Kind: DatumHeight, Strip: -1, Value: mean, Sigma: se, EffectM: math.Abs(mean), Reliable: true,
			Detail: fmt.Sprintf("%d control points", len(diffs))})
	}
	if t, ok := tilt(diffs, d); ok && len(diffs) >= 3 {
		d = t
		fit.Notes = append(fit.Notes, fmt.Sprintf("The control points ask for a tilt of %+.1f mm per 100 m to the east and %+.1f to the north, which was applied.", 1e5*d.TiltE, 1e5*d.TiltN))
	}
	if d.UpM != 0 || d.TiltE != 0 || d.TiltN != 0 {
		fit.Correction.Datum = d
	}
	fit.ControlAfter = rmsOf(diffs, fit.Correction.Datum)
}

// outsideControl counts the control points outside the rectangle around all smooth surfaces, more than a cell away, and tells how far the farthest one is.
func (e *estimation) outsideControl() (n int, farM float64) {
	loE, loN, hiE, hiN := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for s := range e.s.Strips {
		for i := range e.s.Strips[s].Facets {
			if f := &e.s.Strips[s].Facets[i]; f.N > 0 {
				loE, hiE, loN, hiN = math.Min(loE, f.EM), math.Max(hiE, f.EM), math.Min(loN, f.NM), math.Max(hiN, f.NM)
			}
		}
	}
	if !(loE <= hiE) {
		return 0, 0
	}
	for _, c := range e.o.Control {
		if d := math.Hypot(math.Max(0, math.Max(loE-c.EM, c.EM-hiE)), math.Max(0, math.Max(loN-c.NM, c.NM-hiN))); d > e.s.Options.CellM {
			n, farM = n+1, math.Max(farM, d)
		}
	}
	return n, farM
}

// distance is a length for a reader.
func distance(m float64) string {
	if m >= 10_000 {
		return fmt.Sprintf("%.0f km", m/1000)
	}
	return fmt.Sprintf("%.0f m", m)
}

// doubtful says why a shift to control is rather an error of the list than of the cloud; "" when nothing speaks against it. Check points, which are
// never fitted to, can only hold a shift back: when their mean grows by more than three standard errors of both and a centimetre.
func (e *estimation) doubtful(mean, se float64) string {
	const causes = "a geoid separation left out or used twice, an antenna or pole height, or one foot for the other in the list or the cloud can be the cause: look for it first."
	worse := math.Abs(e.o.CheckMeanM-mean) - math.Abs(e.o.CheckMeanM)
	switch {
	case math.Abs(mean) > e.o.MaxShiftM:
		return fmt.Sprintf("the cloud lies %+.3f m over %d control points, and a shift of more than %.2f m is rather an error of the list than of the flight: %s", mean, e.fit.ControlUsed, e.o.MaxShiftM, causes)
	case e.o.CheckSEM > 0 && worse > math.Max(0.01, controlZ*math.Hypot(e.o.CheckSEM, se)):
		return fmt.Sprintf("the cloud lies %+.3f m over %d control points, but %+.3f m over the check points, which the shift would bring to %+.3f m: the two lists contradict each other; %s", mean, e.fit.ControlUsed,
			e.o.CheckMeanM, e.o.CheckMeanM-mean, causes)
	}
	return ""
}

// overAllControl is the height of the cloud over the control points that it covers.
func (e *estimation) overAllControl(x []float64) []controlDiff {
	var diffs []controlDiff
	for i := range e.o.Control {
		if d, ok := e.overControl(&e.o.Control[i], x); ok {
			diffs = append(diffs, d)
		}
	}
	return diffs
}

// overControl is the height of the strips' planes over a control point with the fitted errors taken off.
func (e *estimation) overControl(c *ControlPoint, x []float64) (controlDiff, bool) {
	var sum, weight float64
	for s := range e.s.Lines() {
		f, ok := nearFacet(e.s.Strips[s].Facets, e.s.Options.CellM, c.EM, c.NM)
		if !ok {
			continue
		}
		d := Vec{}
		if x != nil {
			d = e.move(x, s, f)
		}
		// the strip's own share of what centre took as nobody's error
		own := e.stripShift(s, f.TimeS)
		if x != nil {
			d = d.Sub(e.freeShift(x, s, f.TimeS)).Add(own)
		}
		v := f.Leverage(c.EM, c.NM)*f.RoughM*f.RoughM + 0.003*0.003
		sum += (f.At(c.EM, c.NM) - c.ZM - apparent(d, f.SlopeE, f.SlopeN)) / v
		weight += 1 / v
	}
	if weight == 0 {
		return controlDiff{}, false
	}
	sigma := c.SigmaM
	if sigma <= 0 {
		sigma = 0.02
	}
	return controlDiff{c.EM, c.NM, sum / weight, math.Sqrt(sigma*sigma + 1/weight), c.ID}, true
}

// nearFacet is the plane of a strip that tells the height of a place best: smooth, gently sloping, and not extrapolated by more than a cell.
func nearFacet(facets []overlap.Facet, cellM, eM, nM float64) (*overlap.Facet, bool) {
	col, row := int32(math.Floor(eM/cellM)), int32(math.Floor(nM/cellM))
	var best *overlap.Facet
	least := math.Inf(1)
	for dr := int32(-1); dr <= 1; dr++ {
		for dc := int32(-1); dc <= 1; dc++ {
			i, ok := slices.BinarySearchFunc(facets, [2]int32{row + dr, col + dc}, facetOrder)
			if !ok {
				continue
			}
			f := &facets[i]
			if !f.Plane || f.N < 6 || f.SlopeRad() > 0.26 || !(f.RoughM < 0.1) {
				continue
			}
			if v := f.Leverage(eM, nM) * f.RoughM * f.RoughM; v < least && math.Hypot(f.EM-eM, f.NM-nM) < cellM {
				best, least = f, v
			}
		}
	}
	return best, best != nil
}

func facetOrder(f overlap.Facet, at [2]int32) int {
	return cmp.Or(cmp.Compare(f.Row, at[0]), cmp.Compare(f.Col, at[1]))
}

// stripShift is the shift that the correction takes off a strip at a time, freeShift that of the parameters before they were centred.
func (e *estimation) stripShift(s int, tS float64) Vec {
	c := &e.fit.Correction.Strips[s]
	return Vec{c.EastM.At(tS), c.NorthM.At(tS), c.UpM.At(tS) + sumAt(c.UpStepsM, tS)}
}

func (e *estimation) freeShift(x []float64, s int, tS float64) Vec {
	var d Vec
	for k, comp := range []component{compEast, compNorth, compUp} {
		c := e.curve(s, comp, x)
		d[k] = c.At(tS)
	}
	d[2] += sumAt(e.steps(s, x), tS)
	return d
}

// withoutOutliers parts points that are farther than three spreads and 5 cm from the median.
func withoutOutliers(d []controlDiff) (kept, out []controlDiff, med float64) {
	if len(d) < 4 {
		return d, nil, 0
	}
	var v, abs []float64
	for _, c := range d {
		v = append(v, c.dz)
	}
	med = quantile(v, 0.5)
	for _, x := range v {
		abs = append(abs, math.Abs(x-med))
	}
	limit := math.Max(0.05, 3*1.4826*quantile(abs, 0.5))
	for _, c := range d {
		if math.Abs(c.dz-med) <= limit {
			kept = append(kept, c)
		} else {
			out = append(out, c)
		}
	}
	return kept, out, med
}

func meanOf(d []controlDiff) (mean, se float64) {
	var w, sum float64
	for _, c := range d {
		w += 1 / (c.sigma * c.sigma)
		sum += c.dz / (c.sigma * c.sigma)
	}
	mean = sum / w
	chi := 0.0
	for _, c := range d {
		chi += (c.dz - mean) * (c.dz - mean) / (c.sigma * c.sigma)
	}
	se = math.Sqrt(1 / w)
	if n := float64(len(d)); n > 1 {
		se *= math.Max(1, math.Sqrt(chi/(n-1)))
	}
	return mean, se
}

func centreOf(d []controlDiff) (eM, nM float64) {
	for _, c := range d {
		eM += c.eM / float64(len(d))
		nM += c.nM / float64(len(d))
	}
	return eM, nM
}

func rmsOf(d []controlDiff, datum Datum) float64 {
	ss := 0.0
	for _, c := range d {
		v := c.dz
		if datum != (Datum{}) {
			v -= datum.at(c.eM, c.nM)
		}
		ss += v * v
	}
	return math.Sqrt(ss / float64(len(d)))
}

// layOut is where control points lie: their centre and the sums of squares and products about it.
type layOut struct {
	n          float64
	eM, nM     float64
	ee, en, nn float64
}

func layOutOf(d []controlDiff) layOut {
	s := layOut{n: float64(len(d))}
	s.eM, s.nM = centreOf(d)
	for _, c := range d {
		x, y := c.eM-s.eM, c.nM-s.nM
		s.ee, s.en, s.nn = s.ee+x*x, s.en+x*y, s.nn+y*y
	}
	return s
}

// bothWays reports whether the points are not nearly on one line.
func (s *layOut) bothWays() bool {
	half, off := (s.ee+s.nn)/2, math.Hypot((s.ee-s.nn)/2, s.en)
	return half-off > 0.05*(half+off)
}

// leverage is the variance of a plane through the points at a place, in units of that of one point.
func (s *layOut) leverage(eM, nM float64) float64 {
	x, y := eM-s.eM, nM-s.nM
	return 1/s.n + (s.nn*x*x-2*s.en*x*y+s.ee*y*y)/(s.ee*s.nn-s.en*s.en)
}

// tiltPoints is the number of control points from which on a tilt is fitted. Georeferencing reference, section 6.
const tiltPoints = 6

// tilt fits a plane to the differences. It is accepted with tiltPoints or more, spread in both directions, when both it is significant (three
// standard deviations) and it halves the spread of what is left.
func tilt(d []controlDiff, datum Datum) (Datum, bool) {
	at := layOutOf(d)
	if len(d) < tiltPoints || !at.bothWays() {
		return datum, false
	}
	e0, n0 := at.eM, at.nM
	a, b := mat.NewSymDense(3, nil), mat.NewVecDense(3, nil)
	for _, c := range d {
		v := []float64{1, c.eM - e0, c.nM - n0}
		w := 1 / (c.sigma * c.sigma)
		for i := range 3 {
			for j := i; j < 3; j++ {
				a.SetSym(i, j, a.At(i, j)+w*v[i]*v[j])
			}
			b.SetVec(i, b.AtVec(i)+w*v[i]*c.dz)
		}
	}
	var chol mat.Cholesky
	var x mat.VecDense
	inv := mat.NewSymDense(3, nil)
	if !chol.Factorize(a) || chol.SolveVecTo(&x, b) != nil || chol.InverseTo(inv) != nil {
		return datum, false
	}
	t := Datum{UpM: x.AtVec(0), TiltE: x.AtVec(1), TiltN: x.AtVec(2), EM: e0, NM: n0}
	// F of two parameters, in units of the stated sigmas or of the scatter when that is larger
	g := mat.NewSymDense(2, []float64{inv.At(1, 1), inv.At(1, 2), inv.At(1, 2), inv.At(2, 2)})
	var cg mat.Cholesky
	var y mat.VecDense
	v := mat.NewVecDense(2, []float64{t.TiltE, t.TiltN})
	if !cg.Factorize(g) || cg.SolveVecTo(&y, v) != nil {
		return datum, false
	}
	chi := 0.0
	for _, c := range d {
		r := (c.dz - t.at(c.eM, c.nM)) / c.sigma
		chi += r * r
	}
	scale := math.Max(1, chi/float64(len(d)-3))
	if mat.Dot(&y, v)/scale < 2*9 || rmsOf(d, t) > 0.5*rmsOf(d, datum) {
		return datum, false
	}
	return t, true
}
