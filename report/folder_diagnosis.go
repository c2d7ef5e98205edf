package report

import (
	"errors"
	"fmt"
	"math"

	"sidelap/adjust"
)

// diagnosisFile holds the figures of the diagnosis in layers.json. A bin is a row: place, cells, then median, lower and
// upper quartile as they are, and the same with the causes taken out; a cell of the map: E, N, cells, rms before, rms after.
type diagnosisFile struct {
	Pairs  []pairBins   `json:"pairs"`
	Strips []stripBins  `json:"strips"`
	MapM   float64      `json:"map_m"`
	Map    [][5]float64 `json:"map"`
}

type pairBins struct {
	A      string       `json:"a"`
	B      string       `json:"b"`
	Across [][8]float64 `json:"across"`
}

type stripBins struct {
	ID     string       `json:"strip"`
	Time   [][8]float64 `json:"time"`
	Across [][8]float64 `json:"across"`
}

// tenths rounds to a tenth of a millimetre, so that the file is small and the same everywhere.
func tenths(x float64) float64 { return math.Round(x*1e4) / 1e4 }

func finite(x ...float64) bool {
	for _, v := range x {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return false
		}
	}
	return true
}

func binRows(bins []adjust.Bin) [][8]float64 {
	out := make([][8]float64, 0, len(bins))
	for _, b := range bins {
		if a, z := b.BeforeM, b.AfterM; finite(b.At, a.MedianM, a.LowM, a.HighM, z.MedianM, z.LowM, z.HighM) {
			out = append(out, [8]float64{tenths(b.At), float64(b.Cells), tenths(a.MedianM), tenths(a.LowM), tenths(a.HighM), tenths(z.MedianM), tenths(z.LowM), tenths(z.HighM)})
		}
	}
	return out
}

func binsOf(rows [][8]float64) []adjust.Bin {
	var out []adjust.Bin
	for _, r := range rows {
		out = append(out, adjust.Bin{At: r[0], Cells: int(r[1]), BeforeM: adjust.Spread{MedianM: r[2], LowM: r[3], HighM: r[4]}, AfterM: adjust.Spread{MedianM: r[5], LowM: r[6], HighM: r[7]}})
	}
	return out
}

func fileOfDiagnosis(f *adjust.Figures) *diagnosisFile {
	if f == nil || len(f.Pairs) == 0 && len(f.Strips) == 0 && len(f.Map) == 0 {
		return nil
	}
	d := &diagnosisFile{Pairs: []pairBins{}, Strips: []stripBins{}, Map: [][5]float64{}, MapM: f.MapM}
	for i := range f.Pairs {
		d.Pairs = append(d.Pairs, pairBins{f.Pairs[i].IDA, f.Pairs[i].IDB, binRows(f.Pairs[i].Across)})
	}
	for i := range f.Strips {
		d.Strips = append(d.Strips, stripBins{f.Strips[i].ID, binRows(f.Strips[i].Time), binRows(f.Strips[i].Across)})
	}
	for _, c := range f.Map {
		if finite(c.EM, c.NM, c.BeforeM, c.AfterM) {
			d.Map = append(d.Map, [5]float64{c.EM, c.NM, float64(c.Cells), tenths(c.BeforeM), tenths(c.AfterM)})
		}
	}
	return d
}

// inRange returns an error when a number is bad.
func (d *diagnosisFile) inRange(bad func(...float64) bool) error {
	if d == nil {
		return nil
	}
	check := func(what string, rows [][8]float64) error {
		for i := range rows {
			if bad(rows[i][:]...) {
				return fmt.Errorf("a value of the diagnosis, %s, is beyond %g", what, float64(maxCoordinateM))
			}
		}
		return nil
	}
	for _, p := range d.Pairs {
		if err := check("pair "+p.A+" and "+p.B, p.Across); err != nil {
			return err
		}
	}
	for _, s := range d.Strips {
		if err := errors.Join(check("strip "+s.ID, s.Time), check("strip "+s.ID, s.Across)); err != nil {
			return err
		}
	}
	for i := range d.Map {
		if bad(append(d.Map[i][:], d.MapM)...) {
			return fmt.Errorf("a value of the diagnosis, map, is beyond %g", float64(maxCoordinateM))
		}
	}
	return nil
}

// figures returns the figures of the file, nil for none.
func (d *diagnosisFile) figures() *adjust.Figures {
	if d == nil {
		return nil
	}
	f := &adjust.Figures{MapM: d.MapM}
	for _, p := range d.Pairs {
		f.Pairs = append(f.Pairs, adjust.PairFigure{IDA: p.A, IDB: p.B, Across: binsOf(p.Across)})
	}
	for _, s := range d.Strips {
		f.Strips = append(f.Strips, adjust.StripFigure{ID: s.ID, Time: binsOf(s.Time), Across: binsOf(s.Across)})
	}
	for _, c := range d.Map {
		f.Map = append(f.Map, adjust.MapCell{EM: c[0], NM: c[1], Cells: int(c[2]), BeforeM: c[3], AfterM: c[4]})
	}
	return f
}
