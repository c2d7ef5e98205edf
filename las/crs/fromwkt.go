package crs

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
)

var (
	compoundWords   = []string{"COMPD_CS", "COMPOUNDCRS"}
	projectedWords  = []string{"PROJCS", "PROJCRS", "PROJECTEDCRS"}
	geographicWords = []string{"GEOGCS", "GEOGCRS", "GEOGRAPHICCRS"}
	geodeticWords   = []string{"GEODCRS", "GEODETICCRS"}
	geocentricWords = []string{"GEOCCS"}
	verticalWords   = []string{"VERT_CS", "VERTCS", "VERTCRS", "VERTICALCRS"}
	localWords      = []string{"LOCAL_CS", "ENGCRS", "ENGINEERINGCRS"}
	lengthWords     = []string{"UNIT", "LENGTHUNIT"}
	angleWords      = []string{"UNIT", "ANGLEUNIT"}
)

// FromWKT reads WKT 1, its dialect without AUTHORITY nodes, or WKT 2. Trailing NULs
// and blanks are ignored. Text without any usable part is an error; unusual text
// that still has one is read and noted.
func FromWKT(s string) (*CRS, error) {
	s = strings.TrimSpace(strings.Trim(s, "\x00"))
	if i := strings.IndexByte(s, 0); i >= 0 {
		s = strings.TrimSpace(s[:i]) // garbage after the terminator
	}
	s = strings.TrimPrefix(s, "\ufeff")
	roots, odd, err := parseWKT(s)
	if err != nil {
		return nil, err
	}
	c := &CRS{WKT: s}
	if odd {
		c.note("the brackets of the WKT do not match; what could be read was used")
	}
	whole := &node{kids: roots}
	compound := whole.find(compoundWords...)
	if compound != nil {
		applyCompoundCode(compound)
	}
	horizontal := c.readHorizontal(whole)
	vertical := c.readVerticalNode(whole)
	if !horizontal && !vertical {
		return nil, fmt.Errorf("WKT: no projected, geographic, geocentric, local or vertical system in %q", clip(s))
	}
	if compound != nil {
		c.Name = compound.name()
		switch {
		case horizontal && !vertical:
			if f := fields("C", compound.epsg(), 3); f == nil || !c.useVertical(atoi(f[1])) {
				c.note("the compound system has no vertical part")
			}
		case vertical && !horizontal:
			c.note("the compound system has no horizontal part")
		}
	}
	if c.Name == "" {
		c.Name = c.Horizontal.Name
	}
	if c.Name == "" {
		c.Name = c.Vertical.Name
	}
	c.finish()
	return c, nil
}

// applyCompoundCode gives the parts of a compound system that state no code of
// their own the codes that follow from the code of the whole.
func applyCompoundCode(compound *node) {
	f := fields("C", compound.epsg(), 3)
	if f == nil {
		return
	}
	give := func(code string, keywords ...[]string) {
		k := compound.kid(slices.Concat(keywords...)...)
		if k != nil && k.epsg() == 0 {
			k.kids = append(k.kids, &node{keyword: "ID", values: []string{"EPSG", code}})
		}
	}
	give(f[0], projectedWords, geographicWords, geodeticWords)
	give(f[1], verticalWords)
}

func (c *CRS) readHorizontal(whole *node) bool {
	if n := whole.find(projectedWords...); n != nil {
		c.readProjected(n)
		return true
	}
	if n := whole.find(geographicWords...); n != nil {
		c.readGeographic(n)
		return true
	}
	if n := whole.find(geodeticWords...); n != nil {
		if cs := n.kid("CS"); cs != nil && strings.EqualFold(cs.name(), "Cartesian") {
			c.readGeocentric(n)
		} else {
			c.readGeographic(n)
		}
		return true
	}
	if n := whole.find(geocentricWords...); n != nil {
		c.readGeocentric(n)
		return true
	}
	if n := whole.find(localWords...); n != nil {
		c.Kind = KindLocal
		c.Horizontal = Reference{Name: n.name(), EPSG: n.epsg()}
		c.readLengthUnit(n, "horizontal", &c.Horizontal)
		return true
	}
	return false
}

