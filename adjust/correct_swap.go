package adjust

import (
	"math"
	"slices"
)

// commonShare is the share of strips with shifts of their own from which all strips are taken to have them. Our proposal.
const commonShare = 1. / 3

// complete gives all strips shifts where many need them: what shifted those has probably shifted the others too, by less than shows in each alone. Held-out ground
// must not get worse, and what moves no point by what matters is left out again.
func (e *estimation) complete(m groupSet) groupSet {
	for _, kind := range []Kind{StripHeight, StripHorizontal} {
		cols := e.p.columnsOf(m)
		has, lines := 0, 0
		var missing []int
		for g := range e.p.groups {
			grp := &e.p.groups[g]
			if grp.kind != kind || grp.strip < 0 || grp.knots != 1 {
				continue
			}
			lines++
			if slices.Contains(cols, grp.cols[0]) {
				has++
			} else {
				missing = append(missing, g)
			}
		}
		if has < 2 || float64(has) < commonShare*float64(lines) || len(missing) == 0 {
			continue
		}
		cur, try := e.p.score(cols), append(slices.Clone(m), missing...)
		if s := e.p.score(e.p.columnsOf(try)); !s.ok || s.squares >= cur.squares {
			continue
		}
		keep := slices.Clone(m)
		for _, g := range missing {
			if e.groupMoves(try, g) >= e.o.RelevantM {
				keep = append(keep, g)
			}
		}
		m = e.spare(keep)
	}
	return m
}

// spare leaves out causes of the whole flight that do not spare the strips much of their own shifts and that held-out ground does not miss: once all
// strips are shifted, such a cause is only another way to write shifts.
func (e *estimation) spare(m groupSet) groupSet {
	for i := 0; i < len(m); i++ {
		if e.p.groups[m[i]].strip >= 0 {
			continue
		}
		rest := slices.Delete(slices.Clone(m), i, i+1)
		cur, s := e.p.score(e.p.columnsOf(m)), e.p.score(e.p.columnsOf(rest))
		if !s.ok || clearness(e.p.blockSquares(s), e.p.blockSquares(cur)) >= e.o.MinZ || e.stripMoves(m) < spareShare*e.stripMoves(rest) {
			continue
		}
		m = rest
		i--
	}
	return m
}

// spareShare is the share of the strips' own moves without a cause of the whole flight below which they must come with it. Our proposal.
const spareShare = 0.5

// groupMoves is the 95th percentile of the moves that a group causes in a model.
func (e *estimation) groupMoves(m groupSet, g int) float64 {
	x, _, ok := e.p.solve(e.p.columnsOf(m), -1)
	if !ok {
		return 0
	}
	for c := range x {
		if !slices.Contains(e.p.groups[g].cols, c) {
			x[c] = 0
		}
	}
	return quantile(e.moves(x, e.p.groups[g].strip), 0.95)
}

// swap puts, for each cause of the whole flight in a model, the one in its place that leaves least on held-out ground: a pitch, a lever arm and a time
// offset move points nearly alike, and the diagnosis prefers the usual one as long as it need not choose.
func (e *estimation) swap(m groupSet) groupSet {
	m = slices.Clone(m)
	cur := e.p.score(e.p.columnsOf(m))
	for range globalKinds {
		bestAt, bestGroup, best := -1, -1, cur
		unit := cur.squares / math.Max(float64(e.p.used-len(cur.cols)), 1)
		for i := range m {
			if e.p.groups[m[i]].strip >= 0 {
				continue
			}
			for g := range e.p.groups {
				if grp := &e.p.groups[g]; !e.globalGroup(grp) || slices.Contains(m, g) {
					continue
				}
				try := slices.Clone(m)
				try[i] = g
				s := e.p.score(e.p.columnsOf(try))
				if s.ok && s.squares < best.squares-swapSquares*unit && !e.p.tied(s.cols, int(e.p.groups[g].kind)) {
					bestAt, bestGroup, best = i, g, s
				}
			}
		}
		if bestAt < 0 {
			break
		}
		m[bestAt], cur = bestGroup, best
	}
	return m
}

// swapSquares is by how many squares of one cell a cause must leave less than the one whose place it takes. Our proposal: two standard errors.
const swapSquares = 4
