package adjust

import (
	"fmt"
	"math"
	"slices"
)

// beyondSigma is how many of the path's own standard deviations a correction may have before it is doubted. Georeferencing reference, section 6.
const beyondSigma = 3

// beyond says in which component a strip's errors are larger than the path's accuracy allows; "" in none.
func (e *estimation) beyond(strip int, x []float64) string {
	c := &e.fit.Correction.Strips[strip]
	for comp, name := range [...]string{"east", "north", "height", "roll", "heading"} {
		sigma := statedSigma(e.path, c, comp)
		if !(sigma > 0) {
			continue
		}
		curve, steps := e.curve(strip, component(comp), x), e.steps(strip, x)
		largest := 0.0
		for i := range 41 {
			t := 0.0
			if c.StartS != nil {
				t = *c.StartS + (*c.EndS-*c.StartS)*float64(i)/40
			}
			v := curve.At(t)
			if component(comp) == compUp {
				v += sumAt(steps, t)
			}
			largest = math.Max(largest, math.Abs(v))
		}
		if largest > beyondSigma*sigma {
			f, unit := 1.0, "m"
			if comp >= int(compRoll) {
				f, unit = 180/math.Pi, "deg"
			}
			return fmt.Sprintf("its error in %s of up to %.3f %s is larger than %d times what the path file states for itself (%.4f %s): either the statement or the explanation is wrong.", name, largest*f, unit, beyondSigma, sigma*f, unit)
		}
	}
	return ""
}

// curve joins the columns of a component of a strip to one curve.
func (e *estimation) curve(strip int, comp component, x []float64) Curve {
	var knots []float64
	constant := 0.0
	var parts []int
	for _, c := range e.p.ofStrip[strip] {
		col := &e.p.columns[c]
		if col.comp != comp || x[c] == 0 || col.step {
			continue
		}
		if len(col.curve.TimeS) == 0 {
			constant += x[c]
			continue
		}
		parts = append(parts, c)
		if len(col.curve.TimeS) > len(knots) {
			knots = col.curve.TimeS
		}
	}
	if len(parts) == 0 {
		if constant == 0 {
			return Curve{}
		}
		at := 0.0
		if s := e.fit.Correction.Strips[strip].StartS; s != nil {
			at = *s
		}
		return newCurve([]float64{at}, []float64{constant})
	}
	v := make([]float64, len(knots))
	for i, t := range knots {
		v[i] = constant
		for _, c := range parts {
			v[i] += x[c] * e.p.columns[c].curve.At(t)
		}
	}
	return newCurve(knots, v)
}

// mapScale is the scale below which that of a map grid can be its cause. Georeferencing reference, section 1.
const mapScale = 5e-4

// finish fits the chosen model to all cells and fills the result.
func (e *estimation) finish(m groupSet) {
	fit, p := e.fit, e.p
	cols := p.columnsOf(m)
	none := p.score(nil)
	final := p.score(cols)
	fit.BeforeRMSM = math.Sqrt(p.yy / p.w)
	fit.HoldoutRMSM = math.Sqrt(math.Max(final.squares, 0) / p.w)
	fit.FloorRMSM = p.floor()
	fit.Improved = len(cols) > 0 && final.ok && clearness(p.blockSquares(none), p.blockSquares(final)) >= e.o.MinZ
	if len(cols) > 0 && !fit.Improved {
		for _, g := range m {
			e.refuse(p.groups[g].kind, p.groups[g].strip, "ground that the fit did not see does not agree better with it")
		}
		m, cols = nil, nil
		fit.HoldoutRMSM = fit.BeforeRMSM
	}
	x, _, ok := p.solve(cols, -1)
	if !ok {
		x, cols, m = make([]float64, p.size), nil, nil
	}
	if len(cols) > 0 {
		fit.OverlapBefore, fit.OverlapRMSM = p.leaveOverlapsOut(cols)
	}
	fit.TrainRMSM = p.residualRMS(x)
	e.writeCorrection(x)
	e.centre()
	e.describe(m, x, e.precision(cols, x))
	e.uncovered()
	if k := math.Abs(e.fit.Correction.ScanAngleScale); k > 0 && k < mapScale {
		e.note("A scan angle scale of %.5f can be the scale of the map grid or of the ranges as well as the scanner's: the correction is the same, the cause stays open.", e.fit.Correction.ScanAngleScale)
	}
	e.fitControl(x)
}

