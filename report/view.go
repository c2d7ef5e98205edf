package report

import (
	"fmt"
	"math"
	"reflect"
	"slices"
	"strconv"
	"strings"
)

// absent is how a value that was not determined is shown.
const absent = "–"

// view gives access to the record by key, so that what is shown is a field of
// the record by construction, and knows the units of the reader.
type view struct {
	rec    *Record
	values map[string]reflect.Value
	flat   foot // of places and lengths over ground
	high   foot // of heights
}

// foot is the foot that lengths are repeated in; the zero value: they stay in metres.
type foot struct {
	m    float64
	name string // "ftUS" or "ft"
}

func (f foot) ok() bool { return f.m > 0 }

// footOf is the foot that a unit is; known is false when the unit is neither a foot nor the metre.
func footOf(unitM *float64) (f foot, known bool) {
	switch u := Get(unitM); {
	case math.Abs(u-0.3048) < 1e-9:
		return foot{u, "ft"}, true
	case math.Abs(u-1200./3937) < 1e-9:
		return foot{u, "ftUS"}, true
	default:
		return foot{}, u == 1
	}
}

func newView(rec *Record) *view {
	v := &view{rec: rec, values: map[string]reflect.Value{}}
	// Walk only fails when visit does.
	_ = Walk(rec, func(key string, x reflect.Value) error {
		v.values[key] = x
		return nil
	})
	var flatKnown, highKnown bool
	v.flat, flatKnown = footOf(rec.CRS.HorizontalUnitM)
	v.high, highKnown = footOf(rec.CRS.VerticalUnitM)
	switch { // of a unit that the record does not know, as of the other
	case !flatKnown:
		v.flat = v.high
	case !highKnown:
		v.high = v.flat
	}
	return v
}

// foot is the foot that the length at key is repeated in: that of x and y for places and lengths over ground, that of
// heights for all others.
func (v *view) foot(key string) foot {
	key = strings.TrimSuffix(key, "\x00")
	last := key[strings.LastIndexByte(key, '.')+1:]
	switch {
	case strings.HasSuffix(last, "_e_m"), strings.HasSuffix(last, "_n_m"), slices.Contains(flatKeys, last):
		return v.flat
	case strings.HasPrefix(key, "checkpoints.horizontal.") && last != "dz_m":
		return v.flat
	}
	return v.high
}

// flatKeys are lengths over ground, and so are those of check targets; all others are heights.
var flatKeys = []string{"e_m", "n_m", "length_m", "width_m", "dx_m", "dy_m", "east_m", "north_m", "sigma_east_m", "sigma_north_m", "rmse_x_m", "rmse_y_m", "mean_x_m", "mean_y_m", "nearest_m", "diagonal_m",
	"cell_m", "nominal_spacing_m", "place_radius_m", "checkpoint_radius_m"}

// criterionFoot is the foot of a criterion in metres: only the error of targets in plan lies over ground.
func (v *view) criterionFoot(id string) foot {
	if id == "horizontal_rmse" {
		return v.flat
	}
	return v.high
}

// timed tells whether the strips have times: without, none of a pair is the earlier one.
func (v *view) timed() bool {
	for i := range v.rec.Strips {
		if v.rec.Strips[i].StartGPSS != nil {
			return true
		}
	}
	return len(v.rec.Strips) == 0
}

// later is the word for the strip whose height is the first in a separation, earlier that for the other.
func (v *view) later() string {
	if v.timed() {
		return "later"
	}
	return "second"
}

func (v *view) earlier() string {
	if v.timed() {
		return "earlier"
	}
	return "first"
}

// num returns the number at key, NaN when it was not determined.
func (v *view) num(key string) float64 {
	x, ok := v.values[key]
	switch {
	case !ok:
		return math.NaN()
	case x.CanFloat():
		return x.Float()
	case x.CanInt():
		return float64(x.Int())
	}
	return math.NaN()
}

// text returns the text or answer at key, "" when it was not determined.
func (v *view) text(key string) string {
	x, ok := v.values[key]
	switch {
	case !ok:
		return ""
	case x.Kind() == reflect.String:
		return x.String()
	case x.Kind() == reflect.Bool:
		if x.Bool() {
			return "yes"
		}
		return "no"
	}
	return v.show(key, decimalsShown(key), 1)
}

// show formats the number at key, divided by unit, with so many decimals.
// Counts get thin groups of three digits.
func (v *view) show(key string, decimals int, unit float64) string {
	x, ok := v.values[key]
	if !ok {
		return absent
	}
	switch {
	case x.CanInt():
		return group(x.Int())
	case strings.HasSuffix(key, "cell_m"): // a setting: as it was chosen
		return trimmed(v.num(key)/unit, 3)
	}
	if f := v.num(key) / unit; decimals == 0 && math.Abs(f) < 1e15 {
		return group(int64(math.Round(f)))
	}
	return fixed(v.num(key)/unit, decimals)
}

// fixed formats with so many decimals; a zero has no sign, and the minus is the
// plain hyphen that every program reads.
func fixed(x float64, decimals int) string {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return absent
	}
	s := strconv.FormatFloat(x, 'f', decimals, 64)
	if strings.Trim(s, "-0.") == "" {
		s = strings.TrimPrefix(s, "-")
	}
	return s
}

