package field

import (
	"errors"
	"fmt"

	"github.com/paulmach/orb"

	"sidelap/report/assess"
	"sidelap/trajectory/fieldcheck"
	"sidelap/trajectory/geodesy"
)

// readPlan reads the plan into the grid, and adds the figures that were given.
func readPlan(o *Options, g *grid, unitM float64) (*fieldcheck.Plan, error) {
	p := &fieldcheck.Plan{}
	if o.Plan != "" {
		var err error
		if p, err = readOutline(o.Plan, g, unitM); err != nil {
			return nil, err
		}
	}
	p.SpeedMPS, p.HeightM, p.DensityPerM2 = o.SpeedMPS, o.HeightM, o.DensityPerM2
	return p, nil
}

// readOutline reads areas and lines into the grid.
func readOutline(path string, g *grid, unitM float64) (*fieldcheck.Plan, error) {
	p, err := fieldcheck.ReadPlan(path)
	if err != nil {
		return nil, err
	}
	return p, placePlan(p, g, unitM)
}

// placePlan brings a plan into the grid: from degrees, from another grid, or from the cloud's unit.
func placePlan(p *fieldcheck.Plan, g *grid, unitM float64) error {
	if p.Geographic {
		return p.Project(g.projector())
	}
	move := func(x orb.Point) (orb.Point, error) { return orb.Point{x[0] * unitM, x[1] * unitM}, nil }
	if g.crs != nil && p.EPSG != 0 && p.EPSG != g.crs.Horizontal.EPSG {
		k, err := gridByCode(p.EPSG)
		if err != nil {
			return &assess.InputError{Path: p.Source, Err: fmt.Errorf("its coordinate system EPSG:%d cannot be computed", p.EPSG), Remedy: "export it in longitude and latitude"}
		}
		from, err := geodesy.New(k.Projection)
		if err != nil {
			return &assess.InputError{Path: p.Source, Err: err, Remedy: "export it in longitude and latitude"}
		}
		m := k.Horizontal.Unit.M
		move = func(x orb.Point) (orb.Point, error) {
			lat, lon, err := from.Inverse(x[0]*m, x[1]*m)
			if err != nil {
				return x, err
			}
			e, n, err := g.proj.Forward(lat, lon)
			return orb.Point{e, n}, err
		}
	} else if unitM == 1 {
		return nil
	}
	var bad error
	each := func(l []orb.Point) {
		for i := range l {
			x, err := move(l[i])
			if err != nil {
				bad = errors.Join(bad, err)
				return
			}
			l[i] = x
		}
	}
	for _, poly := range p.Area {
		for _, ring := range poly {
			each(ring)
		}
	}
	for i := range p.Lines {
		each(p.Lines[i].Line)
	}
	if bad != nil {
		return &assess.InputError{Path: p.Source, Err: bad, Remedy: "is it the plan of this site?"}
	}
	return nil
}