// floor is what the noise of the planes alone would leave.
func (p *fitProblem) floor() float64 {
	v, w := 0.0, 0.0
	for i := range p.rows {
		if r := &p.rows[i]; r.weight > 0 {
			v += r.weight / r.base
			w += r.weight
		}
	}
	return math.Sqrt(v / w)
}

func (p *fitProblem) residualRMS(x []float64) float64 {
	ss, w := 0.0, 0.0
	for i := range p.rows {
		if r := &p.rows[i]; r.weight > 0 {
			d := r.y - p.predict(r, x)
			ss += r.weight * d * d
			w += r.weight
		}
	}
	return math.Sqrt(ss / w)
}

// leaveOverlapsOut fits without one pair of strips after the other and returns what was in it before and what is left: does a correction from
// the pairs 1-2 and 2-3 improve 1-3? Strips that only one pair holds are no test of it, and are passed over.
func (p *fitProblem) leaveOverlapsOut(cols []int) (before, after float64) {
	pairsOf := map[int32]map[int32]bool{}
	weight := map[int32]int{}
	var order []int32
	for i := range p.rows {
		r := &p.rows[i]
		for _, s := range []int32{r.a, r.b} {
			if pairsOf[s] == nil {
				pairsOf[s] = map[int32]bool{}
			}
			pairsOf[s][r.pair] = true
		}
		if weight[r.pair]++; weight[r.pair] == 1 {
			order = append(order, r.pair)
		}
	}
	if len(order) < 3 || len(order) > 60 || len(cols) > 200 {
		return math.NaN(), math.NaN()
	}
	kept := make([]float64, len(p.rows))
	for i := range p.rows {
		kept[i] = p.rows[i].weight
	}
	was, ss, w := 0.0, 0.0, 0.0
	for _, pair := range order {
		held := true
		for i := range p.rows {
			r := &p.rows[i]
			if r.pair == pair {
				held = held && len(pairsOf[r.a]) > 1 && len(pairsOf[r.b]) > 1
				r.weight = 0
			}
		}
		if held {
			p.accumulate()
			if x, _, ok := p.solve(cols, -1); ok {
				for i := range p.rows {
					if r := &p.rows[i]; r.pair == pair {
						d := r.y - p.predict(r, x)
						ss += kept[i] * d * d
						was += kept[i] * r.y * r.y
						w += kept[i]
					}
				}
			}
		}
		for i := range p.rows {
			p.rows[i].weight = kept[i]
		}
	}
	p.accumulate()
	if w == 0 {
		return math.NaN(), math.NaN()
	}
	return math.Sqrt(was / w), math.Sqrt(ss / w)
}

// writeCorrection puts parameters into the correction.
func (e *estimation) writeCorrection(x []float64) {
	c := e.fit.Correction
	for k := range globalKinds {
		if p := c.global(k); p != nil {
			*p = x[k]
		}
	}
	for s := range c.Strips {
		t := &c.Strips[s]
		t.EastM, t.NorthM, t.UpM = e.curve(s, compEast, x), e.curve(s, compNorth, x), e.curve(s, compUp, x)
		t.RollRad, t.HeadingErr = e.curve(s, compRoll, x), e.curve(s, compHeading, x)
		t.UpStepsM = e.steps(s, x)
	}
}

