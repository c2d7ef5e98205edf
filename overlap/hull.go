package overlap

import "math"

// frame is a strip's own system: along the flight, and across it to the right.
type frame struct {
	e0, n0   float64 // origin: mean of the facets' cells
	sin, cos float64 // of the heading
}

func (f frame) along(e, n float64) float64  { return (e-f.e0)*f.sin + (n-f.n0)*f.cos }
func (f frame) across(e, n float64) float64 { return (e-f.e0)*f.cos - (n-f.n0)*f.sin }

func (f frame) place(along, across float64) (e, n float64) {
	return f.e0 + along*f.sin + across*f.cos, f.n0 + along*f.cos - across*f.sin
}

// hull is the ground that a strip covers, as the range across the flight in
// bins along it.
type hull struct {
	binM   float64
	start  float64   // along, of bin 0
	length float64   // along, over all
	lo, hi []float64 // across; NaN where the strip has no ground
}

// reachBins is the number of empty bins along the flight over which the range is
// interpolated: a gap inside a strip. A longer one is where the strip was cut.
func (h *hull) reachBins() int { return max(10, int(h.widthM()/h.binM)) }

func (h *hull) widthM() float64 {
	var w []float64
	for i := range h.lo {
		if !math.IsNaN(h.lo[i]) {
			w = append(w, h.hi[i]-h.lo[i])
		}
	}
	return median(w)
}

func (h *hull) bin(along float64) int { return int(math.Floor((along - h.start) / h.binM)) }

// rangeAt returns the range across at a distance along; ok is false off the strip.
func (h *hull) rangeAt(along float64) (lo, hi float64, ok bool) {
	i := h.bin(along)
	if i < 0 || i >= len(h.lo) || math.IsNaN(h.lo[i]) {
		return 0, 0, false
	}
	return h.lo[i], h.hi[i], true
}

// inside reports whether a place lies in the central share of the width.
func (h *hull) inside(along, across, share float64) bool {
	lo, hi, ok := h.rangeAt(along)
	return ok && math.Abs(across-(lo+hi)/2) <= share*(hi-lo)/2
}

// newFrame uses the heading, or the longest axis of the cells when it is unknown.
func newFrame(facets []Facet, headingRad, cellM float64) frame {
	var f frame
	n := float64(len(facets))
	for i := range facets {
		e, nn := cellCentre(&facets[i], cellM)
		f.e0 += e / n
		f.n0 += nn / n
	}
	if math.IsNaN(headingRad) {
		var ee, en, nnn float64
		for i := range facets {
			e, nn := cellCentre(&facets[i], cellM)
			ee += (e - f.e0) * (e - f.e0)
			en += (e - f.e0) * (nn - f.n0)
			nnn += (nn - f.n0) * (nn - f.n0)
		}
		headingRad = math.Atan2(2*en, nnn-ee) / 2 // largest variance along (sin, cos)
	}
	f.sin, f.cos = math.Sincos(headingRad)
	return f
}

func cellCentre(f *Facet, cellM float64) (e, n float64) {
	return (float64(f.Col) + 0.5) * cellM, (float64(f.Row) + 0.5) * cellM
}

// newHull needs at least one facet.
func newHull(fr frame, facets []Facet, cellM float64) hull {
	lo, hi := math.Inf(1), math.Inf(-1)
	for i := range facets {
		a := fr.along(cellCentre(&facets[i], cellM))
		lo, hi = min(lo, a), max(hi, a)
	}
	h := hull{binM: 2 * cellM}
	if bins, most := (hi-lo)/h.binM, float64(1024+4*len(facets)); bins > most {
		h.binM *= bins / most
	}
	h.start, h.length = lo-cellM/2, hi-lo+cellM
	n := int((hi-lo+cellM)/h.binM) + 1
	h.lo, h.hi = make([]float64, n), make([]float64, n)
	for i := range h.lo {
		h.lo[i], h.hi[i] = math.NaN(), math.NaN()
	}
	for i := range facets {
		e, nn := cellCentre(&facets[i], cellM)
		b, x := h.bin(fr.along(e, nn)), fr.across(e, nn)
		if math.IsNaN(h.lo[b]) {
			h.lo[b], h.hi[b] = x, x
		}
		h.lo[b], h.hi[b] = min(h.lo[b], x), max(h.hi[b], x)
	}
	for i := range h.lo { // from cell centres to cell sides
		h.lo[i] -= cellM / 2
		h.hi[i] += cellM / 2
	}
	h.fill()
	return h
}

// fill interpolates short runs of empty bins.
func (h *hull) fill() {
	reach := h.reachBins()
	last := -1
	for i := range h.lo {
		if math.IsNaN(h.lo[i]) {
			continue
		}
		if gap := i - last; last >= 0 && gap > 1 && gap <= reach {
			for k := last + 1; k < i; k++ {
				t := float64(k-last) / float64(gap)
				h.lo[k] = h.lo[last] + t*(h.lo[i]-h.lo[last])
				h.hi[k] = h.hi[last] + t*(h.hi[i]-h.hi[last])
			}
		}
		last = i
	}
}
