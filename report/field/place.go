package field

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"sidelap/las"
	"sidelap/las/crs"
	"sidelap/report/assess"
	"sidelap/trajectory"
	"sidelap/trajectory/geodesy"
)

const toDeg = 180 / math.Pi

// grid is the coordinate system that everything is brought into.
type grid struct {
	crs  *crs.CRS           // nil when it is not known
	proj *geodesy.Projector // nil when it is not known
	note string             // where it comes from, if not from the cloud
}

// projector returns the projection as the interface that other packages want, nil when it is not known.
func (g *grid) projector() trajectory.Projector {
	if g.proj == nil {
		return nil
	}
	return g.proj
}

// settleGrid takes the grid of the cloud, else the one named, else the UTM zone of the path.
func settleGrid(o *Options, c *cloud, t *trajectory.Track) (*grid, error) {
	g := &grid{}
	switch {
	case c != nil && c.crs.Projection != nil:
		g.crs = c.crs
		if o.EPSG != 0 && c.crs.Horizontal.EPSG == o.EPSG {
			g.note = fmt.Sprintf("grid: EPSG:%d", o.EPSG)
		}
	case o.EPSG != 0:
		k, err := gridByCode(o.EPSG)
		if err != nil {
			return nil, err
		}
		g.crs, g.note = k, fmt.Sprintf("grid: EPSG:%d, as named", o.EPSG)
	case t != nil && t.Geodetic:
		code := utmCode(t)
		k, err := gridByCode(code)
		if err != nil {
			return nil, err
		}
		g.crs, g.note = k, fmt.Sprintf("grid: %s (EPSG:%d), the UTM zone of the path", k.Horizontal.Name, code)
	default:
		return g, nil
	}
	p, err := geodesy.New(g.crs.Projection)
	if err != nil && o.EPSG == 0 && (t == nil || !t.Geodetic) {
		g.note = "the grid cannot be turned into longitudes and latitudes: " + err.Error()
		return g, nil
	}
	if err != nil {
		return nil, &assess.SettingsError{Flag: "crs", Err: fmt.Errorf("%s: %w", g.crs.Horizontal.Name, err), Remedy: "name the UTM zone of the site"}
	}
	g.proj = p
	return g, nil
}

// utmCode is the EPSG code of the UTM zone, on WGS 84, of the middle of a path.
func utmCode(t *trajectory.Track) int {
	lat, lon := middle(t.LatRad)*toDeg, middle(t.LonRad)*toDeg
	zone := min(60, max(1, int(math.Floor((math.Mod(lon+540, 360)))/6)+1))
	if lat < 0 {
		return 32700 + zone
	}
	return 32600 + zone
}

func middle(v []float64) float64 {
	s := slices.Clone(v)
	slices.Sort(s)
	return s[len(s)/2]
}

// placed is the path in the grid and time of the cloud.
type placed struct {
	path       *trajectory.Path
	shiftS     float64 // cloud time less the file's
	heightsFit bool    // its heights are those of the cloud
	notes      []string
}

// placePath brings the path into the grid, time and heights of the cloud; without a cloud only into the grid.
func placePath(t *trajectory.Track, g *grid, c *cloud, cloudTimes []trajectory.Interval) (*placed, error) {
	out := &placed{}
	po := trajectory.PathOptions{}
	if c != nil && !t.Geodetic && t.UnitM == 0 && c.unitM != 1 && c.meets(t, c.unitM) && !c.meets(t, 1) {
		po.UnitM, po.HeightUnitM = c.unitM, c.vertM
		out.notes = append(out.notes, "the path names no unit: taken as the cloud's, where it then lies")
	}
	if len(cloudTimes) == 0 {
		p, err := t.ToPath(g.projector(), po)
		out.path = p
		return out, err
	}
	mo := trajectory.MatchOptions{CloudGPS: c.allAdjusted()}
	first, err := trajectory.MatchTime(t, cloudTimes, nil, mo)
	if err != nil {
		return nil, err
	}
	po.ShiftS = first.ShiftS
	p, err := t.ToPath(g.projector(), po)
	if err != nil {
		return nil, err
	}
	if err := c.near(p); err != nil {
		return nil, err
	}
	var returns []trajectory.Return
	if c.got.sample != nil {
		returns = c.got.sample.List()
	}
	match, err := trajectory.MatchTime(t, cloudTimes, trajectory.BeamPlaneCost(p, first.ShiftS, returns), mo)
	if err != nil {
		return nil, err
	}
	// What is left beside a named shift is for the assessment, not for the field.
	out.shiftS = match.ShiftS - match.FineS
	if out.shiftS != first.ShiftS {
		p = p.Shifted(out.shiftS-first.ShiftS, 0)
	}
	if match.Fault || !match.Sure {
		out.notes = append(out.notes, match.Text)
	}
	if hb, ok := trajectory.EstimateHeightBase(p, returns); ok {
		out.heightsFit = true
		if hb.Fault {
			p = p.Shifted(0, hb.OffsetM)
			out.notes = append(out.notes, fmt.Sprintf("the path's heights lie %+.1f m from the cloud's (ellipsoid and geoid, as a rule); taken into account", -hb.OffsetM))
		}
	}
	out.path = p
	return out, nil
}

// allAdjusted reports whether all files count adjusted standard GPS time.
func (c *cloud) allAdjusted() bool {
	n := 0
	for _, s := range c.files {
		if s.f == nil || s.times.N == 0 {
			continue
		}
		if n++; s.audit.Base != las.TimeAdjusted {
			return false
		}
	}
	return n > 0
}

// meets reports whether a path in a grid, with so many metres in a unit, crosses the extent of the cloud.
func (c *cloud) meets(t *trajectory.Track, unitM float64) bool {
	for i := range t.EM {
		if c.extent.Contains(t.EM[i]*unitM, t.NM[i]*unitM, 50) {
			return true
		}
	}
	return false
}

// farM is how far from the cloud a path may stay before it is taken for that of another site.
const farM = 5000

// near refuses a path that never comes near the cloud: another site, zone or system.
func (c *cloud) near(p *trajectory.Path) error {
	if c.extent.Empty() {
		return nil
	}
	least := math.Inf(1)
	for i := range p.EM {
		de := max(c.extent.MinEM-p.EM[i], 0, p.EM[i]-c.extent.MaxEM)
		dn := max(c.extent.MinNM-p.NM[i], 0, p.NM[i]-c.extent.MaxNM)
		least = min(least, math.Hypot(de, dn))
	}
	if least < farM {
		return nil
	}
	return &assess.InputError{Path: p.Source, Err: fmt.Errorf("the path stays %.0f km from the cloud", least/1000),
		Remedy: "is it the path of this flight? if so, name the cloud's coordinate system with --crs"}
}

// gridByCode returns a projected system by its EPSG code.
func gridByCode(code int) (*crs.CRS, error) {
	k, err := crs.FromEPSG(code)
	if err != nil {
		return nil, &assess.SettingsError{Flag: "crs", Err: err}
	}
	if k.Projection == nil {
		return nil, &assess.SettingsError{Flag: "crs", Err: errors.New("EPSG:" + fmt.Sprint(code) + " is not a projected system that can be computed"), Remedy: "name a UTM zone or another projected system"}
	}
	return k, nil
}
