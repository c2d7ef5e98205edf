package crs

import (
	"fmt"
	"math"
	"strings"
)

// FromEPSG returns the CRS with an EPSG code: projected, compound, geographic,
// geocentric, or vertical (horizontal part then unknown). An unknown code is an error.
func FromEPSG(code int) (*CRS, error) {
	c := &CRS{}
	switch {
	case c.useProjected(code):
	case c.useGeodetic(code):
	case c.useVertical(code):
	default:
		f := fields("C", code, 3)
		if f == nil {
			return nil, fmt.Errorf("EPSG code %d is not a projected, compound, geodetic or vertical CRS of %s", code, TableVersion())
		}
		if h := atoi(f[0]); !c.useProjected(h) && !c.useGeodetic(h) {
			return nil, fmt.Errorf("EPSG code %d: horizontal part EPSG:%d is of a kind that is not supported", code, h)
		}
		if !c.useVertical(atoi(f[1])) {
			return nil, fmt.Errorf("EPSG code %d: vertical part EPSG:%s is of a kind that is not supported", code, f[1])
		}
		c.Name = f[2]
	}
	c.finish()
	return c, nil
}

// useProjected fills the horizontal part from a projected CRS of the table.
func (c *CRS) useProjected(code int) bool {
	f := fields("P", code, 7)
	if f == nil {
		return false
	}
	u, ok := unitByCode(atoi(f[2]))
	if !ok || u.M == 0 {
		return false
	}
	c.Kind = KindProjected
	c.Name = f[6]
	c.Horizontal = Reference{Name: f[6], EPSG: code, Unit: stated(u)}
	c.Area = tableArea(atoi(f[5]))
	if strings.Contains(f[4], "d") {
		c.note("EPSG:%d (%s) is deprecated in the EPSG dataset", code, f[6])
	}
	if f[3] == "ws" || f[3] == "sw" {
		c.note("the axes of EPSG:%d (%s) point west and south; whether the file follows that cannot be seen from its header", code, f[6])
	}
	g, ok := tableGeodetic(atoi(f[0]))
	if !ok {
		return true
	}
	c.Datum = g.datum
	if p, ok := tableConversion(atoi(f[1])); ok {
		p.Ellipsoid = g.ellipsoid
		p.PrimeMeridianRad = g.pmDeg * math.Pi / 180
		c.Projection = p
	}
	return true
}

// tableConversion returns a conversion of the table; the ellipsoid is left empty.
func tableConversion(code int) (*Projection, bool) {
	f := fields("X", code, 3)
	if f == nil {
		return nil, false
	}
	p := &Projection{Method: Method(atoi(f[0])), ScaleFactor: 1}
	p.Name = table()["M"][int(p.Method)]
	for s := range strings.FieldsSeq(f[1]) {
		k, v, _ := strings.Cut(s, "=")
		code, value := atoi(k), atof(v)
		if parameterKind(code) == 'a' {
			value *= math.Pi / 180
		}
		p.set(code, value)
	}
	return p, true
}

// useGeodetic fills the horizontal part from a geographic or geocentric CRS.
func (c *CRS) useGeodetic(code int) bool {
	g, ok := tableGeodetic(code)
	if !ok {
		return false
	}
	c.Name, c.Datum = g.name, g.datum
	c.Horizontal = Reference{Name: g.name, EPSG: code, Unit: stated(g.unit)}
	switch g.kind {
	case 'C':
		c.Kind = KindGeocentric
		c.Vertical.Unit = c.Horizontal.Unit
	case '3':
		c.Kind = KindGeographic
		c.useEllipsoidal(Metre())
	default:
		c.Kind = KindGeographic
	}
	return true
}

func (c *CRS) useEllipsoidal(u Unit) {
	c.Heights = HeightEllipsoidal
	c.Vertical.Name = "ellipsoidal height"
	c.Vertical.Unit = u
}

// useVertical fills the vertical part from a vertical CRS of the table.
func (c *CRS) useVertical(code int) bool {
	f := fields("V", code, 5)
	if f == nil {
		return false
	}
	u, ok := unitByCode(atoi(f[0]))
	if !ok || u.M == 0 {
		return false
	}
	c.Vertical = Reference{Name: f[4], EPSG: code, Unit: stated(u)}
	c.Heights = HeightGravity
	_, c.VertDatum, _ = strings.Cut(f[3], " ")
	if c.Name == "" {
		c.Name = f[4]
	}
	if strings.Contains(f[1], "n") {
		c.note("EPSG:%d (%s) counts depths, positive down", code, f[4])
	}
	return true
}
