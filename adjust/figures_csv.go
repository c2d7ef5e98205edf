package adjust

import (
	"encoding/csv"
	"io"
	"strconv"
)

// WriteCSV writes the bins of all figures as one table: a row for each bin, with the figure, the strips, the place on the axis, and median and
// quartiles before and after the model.
func (f *Figures) WriteCSV(w io.Writer) error {
	c := csv.NewWriter(w)
	if err := c.Write([]string{"figure", "strip_a", "strip_b", "axis", "at", "cells",
		"before_median_m", "before_q25_m", "before_q75_m", "after_median_m", "after_q25_m", "after_q75_m"}); err != nil {
		return err
	}
	rows := func(figure, a, b, axis string, bins []Bin) error {
		for _, k := range bins {
			if err := c.Write([]string{figure, a, b, axis, number(k.At, 2), strconv.Itoa(k.Cells),
				number(k.BeforeM.MedianM, 4), number(k.BeforeM.LowM, 4), number(k.BeforeM.HighM, 4),
				number(k.AfterM.MedianM, 4), number(k.AfterM.LowM, 4), number(k.AfterM.HighM, 4)}); err != nil {
				return err
			}
		}
		return nil
	}
	for _, p := range f.Pairs {
		if err := rows("pair_across", p.IDA, p.IDB, "across_a_m", p.Across); err != nil {
			return err
		}
	}
	for _, s := range f.Strips {
		if err := rows("strip_along", s.ID, "", "since_start_s", s.Time); err != nil {
			return err
		}
		if err := rows("strip_across", s.ID, "", "across_m", s.Across); err != nil {
			return err
		}
	}
	c.Flush()
	return c.Error()
}

// WriteMapCSV writes the map of separations before and after the model.
func (f *Figures) WriteMapCSV(w io.Writer) error {
	c := csv.NewWriter(w)
	if err := c.Write([]string{"e_m", "n_m", "side_m", "cells", "before_rms_m", "after_rms_m"}); err != nil {
		return err
	}
	for _, m := range f.Map {
		if err := c.Write([]string{number(m.EM, 2), number(m.NM, 2), number(f.MapM, 0), strconv.Itoa(m.Cells), number(m.BeforeM, 4), number(m.AfterM, 4)}); err != nil {
			return err
		}
	}
	c.Flush()
	return c.Error()
}

func number(x float64, digits int) string { return strconv.FormatFloat(x, 'f', digits, 64) }
