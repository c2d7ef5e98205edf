package field

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"sidelap/control"
	"sidelap/overlap"
	"sidelap/report/assess"
	"sidelap/trajectory"
	"sidelap/trajectory/fieldcheck"
)

const (
	standRadiusM = 2.0 // around the place of take-off, in which the cloud's ground is looked for; rule B19
	pointRadiusM = 0.5 // around a check point, in which returns are counted
)

// readPoints reads the list of check points in the grid of the cloud.
func readPoints(o *Options, c *cloud, g *grid) (*control.List, error) {
	lo := control.ListOptions{Columns: strings.ToUpper(o.ColumnOrder), Extent: c.extent}
	if g.proj != nil {
		lo.Project = g.proj.Forward
	}
	switch strings.ToLower(o.ListUnit) {
	case "m":
		lo.Unit = "m"
	case "ift":
		lo.Unit = "ft"
	case "usft":
		lo.Unit = "usft"
	}
	list, err := control.ReadList(o.CheckPoints, lo)
	if err != nil || lo.Unit != "" || list.UnitFrom != "assumed" || c.unitM == 1 {
		return list, err
	}
	// A list beside a cloud in feet that names no unit is in the cloud's: practice of the trade, and said so.
	for unit, m := range map[string]float64{"ft": 0.3048, "usft": 1200.0 / 3937} {
		if math.Abs(c.unitM/m-1) < 1e-9 {
			lo.Unit = unit
			return control.ReadList(o.CheckPoints, lo)
		}
	}
	return nil, &assess.SettingsError{Flag: "list-unit", Err: fmt.Errorf("%s names no unit, and the cloud's is unusual", o.CheckPoints), Remedy: "state it: m, ift or usft"}
}

// standing is the place where a path begins on the ground, in the grid; false when it cannot be told.
func standing(t *trajectory.Track, g *grid, c *cloud) (control.Point, bool) {
	p := control.Point{ID: "take-off"}
	switch {
	case t == nil || t.Len() == 0:
		return p, false
	case t.Geodetic && g.proj != nil:
		e, n, err := g.proj.Forward(t.LatRad[0], t.LonRad[0])
		p.EM, p.NM = e, n
		return p, err == nil
	case t.Geodetic:
		return p, false
	}
	m := t.UnitM
	if m == 0 {
		m = 1
		if c.unitM != 1 && c.meets(t, c.unitM) && !c.meets(t, 1) {
			m = c.unitM
		}
	}
	p.EM, p.NM = t.EM[0]*m, t.NM[0]*m
	return p, true
}

// seen counts, for each check point, the returns near it and the strips that they belong to. Times are the cloud's.
func seen(spots *control.Collector, points []control.Point, strips []overlap.Strip, cov *fieldcheck.Coverage) []fieldcheck.PointSeen {
	out := make([]fieldcheck.PointSeen, len(points))
	for i, p := range points {
		s := fieldcheck.PointSeen{ID: p.ID, EM: p.EM, NM: p.NM, Inside: covered(cov, p.EM, p.NM)}
		returns, _ := spots.Returns(i)
		by := map[int]bool{}
		for _, r := range returns {
			if r.DistM2 > pointRadiusM*pointRadiusM {
				break // nearest first
			}
			s.Returns++
			if k := stripOf(strips, &r); k >= 0 {
				by[k] = true
			}
		}
		s.Strips = len(by)
		s.Inside = s.Inside || s.Returns > 0
		out[i] = s
	}
	return out
}

// stripOf finds the line that a return belongs to, -1 for none.
func stripOf(strips []overlap.Strip, r *control.Return) int {
	for k := range strips {
		s := &strips[k]
		file, source := false, false
		for _, f := range s.Files {
			file = file || f == int(r.File)
		}
		for _, x := range s.Sources {
			source = source || x == int(r.Source)
		}
		timed := math.IsNaN(s.StartGPSS) || r.TimeS >= s.StartGPSS && r.TimeS <= s.EndGPSS
		if file && source && timed {
			return k
		}
	}
	return -1
}

