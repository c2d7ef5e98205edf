package fieldcheck

import (
	"fmt"
	"math"

	"github.com/paulmach/orb"
)

// elsewhereM is how far all of a plan lies from what was flown before it is
// taken for that of another site: proposal.
const elsewhereM = 500.0

// planElsewhere leaves a plan out that lies far from everything flown: it is of
// another site, or in another coordinate system, and tells nothing of this flight.
func (r *runner) planElsewhere() {
	p := r.in.Plan
	if p == nil || p.Geographic || len(p.Area)+len(p.Lines) == 0 {
		return
	}
	flown, ok := r.flownBound()
	if !ok {
		return
	}
	d := math.Inf(1)
	for _, a := range p.Area {
		d = min(d, apart(a.Bound(), flown))
	}
	for _, l := range p.Lines {
		d = min(d, apart(l.Line.Bound(), flown))
	}
	if !(d > elsewhereM) {
		return
	}
	r.farPlan = d
	q := *p
	q.Area, q.Lines = nil, nil
	r.in.Plan = &q
}

// flownBound is the extent of swaths and path of the strips, else of the returns.
func (r *runner) flownBound() (b orb.Bound, ok bool) {
	add := func(o orb.Bound) {
		if !ok {
			b, ok = o, true
			return
		}
		b = b.Union(o)
	}
	for i := range r.shots {
		s := &r.shots[i]
		if len(s.Swath) > 0 {
			add(s.Swath.Bound())
		}
		for _, o := range s.poses {
			add(orb.Point{o.EM, o.NM}.Bound())
		}
	}
	if c := r.in.Coverage; !ok && c != nil && c.CellM > 0 {
		add(orb.Bound{Min: orb.Point{c.EM, c.NM}, Max: orb.Point{c.EM + float64(c.Cols)*c.CellM, c.NM + float64(c.Rows)*c.CellM}})
	}
	return b, ok
}

// apart is the distance of two extents, 0 where they meet.
func apart(a, b orb.Bound) float64 {
	return math.Hypot(max(0, a.Min[0]-b.Max[0], b.Min[0]-a.Max[0]), max(0, a.Min[1]-b.Max[1], b.Min[1]-a.Max[1]))
}

// otherSite is the question about a plan of another site.
func (r *runner) otherSite() string {
	d := fmt.Sprintf("%.1f km", r.farPlan/1000)
	if r.farPlan >= 1e7 {
		d = "thousands of kilometres"
	}
	return fmt.Sprintf("the plan lies %s from what was flown: is it the plan of this site, in the right coordinate system? It is not used", d)
}
