package adjust

import (
	"math"

	"sidelap/overlap"
	"sidelap/trajectory"
)

// splineColumns is the largest number of inner knots of all strips together: it bounds time and memory of the solution.
const splineColumns = 1200

// crossed tells for each strip whether a strip crosses it. Attitudes of single strips bend a parallel block at little cost: they are
// admitted only where a crossing strip, or control, holds the surface.
func crossed(strips int, pairs []overlap.Pair) []bool {
	out := make([]bool, strips)
	for i := range pairs {
		if pairs[i].Crossing && pairs[i].Used.Cells >= 10 {
			out[pairs[i].A], out[pairs[i].B] = true, true
		}
	}
	return out
}

// columnsFor lays out every parameter that a survey can have, with its groups.
func columnsFor(strips []StripCorrection, pairs []overlap.Pair, refs []cellRef, path *trajectory.Path, o CorrectOptions) (cols []fitColumn, ofStrip [][]int, groups []fitGroup) {
	for k := range globalKinds {
		cols = append(cols, fitColumn{comp: compGlobal, kind: k, strip: -1, prior: k.priorSigma()})
		groups = append(groups, fitGroup{kind: k, strip: -1, cols: []int{int(k)}})
	}
	ofStrip = make([][]int, len(strips))
	times := cellTimes(len(strips), pairs, refs)
	held := crossed(len(strips), pairs)
	knots := knotCounts(strips, times, o)
	for s := range strips {
		if !strips[s].Line || len(times[s]) == 0 {
			continue
		}
		add := func(c component, kind Kind, curve Curve, prior float64) int {
			cols = append(cols, fitColumn{comp: c, kind: kind, strip: int32(s), curve: curve, prior: prior})
			ofStrip[s] = append(ofStrip[s], len(cols)-1)
			return len(cols) - 1
		}
		group := func(kind Kind, knots int, c ...int) {
			groups = append(groups, fitGroup{kind: kind, strip: s, cols: c, knots: knots})
		}
		up, east, north := add(compUp, StripHeight, Curve{}, 0.5), add(compEast, StripHorizontal, Curve{}, 0.5), add(compNorth, StripHorizontal, Curve{}, 0.5)
		group(StripHeight, 1, up)
		group(StripHorizontal, 1, east, north)
		var line Curve
		timed := strips[s].StartS != nil && *strips[s].EndS-*strips[s].StartS > 1
		if timed {
			line = newCurve([]float64{*strips[s].StartS, *strips[s].EndS}, []float64{-1, 1})
			up1 := add(compUp, StripDrift, line, 0.5)
			group(StripDrift, 2, up, up1)
			east1, north1 := add(compEast, StripDrift, line, 0.5), add(compNorth, StripDrift, line, 0.5)
			group(StripDrift, 2, east, north, east1, north1)
			sigma := pathSigma(path, &strips[s], 2, 0.03)
			for _, n := range knots[s] {
				c := []int{up, up1}
				for _, b := range basis(evenKnots(*strips[s].StartS, *strips[s].EndS, n)) {
					c = append(c, add(compUp, StripDrift, b, 2*sigma))
				}
				group(StripDrift, n+1, c...)
			}
		}
		if !held[s] && len(o.Control) < 3 {
			continue
		}
		rad := 0.1 * math.Pi / 180
		roll := add(compRoll, AttitudeDrift, Curve{}, 3*rad)
		group(AttitudeDrift, 1, roll)
		heading := add(compHeading, AttitudeDrift, Curve{}, 5*rad)
		group(AttitudeDrift, 1, roll, heading)
		if timed {
			roll1 := add(compRoll, AttitudeDrift, line, 3*rad)
			group(AttitudeDrift, 2, roll, roll1)
			sigma := pathSigma(path, &strips[s], 3, 0.03*math.Pi/180)
			for _, n := range knots[s] {
				c := []int{roll, roll1}
				for _, b := range basis(evenKnots(*strips[s].StartS, *strips[s].EndS, n)) {
					c = append(c, add(compRoll, AttitudeDrift, b, 2*sigma))
				}
				group(AttitudeDrift, n+1, c...)
			}
		}
	}
	return cols, ofStrip, groups
}

