package adjust

import (
	"fmt"
	"math"
	"slices"
)

// floorShare is how far above the noise of the surfaces the strips may differ and still count as agreeing. Our proposal.
const floorShare = 1.05

// atFloor reports whether strips differ by no more than the noise of their surfaces, and the diagnosis names nothing.
func (e *estimation) atFloor() bool {
	return math.Sqrt(e.p.yy/e.p.w) <= floorShare*e.p.floor() && len(e.d.Causes) == 0
}

// dropUnseen leaves out kinds of the whole flight of which the diagnosis says that this flight cannot show them.
func (e *estimation) dropUnseen(m groupSet) groupSet {
	return e.dropUndecided(m, func(g *fitGroup) string {
		if g.strip < 0 && slices.ContainsFunc(e.d.Observable, func(o Observability) bool { return o.Kind == g.kind && o.Kind <= ScanAngleScale && !o.Observable }) {
			return "by its geometry this flight cannot show it, so that the value found may stand for something else"
		}
		return ""
	})
}

// dropTilts leaves out drifts and rolls of strips that neither crossing strips nor control decide.
//
// Parallel strips show only how they tilt and bend against each other. Which of them does so, and what they have in common, they do not show: one strip's drift
// and the opposite drift of all the others look the same. A strip that crosses them touches each in one place, and a tilt that they have in common looks like its own roll:
// only another crossing strip that needs no roll speaks against the tilt. When more than half of the strips that a single one crosses drift, what they have in common hangs on
// it alone. Control takes a tilt off the block, no bend: it decides about rolls and straight drifts, where its points can show a tilt.
func (e *estimation) dropTilts(m groupSet) groupSet {
	x, _, ok := e.p.solve(e.p.columnsOf(m), -1)
	if !ok {
		return m
	}
	t := e.tiltsOf(m, x)
	if len(t.drift) == 0 && len(t.roll) == 0 {
		return m
	}
	tilt := e.controlShowsTilt(x)
	return e.dropUndecided(m, func(g *fitGroup) string {
		k, by := t.drift[g.strip], t.crossing[g.strip]
		control := fmt.Sprintf(", or at least %d control points (--control) that spread over the block, decide it", tiltPoints)
		if k > 2 {
			control = " decides it"
		}
		switch {
		case g.strip < 0 || tilt && k <= 2:
		case t.open(g.strip) && (e.has(g, compRoll) || e.has(g, compUp) && len(t.crossing[by[0]]) > 1): // heights of several show the tilt too
			return fmt.Sprintf("whether strip %s is off or the strips that it crosses tilt along their flight together is not determined: both look the same; a further crossing strip%s", e.s.Strips[g.strip].ID, control)
		case k < 2 || !e.has(g, compUp):
		case len(by) == 0:
			return "which strip drifts is not determined: no strip crosses, and the opposite drift of its neighbours would look the same, so that the correction can tilt or bend the whole block; a crossing strip" + control
		case !slices.ContainsFunc(by, func(s int) bool { return !t.open(s) }) || len(by) == 1 && t.mostDrift(t.crossing[by[0]]):
			return "what its drift and that of the other strips have in common is not determined: the strip that crosses them touches each in one place, and the correction can tilt or bend the whole block; " +
				"a further crossing strip" + control
		}
		return ""
	})
}

// tilts is what of a model can tilt or bend the block.
type tilts struct {
	drift    map[int]int   // knots of the drift of the height of a strip
	roll     map[int]bool  // strips with a roll of their own that is rather constant than varying: a tilt of others looks like it
	crossing map[int][]int // the strips that cross a strip
}

// tiltsOf looks for them in a model with parameters x.
func (e *estimation) tiltsOf(m groupSet, x []float64) *tilts {
	t := &tilts{map[int]int{}, map[int]bool{}, map[int][]int{}}
	for _, i := range m {
		g := &e.p.groups[i]
		if g.strip < 0 {
			continue
		}
		for _, c := range g.cols {
			switch col := &e.p.columns[c]; {
			case col.comp == compRoll:
				roll := e.curve(g.strip, compRoll, x)
				lo, hi := extremes(&roll)
				t.roll[g.strip] = lo+hi != 0 && math.Abs(lo+hi) >= hi-lo
			case col.comp == compUp && !col.step && len(col.curve.TimeS) > 1:
				t.drift[g.strip] = max(t.drift[g.strip], len(col.curve.TimeS))
			}
		}
	}
	for i := range e.pairs {
		if p := &e.pairs[i]; p.Crossing {
			t.crossing[p.A], t.crossing[p.B] = append(t.crossing[p.A], p.B), append(t.crossing[p.B], p.A)
		}
	}
	return t
}

