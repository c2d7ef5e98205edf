package fieldcheck

import (
	"fmt"
	"math"
	"sort"

	"github.com/paulmach/orb"

	"sidelap/trajectory"
)

// Item is one strip, or a stretch of one, worth repeating.
type Item struct {
	Strip        string
	StartS, EndS float64 // of the old flight; 0 for a planned line that was not flown
	Part         bool    // a stretch of the strip
	Planned      bool    // a line of the plan, not flown yet
	Reasons      []string
	Line         orb.LineString // as flown, in the grid; nil without a path
	LengthM      float64
	Minutes      float64 // with a turn, without take-off and landing
}

const reflyText = "These are repeats of strips as they were flown or planned, nothing new. Whether, when and how to fly is for the pilot in command, " +
	"under the rules of the place, the aircraft's limits and the laser's safety instructions. The minutes are an estimate."

// want puts a strip, or a stretch of it, on the list; reasons for the same or an enclosing stretch are joined.
func (r *runner) want(id string, startS, endS float64, reason string, part bool) {
	r.rep.Refly = append(r.rep.Refly, Item{Strip: id, StartS: startS, EndS: endS, Part: part, Reasons: []string{reason}})
}

// finishRefly joins items of one strip, draws and times them.
func (r *runner) finishRefly() {
	r.rep.ReflyText = reflyText
	for i := range r.rep.Refly {
		r.wholeOf(&r.rep.Refly[i])
	}
	r.rep.Refly = joinItems(r.rep.Refly)
	if len(r.rep.Refly) == 0 {
		return
	}
	speed := r.usualSpeed()
	for i := range r.rep.Refly {
		it := &r.rep.Refly[i]
		if it.Line == nil {
			it.Line = r.flown(it.StartS, it.EndS)
		}
		it.LengthM = 0
		for k := 1; k < len(it.Line); k++ {
			it.LengthM += math.Hypot(it.Line[k][0]-it.Line[k-1][0], it.Line[k][1]-it.Line[k-1][1])
		}
		s := it.EndS - it.StartS
		if it.Planned || s <= 0 {
			s = it.LengthM / speed
		}
		it.Minutes = s/60 + r.lim.TurnMinutes
		r.rep.ReflyMinutes += it.Minutes
	}
	r.rep.ReflyMinutes += r.lim.StartMinutes
}

// wholeShare is the share of a strip from which a stretch is called the whole strip: proposal.
const wholeShare = 0.9

// wholeOf makes a stretch that is nearly the whole strip the whole strip, and a
// whole strip whose points stop short as long as it was flown.
func (r *runner) wholeOf(it *Item) {
	for _, s := range r.shots {
		if s.ID != it.Strip || it.Planned {
			continue
		}
		a, b := s.StartS, s.EndS
		if f, ok := r.spans[s.ID]; ok {
			a, b = f.StartS, f.EndS
		}
		if it.EndS-it.StartS >= wholeShare*(b-a) {
			it.Part = false
		}
		if !it.Part {
			it.StartS, it.EndS = min(it.StartS, a), max(it.EndS, b)
		}
		return
	}
}

// joinItems makes one item of all that concern the same stretch of a strip:
// a whole strip swallows its parts, parts that touch are joined.
func joinItems(items []Item) []Item {
	sort.SliceStable(items, func(i, j int) bool {
		a, b := items[i], items[j]
		if a.Planned != b.Planned {
			return !a.Planned
		}
		if a.Strip != b.Strip {
			if a.StartS != b.StartS {
				return a.StartS < b.StartS
			}
			return a.Strip < b.Strip
		}
		return a.StartS < b.StartS
	})
	whole := map[string]int{}
	var out []Item
	for _, it := range items { // whole strips first
		if it.Part || it.Planned {
			continue
		}
		if k, ok := whole[it.Strip]; ok {
			out[k].Reasons = unique(append(out[k].Reasons, it.Reasons...))
			continue
		}
		whole[it.Strip] = len(out)
		out = append(out, it)
	}
next:
	for _, it := range items {
		switch {
		case it.Planned:
			out = append(out, it)
			continue
		case !it.Part:
			continue
		}
		if k, ok := whole[it.Strip]; ok {
			out[k].Reasons = unique(append(out[k].Reasons, it.Reasons...))
			continue
		}
		for k := range out {
			if o := &out[k]; o.Strip == it.Strip && o.Part && it.StartS <= o.EndS && it.EndS >= o.StartS {
				o.StartS, o.EndS = min(o.StartS, it.StartS), max(o.EndS, it.EndS)
				o.Reasons = unique(append(o.Reasons, it.Reasons...))
				continue next
			}
		}
		out = append(out, it)
	}
	sort.SliceStable(out, func(i, j int) bool {
		if out[i].Planned != out[j].Planned {
			return !out[i].Planned
		}
		return out[i].StartS < out[j].StartS
	})
	return out
}

// flown returns the path between two times, without one the axis of the strip.
func (r *runner) flown(a, b float64) orb.LineString {
	if r.in.Path == nil {
		return r.fromSwath(a, b)
	}
	return Flown(r.in.Path, a, b)
}

// Flown returns a path between two times, a place a second and the end, in its grid.
func Flown(p *trajectory.Path, a, b float64) (l orb.LineString) {
	c := p.NewCursor()
	for t := a; ; t++ {
		if o, ok := c.At(min(t, b)); ok {
			l = append(l, orb.Point{o.EM, o.NM})
		}
		if t >= b {
			return l
		}
	}
}

// fromSwath draws the axis of the strip that spans a..b when there is no path.
func (r *runner) fromSwath(a, b float64) orb.LineString {
	for i := range r.shots {
		s := &r.shots[i]
		if ax := axisOf(s); ax.ok && a >= s.StartS && b <= s.EndS && s.EndS > s.StartS {
			u, v := (a-s.StartS)/(s.EndS-s.StartS)*ax.length, (b-s.StartS)/(s.EndS-s.StartS)*ax.length
			return orb.LineString{ax.at(u), ax.at(v)}
		}
	}
	return nil
}

func (r *runner) usualSpeed() float64 {
	var v []float64
	for i := range r.shots {
		if x, ok := medianSpeed(&r.shots[i]); ok {
			v = append(v, x)
		}
	}
	if len(v) > 0 {
		return max(0.5, quantile(v, 0.5))
	}
	if r.in.Plan != nil && r.in.Plan.SpeedMPS > 0 {
		return r.in.Plan.SpeedMPS
	}
	return 5
}

// Title is the item in a few words.
func (it Item) Title() string {
	switch {
	case it.Planned:
		return "planned line " + it.Strip
	case it.Part:
		return fmt.Sprintf("strip %s, %.0f to %.0f s", it.Strip, it.StartS, it.EndS)
	}
	return "strip " + it.Strip
}
