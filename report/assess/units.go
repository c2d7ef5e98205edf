package assess

import (
	"errors"
	"fmt"
	"math"

	"sidelap/las"
	"sidelap/las/crs"
)

// chooseCRS decides the coordinate system of the survey from those of its files, and sets
// every file's frame. Files must agree in their units; differing names and codes are only
// told. Degrees cannot be assessed.
func chooseCRS(files []*las.File, o *Options) (*crs.CRS, []string, error) {
	best := files[0].CRS()
	for _, f := range files[1:] {
		if better(f.CRS(), best) {
			best = f.CRS()
		}
	}
	var warnings []string
	for _, f := range files {
		c := f.CRS()
		if c.Kind == crs.KindGeographic || c.Kind == crs.KindGeocentric {
			return nil, nil, &InputError{Path: f.Path(), Err: fmt.Errorf("the coordinates are %s (%s), not projected", c.Kind, c.Horizontal.Name),
				Remedy: "project the cloud to a grid first; distances cannot be taken from degrees"}
		}
		if c.Horizontal.EPSG != 0 && best.Horizontal.EPSG != 0 && c.Horizontal.EPSG != best.Horizontal.EPSG {
			return nil, nil, &InputError{Path: f.Path(), Err: fmt.Errorf("EPSG:%d, but other files of the survey are in EPSG:%d", c.Horizontal.EPSG, best.Horizontal.EPSG),
				Remedy: "assess the files of one coordinate system at a time"}
		}
		fr := *f.Frame()
		h, v := c.Horizontal.Unit, c.Vertical.Unit
		if !h.Stated && best.Horizontal.Unit.Stated {
			h = best.Horizontal.Unit
			warnings = append(warnings, fmt.Sprintf("%s: unit of x and y not stated; taken from the other files: %s", f.Path(), h.Name))
		}
		if saysNothing(c) && !saysNothing(best) {
			warnings = append(warnings, fmt.Sprintf("%s: no coordinate system stated; taken as that of the other files: %s", f.Path(), best.Horizontal.Name))
		}
		if !v.Stated && best.Vertical.Unit.Stated {
			v = best.Vertical.Unit
		}
		fr.HorizontalM, fr.VerticalM = h.M, v.M
		if o.HorizontalM > 0 {
			fr.HorizontalM = o.HorizontalM
		}
		if o.VerticalM > 0 {
			fr.VerticalM = o.VerticalM
		}
		f.SetFrame(fr)
	}
	if err := sameUnits(files); err != nil {
		return nil, nil, err
	}
	return best, warnings, nil
}

// saysNothing reports whether no horizontal system is stated, by code, name or text.
func saysNothing(c *crs.CRS) bool {
	return c.Horizontal.EPSG == 0 && c.Horizontal.Name == "" && c.WKT == "" && c.Projection == nil
}

// better reports whether a says more than b.
func better(a, b *crs.CRS) bool { return richness(a) > richness(b) }

func richness(c *crs.CRS) int {
	n := 0
	if c.Horizontal.EPSG != 0 {
		n += 4
	}
	if c.Projection != nil {
		n += 4
	}
	if c.Horizontal.Unit.Stated {
		n += 2
	}
	if c.VerticalStated() {
		n += 2
	}
	if c.Vertical.Unit.Stated {
		n++
	}
	return n
}

func sameUnits(files []*las.File) error {
	a := files[0].Frame()
	for _, f := range files[1:] {
		b := f.Frame()
		if math.Abs(a.HorizontalM/b.HorizontalM-1) > 1e-9 || math.Abs(a.VerticalM/b.VerticalM-1) > 1e-9 {
			return &InputError{Path: f.Path(), Err: errors.New("the unit differs from that of " + files[0].Path()),
				Remedy: "assess the files of one unit at a time, or state the units with --horizontal-unit and --vertical-unit"}
		}
	}
	return nil
}

// unitName names a length unit, for the overridden and the assumed ones too.
func unitName(u crs.Unit, metres float64) string {
	if math.Abs(u.M/metres-1) < 1e-9 {
		return u.Name
	}
	for _, k := range []crs.Unit{crs.Metre(), crs.InternationalFoot(), crs.SurveyFoot()} {
		if math.Abs(k.M/metres-1) < 1e-9 {
			return k.Name
		}
	}
	return fmt.Sprintf("%g m", metres)
}
