package overlap

import "math"

// sidelap fills the shares of width, or of area for crossing strips and strips
// without a direction.
func (s *Survey) sidelap(p *Pair, a, b *Strip, common []cellID) {
	cell := s.Options.CellM
	p.SidelapPct = 100 * min(1, p.OverlapM2/min(a.AreaM2, b.AreaM2))
	p.SidelapLowPct = math.NaN()
	if p.Crossing || math.IsNaN(p.AngleRad) {
		return
	}
	n := len(a.hull.lo)
	lo, hi := make([]float64, n), make([]float64, n)
	for i := range lo {
		lo[i], hi[i] = math.Inf(1), math.Inf(-1)
	}
	for _, c := range common {
		e, nn := c.centre(cell)
		if k := a.hull.bin(a.axis.along(e, nn)); k >= 0 && k < n {
			x := a.axis.across(e, nn)
			lo[k], hi[k] = min(lo[k], x), max(hi[k], x)
		}
	}
	var share []float64
	for k := range lo {
		if lo[k] > hi[k] {
			continue
		}
		along := a.hull.start + (float64(k)+0.5)*a.hull.binM
		w := a.hull.hi[k] - a.hull.lo[k]
		e, nn := a.axis.place(along, (lo[k]+hi[k])/2)
		if l, h, ok := b.hull.rangeAt(b.axis.along(e, nn)); ok {
			w = min(w, h-l)
		}
		if w > 0 {
			share = append(share, 100*min(1, (hi[k]-lo[k]+cell)/w))
		}
	}
	if len(share) > 6 { // the ends cut through bins
		share = share[1 : len(share)-1]
	}
	if len(share) > 0 {
		p.SidelapPct, p.SidelapLowPct = median(share), quantile(share, 0.05)
	}
}
