package report

import (
	"fmt"
	"html"
	"image/color"
	"math"
	"strings"
)

// Styles for QGIS in the look of the reports: a .qml file beside each raster and
// a row of the table layer_styles in the GeoPackage for each layer. QGIS applies
// both by itself; other programs pass them over.

// element returns an XML element: attributes are pairs of name and value.
func element(name string, attributes []string, children ...string) string {
	var b strings.Builder
	b.WriteString("<" + name)
	for i := 0; i+1 < len(attributes); i += 2 {
		b.WriteString(" " + attributes[i] + `="` + html.EscapeString(attributes[i+1]) + `"`)
	}
	if len(children) == 0 {
		b.WriteString("/>")
	} else {
		b.WriteString(">" + strings.Join(children, "\n") + "</" + name + ">")
	}
	return b.String()
}

// qml is the document of one style.
func qml(categories string, children ...string) string {
	return element("qgis", []string{"version", "3.22", "styleCategories", categories}, children...) + "\n"
}

// rgba is a colour as QGIS writes it in symbols.
func rgba(c color.RGBA, alpha uint8) string {
	return fmt.Sprintf("%d,%d,%d,%d", c.R, c.G, c.B, alpha)
}

// shadeItem is a place of a colour ramp.
type shadeItem struct {
	at    float64
	c     color.RGBA
	label string
}

// rampStyle is a raster in the colours of a ramp, interpolated between its items.
func rampStyle(items []shadeItem) string {
	list := make([]string, len(items))
	for i, x := range items {
		list[i] = element("item", []string{"value", trimmed(x.at, 9), "color", hexOf(x.c), "alpha", "255", "label", x.label})
	}
	lo, hi := trimmed(items[0].at, 9), trimmed(items[len(items)-1].at, 9)
	return qml("Symbology", element("pipe", nil,
		element("rasterrenderer", []string{"type", "singlebandpseudocolor", "band", "1", "alphaBand", "-1", "opacity", "1", "classificationMin", lo, "classificationMax", hi},
			element("rastershader", nil,
				element("colorrampshader", []string{"colorRampType", "INTERPOLATED", "classificationMode", "1", "clip", "0", "minimumValue", lo, "maximumValue", hi}, list...)))))
}

// separationStyle colours separations as the reports do: steps at the limit and
// at twice the limit, both named.
func separationStyle(limitM float64, judged bool) string {
	name := func(at float64) string {
		s := fixed(at, 3) + " m"
		switch k := math.Abs(at / limitM); {
		case at == 0:
			return "0 m: the strips agree"
		case !judged && k == 1:
			return s + ": 95th percentile, no limit given"
		case k == 1:
			return s + ": limit"
		case k == 2 && judged:
			return s + ": twice the limit"
		}
		return s
	}
	var items []shadeItem
	for i := len(lowerStops) - 1; i > 0; i-- {
		s := lowerStops[i]
		x := shadeItem{-s.at * limitM, s.c, name(-s.at * limitM)}
		if s.at == lowerStops[i-1].at { // the outer side of a step
			x.at, x.label = x.at*(1+1e-6), "beyond "+x.label
		}
		items = append(items, x)
	}
	for i, s := range higherStops {
		x := shadeItem{s.at * limitM, s.c, name(s.at * limitM)}
		if i > 0 && s.at == higherStops[i-1].at {
			x.at, x.label = x.at*(1+1e-6), "beyond "+x.label
		}
		items = append(items, x)
	}
	return rampStyle(items)
}

// amountStyle colours an amount from zero to top.
func amountStyle(top float64, decimals int, unit string) string {
	items := make([]shadeItem, len(amountStops))
	for i, s := range amountStops {
		items[i] = shadeItem{s.at * top, s.c, fixed(s.at*top, decimals) + " " + unit}
	}
	return rampStyle(items)
}

// flagReasons names the flags of cells, in the order of overlap.CellFlag's bits.
var flagReasons = []struct {
	name string
	c    color.RGBA
}{{"steep", rgb(0x9fabf0)}, {"rough", rgb(0xe7bd85)}, {"thin", rgb(0xcfd3d6)}, {"extrapolated", rgb(0x86b7b3)}, {"planes disagree", rgb(0x7b2d63)}, {"isolated", rgb(0x1c222b)}}

// flagStyle names why a cell was not compared; of several reasons the first
// gives the colour.
func flagStyle(g *Grid) string {
	seen := map[int]bool{}
	for _, v := range g.Values {
		if v == v && v >= 0 && v < 255 {
			seen[int(v)] = true
		}
	}
	var list []string
	for f := range 255 {
		if !seen[f] {
			continue
		}
		c, name, alpha := rgb(0xf6f3ec), "compared", "60"
		var names []string
		for i := len(flagReasons) - 1; i >= 0; i-- {
			if f&(1<<i) != 0 {
				names = append([]string{flagReasons[i].name}, names...)
				c, alpha = flagReasons[i].c, "255"
			}
		}
		if len(names) > 0 {
			name = strings.Join(names, ", ")
		}
		list = append(list, element("paletteEntry", []string{"value", fmt.Sprint(f), "color", hexOf(c), "alpha", alpha, "label", name}))
	}
	return qml("Symbology", element("pipe", nil, element("rasterrenderer", []string{"type", "paletted", "band", "1", "alphaBand", "-1", "opacity", "1"},
		element("colorPalette", nil, list...))))
}

// usedStyle covers with white what entered no statistic.
func usedStyle() string {
	return qml("Symbology", element("pipe", nil, element("rasterrenderer", []string{"type", "paletted", "band", "1", "alphaBand", "-1", "opacity", "1"},
		element("colorPalette", nil,
			element("paletteEntry", []string{"value", "0", "color", "#ffffff", "alpha", "160", "label", "not compared"}),
			element("paletteEntry", []string{"value", "1", "color", "#ffffff", "alpha", "0", "label", "compared"})))))
}

// reliefStyle shades heights lit from the north-west. Heights are metres, pixels
// in the unit of the CRS: the factor brings both together.
func reliefStyle(unitM float64) string {
	return qml("Symbology", element("pipe", nil, element("rasterrenderer", []string{"type", "hillshade", "band", "1", "alphaBand", "-1", "opacity", "1",
		"azimuth", "315", "angle", "45", "zfactor", trimmed(1.5/unitM, 9), "multidirection", "0"})))
}

// style returns the QGIS style of a raster, "" for one that brings its own colours.
func (v *view) style(f *rasterFile, unitM float64) string {
	limitM, judged := v.scaleLimit()
	switch f.kind {
	case "separation", "separation_pair", "separation_before":
		return separationStyle(limitM, judged)
	case "density":
		if top, decimals := amountTop(f.grid, false); top > 0 {
			return amountStyle(top, decimals, "first returns per m²")
		}
	case "strips":
		if top, decimals := amountTop(f.grid, true); top > 0 {
			return amountStyle(top, decimals, "strips")
		}
	case "intensity":
		if top, decimals := amountTop(f.grid, false); top > 0 {
			return amountStyle(top, decimals, "intensity")
		}
	case "flags_pair":
		return flagStyle(f.grid)
	case "used", "used_before":
		return usedStyle()
	case "relief":
		return reliefStyle(unitM)
	}
	return ""
}
