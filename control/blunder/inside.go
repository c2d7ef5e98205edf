package blunder

import (
	"fmt"
	"math"

	"sidelap/control"
	"sidelap/las/crs"
	"sidelap/trajectory/geodesy"
)

// footRatio is metres over international feet, the factor of a whole file in the other unit.
const footRatio = 1 / 0.3048

// insideBufferM grows the cloud's outline. Source: practice, our proposal.
const insideBufferM = 10

// transform moves list coordinates to where they would be if a blunder were undone.
type transform struct {
	id, name string
	into     func(eM, nM float64) (float64, float64, bool)
	decide   string
}

// inside runs the rules on place: swapped columns (B3), another zone, hemisphere or projection (B4), feet for metres (B2).
func (r *run) inside() {
	in := r.e.Inside
	if in == nil && !r.e.Extent.Empty() {
		in = func(e, n float64) bool { return r.e.Extent.Contains(e, n, insideBufferM) }
	}
	if in == nil || len(r.e.Points) == 0 {
		for _, id := range []string{"B2", "B3", "B4"} {
			r.needs(id, "outline of the cloud and points")
		}
		return
	}
	r.ran("B2", "B3", "B4")
	asRead := r.insideShare(in, func(e, n float64) (float64, float64, bool) { return e, n, true })
	swap := func(e, n float64) (float64, float64, bool) { return n, e, true }
	if asRead > 0.1 {
		if swapped := r.insideShare(in, swap); asRead > 0.9 && swapped > 0.9 {
			r.note(Finding{ID: "B3", Title: "order of easting and northing is open", Severity: Notice,
				Text:     "the points lie inside the cloud in both orders of the columns; the order as read is used",
				Observed: fmt.Sprintf("%.0f %% inside as read, %.0f %% swapped", 100*asRead, 100*swapped), Predicted: "inside in one order only",
				DecideBy: "the order of the columns on the field sheet, or one point that can be seen in the cloud"})
		}
		return
	}
	candidates := append([]transform{{"B3", "easting and northing swapped", swap, "the order of the columns on the field sheet"}}, r.placeCandidates()...)
	for _, c := range candidates {
		share := r.insideShare(in, c.into)
		if share <= 0.9 {
			continue
		}
		r.gross = true
		r.note(Finding{ID: c.id, Title: c.name, Severity: Serious,
			Text:     fmt.Sprintf("no point lies in the cloud as read (%.0f %%), %.0f %% do if %s", 100*asRead, 100*share, c.name),
			Observed: fmt.Sprintf("inside as read %.0f %%", 100*asRead), Predicted: fmt.Sprintf("inside %.0f %%", 100*share),
			ChancePct: r.placeChance(c, len(candidates)), DecideBy: c.decide})
	}
	if !r.gross {
		r.note(Finding{ID: "B4", Title: "points lie outside the cloud", Severity: Serious,
			Text:     fmt.Sprintf("%.0f %% of the points lie in the cloud, and no swap, unit, zone or hemisphere that was tried brings them in", 100*asRead),
			Observed: fmt.Sprintf("inside %.0f %%", 100*asRead), Predicted: fmt.Sprintf("%d ways tried", len(candidates)),
			DecideBy: "the coordinate system of the list, in writing from the surveyor"})
		r.gross = true
	}
}

// insideShare is the share of points inside after a transform.
func (r *run) insideShare(in func(e, n float64) bool, f func(e, n float64) (float64, float64, bool)) float64 {
	k := 0
	for i := range r.e.Points {
		if e, n, ok := f(r.e.Points[i].EM, r.e.Points[i].NM); ok && in(e, n) {
			k++
		}
	}
	return float64(k) / float64(len(r.e.Points))
}

// placeChance estimates how often transforms as large as this one would bring the points into the
// cloud by luck: number tried x area of the cloud over the circle of the move, per cent.
func (r *run) placeChance(c transform, tried int) float64 {
	p := &r.e.Points[0]
	e, n, ok := c.into(p.EM, p.NM)
	if !ok || r.e.Extent.Empty() {
		return math.NaN()
	}
	b := r.e.Extent
	area := (b.MaxEM - b.MinEM + 2*insideBufferM) * (b.MaxNM - b.MinNM + 2*insideBufferM)
	d := math.Hypot(e-p.EM, n-p.NM)
	if d == 0 {
		return 100
	}
	return min(100, 100*float64(tried)*area/(math.Pi*d*d))
}

// placeCandidates are the transforms of B4 and of B2 in position.
func (r *run) placeCandidates() []transform {
	shift := func(dn float64) func(e, n float64) (float64, float64, bool) {
		return func(e, n float64) (float64, float64, bool) { return e, n + dn, true }
	}
	scale := func(f float64) func(e, n float64) (float64, float64, bool) {
		return func(e, n float64) (float64, float64, bool) { return e * f, n * f, true }
	}
	const unit = "the unit of the list and of the cloud, in writing"
	const crs = "the coordinate system of the list, in writing from the surveyor"
	list := []transform{
		{"B2", "the list is in feet and was read as metres", scale(0.3048), unit},
		{"B2", "the list is in metres and was read as feet", scale(footRatio), unit},
		{"B4", "the list lacks the false northing of 10 000 000 m", shift(1e7), crs},
		{"B4", "the list has a false northing of 10 000 000 m too much", shift(-1e7), crs},
	}
	for _, p := range r.e.Reproject {
		list = append(list, transform{"B4", "the list is in " + p.Name, p.Into, crs})
	}
	list = append(list, r.degreeCandidates(crs)...)
	return append(list, r.zoneCandidates(crs)...)
}