// describe lists the parameters as they are taken off.
func (e *estimation) describe(m groupSet, x []float64, known *precision) {
	type part struct {
		strip int
		kind  Kind
	}
	listed := map[part]bool{}
	for _, g := range m {
		grp := &e.p.groups[g]
		only := make([]float64, len(x))
		for _, c := range grp.cols {
			only[c] = x[c]
		}
		f := Fitted{Kind: grp.kind, Strip: grp.strip, EffectM: quantile(e.moves(only, grp.strip), 0.95)}
		f.Value, f.Sigma, f.Detail = e.value(grp, x, known)
		switch { // centred
		case grp.strip < 0:
		case grp.kind == StripHeight, grp.kind == StripHorizontal:
			f.EffectM = math.Abs(f.Value)
			listed[part{grp.strip, grp.kind}] = true
		case grp.kind == StripDrift:
			for _, c := range grp.cols {
				if e.p.columns[c].comp == compUp {
					listed[part{grp.strip, StripHeight}] = true
				} else {
					listed[part{grp.strip, StripHorizontal}] = true
				}
			}
		}
		f.Reliable = clearOf(f.Value, f.Sigma)
		e.fit.Fitted = append(e.fit.Fitted, f)
	}
	for s := range e.fit.Correction.Strips { // what centring alone gave a strip
		for _, k := range []Kind{StripHeight, StripHorizontal} {
			if listed[part{s, k}] {
				continue
			}
			if v, detail := e.shift(s, k); v != 0 {
				sigma := e.worseShiftSigma(known, s, k)
				e.fit.Fitted = append(e.fit.Fitted, Fitted{Kind: k, Strip: s, Value: v, Sigma: sigma, EffectM: math.Abs(v), Reliable: clearOf(v, sigma), Detail: detail})
			}
		}
	}
	slices.SortStableFunc(e.fit.Fitted, func(a, b Fitted) int { return (int(a.Kind)-int(b.Kind))*10000 + a.Strip - b.Strip })
}

// worseShiftSigma is the standard deviation of a strip's constant shift; of a horizontal one that of its worse component.
func (e *estimation) worseShiftSigma(known *precision, strip int, k Kind) float64 {
	if k == StripHeight {
		return e.shiftSigma(known, strip, compUp)
	}
	return math.Max(e.shiftSigma(known, strip, compEast), e.shiftSigma(known, strip, compNorth))
}

// shift is the constant shift of a strip that is taken off.
func (e *estimation) shift(strip int, k Kind) (v float64, detail string) {
	c := &e.fit.Correction.Strips[strip]
	mean := func(c *Curve) float64 {
		sum := 0.0
		for _, y := range c.Value {
			sum += y / float64(len(c.Value))
		}
		return sum
	}
	if k == StripHeight {
		return mean(&c.UpM), ""
	}
	east, north := mean(&c.EastM), mean(&c.NorthM)
	return math.Hypot(east, north), fmt.Sprintf("%+.3f m east, %+.3f m north", east, north)
}

// value gives a group one number, with its standard deviation: the parameter itself, or the largest of what it does over its strip.
func (e *estimation) value(g *fitGroup, x []float64, known *precision) (v, s float64, detail string) {
	if g.strip < 0 {
		return x[g.cols[0]], known.sigma([]term{{g.cols[0], 1}}, 0), ""
	}
	comps := map[component]bool{}
	for _, c := range g.cols {
		comps[e.p.columns[c].comp] = true
	}
	c := &e.fit.Correction.Strips[g.strip]
	switch {
	case g.kind == StripHeight, g.kind == StripHorizontal:
		v, detail = e.shift(g.strip, g.kind)
		return v, e.worseShiftSigma(known, g.strip, g.kind), detail
	case comps[compEast]:
		lo, hi := ends(&c.EastM)
		lo2, hi2 := ends(&c.NorthM)
		over := change(*c.StartS, *c.EndS)
		s = math.Max(known.changeSigma(e, g.strip, compEast, over), known.changeSigma(e, g.strip, compNorth, over))
		return math.Hypot(hi-lo, hi2-lo2), s, fmt.Sprintf("from %+.3f m east, %+.3f m north at its start to %+.3f, %+.3f at its end", lo, lo2, hi, hi2)
	case comps[compUp]:
		lo, hi, atLo, atHi := e.heights(c)
		detail = fmt.Sprintf("height error from %+.3f m to %+.3f m", lo, hi)
		if len(c.UpStepsM) == 0 {
			detail += fmt.Sprintf(", %d knots", len(c.UpM.TimeS))
		}
		for _, k := range c.UpStepsM {
			detail += fmt.Sprintf(", a step of %+.3f m %.1f s after the start of the strip", k.Value[1], (k.TimeS[0]+k.TimeS[1])/2-*c.StartS)
		}
		return hi - lo, known.changeSigma(e, g.strip, compUp, change(atLo, atHi)), detail
	}
	deg := 180 / math.Pi
	lo, hi := extremes(&c.RollRad)
	detail = fmt.Sprintf("roll error from %+.4f to %+.4f deg, %d knots", lo*deg, hi*deg, max(len(c.RollRad.TimeS), 1))
	v = hi
	if math.Abs(lo) > math.Abs(hi) {
		v = lo
	}
	at := 0.0
	if i := slices.Index(c.RollRad.Value, v); i >= 0 {
		at = c.RollRad.TimeS[i]
	}
	if comps[compHeading] {
		detail += fmt.Sprintf(", heading %+.4f deg", c.HeadingErr.At(0)*deg)
	}
	return v, math.Hypot(known.sigma(e.form(g.strip, compRoll, valueAt(at)), 0), known.misfit(g.strip, compRoll)), detail
}