// group writes an integer with a narrow space between groups of three digits
// from five digits on (ISO 80000-1).
func group(n int64) string {
	s := strconv.FormatInt(n, 10)
	sign := ""
	if n < 0 {
		sign, s = "-", s[1:]
	}
	if len(s) < 5 {
		return sign + s
	}
	var parts []string
	for len(s) > 3 {
		parts = append([]string{s[len(s)-3:]}, parts...)
		s = s[:len(s)-3]
	}
	return sign + strings.Join(append([]string{s}, parts...), "\u202f")
}

// decimalsShown returns the decimals that reports show for a key, by its unit.
func decimalsShown(key string) int {
	last := key[strings.LastIndexByte(key, '.')+1:]
	switch {
	case strings.HasSuffix(last, "_m_per_m"):
		return 5
	case strings.HasSuffix(last, "_per_m2"):
		return 1
	case strings.HasSuffix(last, "_unit_m"):
		return 10
	case last == "overlap_m2", last == "area_m2" && !strings.Contains(key, "void_list"):
		return 0
	case strings.HasSuffix(last, "_m2"):
		return 1
	case last == "e_m", last == "n_m", last == "z_m", last == "cloud_z_m", strings.HasSuffix(last, "_e_m"), strings.HasSuffix(last, "_n_m"):
		return 3
	case last == "length_m", last == "width_m", last == "height_above_ground_m":
		return 1
	case strings.HasSuffix(last, "_m"):
		return 3
	case strings.HasSuffix(last, "_pct"):
		return 1
	case strings.HasSuffix(last, "_deg"):
		return 1
	case strings.HasSuffix(last, "_s"), strings.HasSuffix(last, "_mps"), strings.HasSuffix(last, "_hz"):
		return 1
	}
	return 3
}

// withUnit formats the length at key with metres and, for clouds in feet, feet.
func (v *view) withUnit(key string) string {
	s := v.show(key, decimalsShown(key), 1)
	if s == absent {
		return s
	}
	s += "\u00a0m"
	if f := v.foot(key); f.ok() {
		s += " (" + v.show(key, decimalsShown(key), f.m) + "\u00a0" + f.name + ")"
	}
	return s
}

// limitDecimals returns how many decimals show the value on the right side of
// its limit: three for lengths, more where rounding would hide the result.
func limitDecimals(value, limit float64, unit string) int {
	d := map[string]int{"m": 3, "pct": 1, "1/m2": 1, "m2": 1, "deg": 3, "s": 1, "1": 0}[unit]
	if math.IsNaN(value) || math.IsNaN(limit) {
		return d
	}
	pow := math.Pow10(d)
	for d < 6 && value != limit && math.Round(value*pow) == math.Round(limit*pow) {
		d++
		pow *= 10
	}
	return d
}

// unitText is the unit as a reader writes it.
func unitText(unit string) string {
	switch unit {
	case "pct":
		return "%"
	case "1/m2":
		return "per m²"
	case "m2":
		return "m²"
	case "deg":
		return "°"
	case "1", "":
		return ""
	}
	return unit
}

// resultText is the word for a result; it is never told by colour alone.
func resultText(result string) string {
	switch result {
	case Pass:
		return "pass"
	case Fail:
		return "FAIL"
	case NotJudged:
		return "not judged"
	case Go:
		return "go"
	case Caution:
		return "caution"
	case Refly:
		return "REFLY"
	}
	return result
}

// KindText is the cause's name in the trade's words.
func KindText(kind string) string {
	if s, ok := kinds[kind]; ok {
		return s
	}
	return strings.ReplaceAll(kind, "_", " ")
}

var kinds = map[string]string{
	"boresight_roll": "boresight, roll", "boresight_pitch": "boresight, pitch", "boresight_heading": "boresight, heading",
	"scan_angle_scale": "scan angle scale", "range_offset": "range offset", "lever_x": "lever arm, forward", "lever_y": "lever arm, right",
	"lever_z": "lever arm, down", "strip_height": "height of a strip", "strip_horizontal": "place of a strip", "strip_drift": "drift of a strip",
	"attitude_drift": "attitude drift of a strip", "time_offset": "time offset", "datum_height": "height of the datum",
}

// GroupResult returns the result of the criteria of one group (relative,
// absolute, coverage): fail when one fails, pass when at least one passes and
// all others with a limit pass, else not judged. Found is false when the group is empty.
func GroupResult(v *Verdict, group string) (result string, found bool) {
	result = NotJudged
	passed, open := false, false
	for _, c := range v.Criteria {
		if c.Group != group {
			continue
		}
		found = true
		switch {
		case c.Result == Fail:
			return Fail, true
		case c.Result == Pass:
			passed = true
		case c.Sense != "report":
			open = true
		}
	}
	if passed && !open {
		result = Pass
	}
	return result, found
}

// keyf makes a key of the record.
func keyf(format string, a ...any) string { return fmt.Sprintf(format, a...) }

// sigmaDecimals returns the decimals that show two significant digits of a sigma.
func sigmaDecimals(sigma float64) int {
	if !(sigma > 0) || math.IsInf(sigma, 0) {
		return 4
	}
	return min(max(1-int(math.Floor(math.Log10(sigma))), 0), 8)
}
