package crs

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"unicode/utf8"
)

// GeoTIFF keys and the numbers of their records.
//
// Source: GeoTIFF 1.0, section 6.2; OGC GeoTIFF 1.1 (19-008r4).
const (
	recordDoubles = 34736
	recordASCII   = 34737

	keyModelType       = 1024
	keyRasterType      = 1025
	keyCitation        = 1026
	keyGeodeticCRS     = 2048
	keyGeogCitation    = 2049
	keyGeodeticDatum   = 2050
	keyPrimeMeridian   = 2051
	keyAngularUnit     = 2054
	keyAngularSize     = 2055
	keyEllipsoid       = 2056
	keySemiMajor       = 2057
	keySemiMinor       = 2058
	keyInvFlattening   = 2059
	keyPrimeMeridianLn = 2061
	keyProjectedCRS    = 3072
	keyPCSCitation     = 3073
	keyConversion      = 3074
	keyMethod          = 3075
	keyLinearUnit      = 3076
	keyLinearSize      = 3077
	keyVerticalCRS     = 4096
	keyVertCitation    = 4097
	keyVerticalDatum   = 4098
	keyVerticalUnit    = 4099

	userDefined = 32767
)

// geoKeys holds a key directory after its references were resolved.
type geoKeys struct {
	short  map[int]int
	double map[int]float64
	ascii  map[int]string
}

// code returns a key's code, or 0 when absent, undefined (0) or user-defined.
// 65535 occurs as "unknown".
func (k geoKeys) code(key int) int {
	if v := k.short[key]; v != userDefined && v != 65535 {
		return v
	}
	return 0
}

// FromGeoKeys reads the key directory, double parameters and ASCII parameters of
// the records LASF_Projection 34735, 34736 and 34737 (the last two may be nil).
//
// A directory that is cut short is read as far as it goes. Without one usable key
// it is an error.
func FromGeoKeys(directory []uint16, doubles []float64, ascii []byte) (*CRS, error) {
	c := &CRS{}
	keys, err := c.resolve(directory, doubles, ascii)
	if err != nil {
		return nil, err
	}
	c.readHorizontalKeys(keys)
	c.readVerticalKeys(keys)
	if c.Name == "" {
		c.Name = usefulCitation(keys.ascii[keyCitation])
	}
	for _, s := range keys.ascii {
		if c.Geoid == "" {
			c.Geoid = geoidIn(s)
		}
	}
	c.finish()
	return c, nil
}

func (c *CRS) resolve(dir []uint16, doubles []float64, ascii []byte) (geoKeys, error) {
	k := geoKeys{map[int]int{}, map[int]float64{}, map[int]string{}}
	if len(dir) < 4 {
		return k, fmt.Errorf("GeoTIFF key directory has %d values; its header alone has 4", len(dir))
	}
	if dir[0] != 1 {
		return k, fmt.Errorf("GeoTIFF key directory has version %d; only version 1 is defined", dir[0])
	}
	n := int(dir[3])
	if have := (len(dir) - 4) / 4; n > have {
		c.note("the GeoTIFF key directory promises %d keys and holds %d", n, have)
		n = have
	}
	for i := range n {
		e := dir[4+4*i : 8+4*i]
		id, place, count, value := int(e[0]), e[1], int(e[2]), int(e[3])
		switch {
		case id == 0: // filler
		case place == 0:
			if _, twice := k.short[id]; !twice {
				k.short[id] = value
			}
		case place == recordDoubles && count >= 1 && value < len(doubles):
			if v := doubles[value]; !math.IsNaN(v) && !math.IsInf(v, 0) {
				k.double[id] = v
			}
		case place == recordASCII && value < len(ascii):
			k.ascii[id] = cleanASCII(ascii[value:min(value+count, len(ascii))])
		default:
			c.note("GeoTIFF key %d points outside its record", id)
		}
	}
	if len(k.short)+len(k.double)+len(k.ascii) == 0 {
		return k, errors.New("GeoTIFF key directory holds no key")
	}
	return k, nil
}

