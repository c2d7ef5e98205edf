package overlap

import (
	"fmt"
	"math"
	"slices"
)

// minTurnBeats is the length of a run from which turns are looked for.
const minTurnBeats = 8

// minLineS is the shortest line left between two turns.
const minLineS = 3

// cutTurns parts a run of beats into lines and turns. A run too short or too
// thin in points comes back as it is.
//
// A beat turns when the heading (from the scan angles, or the movement where
// these are missing) changes faster than TurnRateRadPS, when the movement
// reverses or nearly stops, or when its heading departs from its line's by more
// than TurnRad. TrimS is taken off at each side of a turn. Common practice.
func (r *passRules) cutTurns(p pass) []pass {
	bs := p.beats
	if len(bs) < minTurnBeats || !followable(bs) {
		return []pass{p}
	}
	h := localHeadings(bs)
	turning := r.turning(bs, h)
	if !slices.Contains(turning, true) {
		return []pass{p}
	}
	for range 2 { // the lines' own headings move when their ends go
		r.markDepartures(bs, h, turning)
	}
	straighten(bs, h, turning)
	if !slices.Contains(turning, true) {
		return []pass{p}
	}
	r.trim(bs, turning)
	return r.cut(p, turning)
}

// followable reports whether most beats have a place.
func followable(bs []beat) bool {
	n := 0
	for i := range bs {
		if bs[i].hasHeading {
			n++
		}
	}
	return 10*n >= 8*len(bs)
}

// local is the state of flight around one beat.
type local struct {
	heading float64 // by the scan angles, NaN without
	course  float64 // by the movement
	speed   float64
}

// localHeadings fits the state over two beats to each side, not across pauses.
func localHeadings(bs []beat) []local {
	out := make([]local, len(bs))
	for i := range bs {
		lo, hi := i, i
		for lo > 0 && i-lo < 2 && bs[lo].tMin-bs[lo-1].tMax < 1.5 {
			lo--
		}
		for hi < len(bs)-1 && hi-i < 2 && bs[hi+1].tMin-bs[hi].tMax < 1.5 {
			hi++
		}
		m := motionOf(bs[lo : hi+1])
		out[i] = local{heading: math.NaN(), course: math.NaN(), speed: m.speed()}
		if bs[i].hasAngle {
			out[i].heading = math.Atan2(-bs[i].rightN, bs[i].rightE)
		}
		if m.ok {
			out[i].course = math.Atan2(m.vE, m.vN)
		}
	}
	return out
}

func (r *passRules) turning(bs []beat, h []local) []bool {
	out := make([]bool, len(bs))
	slow := 0.5 * median(speeds(h))
	for i := range bs {
		a, b := max(i-1, 0), min(i+1, len(bs)-1)
		dt := bs[b].timeS() - bs[a].timeS()
		if dt <= 0 || dt > 6*r.o.GapS {
			continue
		}
		if turnBetween(h[a].heading, h[b].heading) > r.o.TurnRateRadPS*dt && turnBetween(h[a].heading, h[b].heading) > 6*degree {
			out[i] = true
		}
		a, b = max(i-2, 0), min(i+2, len(bs)-1)
		if turnBetween(h[a].course, h[b].course) > 60*degree && !math.IsNaN(h[i].speed) {
			out[i] = true
		}
		if h[i].speed < slow {
			out[i] = true
		}
	}
	return out
}

func speeds(h []local) []float64 {
	var v []float64
	for _, l := range h {
		if !math.IsNaN(l.speed) {
			v = append(v, l.speed)
		}
	}
	return v
}

// lineRuns calls f for each run of beats that do not turn.
func lineRuns(turning []bool, f func(lo, hi int)) {
	for i := 0; i < len(turning); {
		j := i
		for j < len(turning) && turning[j] == turning[i] {
			j++
		}
		if !turning[i] {
			f(i, j)
		}
		i = j
	}
}

func (r *passRules) markDepartures(bs []beat, h []local, turning []bool) {
	lineRuns(turning, func(lo, hi int) {
		var e, n float64
		for i := lo; i < hi; i++ {
			if !math.IsNaN(h[i].heading) {
				e += math.Sin(h[i].heading)
				n += math.Cos(h[i].heading)
			}
		}
		if e == 0 && n == 0 {
			return
		}
		mean := math.Atan2(e, n)
		for i := lo; i < hi; i++ {
			if turnBetween(h[i].heading, mean) > r.o.TurnRad {
				turning[i] = true
			}
		}
	})
}

// straighten takes back a turn after which the flight goes on with the same
// heading on the same line: a gust, or a bad reading of a few seconds.
func straighten(bs []beat, h []local, turning []bool) {
	type run struct{ lo, hi int }
	var lines []run
	lineRuns(turning, func(lo, hi int) { lines = append(lines, run{lo, hi}) })
	for k := 1; k < len(lines); k++ {
		a, b := lines[k-1], lines[k]
		ma, mb := motionOf(tail(bs[a.lo:a.hi], 8)), motionOf(head(bs[b.lo:b.hi], 8))
		ha, hb := ma.heading(min(a.hi-a.lo, 8)), mb.heading(min(b.hi-b.lo, 8))
		dE, dN := mb.eM-ma.eM, mb.nM-ma.nM
		d := math.Hypot(dE, dN)
		ahead := dE*math.Sin(ha) + dN*math.Cos(ha)
		off := math.Abs(dE*math.Cos(ha) - dN*math.Sin(ha))
		v := ma.speed()
		if turnBetween(ha, hb) < 20*degree && ahead > 0.7*v*(mb.tS-ma.tS) && off < max(0.2*d, 10) {
			for i := a.hi; i < b.lo; i++ {
				turning[i] = false
			}
		}
	}
}

// trim widens each turn by TrimS, and turns lines shorter than minLineS.
func (r *passRules) trim(bs []beat, turning []bool) {
	was := slices.Clone(turning)
	lineRuns(was, func(lo, hi int) {
		for i := lo; i < hi; i++ {
			if lo > 0 && bs[i].timeS()-bs[lo-1].timeS() <= r.o.TrimS+0.5 && bs[i].tMin-bs[lo-1].tMax < r.o.GapS ||
				hi < len(bs) && bs[hi].timeS()-bs[i].timeS() <= r.o.TrimS+0.5 && bs[hi].tMin-bs[i].tMax < r.o.GapS {
				turning[i] = true
			}
		}
	})
	was = slices.Clone(turning)
	lineRuns(was, func(lo, hi int) {
		if bs[hi-1].tMax-bs[lo].tMin < minLineS {
			for i := lo; i < hi; i++ {
				turning[i] = true
			}
		}
	})
}

func (r *passRules) cut(p pass, turning []bool) []pass {
	var out []pass
	for i := 0; i < len(turning); {
		j := i
		for j < len(turning) && turning[j] == turning[i] {
			j++
		}
		part := pass{beats: p.beats[i:j:j]}
		if turning[i] {
			part.kind = Turn
		} else {
			part.notes = p.notes
		}
		out = append(out, part)
		i = j
	}
	for i := range out {
		if out[i].kind == Line && len(out) > 1 {
			out[i].notes = append(slices.Clip(out[i].notes), fmt.Sprintf("cut out of a recording of %.0f s at its turns", p.last().tMax-p.first().tMin))
		}
	}
	return out
}
