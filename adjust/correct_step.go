package adjust

import (
	"math"
	"slices"
)

// Steps in the height of a strip, such as a change of the ambiguities leaves behind. No spline meets one: a column that steps does.

// stepHalfS is half of the time that a step takes. Our proposal: shorter than a strip needs to pass a cell of a metre.
const stepHalfS = 0.1

// stepsTried is how many steps of one strip are put to the test.
const stepsTried = 2

// stepCurve is 0 before a time and 1 after it.
func stepCurve(tS float64) Curve {
	return newCurve([]float64{tS - stepHalfS, tS + stepHalfS}, []float64{0, 1})
}

// sighting is what one cell says about the height of a strip at a time.
type sighting struct{ tS, y, w float64 }

// findSteps looks in what a rich model without drifts leaves for the times at which the height of a strip jumps, strongest first.
// It only proposes them: held-out ground decides, as of everything.
func (e *estimation) findSteps() [][]float64 {
	rich := slices.DeleteFunc(e.rich(), func(c int) bool { return e.p.columns[c].kind == StripDrift })
	x, _, ok := e.p.solve(rich, -1)
	if !ok {
		return nil
	}
	seen := make([][]sighting, len(e.s.Strips))
	for i := range e.p.rows {
		r := &e.p.rows[i]
		if r.weight <= 0 {
			continue
		}
		y := r.y - e.p.predict(r, x)
		seen[r.a] = append(seen[r.a], sighting{r.tA, -y, r.weight})
		seen[r.b] = append(seen[r.b], sighting{r.tB, y, r.weight})
	}
	out := make([][]float64, len(seen))
	for s, v := range seen {
		if t := &e.fit.Correction.Strips[s]; t.StartS == nil || !t.Line {
			continue
		}
		slices.SortFunc(v, func(a, b sighting) int {
			switch {
			case a.tS < b.tS:
				return -1
			case a.tS > b.tS:
				return 1
			}
			return 0
		})
		for range stepsTried {
			t, by, ok := bestStep(v, e.o.MinSegmentCells)
			if !ok || math.Abs(by) < e.o.RelevantM {
				break
			}
			out[s] = append(out[s], t)
			for i := range v {
				if v[i].tS > t {
					v[i].y -= by
				}
			}
		}
	}
	return out
}

// bestStep is the time at which a step takes most squares away, and its size, with at least so many cells and two seconds on each side.
func bestStep(v []sighting, cells int) (tS, by float64, ok bool) {
	var w, wy float64
	for _, s := range v {
		w, wy = w+s.w, wy+s.w*s.y
	}
	best := 0.0
	var left, leftY float64
	for i := 0; i+1 < len(v); i++ {
		left, leftY = left+v[i].w, leftY+v[i].w*v[i].y
		if i+1 < cells || len(v)-i-1 < cells || v[i].tS-v[0].tS < 2 || v[len(v)-1].tS-v[i+1].tS < 2 || v[i+1].tS == v[i].tS {
			continue
		}
		d := (wy-leftY)/(w-left) - leftY/left
		if gain := left * (w - left) / w * d * d; gain > best {
			best, tS, by, ok = gain, (v[i].tS+v[i+1].tS)/2, d, true
		}
	}
	return tS, by, ok
}

// addSteps appends the columns of the steps that were found, with their groups, and sets the equations up again.
func (e *estimation) addSteps(refs []cellRef) {
	steps := e.findSteps()
	if !slices.ContainsFunc(steps, func(t []float64) bool { return len(t) > 0 }) {
		return
	}
	cols, groups := e.p.columns, e.p.groups
	ofStrip := e.p.ofStrip
	for s, times := range steps {
		if len(times) == 0 {
			continue
		}
		var up []int // the constant height of the strip, then the steps
		for _, c := range ofStrip[s] {
			if cols[c].comp == compUp && len(cols[c].curve.TimeS) == 0 {
				up = append(up, c)
			}
		}
		for _, t := range times {
			cols = append(cols, fitColumn{comp: compUp, kind: StripDrift, strip: int32(s), curve: stepCurve(t), step: true, prior: 0.5})
			ofStrip[s] = append(ofStrip[s], len(cols)-1)
			up = append(up, len(cols)-1)
			groups = append(groups, fitGroup{kind: StripDrift, strip: s, cols: slices.Clone(up), knots: 3})
		}
	}
	e.p = newFitProblem(e.p.ctx, e.fit.Correction.Strips, e.pairs, refs, e.look, e.s.Options.CellM, cols, ofStrip)
	e.p.groups = groups
	e.p.regularise(groups)
	e.p.reweigh(e.rich())
}

// steps lists the steps of a strip in parameters, in time order.
func (e *estimation) steps(strip int, x []float64) []Curve {
	var out []Curve
	for _, c := range e.p.ofStrip[strip] {
		if col := &e.p.columns[c]; col.step && x[c] != 0 {
			out = append(out, newCurve(col.curve.TimeS, []float64{0, x[c]}))
		}
	}
	slices.SortFunc(out, func(a, b Curve) int {
		if a.TimeS[0] < b.TimeS[0] {
			return -1
		}
		return 1
	})
	return out
}

// at sums curves.
func sumAt(c []Curve, tS float64) float64 {
	v := 0.0
	for i := range c {
		v += c[i].At(tS)
	}
	return v
}
