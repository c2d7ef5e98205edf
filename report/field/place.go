package field

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"github.com/paulmach/orb"

	"sidelap/las"
	"sidelap/las/crs"
	"sidelap/report/assess"
	"sidelap/trajectory"
	"sidelap/trajectory/fieldcheck"
	"sidelap/trajectory/geodesy"
	"sidelap/trajectory/rinex"
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
		returns = c.got.sample.list()
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

// clock says how times become GPS seconds since 1980.
type clock struct {
	offsetS  float64
	absolute bool   // offsetS is known
	dayOnly  bool   // without offset: times are at least seconds of a GPS week or day
	note     string // how it became known, if it was not stated
}

// settleClock finds the offset of the common time base, from the cloud, the path or the base log.
func settleClock(c *cloud, t *trajectory.Track, shiftS float64, log *rinex.Log, startS, endS float64) clock {
	if c != nil && c.got != nil {
		for _, s := range c.files {
			if s.times.N > 0 && (s.audit.Base == las.TimeAdjusted || s.audit.Base == las.TimeOffset) {
				return clock{offsetS: s.audit.OffsetS, absolute: true}
			}
		}
	}
	stepS, what := trajectory.WeekS, "week"
	utc := 0.0
	if t != nil {
		t0, _ := t.Span()
		if g, ok := t.TimeKind.AbsoluteGPS(t0); ok {
			return clock{offsetS: g - (t0 + shiftS), absolute: true}
		}
		if t.TimeKind == trajectory.DaySeconds && shiftS == 0 {
			stepS, what = 86400, "day"
		}
		if t.TimeIsUTC && shiftS == 0 && log != nil {
			b0, _ := log.Span()
			utc = trajectory.LeapSeconds(trajectory.CalendarFromGPS(b0))
		}
	}
	if log == nil || len(log.Epochs) == 0 || !(endS >= startS) {
		return clock{dayOnly: endS >= startS && startS >= 0 && endS < 2*trajectory.WeekS}
	}
	b0, b1 := log.Span()
	near := math.Floor(b0/stepS) * stepS
	best, most := near+utc, math.Inf(-1)
	for k := -1.0; k <= 1; k++ {
		w := near + k*stepS + utc
		if both := min(endS+w, b1) - max(startS+w, b0); both > most {
			best, most = w, both
		}
	}
	return clock{offsetS: best, absolute: true, note: "the recording counts seconds of the " + what + " only; the " + what + " is taken from the base log"}
}

// readPlan reads the plan into the grid, and adds the figures that were given.
func readPlan(o *Options, g *grid, unitM float64) (*fieldcheck.Plan, error) {
	p := &fieldcheck.Plan{}
	if o.Plan != "" {
		var err error
		if p, err = fieldcheck.ReadPlan(o.Plan); err != nil {
			return nil, err
		}
		if err := placePlan(p, g, unitM); err != nil {
			return nil, err
		}
	}
	p.SpeedMPS, p.HeightM, p.DensityPerM2, p.PlannedFlight = o.SpeedMPS, o.HeightM, o.DensityPerM2, 60*o.PlannedMinutes
	return p, nil
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
