package crs

import "fmt"

// Kind says what the horizontal coordinates are.
type Kind uint8

// The kinds of coordinates.
const (
	KindUnknown    Kind = iota // nothing usable is stated
	KindProjected              // easting and northing on a map projection
	KindGeographic             // longitude and latitude
	KindGeocentric             // Earth-centred X, Y, Z
	KindLocal                  // a local or engineering system
)

// String returns the kind in one word.
func (k Kind) String() string {
	switch k {
	case KindProjected:
		return "projected"
	case KindGeographic:
		return "geographic"
	case KindGeocentric:
		return "geocentric"
	case KindLocal:
		return "local"
	}
	return "unknown"
}

// HeightKind says what the vertical coordinates are measured from.
type HeightKind uint8

// The kinds of heights.
const (
	HeightUnknown     HeightKind = iota // no vertical part, or one that does not say
	HeightGravity                       // above a geoid or a levelled datum (orthometric, normal)
	HeightEllipsoidal                   // above the ellipsoid
)

// String returns the kind of height in one word.
func (h HeightKind) String() string {
	switch h {
	case HeightGravity:
		return "gravity-related"
	case HeightEllipsoidal:
		return "ellipsoidal"
	}
	return "unknown"
}

// CRS is the coordinate reference system of a cloud.
type CRS struct {
	Name       string      // as stated, or from the EPSG table
	Kind       Kind        // what x and y are
	Horizontal Reference   // the system of x and y
	Vertical   Reference   // the system of z; Name and EPSG are empty when none is stated
	Heights    HeightKind  // what z is measured from
	Datum      string      // geodetic datum or frame, e.g. "NAD83"; empty when unknown
	VertDatum  string      // vertical datum, e.g. "North American Vertical Datum 1988"; empty when unknown
	Geoid      string      // geoid model if one is named anywhere, e.g. "GEOID18"; empty when not
	Projection *Projection // nil unless Kind is KindProjected and the parameters are known
	Area       *Area       // where EPSG says the horizontal system is meant to be used; nil when unknown
	WKT        string      // as read; empty when the file states no WKT
	Notes      []string    // what is missing, contradictory or assumed: one sentence each
}

// Reference names one part of a CRS.
type Reference struct {
	Name string
	EPSG int // code of the EPSG dataset; 0 = unknown
	Unit Unit
}

// Area is a region in geographic coordinates, degrees. WestDeg > EastDeg when it
// crosses the 180th meridian.
type Area struct {
	Name                                 string
	SouthDeg, NorthDeg, WestDeg, EastDeg float64
}

// Unknown returns the CRS of a file that states none: metres are assumed for both
// parts, and the notes say so after the given ones.
func Unknown(notes ...string) *CRS {
	c := &CRS{Notes: notes}
	c.finish()
	return c
}

// Metres returns how many metres one horizontal and one vertical unit are. ok is
// false when the horizontal coordinates are angles, which have no fixed length:
// such a cloud must be projected before distances can be taken from it.
func (c *CRS) Metres() (horizontalM, verticalM float64, ok bool) {
	return c.Horizontal.Unit.M, c.Vertical.Unit.M, c.Horizontal.Unit.M > 0 && c.Vertical.Unit.M > 0
}

// VerticalStated reports whether the file says which vertical system its heights
// are in. Without one no absolute statement about heights can be made.
func (c *CRS) VerticalStated() bool {
	return c.Vertical.EPSG != 0 || c.VertDatum != "" || c.Heights != HeightUnknown
}

const noHorizontal = "no horizontal system stated"

// String returns the CRS in one line for a list.
func (c *CRS) String() string {
	part := func(r Reference, none string) string {
		s := r.Name
		switch {
		case s != "":
		case c.Projection != nil && none == noHorizontal:
			s = "unnamed " + c.Projection.Name
		default:
			s = none
		}
		if r.EPSG != 0 {
			s = fmt.Sprintf("%s (EPSG:%d)", s, r.EPSG)
		}
		unit := r.Unit.Name
		if !r.Unit.Stated {
			unit += ", assumed"
		}
		return s + " [" + unit + "]"
	}
	return part(c.Horizontal, noHorizontal) + " + " + part(c.Vertical, "no vertical system stated")
}

func (c *CRS) note(format string, args ...any) {
	s := fmt.Sprintf(format, args...)
	for _, n := range c.Notes {
		if n == s {
			return
		}
	}
	c.Notes = append(c.Notes, s)
}