// heights returns the lowest and the highest height error of a strip, with their times.
func (e *estimation) heights(c *StripCorrection) (lo, hi, atLo, atHi float64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	const steps = 200
	for i := range steps + 1 {
		t := *c.StartS + (*c.EndS-*c.StartS)*float64(i)/steps
		y := c.UpM.At(t) + sumAt(c.UpStepsM, t)
		if y < lo {
			lo, atLo = y, t
		}
		if y > hi {
			hi, atHi = y, t
		}
	}
	return lo, hi, atLo, atHi
}

func ends(c *Curve) (first, last float64) {
	if len(c.Value) == 0 {
		return 0, 0
	}
	return c.Value[0], c.Value[len(c.Value)-1]
}

func extremes(c *Curve) (lo, hi float64) {
	if len(c.Value) == 0 {
		return 0, 0
	}
	return slices.Min(c.Value), slices.Max(c.Value)
}

// centre fixes what the overlaps leave free, the shift of all strips together: where more than half of the strips are shifted, the median of
// each component is taken as nobody's error. One faulty strip among sound ones thereby does not move the sound ones.
func (e *estimation) centre() {
	c := e.fit.Correction
	lines := e.s.Lines()
	for comp := range compRoll {
		of := func(s *StripCorrection) *Curve { return [...]*Curve{&s.EastM, &s.NorthM, &s.UpM}[comp] }
		var mean []float64
		shifted := 0
		for i := range lines {
			v := of(&c.Strips[i])
			m := 0.0
			if !v.zero() {
				shifted++
				for _, y := range v.Value {
					m += y / float64(len(v.Value))
				}
			}
			mean = append(mean, m)
		}
		if 2*shifted <= len(lines) {
			continue
		}
		mid := quantile(mean, 0.5)
		e.fit.middle[comp] = middleOf(mean)
		for i := range lines {
			at := 0.0
			if s := c.Strips[i].StartS; s != nil {
				at = *s
			}
			v := of(&c.Strips[i])
			*v = v.shifted(-mid, at)
		}
	}
}

// uncovered names times of splines that no overlap supports.
func (e *estimation) uncovered() {
	c := e.fit.Correction
	times := make([][]float64, len(c.Strips))
	for pi := range e.pairs {
		for ci := range e.pairs[pi].Cells {
			cell := &e.pairs[pi].Cells[ci]
			if usableForFit(cell, e.o.MaxSlopeRad) {
				times[e.pairs[pi].A] = append(times[e.pairs[pi].A], cell.TimeAS)
				times[e.pairs[pi].B] = append(times[e.pairs[pi].B], cell.TimeBS)
			}
		}
	}
	for s := range c.Strips {
		t := &c.Strips[s]
		if max(len(t.UpM.TimeS), len(t.RollRad.TimeS)) < 2 || t.StartS == nil {
			continue
		}
		v := append(times[s], *t.StartS, *t.EndS)
		slices.Sort(v)
		longest, at := 0.0, 0.0
		for i := 1; i < len(v); i++ {
			if g := v[i] - v[i-1]; g > longest {
				longest, at = g, v[i-1]
			}
		}
		if longest > e.o.MinSegmentS {
			e.fit.Notes = append(e.fit.Notes, fmt.Sprintf("Strip %s has no overlap for %.0f s from %.1f s on: its drift there is carried over from its neighbourhood, not measured.", t.ID, longest, at))
		}
	}
}
