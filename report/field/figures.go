package field

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"sidelap/trajectory/fieldcheck"
)

// figure writes a value with its unit; counts carry none, since the title says what is counted.
func figure(v float64, unit string) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return "–"
	}
	s := number(v)
	switch unit {
	case "s", "m", "m²", "km", "%", "/m²":
		return s + "\u00a0" + unit
	case "deg":
		return s + "°"
	case "x":
		return s + " times"
	case "x limit":
		return s + " of limit"
	}
	return s + counts[unit]
}

// counts are what is counted where a title does not say it.
var counts = map[string]string{"strips missing or short": " affected", "lines missing": " missing", "files with faults": " with faults", "points not seen": " not seen", "faults": " found"}

// number writes three figures, more for whole numbers.
func number(v float64) string {
	if v == math.Trunc(v) && math.Abs(v) < 1e7 || math.Abs(v) >= 100 {
		return strconv.FormatFloat(v, 'f', 0, 64)
	}
	if math.Abs(v) < 0.0005 {
		return "0"
	}
	s := strconv.FormatFloat(v, 'f', max(0, 2-int(math.Floor(math.Log10(math.Abs(v))))), 64)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	return s
}

// found is the value of a check for a person.
func found(c *fieldcheck.Check) string {
	switch {
	case math.IsNaN(c.Value) && c.Result == fieldcheck.Go:
		return "yes"
	case math.IsNaN(c.Value):
		return "no"
	case c.Value == 0 && c.Limit == 0:
		return "none"
	case c.ID == "sidelap" && c.Value < 0:
		return fmt.Sprintf("open by %.0f\u00a0%%", -c.Value)
	}
	return figure(c.Value, c.Unit)
}

// wanted is the limit of a check for a person.
func wanted(c *fieldcheck.Check) string {
	switch {
	case math.IsNaN(c.Limit):
		return ""
	case c.Sense == fieldcheck.AtLeast:
		return "at least " + figure(c.Limit, c.Unit)
	case c.Limit == 0:
		return "none"
	case c.Unit == "x limit":
		return "at most 1"
	}
	return "at most " + figure(c.Limit, c.Unit)
}
