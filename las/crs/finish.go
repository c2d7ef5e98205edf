package crs

import (
	"regexp"
	"strings"
)

// finish fills what was not stated with assumptions and notes each of them. It is
// the last step of every constructor.
func (c *CRS) finish() {
	c.assumeHorizontal()
	c.assumeVertical()
	c.noteFoot()
	c.noteVerticalNames()
	if c.Projection != nil && c.Projection.Method == PseudoMercator {
		c.note("Web Mercator stretches horizontal lengths by 1/cos(latitude): areas, densities and slopes in it are wrong; project the cloud into a national grid or UTM")
	}
	if c.Geoid == "" {
		c.Geoid = geoidIn(c.Vertical.Name, c.VertDatum, c.Name)
	}
}

func (c *CRS) assumeHorizontal() {
	if c.Horizontal.Unit.M > 0 || c.Horizontal.Unit.Rad > 0 {
		return
	}
	switch c.Kind {
	case KindGeographic:
		c.Horizontal.Unit = degree
		c.note("no angular unit stated: degrees assumed")
	case KindUnknown:
		c.Horizontal.Unit = metre
		c.note("no horizontal coordinate reference system stated: metres assumed, place on Earth unknown")
	default:
		c.Horizontal.Unit = metre
		c.note("no horizontal unit stated: metres assumed")
	}
}

func (c *CRS) assumeVertical() {
	if c.Kind == KindGeocentric { // one unit for all three axes, a length
		if !(c.Horizontal.Unit.M > 0) {
			c.Horizontal.Unit = metre
			c.note("geocentric coordinates are lengths, the unit stated is an angle: metres assumed")
		}
		if !(c.Vertical.Unit.M > 0) {
			c.Vertical.Unit = c.Horizontal.Unit
		}
		return
	}
	if !c.VerticalStated() {
		c.note("no vertical coordinate reference system stated: heights cannot be tied to a datum (ask which vertical datum and geoid model were used)")
	}
	if c.Vertical.Unit.M > 0 {
		return
	}
	c.Vertical.Unit = metre
	if c.Horizontal.Unit.M > 0 {
		c.Vertical.Unit = c.Horizontal.Unit
		c.Vertical.Unit.Stated = false
	}
	as := ", as horizontally"
	if c.Horizontal.Unit.M == 0 {
		as = ""
	}
	c.note("no vertical unit stated: %s assumed%s", plural(c.Vertical.Unit), as)
}

// noteFoot warns where "foot" leaves open which foot is meant.
//
// The two feet differ by 2.000004e-6: 12 ft at a coordinate of 6 000 000 ft. For
// heights the difference is below a centimetre everywhere on land.
func (c *CRS) noteFoot() {
	u := c.Horizontal.Unit
	if !u.Stated || !near(u.M, InternationalFootM, 1e-9) || c.Horizontal.EPSG != 0 {
		return
	}
	for _, s := range []string{c.Name, c.Horizontal.Name} {
		if l := strings.ToLower(s); strings.Contains(l, "intl") || strings.Contains(l, "international") {
			return
		}
	}
	if len(c.SameProjection()) > 0 {
		return // a system in international feet with this projection exists
	}
	c.note("horizontal unit is a foot of 0.3048 m (international) without an EPSG code that confirms it: if the job is in US survey feet, coordinates differ by 2 parts in a million, 12 ft at 6 000 000 ft")
}

var geoidName = regexp.MustCompile(`(?i)\b(x?g?geoid[ _-]?\d{2,4}[a-z]?|geoid model of \d{4}|egm[ _-]?\d{2,4}|gcg[ _-]?\d{2,4}|cgg[ _-]?\d{2,4}a?|cgvd2013a?|hbg[ _-]?\d{2,4}|rac[ _-]?\d{2}|raf[ _-]?\d{2}|osgm[ _-]?\d{2}|ausgeoid[ _-]?\d{2,4}|nlgeo[ _-]?\d{2,4}|quasigeoid[ _-]?\w+)|(geo(?:id)?[ _-]?\d{2}[a-z]?)(?:_|\b)`)

// geoidIn returns the name of a geoid model found in one of the strings, or "".
func geoidIn(names ...string) string {
	for _, s := range names {
		// Underscores are word characters to a regular expression but separators here.
		if m := geoidName.FindString(strings.ReplaceAll(s, "_", " ")); m != "" {
			return strings.TrimSpace(m)
		}
	}
	return ""
}

// onlyGeoid reports whether a name is that of a geoid model and nothing else.
func onlyGeoid(s string) bool {
	g := geoidIn(s)
	if g == "" {
		return false
	}
	rest := reduce(strings.Replace(strings.ReplaceAll(s, "_", " "), g, "", 1))
	for _, w := range []string{"geoid", "model", "height", "undulation"} {
		rest = strings.ReplaceAll(rest, w, "")
	}
	return len(rest) < 3
}

// noteVerticalNames tells of vertical parts that name the wrong kind of thing.
func (c *CRS) noteVerticalNames() {
	d := c.VertDatum
	switch {
	case d == "":
	case strings.ContainsAny(d, `/\`):
		c.note("the vertical datum is given as a file, %q: the datum itself is not named", d)
	case c.Vertical.EPSG == 0 && onlyGeoid(d):
		c.note("the vertical datum is given as the geoid model %q: a geoid model is not a datum", d)
	}
}

func plural(u Unit) string {
	switch {
	case u.Equal(metre):
		return "metres"
	case u.Equal(internationalFoot):
		return "international feet"
	case u.Equal(surveyFoot):
		return "US survey feet"
	}
	return u.Name
}
