package adjust

import (
	"cmp"
	"math"
	"slices"

	"sidelap/overlap"
	"sidelap/trajectory"
)

// look tells how a strip saw a place, by the same rules as Mover.
type look struct {
	pose  *poseReader
	lever Vec
	strip []StripCorrection
	cellM float64
}

func newLook(strips []StripCorrection, path *trajectory.Path, lever Vec, cellM float64) *look {
	l := &look{lever: lever, strip: strips, cellM: cellM}
	if path != nil {
		l.pose = newPoseReader(path)
	}
	return l
}

// of returns the sight, and the displacement of a second of time offset; false when nothing is known.
func (l *look) of(strip int, tS float64, x Vec, angleRad float64) (s sight, late Vec, ok bool) {
	if l.pose != nil {
		var p Vec
		if !l.pose.at(tS, &p, &s.toMap) {
			return s, late, false
		}
		w := s.toMap.MulT(x.Sub(p))
		s.body = w.Sub(l.lever)
		// over the time that the strip takes to pass the cell: the plane averages faster motion out
		var p0, p1 Vec
		var r0, r1 Mat
		h := 0.5 * l.cellM / math.Max(l.strip[strip].SpeedMPS, 1)
		if l.pose.at(tS-h, &p0, &r0) && l.pose.at(tS+h, &p1, &r1) {
			late = p1.Add(r1.Mul(w)).Sub(p0).Sub(r0.Mul(w)).Times(1 / (2 * h))
		}
		return s, late, true
	}
	c := &l.strip[strip]
	s.toMap = BodyToMap(0, 0, c.HeadingRad)
	switch c.Sight {
	case SightAngle:
		if math.Abs(angleRad) > 1.4 {
			return s, late, false
		}
		h := c.SensorM - x[2]
		s.body = Vec{0, h * math.Tan(angleRad), h}
		late = s.toMap.Mul(Vec{c.SpeedMPS, 0, 0})
	case SightAcross:
		right := s.toMap.Mul(Vec{0, 1, 0})
		s.body = Vec{0, (x[0]-c.CentreEM)*right[0] + (x[1]-c.CentreNM)*right[1], 0}
	default:
		return s, late, false
	}
	return s, late, true
}

// seen holds the displacements, per unit, of everything that moves one place in one strip.
type seen struct {
	known   bool
	tS      float64
	global  [globalKinds]Vec
	roll    Vec
	heading Vec
}

func (l *look) seen(strip int, tS float64, x Vec, angleRad float64) seen {
	s, late, ok := l.of(strip, tS, x, angleRad)
	v := seen{known: ok, tS: tS}
	if !ok {
		return v
	}
	across := l.pose == nil && l.strip[strip].Sight == SightAcross
	for k := range globalKinds {
		switch {
		case k == TimeOffset:
			v.global[k] = late
		case across && k != BoresightRoll && k != BoresightHeading && k != LeverX && k != LeverY:
		default:
			v.global[k] = s.displacement(k)
		}
	}
	// the attitude turns the lever arm too
	s.body = s.body.Add(l.lever)
	v.roll, v.heading = s.displacement(BoresightRoll), s.displacement(BoresightHeading)
	return v
}

// fitRow is one overlap cell as an equation: its separation is what moves strip b there less what moves strip a.
type fitRow struct {
	y, base, weight float64
	slopeVar        float64
	tA, tB          float64 // when the strips saw it
	block           int32
	pair            int32
	a, b            int32
	n               int32 // entries
	first           int32 // of its entries in fitProblem.entries
}

// entry is one coefficient with the displacement that it comes from.
type entry struct {
	col      int32
	val      float64
	e, n, up float32
}

// usable reports whether a cell can be an equation: two sound planes; steep is welcome.
func usableForFit(c *overlap.PairCell, maxSlopeRad float64) bool {
	return c.Flag&^overlap.Steep == 0 && !math.IsNaN(c.DzM) && c.SigmaM > 0 && !math.IsInf(c.SigmaM, 0) &&
		math.Hypot(c.SlopeE, c.SlopeN) <= math.Tan(maxSlopeRad)
}