// cleanASCII ends a string at its separator or NUL and turns bytes that are not
// UTF-8 into the characters of Latin-1, which such writers use.
func cleanASCII(b []byte) string {
	s, _, _ := strings.Cut(string(b), "\x00")
	s, _, _ = strings.Cut(s, "|")
	if !utf8.ValidString(s) {
		r := make([]rune, len(s))
		for i := range len(s) {
			r[i] = rune(s[i])
		}
		s = string(r)
	}
	return strings.TrimSpace(s)
}

// usefulCitation drops citations that say nothing and the labels some writers put before a name.
func usefulCitation(s string) string {
	if label, name, ok := strings.Cut(s, " = "); ok && (label == "GCS Name" || label == "PCS Name") {
		s = name
	}
	switch strings.ToLower(s) {
	case "unknown", "unnamed", "none", "null", "n/a":
		return ""
	}
	return s
}

func (c *CRS) readHorizontalKeys(k geoKeys) {
	citation := usefulCitation(k.ascii[keyPCSCitation])
	if citation == "" {
		citation = usefulCitation(k.ascii[keyCitation])
	}
	unit := c.linearUnit(k)
	projected, geodetic := k.code(keyProjectedCRS), k.code(keyGeodeticCRS)
	switch {
	case projected != 0:
		c.projectedByCode(projected, citation, unit)
	case k.short[keyModelType] == 1:
		c.Kind = KindProjected
		c.Horizontal = Reference{Name: citation, Unit: unit}
		c.Projection = c.projectionFromKeys(k)
		if c.Projection != nil {
			c.noteLikely()
		} else {
			c.note("the projected system is stated without a code or parameters: grid north and place on Earth are unknown")
		}
	case k.short[keyModelType] == 2 || geodetic != 0 && k.short[keyModelType] != 3:
		c.geographicByCode(geodetic, k)
	case k.short[keyModelType] == 3:
		if geodetic == 0 || !c.useGeodetic(geodetic) {
			c.Kind = KindGeocentric
			c.Horizontal = Reference{Name: citation, Unit: unit}
			c.Vertical.Unit = unit
		}
		c.Kind = KindGeocentric
	default:
		c.Horizontal = Reference{Name: citation, Unit: unit}
		if unit.M > 0 {
			c.note("no horizontal coordinate reference system stated, only a unit (%s): place on Earth unknown", plural(unit))
		}
	}
	if g, ok := tableGeodetic(geodetic); ok && c.Datum == "" {
		c.Datum = g.datum
	}
	if c.Datum == "" {
		c.Datum = usefulCitation(k.ascii[keyGeogCitation])
	}
}

// linearUnit returns the unit of key 3076 or 3077, or none.
func (c *CRS) linearUnit(k geoKeys) Unit {
	size, hasSize := k.double[keyLinearSize]
	code := k.code(keyLinearUnit)
	if code == 0 {
		if hasSize && size > 0 {
			return c.lengthUnit("horizontal", "user-defined", size)
		}
		return Unit{}
	}
	u, ok := unitByCode(code)
	if !ok || u.M == 0 {
		if f := fields("P", code, 7); f != nil {
			c.note("the linear unit key holds %d, which is no unit but the code of %s: probably written into the wrong key, and not used", code, f[6])
		} else {
			c.note("the linear unit key holds %d, which is no unit of length", code)
		}
		return Unit{}
	}
	if hasSize && !near(size, u.M, 1e-5) {
		c.note("the linear unit key says %s but the unit size key says %.10g m: the unit key is used", plural(u), size)
	} else if hasSize && u.Foot() && !near(size, u.M, 2e-7) {
		c.note("the linear unit key says %s but the unit size key has the other foot, %.10g m: the unit key is used", plural(u), size)
	}
	return stated(u)
}

