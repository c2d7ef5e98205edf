package field

import (
	"encoding/csv"
	"fmt"
	"io"
	"regexp"
	"strconv"
	"strings"
)

// tableHead are the columns of the list as a table; places are longitude and latitude in degrees, empty where the
// coordinate system is not known, and empty times are those of a planned line that was not flown.
var tableHead = []string{"number", "title", "strip", "part", "planned", "flown_from", "flown_to", "clock", "start_gps_s", "end_gps_s", "length_m", "minutes",
	"from_lon_deg", "from_lat_deg", "to_lon_deg", "to_lat_deg", "reasons"}

// WriteTable writes the list of strips to repeat as comma-separated values, a row each; a list without rows has its heading.
func (r *Report) WriteTable(w io.Writer) error {
	t := csv.NewWriter(w)
	if err := t.Write(tableHead); err != nil {
		return err
	}
	fixed := func(v float64, digits int) string { return strconv.FormatFloat(v, 'f', digits, 64) }
	for i := range r.Refly {
		it := &r.Refly[i]
		row := []string{strconv.Itoa(i + 1), r.itemTitle(it), it.Strip, strconv.FormatBool(it.Part), strconv.FormatBool(it.Planned), "", "", "", "", "",
			fixed(it.LengthM, 1), fixed(it.Minutes, 1), "", "", "", "", strings.Join(it.Reasons, "; ")}
		if !it.Planned {
			row[5], row[6], row[7] = r.Clock(it.StartS), r.Clock(it.EndS), r.ClockName()
			row[8], row[9] = fixed(r.GPSSeconds(it.StartS), 2), fixed(r.GPSSeconds(it.EndS), 2)
		}
		if n := len(it.Line); n > 1 && r.grid != nil && r.grid.proj != nil {
			for k, p := range [2]int{0, n - 1} {
				lat, lon, err := r.grid.proj.Inverse(it.Line[p][0], it.Line[p][1])
				if err != nil {
					return fmt.Errorf("%s: %w", row[1], err)
				}
				row[12+2*k], row[13+2*k] = fixed(lon*toDeg, 7), fixed(lat*toDeg, 7)
			}
		}
		for k := range row {
			row[k] = noFormula(row[k])
		}
		if err := t.Write(row); err != nil {
			return err
		}
	}
	t.Flush()
	return t.Error()
}

// plainNumber is what stays a number in a spreadsheet.
var plainNumber = regexp.MustCompile(`^[-+]?[0-9]+(\.[0-9]+)?$`)

// noFormula keeps text from a file, as a name of a strip, from becoming a formula in a spreadsheet: those begin with
// =, +, - or @, after a tab or a line end too. Numbers stay as they are.
//
// Source: OWASP, "CSV Injection" (the characters), from memory.
func noFormula(s string) string {
	if s == "" || !strings.Contains("=+-@\t\r\n", s[:1]) || plainNumber.MatchString(s) {
		return s
	}
	return "'" + s
}
