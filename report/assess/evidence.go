package assess

import (
	"fmt"
	"math"
	"slices"
	"time"

	"sidelap/control"
	"sidelap/control/blunder"
	"sidelap/control/geoid"
	"sidelap/las"
)

const baseSpot, standingSpot = "base mark", "standing place"

// plan decides, before the points are read, what beside the check points has to be looked at.
func (j *job) plan() error {
	if j.checks == nil {
		return nil
	}
	if j.o.GeoidFile != "" {
		g, err := geoid.Open(j.o.GeoidFile)
		if err != nil {
			return &SettingsError{Flag: "geoid", Err: err}
		}
		j.geoid = g
		if p := projection(j.crs); p == nil {
			j.rec.Warnings = append(j.rec.Warnings, "--geoid: the projection of the cloud is not known: the grid could not be used; give the separation as a number")
			j.geoid = nil
		}
	}
	j.markTargets()
	fr := j.files[0].Frame()
	if j.o.BaseMarkGiven {
		j.mark = &control.Point{ID: baseSpot, EM: j.o.BaseMark[0] * fr.HorizontalM, NM: j.o.BaseMark[1] * fr.HorizontalM, ZM: j.o.BaseMark[2] * fr.VerticalM}
	} else if p, ok := j.headerMark(); ok {
		j.mark = &p
	}
	if j.mark != nil {
		j.spots = append(j.spots, *j.mark)
	}
	if p, ok := j.standing(); ok {
		j.spots = append(j.spots, p)
	}
	if worthMoving(j.checks.Points) { // also beside a cloud in metres: a list in metres may once have been in either foot
		j.moved = blunder.FootPlaces(j.checks.Points)
	}
	return nil
}

// separation is the height of the geoid over the ellipsoid, from the grid or the number given.
func (j *job) separation(eM, nM float64) (nSepM float64, ok bool) {
	if j.geoid == nil {
		return j.o.GeoidM, j.o.GeoidM != 0
	}
	lat, lon, err := projection(j.crs).Inverse(eM, nM)
	if err != nil {
		return 0, false
	}
	return j.geoid.At(lat, lon)
}

// headerPlace is the position in the base log's header in the cloud's grid and the cloud's heights, as far as the
// separation is known.
func (j *job) headerPlace() (p control.Point, heights, ok bool) {
	if j.base == nil {
		return p, false, false
	}
	lat, lon, h, ok := j.base.Position()
	project := projector(j.crs)
	if !ok || project == nil {
		return p, false, false
	}
	e, n, err := project(lat, lon)
	if err != nil {
		return p, false, false
	}
	p = control.Point{ID: baseSpot, EM: e, NM: n, ZM: math.NaN()}
	if sep, known := j.separation(e, n); known {
		p.ZM, heights = h-sep, true
	}
	return p, heights, true
}

// headerMark is the base mark by the header of the log: useful only with a height, and coarse.
func (j *job) headerMark() (control.Point, bool) {
	p, heights, ok := j.headerPlace()
	if !ok || !heights {
		return p, false
	}
	return p, true
}

// headerSigmaM is the standard deviation of a height in the header of a log: often an average of single positions,
// 0.5 to 5 m off. Source: common practice.
const headerSigmaM = 2.5

// Standing: slower than standingMPS for standingS seconds, no higher than standingHighM over the lowest of the path.
const (
	standingMPS   = 0.2
	standingS     = 5.0
	standingHighM = 3.0
)

// standing finds where the path stands on the ground: its place, and its height in ZM.
func (j *job) standing() (p control.Point, ok bool) {
	if j.track == nil {
		return p, false
	}
	path, err := j.inGrid()
	if err != nil || len(path.TimeS) < 3 {
		return p, false
	}
	low := slices.Min(path.HM)
	from := -1
	for i := range path.TimeS {
		still := path.HM[i] < low+standingHighM
		if still && i > 0 {
			dt := path.TimeS[i] - path.TimeS[i-1]
			still = dt > 0 && dt < 2 && math.Hypot(path.EM[i]-path.EM[i-1], path.NM[i]-path.NM[i-1])/dt < standingMPS
		}
		switch {
		case !still:
			from = -1
		case from < 0:
			from = i
		case path.TimeS[i]-path.TimeS[from] >= standingS:
			return control.Point{ID: standingSpot, EM: control.Median(path.EM[from : i+1]), NM: control.Median(path.NM[from : i+1]), ZM: control.Median(path.HM[from : i+1])}, true
		}
	}
	return p, false
}