// cellRef is a cell of a pair.
type cellRef struct{ pair, cell int32 }

// chooseCells selects cells for the fit, uniformly in space and in normal space. Uniformly in space, since there is one facet for each cell of ground, however
// dense the points are; all are taken when there are no more than asked for. Of more the normals are sorted into 25 classes of slope and aspect
// (normalBin), and each class gets the same number of places; what a class does not fill goes to the others, so that rare roofs and
// banks, which carry what moves points sideways, are kept whole. Within a class every k-th cell is taken in the order of pairs, rows and columns.
//
// Source: georeferencing reference, section 6, correspondences. The classes are our proposal.
func chooseCells(pairs []overlap.Pair, maxSlopeRad float64, most int) []cellRef {
	var all []cellRef
	for pi := range pairs {
		for ci := range pairs[pi].Cells {
			if usableForFit(&pairs[pi].Cells[ci], maxSlopeRad) {
				all = append(all, cellRef{int32(pi), int32(ci)})
			}
		}
	}
	if len(all) <= most {
		return all
	}
	bins := map[int][]cellRef{}
	var keys []int
	for _, r := range all {
		k := normalBin(&pairs[r.pair].Cells[r.cell])
		if bins[k] == nil {
			keys = append(keys, k)
		}
		bins[k] = append(bins[k], r)
	}
	// small bins whole, the large ones share what is left
	slices.SortFunc(keys, func(a, b int) int { return cmp.Or(cmp.Compare(len(bins[a]), len(bins[b])), cmp.Compare(a, b)) })
	var out []cellRef
	for i, k := range keys {
		take := min(len(bins[k]), (most-len(out))/(len(keys)-i))
		for j := range take { // evenly through the bin, which is in the order of pairs and places
			out = append(out, bins[k][j*len(bins[k])/take])
		}
	}
	slices.SortFunc(out, func(a, b cellRef) int { return cmp.Or(cmp.Compare(a.pair, b.pair), cmp.Compare(a.cell, b.cell)) })
	return out
}

// normalBin is the class of a cell by slope (below 3, 8, 20 deg, above) and, where it slopes, by one of eight aspects.
func normalBin(c *overlap.PairCell) int {
	s := math.Hypot(c.SlopeE, c.SlopeN)
	ring := 0
	for _, limit := range []float64{0.052, 0.141, 0.364} {
		if s > limit {
			ring++
		}
	}
	if ring == 0 {
		return 0
	}
	aspect := int((math.Atan2(c.SlopeE, c.SlopeN) + math.Pi) / (math.Pi / 4))
	return 8*ring + min(aspect, 7)
}

// fitBlocks deals the ground into square blocks, neighbours to different folds: the unit of hold-out and of standard deviations. Their side is at
// least ten cells and about a twelfth of the extent.
func fitBlocks(pairs []overlap.Pair, refs []cellRef, cellM float64) (block []int32, count int) {
	if len(refs) == 0 {
		return nil, 0
	}
	at := func(r cellRef) (float64, float64) { c := &pairs[r.pair].Cells[r.cell]; return c.EM, c.NM }
	loE, loN := at(refs[0])
	hiE, hiN := loE, loN
	for _, r := range refs {
		e, n := at(r)
		loE, hiE, loN, hiN = math.Min(loE, e), math.Max(hiE, e), math.Min(loN, n), math.Max(hiN, n)
	}
	side := math.Max(10*cellM, math.Max(hiE-loE, hiN-loN)/12)
	type key struct{ c, r int }
	numbers := map[key]int32{}
	var inFold [folds]int32
	block = make([]int32, len(refs))
	for i, r := range refs {
		e, n := at(r)
		k := key{int((e - loE) / side), int((n - loN) / side)}
		b, ok := numbers[k]
		if !ok {
			f := (k.c + 2*k.r) % folds
			b = folds*inFold[f] + int32(f)
			inFold[f]++
			numbers[k] = b
		}
		block[i] = b
		count = max(count, int(b)+1)
	}
	return block, count
}