// degreeCandidates reads coordinates as latitude and longitude when all could be.
func (r *run) degreeCandidates(decide string) []transform {
	project := r.projector()
	if project == nil {
		return nil
	}
	for i := range r.e.Points {
		if p := &r.e.Points[i]; math.Abs(p.EM) > 180 || math.Abs(p.NM) > 180 {
			return nil
		}
	}
	degrees := func(lat, lon float64) (float64, float64, bool) {
		if math.Abs(lat) > 90 {
			return 0, 0, false
		}
		e, n, err := project(lat*math.Pi/180, lon*math.Pi/180)
		return e, n, err == nil
	}
	return []transform{
		{"B4", "the list holds longitude and latitude in degrees", func(e, n float64) (float64, float64, bool) { return degrees(n, e) }, decide},
		{"B4", "the list holds latitude and longitude in degrees", func(e, n float64) (float64, float64, bool) { return degrees(e, n) }, decide},
	}
}

// projector returns the projection into the cloud's CRS: the caller's, or UTM of the stated zone.
func (r *run) projector() func(lat, lon float64) (float64, float64, error) {
	if r.e.Project != nil {
		return r.e.Project
	}
	if r.e.Zone < 1 || r.e.Zone > 60 {
		return nil
	}
	p, err := utm(r.e.Zone, r.e.South)
	if err != nil {
		return nil
	}
	return p.Forward
}

// utm is the projector of a zone. The datum does not matter to whether a point lies in the cloud.
func utm(zone int, south bool) (*geodesy.Projector, error) {
	p := &crs.Projection{Method: crs.TransverseMercator, Ellipsoid: crs.Ellipsoid{Name: "GRS 1980", A: 6378137, InvF: 298.257222101},
		ScaleFactor: 0.9996, LonOriginRad: float64(6*zone-183) * math.Pi / 180, FalseEastingM: 500000}
	if south {
		p.FalseNorthingM = 1e7
	}
	return geodesy.New(p)
}

// zoneCandidates reads the list in UTM zones near the cloud's, in both hemispheres.
func (r *run) zoneCandidates(decide string) []transform {
	project := r.projector()
	zone := r.e.Zone
	if zone == 0 && (r.e.LatDeg != 0 || r.e.LonDeg != 0) {
		zone = int(math.Floor((r.e.LonDeg+180)/6)) + 1
	}
	if project == nil || zone < 1 || zone > 60 {
		return nil
	}
	var list []transform
	for _, dz := range []int{-1, 1, 0, -2, 2} {
		z := (zone-1+dz+60)%60 + 1
		for _, north := range []bool{!r.e.South, r.e.South} {
			if r.e.Zone != 0 && dz == 0 {
				continue // the cloud's own zone; its other hemisphere is the false northing
			}
			back, err := utm(z, !north)
			if err != nil {
				continue
			}
			letter := map[bool]string{true: "N", false: "S"}[north]
			list = append(list, transform{"B4", fmt.Sprintf("the list is in UTM zone %d%s", z, letter), func(e, n float64) (float64, float64, bool) {
				lat, lon, err := back.Inverse(e, n)
				if err != nil {
					return 0, 0, false
				}
				eo, no, err := project(lat, lon)
				return eo, no, err == nil
			}, decide})
		}
	}
	return list
}

// feetHeight tests whether the cloud's heights are a constant multiple of the surveyed ones (B2).
func (r *run) feetHeight() {
	s := &r.series
	if s.n() < 3 {
		r.needs("B2", "three check points with a height in the cloud")
		return
	}
	r.ran("B2")
	ratio := make([]float64, s.n())
	heights := make([]float64, s.n())
	for k, i := range s.index {
		heights[k] = r.e.Points[i].ZM
		ratio[k] = r.e.Points[i].CloudZM / heights[k]
	}
	med, spread := control.Median(ratio), control.NMAD(ratio)
	h := math.Abs(control.Median(heights))
	for _, c := range []struct {
		f    float64
		name string
	}{{footRatio, "the cloud's heights are feet read as metres, or the list's heights are metres read as feet"},
		{0.3048, "the list's heights are feet read as metres, or the cloud's heights are metres read as feet"}} {
		if math.Abs(med/c.f-1) > 0.002 || spread/c.f > 0.01 || h <= 5*noise(heights, ratio, c.f) {
			continue
		}
		p := make([]float64, s.n())
		for k := range p {
			p[k] = heights[k] * (c.f - 1)
		}
		r.gross, r.constant = true, true
		r.add(Finding{ID: "B2", Title: "heights in feet and metres", Severity: Serious, Text: c.name,
			Observed:  fmt.Sprintf("cloud over survey %.5f, spread %.2f %%", med, 100*spread/c.f),
			Predicted: fmt.Sprintf("%.5f", c.f), ChancePct: 100 * 2 * 0.004 / math.Log(100),
			DecideBy: "the vertical unit of the cloud and of the list, in writing"}, p)
	}
}

// noise is the robust spread of the heights after the factor is taken out.
func noise(heights, ratio []float64, f float64) float64 {
	d := make([]float64, len(heights))
	for i := range d {
		d[i] = heights[i] * (ratio[i]/f - 1)
	}
	return control.NMAD(d)
}