func (c *CRS) readProjected(n *node) {
	c.Kind = KindProjected
	c.Horizontal = Reference{Name: n.name(), EPSG: n.epsg()}
	c.readLengthUnit(n, "horizontal", &c.Horizontal)
	c.Projection = c.readProjection(n)
	c.readThirdAxis(n)
	if d := n.find("DATUM", "ENSEMBLE", "TRF", "GEODETICDATUM"); d != nil {
		c.Datum = d.name()
	}
	c.checkAgainstTable()
	if p := c.Projection; p != nil && p.Method == MethodUnknown {
		c.note("the map projection %q is not known here: grid north and place on Earth are unknown", clip(p.Name))
	}
}

// checkAgainstTable compares unit and projection with those of the EPSG code that
// the file names, and fills what the file leaves out.
func (c *CRS) checkAgainstTable() {
	code := c.Horizontal.EPSG
	if code == 0 {
		c.noteLikely()
		return
	}
	var t CRS
	if !t.useProjected(code) {
		if otherKind(code, "P") {
			c.Horizontal.EPSG = 0
			c.note("the code EPSG:%d of the projected system is that of another kind of object: left out", code)
			return
		}
		c.note("EPSG:%d is not a projected system of %s; the parameters in the file are used as they stand", code, TableVersion())
		return
	}
	c.Area = t.Area
	u := c.Horizontal.Unit
	switch {
	case u.M == 0:
		c.Horizontal.Unit = t.Horizontal.Unit
	case !u.Equal(t.Horizontal.Unit):
		c.unitConflict("horizontal", "the WKT", u, code, t.Horizontal.Name, t.Horizontal.Unit, siblingProjected(code, u))
	}
	switch {
	case c.Projection == nil || c.Projection.Method == MethodUnknown:
		c.Projection = t.Projection
	case t.Projection != nil && c.Projection.Method == t.Projection.Method && !c.Projection.sameMap(t.Projection):
		c.note("the projection parameters in the file differ from those of EPSG:%d (%s); the parameters in the file are used", code, t.Horizontal.Name)
	}
}

// noteLikely names EPSG systems with the same projection and unit when the file
// names none. It decides nothing: systems of one projection can differ in datum.
func (c *CRS) noteLikely() {
	best, bestScore := 0, -1
	text := c.Name + " " + c.Horizontal.Name + " " + c.Datum
	for _, code := range c.SameProjection() {
		f := fields("P", code, 7)
		g, _ := tableGeodetic(atoi(f[0]))
		score := 0
		if strings.Contains(text, strconv.Itoa(code)) {
			score = 100
		}
		if f[3] == "en" {
			score++
		}
		if strings.Contains(reduce(text), reduce(g.name)) {
			score += 2 + len(g.name)
		}
		if score > bestScore {
			best, bestScore = code, score
		}
	}
	if best != 0 {
		c.note("no EPSG code stated; projection, ellipsoid and unit are those of EPSG:%d (%s), and perhaps of others", best, fields("P", best, 7)[6])
	}
}

func (c *CRS) readGeographic(n *node) {
	c.Kind = KindGeographic
	c.Horizontal = Reference{Name: n.name(), EPSG: n.epsg()}
	if rad, name, ok := angleUnit(n); ok {
		c.Horizontal.Unit = Unit{Name: name, Rad: rad, Stated: true}
		if near(rad, degree.Rad, 1e-9) {
			c.Horizontal.Unit = stated(degree)
		}
	}
	if d := n.find("DATUM", "ENSEMBLE", "TRF", "GEODETICDATUM"); d != nil {
		c.Datum = d.name()
	}
	c.readThirdAxis(n)
	if code := c.Horizontal.EPSG; otherKind(code, "G") {
		c.Horizontal.EPSG = 0
		c.note("the code EPSG:%d of the geographic system is that of another kind of object: left out", code)
	}
	if g, ok := tableGeodetic(c.Horizontal.EPSG); ok && g.kind == '3' && c.Heights == HeightUnknown {
		c.useEllipsoidal(Metre())
	}
}

// readThirdAxis recognises a system of three axes, whose third is the ellipsoidal height.
func (c *CRS) readThirdAxis(n *node) {
	cs := n.kid("CS")
	if cs == nil {
		return
	}
	if dim, ok := cs.number(1); !ok || dim != 3 {
		return
	}
	c.useEllipsoidal(c.Horizontal.Unit)
	if c.Vertical.Unit.M == 0 {
		c.Vertical.Unit = Metre()
	}
	for _, a := range n.kids { // the height is the last axis with a unit of its own
		if a.keyword == "AXIS" && a.kid("LENGTHUNIT") != nil {
			c.readLengthUnit(a, "vertical", &c.Vertical)
		}
	}
}

