package simulate

import (
	"fmt"
	"io"
	"strings"
)

// ListOptions says how a list of points is written. The zero value is comma separated,
// headings, name easting northing height, metres.
type ListOptions struct {
	NorthingFirst bool    // name, northing, easting, height
	NoHeadings    bool    // four or five plain columns: name, two coordinates, height, code
	Separator     string  // "," by default
	DecimalComma  bool    // use with another separator
	UnitM         float64 // metres in the unit of all three coordinates; 0 = 1
}

// WriteCheckPoints writes the given coordinates of the check points as CSV.
func (f *Flight) WriteCheckPoints(path string, o ListOptions) error {
	return f.writeList(path, f.Points, o)
}

// WriteControl writes the given coordinates of the control points as CSV.
func (f *Flight) WriteControl(path string, o ListOptions) error {
	return f.writeList(path, f.Control, o)
}

func (f *Flight) writeList(path string, points []SurveyPoint, o ListOptions) error {
	sep := o.Separator
	if sep == "" {
		sep = ","
	}
	unit := o.UnitM
	if unit == 0 {
		unit = 1
	}
	num := func(v float64) string {
		s := fmt.Sprintf("%.3f", v)
		if o.DecimalComma {
			s = strings.Replace(s, ".", ",", 1)
		}
		return s
	}
	return writeAtomic(path, func(w io.Writer) error {
		if !o.NoHeadings {
			axes := []string{"easting", "northing"}
			if o.NorthingFirst {
				axes[0], axes[1] = axes[1], axes[0]
			}
			fmt.Fprintln(w, strings.Join([]string{"name", axes[0], axes[1], "height", "surface", "sd_h", "sd_v"}, sep))
		}
		for i := range points {
			p := &points[i]
			a, b := p.GivenEM/unit, p.GivenNM/unit
			if o.NorthingFirst {
				a, b = b, a
			}
			row := []string{p.ID, num(a), num(b), num(p.GivenHM / unit), p.SurfaceWord()}
			if !o.NoHeadings {
				row = append(row, num(f.Scenario.Survey.SigmaHM/unit), num(f.Scenario.Survey.SigmaVM/unit))
			}
			if _, err := fmt.Fprintln(w, strings.Join(row, sep)); err != nil {
				return err
			}
		}
		return nil
	})
}

// SurfaceWord is the surface as a field sheet has it.
func (p *SurveyPoint) SurfaceWord() string {
	switch p.Cover {
	case CoverHard:
		return "hard"
	case CoverGrass:
		return "grass"
	}
	return "forest"
}
