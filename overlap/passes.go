package overlap

import (
	"fmt"
	"math"
)

// passRules decides which runs of beats belong to one pass.
type passRules struct {
	o     SurveyOptions
	tiles map[int32][]tileKey // tiles of each segment, segment field 0
}

// footprint is a set of tiles.
type footprint map[tileKey]bool

// cover adds the tiles of some beats.
func (r *passRules) cover(f footprint, bs []beat) {
	for i := range bs {
		for _, s := range bs[i].segments {
			for _, t := range r.tiles[s.id] {
				f[t] = true
			}
		}
	}
}

// shared is the share of the smaller footprint that both cover.
func (f footprint) shared(g footprint) float64 {
	if len(f) < len(g) {
		f, g = g, f
	}
	if len(g) == 0 {
		return 0
	}
	n := 0
	for t := range g { // counting only: the order does not matter
		if f[t] {
			n++
		}
	}
	return float64(n) / float64(len(g))
}

// junction is what lies between two runs of beats.
type junction struct {
	gapS      float64
	headTurn  float64 // between the headings, NaN when unknown
	speed     float64 // across the gap
	ownSpeed  float64 // of the longer run, NaN when unknown
	shared    float64 // ground seen by both
	angleDiff float64 // of the mean scan angles, radians
	offLineM  float64 // distance of the second run's start from the first one's line, NaN when unknown
}

// junction looks at the ends of two runs; ground is what the first one covers.
func (r *passRules) junction(a, b []beat, ground footprint) junction {
	end, start := &a[len(a)-1], &b[0]
	ma, mb := motionOf(tail(a, 8)), motionOf(head(b, 8))
	j := junction{gapS: start.tMin - end.tMax, offLineM: math.NaN(), ownSpeed: math.NaN()}
	j.headTurn = turnBetween(ma.heading(min(len(a), 8)), mb.heading(min(len(b), 8)))
	dE, dN := start.eM-end.eM, start.nM-end.nM
	if dt := start.timeS() - end.timeS(); dt > 0 {
		j.speed = math.Hypot(dE, dN) / dt
	}
	j.ownSpeed = ma.speed()
	if len(b) > len(a) || math.IsNaN(j.ownSpeed) {
		if v := mb.speed(); !math.IsNaN(v) {
			j.ownSpeed = v
		}
	}
	if h := ma.heading(min(len(a), 8)); !math.IsNaN(h) {
		j.offLineM = math.Abs(dE*math.Cos(h) - dN*math.Sin(h))
	}
	after := footprint{}
	r.cover(after, b)
	j.shared = ground.shared(after)
	j.angleDiff = math.Abs(meanAngle(tail(a, 60)) - meanAngle(head(b, 60)))
	return j
}

func meanAngle(bs []beat) float64 {
	var s, n float64
	for i := range bs {
		s += bs[i].meanAngle * float64(bs[i].last)
		n += float64(bs[i].last)
	}
	if n == 0 {
		return 0
	}
	return s / n
}

func head(b []beat, n int) []beat { return b[:min(n, len(b))] }
func tail(b []beat, n int) []beat { return b[max(0, len(b)-n):] }

// looks reports whether the second run saw the same ground as the first, in the
// same pass: two scan directions, or a scanner leaning forward and one leaning
// back. The aircraft cannot be back in so short a time with the same heading.
func (r *passRules) looks(j junction) bool {
	if j.gapS > r.o.LookGapS || j.shared < 0.3 || j.angleDiff > 8*degree {
		return false
	}
	if math.IsNaN(j.headTurn) {
		return j.gapS <= r.o.LookGapS/3
	}
	return j.headTurn < 30*degree
}

// continues reports whether the second run carries the first one on after a
// clipped stretch: same heading, on its line, at its speed.
func continues(j junction) bool {
	if j.gapS > 300 || j.headTurn > 20*degree || j.shared > 0.3 {
		return false
	}
	if math.IsNaN(j.headTurn) || math.IsNaN(j.ownSpeed) {
		return false
	}
	d := j.speed * j.gapS
	return j.speed > 0.5*j.ownSpeed && j.speed < 2*j.ownSpeed && j.offLineM < max(30, 0.2*d)
}

// contradicts reports why two runs with the same point source ID cannot be one
// pass; "" when nothing speaks against it.
func (r *passRules) contradicts(j junction) string {
	switch {
	case j.gapS > 300:
		return fmt.Sprintf("%.0f s lie between its parts", j.gapS)
	case j.shared > 0.3:
		return fmt.Sprintf("it covers the same ground twice, %.0f s apart", j.gapS)
	case j.headTurn > 30*degree:
		return fmt.Sprintf("its heading changes by %.0f deg in a pause of %.0f s", j.headTurn/degree, j.gapS)
	case j.speed > 400:
		return fmt.Sprintf("its parts are %.0f m/s apart", j.speed)
	case j.speed > 3*j.ownSpeed && j.speed*j.gapS > 500:
		return fmt.Sprintf("%.0f m are crossed in a pause of %.0f s, at three times its speed", j.speed*j.gapS, j.gapS)
	}
	return ""
}

// split cuts beats at pauses that end a pass. byID says that the beats share a
// point source ID: then they stay together unless something contradicts it;
// otherwise they part unless something joins them.
func (r *passRules) split(bs []beat, byID bool) []pass {
	var out []pass
	cur := pass{}
	ground := footprint{}
	for len(bs) > 0 {
		next := untilGap(bs, r.o.GapS)
		bs = bs[len(next):]
		if len(cur.beats) > 0 {
			j := r.junction(cur.beats, next, ground)
			switch why := r.contradicts(j); {
			case r.looks(j):
				cur.looks = true
				cur.notes = append(cur.notes, fmt.Sprintf("the same ground was seen again %.1f s later at the same scan angle: two looks of one pass, not two strips", j.gapS))
			case byID && why == "":
				cur.notes = append(cur.notes, fmt.Sprintf("a pause of %.1f s, taken as one strip cut by a border", j.gapS))
			case !byID && continues(j):
				cur.notes = append(cur.notes, fmt.Sprintf("a pause of %.1f s on the same line at the same speed: one strip cut by a border", j.gapS))
			default:
				out = append(out, cur)
				cur, ground = pass{}, footprint{}
				if byID {
					cur.notes = []string{"the same point source ID was used before: " + why}
				}
			}
		}
		cur.beats = append(cur.beats, next...)
		r.cover(ground, next)
	}
	if len(cur.beats) > 0 {
		out = append(out, cur)
	}
	for i := range out {
		out[i].notes = firstNotes(out[i].notes, 4)
	}
	return out
}

// untilGap returns the beats before the next pause.
func untilGap(bs []beat, gapS float64) []beat {
	for i := 1; i < len(bs); i++ {
		if bs[i].tMin-bs[i-1].tMax > gapS {
			return bs[:i]
		}
	}
	return bs
}

// firstNotes keeps n notes and says how many more there were.
func firstNotes(notes []string, n int) []string {
	if len(notes) <= n {
		return notes
	}
	return append(notes[:n:n], fmt.Sprintf("and %d more pauses", len(notes)-n))
}
