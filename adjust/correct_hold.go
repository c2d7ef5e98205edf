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
	return math.Sqrt(e.p.yy/e.p.w) <= floorShare*e.p.floor() && !slices.ContainsFunc(e.d.Causes, func(c Cause) bool { return c.Significant })
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

// dropTilts leaves out drifts of the height of strips that nothing crosses, when there is no control either: parallel strips show only how they tilt and bend
// against each other. Which of them does so, and what they have in common, they do not show: one strip's drift and the opposite drift of all the others look the same.
func (e *estimation) dropTilts(m groupSet) groupSet {
	if len(e.o.Control) > 0 {
		return m
	}
	crossed := map[int]bool{}
	for i := range e.pairs {
		if p := &e.pairs[i]; p.Crossing {
			crossed[p.A], crossed[p.B] = true, true
		}
	}
	return e.dropUndecided(m, func(g *fitGroup) string {
		drifts := func(c int) bool {
			col := &e.p.columns[c]
			return col.comp == compUp && !col.step && len(col.curve.TimeS) > 1
		}
		if g.strip < 0 || crossed[g.strip] || !slices.ContainsFunc(g.cols, drifts) {
			return ""
		}
		return "which strip drifts is not determined: no strip crosses, and the opposite drift of its neighbours would look the same, so that the correction can tilt or bend the whole block; " +
			"a crossing strip or control points (--control) decide it"
	})
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
		x, chol, ok := e.p.solve(cols, -1)
		if !ok {
			return m
		}
		sigma := make([]float64, e.p.size)
		for i, s := range e.p.sigmas(cols, x, chol) {
			sigma[cols[i]] = s
		}
		e.writeCorrection(x)
		weakest, least, text := -1, 2.0, ""
		for i := range m {
			g := &e.p.groups[m[i]]
			if g.kind == StripHeight || g.kind == StripHorizontal {
				continue
			}
			v, s, _ := e.value(g, x, sigma)
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
