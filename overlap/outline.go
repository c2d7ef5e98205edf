package overlap

// minStripHole is the smallest hole, in cells, that the outline of a strip shows.
const minStripHole = 16

// Outline returns the ground that a strip covers, as rings along cell borders in metres: outer rings
// counter-clockwise, holes clockwise, first point equal to the last. Holes smaller than 16 cells
// are closed.
func (s *Survey) Outline(st *Strip) [][][2]float64 {
	cells := make([]cellID, len(st.Facets))
	for i := range st.Facets {
		cells[i] = cellID{st.Facets[i].Col, st.Facets[i].Row}
	}
	return outline(cells, s.Options.CellM, minStripHole)
}
