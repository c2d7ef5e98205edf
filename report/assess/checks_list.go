package assess

import (
	"fmt"
	"math"
	"strings"

	"sidelap/control"
	"sidelap/las"
	"sidelap/las/crs"
	"sidelap/report"
)

// readList reads a list of surveyed points in the cloud's system.
func readList(path string, o *Options, c *crs.CRS, fr *las.Frame, extent control.Box) (*control.List, error) {
	lo := control.ListOptions{Columns: strings.ToUpper(o.ColumnOrder), Extent: extent, Project: projector(c)}
	switch strings.ToLower(o.ListUnit) {
	case "m":
		lo.Unit = "m"
	case "ift":
		lo.Unit = "ft"
	case "usft":
		lo.Unit = "usft"
	}
	list, err := control.ReadList(path, lo)
	if err != nil {
		return nil, err
	}
	if lo.Unit == "" && list.UnitFrom == "assumed" && (fr.HorizontalM != 1 || fr.VerticalM != 1) {
		// A list beside a cloud in feet that names no unit is in the cloud's: practice of the trade, and said so.
		lo.Unit, lo.HeightUnit = unitLetter(fr.HorizontalM), unitLetter(fr.VerticalM)
		if lo.Unit == "" || lo.HeightUnit == "" {
			return nil, &SettingsError{Flag: "list-unit", Err: fmt.Errorf("%s names no unit, and the cloud's is unusual", path), Remedy: "state it: m, ift or usft"}
		}
		if list, err = control.ReadList(path, lo); err != nil {
			return nil, err
		}
		list.Warnings = append(list.Warnings, fmt.Sprintf("the list names no unit: taken as the cloud's (%s, heights %s)", lo.Unit, lo.HeightUnit))
	}
	if w := otherSystem(list, c); w != "" {
		list.Warnings = append(list.Warnings, w)
	}
	return list, nil
}

// otherSystem says when the list names another coordinate system than the cloud's; empty when it does not, or when one of them is not known.
func otherSystem(l *control.List, c *crs.CRS) string {
	cloud := c.Horizontal.EPSG
	zone, south := control.UTMZone(cloud)
	hemisphere := map[bool]string{false: "north", true: "south"}
	switch {
	case l.HeaderZone != 0 && zone != 0:
		if l.HeaderZone == zone && (l.HeaderAnyHemisphere || l.HeaderSouth == south) {
			return ""
		}
		named := fmt.Sprintf("%d %s", l.HeaderZone, hemisphere[l.HeaderSouth])
		if l.HeaderAnyHemisphere {
			named = fmt.Sprint(l.HeaderZone)
		}
		return fmt.Sprintf("the list names UTM zone %s (%q), the cloud lies in zone %d %s: its coordinates were taken as they stand", named, l.HeaderLine, zone, hemisphere[south])
	case l.HeaderEPSG != 0 && !l.Geodetic && cloud != 0 && l.HeaderEPSG != cloud:
		return fmt.Sprintf("the list names EPSG:%d, the cloud EPSG:%d: its coordinates were taken as they stand", l.HeaderEPSG, cloud)
	}
	return ""
}

func unitLetter(metres float64) string {
	switch {
	case math.Abs(metres-1) < 1e-9:
		return "m"
	case math.Abs(metres/0.3048-1) < 1e-9:
		return "ft"
	case math.Abs(metres/(1200.0/3937)-1) < 1e-9:
		return "usft"
	}
	return ""
}

// listRecord is how the list was understood, for the record.
func listRecord(l *control.List) *report.PointList {
	p := &report.PointList{Choice: l.Choice, Columns: report.Text(l.Columns), ColumnsFrom: report.Text(l.ColumnsFrom), Delimiter: report.Text(l.Delimiter),
		DecimalComma: l.DecimalComma, Unit: report.Text(l.Unit), HeightUnit: report.Text(l.HeightUnit), UnitFrom: report.Text(l.UnitFrom), Warnings: l.Warnings}
	for _, row := range l.Refused {
		p.Refused = append(p.Refused, fmt.Sprintf("line %d of the list is no point: %s", row.Row, row.Reason))
	}
	return p
}