// covered reports whether there is a first return in the cell of a place or beside it.
func covered(c *fieldcheck.Coverage, e, n float64) bool {
	if c == nil {
		return false
	}
	col, row := int(math.Floor((e-c.EM)/c.CellM)), int(math.Floor((n-c.NM)/c.CellM))
	for r := row - 1; r <= row+1; r++ {
		for k := col - 1; k <= col+1; k++ {
			if r >= 0 && k >= 0 && r < c.Rows && k < c.Cols && c.First[r*c.Cols+k] > 0 {
				return true
			}
		}
	}
	return false
}

// look compares heights with the cloud's ground: of the path at the place of take-off, by the lowest tenth of the
// returns within 2 m, since legs, cases and people stand there too; and of the base mark, by the plane through the
// ground returns around it.
func (j *job) look(spots *control.Collector) *fieldcheck.HeightLook {
	h := &fieldcheck.HeightLook{AntennaHeightM: j.o.AntennaHeightM}
	if h.AntennaHeightM == 0 && j.log != nil && j.log.Header().HasDelta {
		h.AntennaHeightM = j.log.Header().DeltaHENM[0]
	}
	if j.stand >= 0 && j.placed != nil && j.placed.heightsFit {
		if returns, _ := spots.Returns(j.stand); len(returns) >= 10 {
			z := make([]float64, len(returns))
			for i, r := range returns {
				z[i] = r.ZM
			}
			h.HasStand, h.PathOnGroundM, h.CloudAtStandM = true, j.placed.path.HM[0], control.Quantile(z, 0.1)
		}
	}
	if j.base >= 0 && !math.IsNaN(j.mark.ZM) {
		p := spots.Part(j.base, j.base+1).Evaluate(control.DefaultEvaluateOptions()).Points[0]
		z := p.PlaneZM
		if math.IsNaN(z) {
			z = p.CloudZM
		}
		if !math.IsNaN(z) {
			h.HasMark, h.MarkHeightM, h.CloudAtMarkM = true, j.mark.ZM, z
		}
	}
	return h
}

// baseMark takes the mark of the base from three numbers in the grid and units of the cloud, or from the list of
// check points by its name.
func baseMark(o *Options, c *cloud, list *control.List) (*control.Point, error) {
	if o.BaseMark == "" {
		return nil, nil
	}
	fail := func(err error, remedy string) error {
		return &assess.SettingsError{Flag: "base-mark", Err: err, Remedy: remedy}
	}
	if list != nil {
		for _, p := range list.Points {
			if p.ID == o.BaseMark {
				return &p, nil
			}
		}
	}
	f := strings.Split(o.BaseMark, ",")
	if len(f) != 3 {
		return nil, fail(fmt.Errorf("%q is no E,N,H and no point of --checkpoints", o.BaseMark), "give easting, northing and height of the mark, as 355420.1,5561260.4,412.30")
	}
	var v [3]float64
	for i := range f {
		x, err := strconv.ParseFloat(strings.TrimSpace(f[i]), 64)
		if err != nil || math.IsNaN(x) || math.IsInf(x, 0) {
			return nil, fail(fmt.Errorf("%q is no number", f[i]), "use points for decimals and commas between the three")
		}
		v[i] = x
	}
	p := &control.Point{ID: "base mark", EM: v[0], NM: v[1], ZM: v[2]}
	if c != nil {
		p.EM, p.NM, p.ZM = p.EM*c.unitM, p.NM*c.unitM, p.ZM*c.vertM
		if far := 50_000.0; !c.extent.Empty() && !c.extent.Contains(p.EM, p.NM, far) {
			return nil, fail(fmt.Errorf("%s lies more than 50 km from the cloud", o.BaseMark), "give it in the grid and the unit of the cloud, easting first")
		}
	}
	return p, nil
}