// cellTimes lists for each strip the times of its cells.
func cellTimes(strips int, pairs []overlap.Pair, refs []cellRef) [][]float64 {
	out := make([][]float64, strips)
	for _, r := range refs {
		p := &pairs[r.pair]
		c := &p.Cells[r.cell]
		out[p.A], out[p.B] = append(out[p.A], c.TimeAS), append(out[p.B], c.TimeBS)
	}
	return out
}

// knotCounts chooses the numbers of segments of the splines that are tried for each strip, coarse first: segments not shorter than
// MinSegmentS, and with enough cells in each. Common practice, georeferencing reference, section 6.
func knotCounts(strips []StripCorrection, times [][]float64, o CorrectOptions) [][]int {
	out := make([][]int, len(strips))
	total := 0
	for s := range strips {
		if strips[s].StartS == nil || !strips[s].Line {
			continue
		}
		n := int((*strips[s].EndS - *strips[s].StartS) / o.MinSegmentS)
		n = min(n, len(times[s])/o.MinSegmentCells, 200)
		if n < 2 {
			continue
		}
		if n >= 4 {
			out[s] = append(out[s], (n+1)/2)
		}
		out[s] = append(out[s], n)
		for _, k := range out[s] {
			total += k - 1
		}
	}
	if total > splineColumns {
		f := float64(splineColumns) / float64(total)
		for s := range out {
			kept := out[s][:0]
			for _, n := range out[s] {
				if m := int(float64(n) * f); m >= 2 {
					kept = append(kept, m)
				}
			}
			out[s] = kept
		}
	}
	return out
}

// pathSigma is the root mean square over a strip of what the path says of its own accuracy, between a third and three times def, which stands
// where nothing is known. A path recovered from points says metres: that is its place, not the error of the cloud.
func pathSigma(path *trajectory.Path, s *StripCorrection, component int, def float64) float64 {
	if v := statedSigma(path, s, component); v > 0 {
		return math.Max(def/3, math.Min(3*def, v))
	}
	return def
}

// statedSigma is that accuracy as stated, 0 when nothing is: component 0 east, 1 north, 2 up, 3 roll, 4 heading.
func statedSigma(path *trajectory.Path, s *StripCorrection, component int) float64 {
	if path == nil || path.Sigma == nil || s.StartS == nil {
		return 0
	}
	ss, n := 0.0, 0.0
	for i := range 21 {
		v, ok := path.SigmaAt(*s.StartS + (*s.EndS-*s.StartS)*float64(i)/20)
		if !ok {
			continue
		}
		x := [5]float64{v.EastM, v.NorthM, v.UpM, v.RollRad, v.HeadingRad}[component]
		if x > 0 {
			ss += x * x
			n++
		}
	}
	if n == 0 {
		return 0
	}
	return math.Sqrt(ss / n)
}

// regularise fills prior knowledge and the stiffness of splines, equation (6) of the georeferencing reference:
// sum (delta/sigma)^2 + lambda integral (delta”)^2 dt with lambda = T^3/sigma^2, so that a knot that stands out alone by sigma
// costs about as much by its bend as by its size.
func (p *fitProblem) regularise(groups []fitGroup) {
	p.reg = make([]float64, p.size*p.size)
	for i := range p.columns {
		c := &p.columns[i]
		p.reg[i*p.size+i] = 1 / (c.prior * c.prior)
	}
	for _, g := range groups {
		var in []int
		for _, c := range g.cols {
			if len(p.columns[c].curve.TimeS) > 2 {
				in = append(in, c)
			}
		}
		for i, a := range in {
			for _, b := range in[i:] {
				ca, cb := &p.columns[a], &p.columns[b]
				step := ca.curve.TimeS[1] - ca.curve.TimeS[0]
				p.reg[a*p.size+b] += 0.1 * step * step * step / (ca.prior * cb.prior) * bending(&ca.curve, &cb.curve)
			}
		}
	}
}