// evidence adds what was gathered for the rules to e.
func (j *job) evidence(e *blunder.Evidence, g *gathered, targets []blunder.Target) {
	e.GeoidM, e.PolesM, e.FlightDate, e.Targets = j.o.GeoidM, j.o.PolesM, j.flightDate(), targets
	if j.geoid != nil {
		e.GeoidModel = j.geoid.Path
		e.GeoidGrid = j.separation
		if v, ok := j.separation((j.extent.MinEM+j.extent.MaxEM)/2, (j.extent.MinNM+j.extent.MaxNM)/2); ok {
			e.GeoidM = v
		}
	}
	if p := projection(j.crs); p != nil && !e.FlightDate.IsZero() && !j.extent.Empty() {
		if lat, lon, err := p.Inverse((j.extent.MinEM+j.extent.MaxEM)/2, (j.extent.MinNM+j.extent.MaxNM)/2); err == nil {
			e.Datums = blunder.DatumCandidates(lat, lon, p.Convergence(lat, lon), yearOf(e.FlightDate))
		}
	}
	for i, m := range j.moved {
		e.Alternatives = append(e.Alternatives, blunder.Alternative{ID: m.ID, Name: m.Name, Points: j.movedPart(g.checks, i).Evaluate(control.DefaultEvaluateOptions()).Points})
	}
	if r := j.layers.Relief; r != nil {
		var z []float64
		for _, v := range r.Values {
			if v := float64(v); !math.IsNaN(v) {
				z = append(z, v)
			}
		}
		if len(z) > 0 {
			e.CloudZM = control.Median(z)
		}
	}
	spots := j.spotPart(g.checks)
	if spots == nil {
		return
	}
	ground := spots.Evaluate(control.DefaultEvaluateOptions()).Points
	for i := range ground {
		s := &ground[i]
		z := groundAt(spots, i, s)
		switch s.ID {
		case baseSpot:
			e.Base = j.baseEvidence(z)
		case standingSpot:
			j.pathEvidence(e, s.Point, z)
		}
	}
}

// groundAt is the height of the ground at a spot where something may have stood: the triangulated ground, else a low
// percentile of the returns around it; NaN without.
func groundAt(c *control.Collector, i int, s *control.PointResult) float64 {
	returns, _ := c.Returns(i)
	var z []float64
	classified := false
	for k := range returns {
		classified = classified || returns[k].Class == 2
		if returns[k].DistM2 <= 0.25 {
			z = append(z, returns[k].ZM)
		}
	}
	if classified && !math.IsNaN(s.CloudZM) {
		return s.CloudZM
	}
	return control.Quantile(z, 0.1)
}

func (j *job) baseEvidence(groundM float64) *blunder.Base {
	b := &blunder.Base{EM: j.mark.EM, NM: j.mark.NM, ZM: j.mark.ZM, HeaderDistanceM: -1, GroundM: groundM, HasGround: !math.IsNaN(groundM)}
	if !j.o.BaseMarkGiven {
		b.SigmaM = headerSigmaM
		return b
	}
	if p, heights, ok := j.headerPlace(); ok {
		b.HeaderDistanceM = math.Hypot(p.EM-b.EM, p.NM-b.NM)
		if heights {
			b.HeaderDistanceM = math.Hypot(b.HeaderDistanceM, p.ZM-b.ZM)
		}
	}
	return b
}

// pathEvidence compares the path where it stands with the ground there. Heights that are known to be over the
// ellipsoid say nothing without a separation.
func (j *job) pathEvidence(e *blunder.Evidence, at control.Point, groundM float64) {
	h := at.ZM
	if j.track.Ellipsoidal {
		sep, ok := j.separation(at.EM, at.NM)
		if !ok {
			return
		}
		h -= sep
	}
	p := &blunder.HeightEvidence{}
	if !math.IsNaN(groundM) {
		p.GroundClearanceM, p.Standing = h-groundM, true
	}
	e.Path = p
}

// flightDate is the date given, else that of the points' adjusted GPS time; zero when neither is known.
func (j *job) flightDate() time.Time {
	if !j.o.FlightDate.IsZero() {
		return j.o.FlightDate
	}
	for i, a := range j.audits {
		if t := j.rec.Inputs[i].StartGPSS; t != nil && a.Base == las.TimeAdjusted {
			return gpsDate(*t + las.AdjustedOffsetS)
		}
	}
	return time.Time{}
}

// yearOf is a date in years.
func yearOf(t time.Time) float64 { return float64(t.Year()) + float64(t.YearDay()-1)/365.25 }

// evidenceNotes tells the record what was given for the rules.
func (j *job) evidenceNotes() {
	c := j.rec.Checkpoints
	switch {
	case j.geoid != nil:
		c.Notes = append(c.Notes, fmt.Sprintf("geoid separation from %s (%s)", j.geoid.Path, j.geoid.Format))
	case j.o.GeoidM != 0:
		c.Notes = append(c.Notes, fmt.Sprintf("geoid separation given: %.2f m", j.o.GeoidM))
	}
	if j.mark != nil && !j.o.BaseMarkGiven {
		c.Notes = append(c.Notes, "base mark from the header of the base log: metres off, as a rule; --base-mark gives it")
	}
}