func (c *CRS) readGeocentric(n *node) {
	c.Kind = KindGeocentric
	c.Horizontal = Reference{Name: n.name(), EPSG: n.epsg()}
	c.readLengthUnit(n, "coordinate", &c.Horizontal)
	if c.Horizontal.Unit.M == 0 {
		c.Horizontal.Unit = metre
		c.note("no unit stated for geocentric coordinates: metres assumed")
	}
	c.Vertical.Unit = c.Horizontal.Unit
	if d := n.find("DATUM", "ENSEMBLE"); d != nil {
		c.Datum = d.name()
	}
}

// readLengthUnit reads the unit that is a child of n, or of one of its axes.
func (c *CRS) readLengthUnit(n *node, part string, r *Reference) {
	u := n.kid(lengthWords...)
	for _, k := range n.kids {
		if u == nil && k.keyword == "AXIS" {
			u = k.kid(lengthWords...)
		}
	}
	if u == nil {
		return
	}
	factor, ok := u.number(1)
	if code := u.epsg(); !ok && code != 0 {
		if t, found := unitByCode(code); found && t.M > 0 {
			factor = t.M
		}
	}
	if l := c.lengthUnit(part, u.name(), factor); l.M > 0 {
		r.Unit = l
	}
}

func angleUnit(n *node) (rad float64, name string, ok bool) {
	u := n.kid(angleWords...)
	for _, k := range n.kids {
		if u == nil && k.keyword == "AXIS" {
			u = k.kid(angleWords...)
		}
	}
	if u == nil {
		return 0, "", false
	}
	v, ok := u.number(1)
	// A factor of 1 is the radian only if it says so: files with UNIT["metres",1] here mean degrees.
	if !ok || v <= 0 || v > 0.1 && !strings.HasPrefix(strings.ToLower(u.name()), "rad") {
		return 0, "", false
	}
	return v, u.name(), true
}

func (c *CRS) readVerticalNode(whole *node) bool {
	n := whole.find(verticalWords...)
	if n == nil {
		return false
	}
	c.Vertical = Reference{Name: n.name(), EPSG: n.epsg(), Unit: c.Vertical.Unit}
	c.readLengthUnit(n, "vertical", &c.Vertical)
	if d := n.find("VERT_DATUM", "VDATUM", "VERTICALDATUM", "VERTDATUM", "VRF", "ENSEMBLE", "DATUM"); d != nil {
		c.VertDatum = d.name()
		c.Heights = HeightGravity
		// WKT 1 datum type 2002: ellipsoidal; a geodetic DATUM inside a vertical system says the same.
		if t, ok := d.number(1); ok && t == 2002 || d.keyword == "DATUM" {
			c.Heights = HeightEllipsoidal
		}
	}
	if g := n.find("GEOIDMODEL"); g != nil {
		c.Geoid = g.name()
	}
	if strings.EqualFold(c.VertDatum, "unknown") || strings.EqualFold(c.VertDatum, "unnamed") {
		c.VertDatum, c.Heights = "", HeightUnknown
	}
	if strings.Contains(strings.ToLower(c.Vertical.Name), "ellipsoid") {
		c.Heights = HeightEllipsoidal
	}
	c.checkVertical()
	return true
}

// checkVertical compares the vertical unit with that of the stated EPSG code.
func (c *CRS) checkVertical() {
	var t CRS
	if code := c.Vertical.EPSG; otherKind(code, "V") {
		c.Vertical.EPSG = 0
		c.note("the code EPSG:%d of the vertical system is that of another kind of object: left out", code)
	}
	if c.Vertical.EPSG == 0 || !t.useVertical(c.Vertical.EPSG) {
		return
	}
	if c.VertDatum == "" {
		c.VertDatum = t.VertDatum
	}
	if c.Heights == HeightUnknown {
		c.Heights = t.Heights
	}
	u := c.Vertical.Unit
	switch {
	case u.M == 0:
		c.Vertical.Unit = t.Vertical.Unit
	case !u.Equal(t.Vertical.Unit):
		c.unitConflict("vertical", "the WKT", u, c.Vertical.EPSG, t.Vertical.Name, t.Vertical.Unit, siblingVertical(c.Vertical.EPSG, u))
	}
}
