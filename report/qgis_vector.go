package report

import (
	"fmt"
	"html"
	"image/color"
)

// symbolLayer is one layer of a QGIS symbol: its class and properties in pairs.
func symbolLayer(class string, props []string, children ...string) string {
	list := make([]string, 0, len(props)/2+len(children))
	for i := 0; i+1 < len(props); i += 2 {
		list = append(list, element("prop", []string{"k", props[i], "v", props[i+1]}))
	}
	return element("layer", []string{"class", class, "enabled", "1", "locked", "0", "pass", "0"}, append(list, children...)...)
}

func symbol(name, kind string, layers ...string) string {
	return element("symbol", []string{"name", name, "type", kind, "alpha", "1", "clip_to_extent", "1", "force_rhr", "0"}, layers...)
}

// penLayer is a line; dash is "" or lengths in millimetres, "2;1".
func penLayer(c color.RGBA, widthMM float64, dash string) string {
	p := []string{"line_color", rgba(c, 255), "line_width", trimmed(widthMM, 2), "line_width_unit", "MM", "line_style", "solid"}
	if dash != "" {
		p = append(p, "use_custom_dash", "1", "customdash", dash, "customdash_unit", "MM")
	}
	return symbolLayer("SimpleLine", p)
}

// fillLayer is an area; brush is solid, or a hatch of Qt.
func fillLayer(c color.RGBA, alpha uint8, brush string) string {
	return symbolLayer("SimpleFill", []string{"color", rgba(c, alpha), "style", brush, "outline_style", "no"})
}

// markLayer is a mark of QGIS's own shapes.
func markLayer(shape string, c color.RGBA, sizeMM float64) string {
	return symbolLayer("SimpleMarker", []string{"name", shape, "color", rgba(c, 255), "outline_color", rgba(theme[haloColor], 255), "outline_width", "0.2", "size", trimmed(sizeMM, 2), "size_unit", "MM"})
}

// crossLayer is a mark made of lines.
func crossLayer(c color.RGBA, sizeMM float64) string {
	return symbolLayer("SimpleMarker", []string{"name", "cross2", "color", rgba(c, 255), "outline_color", rgba(c, 255), "outline_width", "0.5", "size", trimmed(sizeMM, 2), "size_unit", "MM"})
}

// barLayer is an upright bar as long as an attribute says.
func barLayer(attribute string, mmPerUnit float64, c color.RGBA) string {
	return symbolLayer("VectorField", []string{"x_attribute", "", "y_attribute", attribute, "scale", trimmed(mmPerUnit, 3), "distance_unit", "MM", "vector_field_type", "0"},
		symbol("@0@0", "line", penLayer(c, 0.8, "")))
}

// Where QGIS sets the texts of points, lines and areas.
const (
	besidePoint = "0"
	alongLine   = "2"
	acrossArea  = "4"
)

// labels writes an expression at each feature, with paper behind it.
func labels(place, expression string, sizePt float64, bold bool) string {
	weight := "50"
	if bold {
		weight = "75"
	}
	return element("labeling", []string{"type", "simple"}, element("settings", nil,
		element("text-style", []string{"fieldName", expression, "isExpression", "1", "fontSize", trimmed(sizePt, 1), "fontSizeUnit", "Point", "fontWeight", weight, "textColor", rgba(theme[inkColor], 255)},
			element("text-buffer", []string{"bufferDraw", "1", "bufferSize", "0.8", "bufferSizeUnits", "MM", "bufferColor", rgba(theme[haloColor], 255)})),
		element("placement", []string{"placement", place, "placementFlags", "1", "polygonPlacementFlags", "2"}),
		element("rendering", []string{"obstacle", "0"})))
}

// rule is a symbol for the features that a filter chooses; no filter: all.
type rule struct{ filter, label, symbol string }

// ruled is the style of a layer; order, when given, is the expression that the features are drawn by.
func ruled(kind, order string, rules []rule, extra ...string) string {
	var list, symbols []string
	for i, r := range rules {
		a := []string{"key", fmt.Sprintf("r%d", i), "symbol", fmt.Sprint(i), "label", r.label}
		if r.filter != "" {
			a = append(a, "filter", r.filter)
		}
		list = append(list, element("rule", a))
		symbols = append(symbols, symbol(fmt.Sprint(i), kind, r.symbol))
	}
	categories := "Symbology"
	if len(extra) > 0 {
		categories += "|Labeling"
	}
	return qml(categories, append([]string{element("renderer-v2", []string{"type", "RuleRenderer", "forceraster", "0", "symbollevels", "0", "enableorderby", map[bool]string{true: "1", false: "0"}[order != ""]},
		element("rules", []string{"key", "r"}, list...), element("symbols", nil, symbols...), element("orderby", nil, orderBy(order)...))}, extra...)...)
}

func orderBy(expression string) []string {
	if expression == "" {
		return nil
	}
	return []string{element("orderByClause", []string{"asc", "1", "nullsFirst", "1"}, html.EscapeString(expression))}
}

