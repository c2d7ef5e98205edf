package fieldcheck

import (
	"fmt"
	"math"
	"sort"
)

// waterNote adds to the check of holes what is water, and lowers go to caution
// for what only looks like it.
func (r *runner) waterNote(ch *Check, c *Coverage) {
	known, area := 0, c.CellM*c.CellM
	for k, w := range r.wet {
		if w == wetKnown && c.First[k] == 0 {
			known++
		}
	}
	if known > 0 {
		ch.Note += fmt.Sprintf("; %.0f m² of water apart", float64(known)*area)
	}
	if len(r.ponds) == 0 {
		return
	}
	if ch.Result == Go {
		ch.Result, ch.Note = Caution, ""
	}
	var largest Place
	for _, p := range r.ponds {
		if p.AreaM2 > largest.AreaM2 {
			largest = p
		}
	}
	ch.Value = max(ch.Value, largest.AreaM2)
	if ch.Note != "" {
		ch.Note += "; "
	}
	ch.Note += fmt.Sprintf("%.0f m² %s look like water: a level shore, and no return to any of several strips. Go and look: if it is water, say so with --water-seen; another flight would show no more", largest.AreaM2, r.placeText(largest))
	if n := len(r.ponds) - 1; n > 0 {
		ch.Note += fmt.Sprintf("; %s like it", counted(n, "more place", "more places"))
	}
	r.rep.Places = append(r.rep.Places, r.ponds...)
}

// placeText says where a place is, for a person with a map or a telephone.
func (r *runner) placeText(p Place) string {
	s := fmt.Sprintf("at %.0f E, %.0f N", p.EM, p.NM)
	if r.in.Grid != nil {
		if lat, lon, err := r.in.Grid.Inverse(p.EM, p.NM); err == nil {
			s += fmt.Sprintf(" (%.6f, %.6f)", lat*deg, lon*deg)
		}
	}
	return s
}

// pausedOver tells what lies under a strip during a pause of its points: water
// if most of the ground it swept there gave no strip any return.
func (r *runner) pausedOver(s *shot, startS, endS float64) wet {
	c := r.in.Coverage
	ax := axisOf(s)
	if r.wet == nil || c == nil || !ax.ok || len(s.Swath) == 0 {
		return wetNot
	}
	u0, u1 := s.alongAt(ax, startS), s.alongAt(ax, endS)
	all, known, perhaps := 0, 0, 0
	for u := min(u0, u1); u <= max(u0, u1); u += c.CellM {
		lo, hi, ok := ax.edges(s.Swath, u)
		if !ok {
			continue
		}
		for w := lo; w <= hi; w += c.CellM {
			e, n := ax.e0+u*ax.s+w*ax.c, ax.n0+u*ax.c-w*ax.s
			col, row := int(math.Floor((e-c.EM)/c.CellM)), int(math.Floor((n-c.NM)/c.CellM))
			if col < 0 || row < 0 || col >= c.Cols || row >= c.Rows {
				continue
			}
			all++
			switch r.wet.of(row*c.Cols + col) {
			case wetKnown:
				known++
			case wetPerhaps:
				perhaps++
			}
		}
	}
	const most = 0.8
	switch {
	case all == 0 || float64(known+perhaps) < most*float64(all):
		return wetNot
	case float64(known) >= most*float64(all):
		return wetKnown
	}
	return wetPerhaps
}

// alongAt returns how far along its axis a strip was at a time.
func (s *shot) alongAt(ax axis, t float64) float64 {
	if n := len(s.poses); n > 0 {
		i := min(sort.Search(n, func(i int) bool { return s.poses[i].TimeS >= t }), n-1)
		return ax.along(s.poses[i].EM, s.poses[i].NM)
	}
	return ax.length * (t - s.StartS) / max(1e-9, s.EndS-s.StartS)
}
