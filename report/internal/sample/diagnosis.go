package sample

import (
	"math"

	"sidelap/adjust"
)

// fillDiagnosis invents the figures of a diagnosis that explains most of the
// fault, an earlier state of the cloud, and intensities.
func fillDiagnosis(s *Survey, fault float64) {
	d := &adjust.Figures{MapM: 20}
	bins := func(slope float64) (out []adjust.Bin) {
		for k := range 9 {
			at := 10 * float64(k-4)
			m := slope * at / 40
			out = append(out, adjust.Bin{At: at, Cells: 120 + k, BeforeM: adjust.Spread{MedianM: m, LowM: m - 0.008, HighM: m + 0.009},
				AfterM: adjust.Spread{MedianM: 0.001 * float64(k%3-1), LowM: -0.008, HighM: 0.008}})
		}
		return out
	}
	for i, p := range s.Record.Pairs {
		d.Pairs = append(d.Pairs, adjust.PairFigure{IDA: p.A, IDB: p.B, Across: bins(fault * float64(i%3-1))})
	}
	for _, st := range s.Record.Strips {
		d.Strips = append(d.Strips, adjust.StripFigure{ID: st.ID, Time: bins(fault / 3), Across: bins(fault)})
	}
	for r := range areaH / 20 {
		for c := range areaW / 20 {
			d.Map = append(d.Map, adjust.MapCell{EM: e0 + 20*float64(c) + 10, NM: n0 + 20*float64(r) + 10, Cells: 300, BeforeM: 0.02 + fault/2*float64(c%4)/4, AfterM: 0.012})
		}
	}
	s.Layers.Diagnosis = d
	g := *s.Layers.Relief
	g.Values = make([]float32, len(s.Layers.Relief.Values))
	for i := range g.Values {
		g.Values[i] = float32(900 + 400*math.Sin(float64(i%g.Cols)/15))
	}
	s.Layers.Intensity = &g
	before := *s.Layers.Separation
	before.Values = make([]float32, len(s.Layers.Separation.Values))
	used := before
	used.Values = make([]float32, len(before.Values))
	for i, v := range s.Layers.Separation.Values {
		before.Values[i], used.Values[i] = 1.5*v, 1
		if v != v || i%7 == 0 {
			used.Values[i] = 0
		}
	}
	s.Layers.Before, s.Layers.BeforeUsed = &before, &used
}