func (c *CRS) projectedByCode(code int, citation string, unit Unit) {
	var t CRS
	switch {
	case c.useProjected(code):
	case fields("C", code, 3) != nil:
		f := fields("C", code, 3)
		c.note("the projected CRS key holds the compound code %d (%s)", code, f[2])
		c.useProjected(atoi(f[0]))
		c.useVertical(atoi(f[1]))
		c.Name = f[2]
	case t.useGeodetic(code):
		c.note("the projected CRS key holds %d, a geodetic system (%s)", code, t.Name)
		c.useGeodetic(code)
		return
	default:
		c.Kind = KindProjected
		c.Horizontal = Reference{Name: citation, EPSG: code}
		c.note("code %d is not in %s; the projection is unknown", code, TableVersion())
	}
	tableUnit := c.Horizontal.Unit
	switch {
	case unit.M == 0:
	case tableUnit.M == 0:
		c.Horizontal.Unit = unit
	case !unit.Equal(tableUnit):
		c.Horizontal.Unit = unit
		c.unitConflict("horizontal", "the unit key", unit, code, c.Horizontal.Name, tableUnit, siblingProjected(code, unit))
	}
}

func (c *CRS) geographicByCode(code int, k geoKeys) {
	if code == 0 || !c.useGeodetic(code) {
		c.Kind = KindGeographic
		c.Horizontal = Reference{Name: usefulCitation(k.ascii[keyGeogCitation]), EPSG: code}
	}
	if u, ok := unitByCode(k.code(keyAngularUnit)); ok && u.Rad > 0 {
		c.Horizontal.Unit = stated(u)
	}
}

// verticalOld maps the vertical codes of GeoTIFF 1.0, section 6.3.4.1, that are not
// those of EPSG vertical systems. From memory.
var verticalOld = map[int]int{5101: 5701, 5102: 5702, 5103: 5703, 5104: 5736, 5105: 5705, 5106: 5706}

func (c *CRS) readVerticalKeys(k geoKeys) {
	citation := usefulCitation(k.ascii[keyVertCitation])
	code := k.code(keyVerticalCRS)
	_, isEPSG := table()["V"][code]
	switch {
	case code == 0:
	case isEPSG:
		c.useVertical(code)
	case code >= 5001 && code <= 5033: // GeoTIFF 1.0: heights above a named ellipsoid
		c.useEllipsoidal(Unit{})
	case verticalOld[code] != 0:
		c.note("the vertical key holds %d, the code of a datum (or of GeoTIFF 1.0): read as EPSG:%d", code, verticalOld[code])
		c.useVertical(verticalOld[code])
	default:
		c.Vertical.EPSG = code
		c.note("vertical code %d is not in %s", code, TableVersion())
	}
	if c.Vertical.Name == "" {
		c.Vertical.Name = citation
	}
	if c.VertDatum == "" && c.Heights == HeightUnknown {
		c.datumFromCitation(citation, k.code(keyVerticalDatum))
	}
	c.verticalUnitKey(k)
}

// datumFromCitation takes the vertical datum from key 4098 or from the citation.
func (c *CRS) datumFromCitation(citation string, datum int) {
	for _, line := range table()["V"] {
		f := strings.Split(line, "\t")
		if code, name, _ := strings.Cut(f[len(f)-2], " "); datum != 0 && atoi(code) == datum {
			c.VertDatum, c.Heights = name, HeightGravity
			return
		}
	}
	if citation != "" {
		c.VertDatum, c.Heights = citation, HeightGravity
		if strings.Contains(strings.ToLower(citation), "ellips") {
			c.Heights = HeightEllipsoidal
		}
	}
}

func (c *CRS) verticalUnitKey(k geoKeys) {
	code := k.code(keyVerticalUnit)
	if code == 0 {
		return
	}
	u, ok := unitByCode(code)
	if !ok || u.M == 0 {
		c.note("the vertical unit key holds %d, which is no unit of length", code)
		return
	}
	if t := c.Vertical.Unit; t.M > 0 && !t.Equal(u) {
		c.unitConflict("vertical", "the unit key", u, c.Vertical.EPSG, c.Vertical.Name, t, siblingVertical(c.Vertical.EPSG, u))
	}
	c.Vertical.Unit = stated(u)
}