// vectorStyle returns the QGIS style of a layer of the GeoPackage.
func (v *view) vectorStyle(layer string) string {
	ink, muted := theme[inkColor], theme[mutedColor]
	switch layer {
	case "strips":
		return ruled("fill", "", []rule{{label: "strip", symbol: penLayer(muted, 0.3, "2;1.2")}})
	case "strip_lines":
		arrow := symbolLayer("MarkerLine", []string{"placement", "lastvertex", "rotate", "1"}, symbol("@0@1", "marker", symbolLayer("SimpleMarker",
			[]string{"name", "filled_arrowhead", "color", rgba(ink, 255), "outline_color", rgba(ink, 255), "size", "3", "size_unit", "MM"})))
		return ruled("line", "", []rule{{label: "strip, in flight direction", symbol: penLayer(ink, 0.3, "") + arrow}}, labels(alongLine, `"id"`, 9, true))
	case "overlaps":
		return v.overlapStyle()
	case "voids":
		return ruled("fill", "", []rule{{label: "no returns", symbol: penLayer(ink, 0.5, "0.5;0.8")}}, labels(acrossArea, `"id"`, 8, false))
	case "checkpoints":
		return v.checkStyle()
	case "findings":
		return ruled("marker", "", []rule{{label: "finding", symbol: markLayer("diamond", ink, 4)}}, labels(besidePoint, `"id"`, 8, false))
	case "path":
		return ruled("line", "", []rule{{label: "sensor path", symbol: penLayer(muted, 0.2, "")}})
	}
	return ""
}

// overlapStyle colours overlap regions by the median separation of their pair,
// with the levels of the maps and hatched beyond twice the limit.
func (v *view) overlapStyle() string {
	limitM, judged := v.scaleLimit()
	word := "limit"
	if !judged {
		word = "95th percentile"
	}
	at := func(k float64) string { return fixed(k*limitM, 3) }
	expression := func(k float64) string { return trimmed(k*limitM, 9) }
	edge := penLayer(theme[mutedColor], 0.2, "")
	area := func(k float64) string { return fillLayer(separationColor(k*limitM, limitM), 170, "solid") + edge }
	hatch := func(k float64, brush string) string {
		return fillLayer(separationColor(k*limitM, limitM), 170, "solid") + fillLayer(separationColor(k*limitM/4, limitM), 255, brush) + edge
	}
	between := func(lo, hi float64) string {
		return `"median_m" >= ` + expression(lo) + ` AND "median_m" < ` + expression(hi)
	}
	return ruled("fill", `abs("median_m")`, []rule{
		{`"median_m" < ` + expression(-2), v.later() + " strip lower by more than " + at(2) + " m, twice the " + word, hatch(-3, "b_diagonal")},
		{between(-2, -1), v.later() + " strip lower by " + at(1) + " to " + at(2) + " m, beyond the " + word, area(-1.5)},
		{between(-1, -0.5), v.later() + " strip lower by " + at(0.5) + " to " + at(1) + " m", area(-0.75)},
		{`abs("median_m") < ` + expression(0.5) + ` OR "median_m" = ` + expression(0.5), "within " + at(0.5) + " m", area(0)},
		{`"median_m" > ` + expression(0.5) + ` AND "median_m" <= ` + expression(1), v.later() + " strip higher by " + at(0.5) + " to " + at(1) + " m", area(0.75)},
		{`"median_m" > ` + expression(1) + ` AND "median_m" <= ` + expression(2), v.later() + " strip higher by " + at(1) + " to " + at(2) + " m, beyond the " + word, area(1.5)},
		{`"median_m" > ` + expression(2), v.later() + " strip higher by more than " + at(2) + " m, twice the " + word, hatch(3, "f_diagonal")},
		{`"median_m" IS NULL`, "not determined", edge},
	}, labels(acrossArea, `"a" || ' – ' || "b" || coalesce(': ' || format_number("median_m", 3) || ' m', '')`, 7, false))
}

// checkStyle draws check points as the maps do: shapes by cover, a bar up where
// the cloud lies above. A bar of 6 mm is the limit.
func (v *view) checkStyle() string {
	limitM, judged := v.checkLimit()
	note := ""
	if judged {
		note = ", 6 mm of bar: the limit, " + fixed(limitM, 3) + " m"
	}
	dark := theme[markColor]
	return ruled("marker", "", []rule{
		{`"used" AND "dz_m" > 0`, "cloud above" + note, barLayer("dz_m", 6/limitM, theme[highColor])},
		{`"used" AND "dz_m" < 0`, "cloud below", barLayer("dz_m", 6/limitM, theme[lowColor])},
		{`"used" AND "cover" <> 'vegetated'`, "open ground", markLayer("circle", dark, 2.2)},
		{`"used" AND "cover" = 'vegetated'`, "vegetation", markLayer("triangle", dark, 2.6)},
		{`NOT "used"`, "excluded", crossLayer(dark, 2.4)},
	}, labels(besidePoint, `"id"`, 8, false))
}