// open reports whether a strip rolls, and with it every strip that crosses one of those that it crosses: no one speaks against a tilt of these.
func (t *tilts) open(strip int) bool {
	if !t.roll[strip] || len(t.crossing[strip]) == 0 {
		return false
	}
	for _, s := range t.crossing[strip] {
		if slices.ContainsFunc(t.crossing[s], func(q int) bool { return !t.roll[q] }) {
			return false
		}
	}
	return true
}

func (t *tilts) mostDrift(strips []int) bool {
	n := 0
	for _, s := range strips {
		if t.drift[s] > 1 {
			n++
		}
	}
	return 2*n > len(strips)
}

// has reports whether a group has parameters of a component.
func (e *estimation) has(g *fitGroup, c component) bool {
	return slices.ContainsFunc(g.cols, func(i int) bool { return e.p.columns[i].comp == c })
}

// mostLeverage is how much larger than that of one control point the variance of a plane through all of them may be anywhere in the block for them to show how the
// block is tilted. Our proposal: six points that take up half of the block each way have about this much at its corners.
const mostLeverage = 2

// controlShowsTilt reports whether the control points that can be used are enough, and spread enough, for a tilt of the block to be seen and taken off.
func (e *estimation) controlShowsTilt(x []float64) bool {
	if len(e.o.Control) < tiltPoints {
		return false
	}
	e.writeCorrection(x)
	diffs, _, _ := withoutOutliers(e.overAllControl(x))
	mean, se := meanOf(diffs)
	s := layOutOf(diffs)
	if len(diffs) < tiltPoints || !s.bothWays() || !e.o.ApplyBeyond && e.doubtful(mean, se) != "" {
		return false
	}
	for i := range e.s.Lines() {
		f := e.s.Strips[i].Facets
		for j := 0; j < len(f); j += max(1, len(f)/150) {
			if f[j].N > 0 && s.leverage(f[j].EM, f[j].NM) > mostLeverage {
				return false
			}
		}
	}
	return true
}

// dropUndecided leaves groups out with a reason, unless what these data cannot decide is to be applied.
func (e *estimation) dropUndecided(m groupSet, why func(*fitGroup) string) groupSet {
	return slices.DeleteFunc(slices.Clone(m), func(i int) bool {
		g := &e.p.groups[i]
		text := why(g)
		switch {
		case text == "":
			return false
		case e.o.ApplyConfounded:
			where := ""
			if g.strip >= 0 {
				where = " of strip " + e.s.Strips[g.strip].ID
			}
			e.note("%s%s was applied as asked for, although %s. Its standard deviation does not count this.", sentence(g.kind.Plain()), where, text)
			return false
		}
		e.refuse(g.kind, g.strip, text+"; --apply-confounded applies it all the same")
		return true
	})
}

// dropInsignificant leaves out, weakest first, what is within twice its standard deviation. Shifts of strips stay: they are counted from the median strip, so
// that the size of one of them says nothing.
func (e *estimation) dropInsignificant(m groupSet) groupSet {
	m = slices.Clone(m)
	for len(m) > 0 {
		cols := e.p.columnsOf(m)
		x, _, ok := e.p.solve(cols, -1)
		if !ok {
			return m
		}
		known := e.precision(cols, x)
		known.whole = true
		e.writeCorrection(x)
		weakest, least, text := -1, 2.0, ""
		for i := range m {
			g := &e.p.groups[m[i]]
			if g.kind == StripHeight || g.kind == StripHorizontal {
				continue
			}
			v, s, _ := e.value(g, x, known)
			if r := math.Abs(v) / s; r < least {
				unit, k := g.kind.Unit()
				weakest, least, text = i, r, fmt.Sprintf("what is found, %.4g +- %.2g %s, is within twice its standard deviation", v*k, s*math.Abs(k), unit)
			}
		}
		if weakest < 0 {
			break
		}
		e.refuse(e.p.groups[m[weakest]].kind, e.p.groups[m[weakest]].strip, text)
		m = slices.Delete(m, weakest, weakest+1)
	}
	return m
}
