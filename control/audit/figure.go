package audit

import (
	"math"
	"strconv"
	"strings"
)

// Kind is what a figure of a table is.
type Kind string

// The kinds of figures.
const (
	N            Kind = "n"
	Mean         Kind = "mean"
	Std          Kind = "std"
	RMSE         Kind = "rmse"
	RMSEx        Kind = "rmse_x"
	RMSEy        Kind = "rmse_y"
	RMSEr        Kind = "rmse_r"
	Accuracy95   Kind = "accuracy95"   // 95 %, vertical
	Accuracy95R  Kind = "accuracy95_r" // 95 %, horizontal radius
	P95          Kind = "p95"          // 95th percentile of absolute values
	Min          Kind = "min"
	Max          Kind = "max"
	MaxAbs       Kind = "max_abs"
	Median       Kind = "median"
	NMAD         Kind = "nmad"
	Limit        Kind = "limit" // on RMSE
	Limit95      Kind = "limit95"
	LimitP95     Kind = "limit_p95"
	Class        Kind = "class"
	Claim        Kind = "claim" // pass, fail, meets, exceeds
	UnitOf       Kind = "unit"
	SurveyRMSE   Kind = "survey_rmse"
	CombinedRMSE Kind = "rmse_v" // Edition 2, with survey error
)

// Figure is one number as printed.
type Figure struct {
	Kind  Kind
	Text  string  // as printed
	Value float64 // in metres once units are known; n without unit
	HalfM float64 // half a unit of the last printed digit: what rounding may hide
	Unit  string  // unit written with the figure; empty = the row's
	Where string  // row and column, for messages
	OK    bool    // Text is a number
	word  string  // heading without blanks and unit
}

// Row is one group of figures, for example "open ground" in metres.
type Row struct {
	Name    string
	Line    int
	Figures []Figure
}

// get returns the figure of a kind.
func (r *Row) get(k Kind) (Figure, bool) {
	for _, f := range r.Figures {
		if f.Kind == k && f.OK {
			return f, true
		}
	}
	return Figure{}, false
}

// text returns the text of a kind.
func (r *Row) text(k Kind) string {
	for _, f := range r.Figures {
		if f.Kind == k {
			return f.Text
		}
	}
	return ""
}

// units are the metres in the units that tables use.
var units = map[string]float64{"m": 1, "metre": 1, "metres": 1, "meter": 1, "meters": 1, "cm": 0.01, "centimetres": 0.01, "centimeters": 0.01,
	"mm": 0.001, "ft": 0.3048, "feet": 0.3048, "foot": 0.3048, "usft": 1200.0 / 3937, "ussurveyfeet": 1200.0 / 3937, "in": 0.0254, "inch": 0.0254, "inches": 0.0254}

// unitM returns the metres in a unit as written, 0 for none.
func unitM(s string) float64 {
	return units[strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' {
			return r
		}
		return -1
	}, strings.ToLower(s))]
}

// parseFigure reads a number and a unit that may follow it: "0.046 m", "+-0.18ft", "19,6 cm".
func parseFigure(text string) (value, half float64, unit string, ok bool) {
	s := strings.TrimSpace(text)
	for _, p := range []string{"<=", "≤", "<", "±", "+-", "+/-", "="} {
		s = strings.TrimSpace(strings.TrimPrefix(s, p))
	}
	s = strings.ReplaceAll(s, "−", "-")
	end := 0
	for end < len(s) && strings.IndexByte("0123456789+-.,eE", s[end]) >= 0 {
		if (s[end] == 'e' || s[end] == 'E') && (end+1 >= len(s) || strings.IndexByte("0123456789+-", s[end+1]) < 0) {
			break
		}
		end++
	}
	number, rest := s[:end], strings.TrimSpace(s[end:])
	if strings.Count(number, ",") == 1 && !strings.Contains(number, ".") {
		number = strings.Replace(number, ",", ".", 1)
	}
	v, err := strconv.ParseFloat(number, 64)
	if err != nil || math.IsInf(v, 0) || math.IsNaN(v) {
		return 0, 0, "", false
	}
	mantissa, exponent, _ := strings.Cut(strings.ToLower(number), "e")
	_, fraction, _ := strings.Cut(mantissa, ".")
	half = 0.5 * math.Pow10(-len(fraction))
	if x, err := strconv.Atoi(exponent); err == nil {
		half *= math.Pow10(x)
	}
	if rest != "" && rest != "%" {
		if unitM(rest) == 0 {
			return 0, 0, "", false
		}
		unit = rest
	}
	return v, half, unit, true
}

// kindOf reads a column heading or key; word is the heading's letters and digits without the unit.
func kindOf(heading string) (k Kind, unit, word string) {
	s := strings.ToLower(strings.TrimSpace(heading))
	if i := strings.IndexAny(s, "(["); i >= 0 {
		unit = strings.Trim(s[i:], "()[] ")
		s = s[:i]
	} else if i := strings.LastIndexAny(s, "_ "); i > 0 && unitM(s[i+1:]) > 0 {
		unit, s = s[i+1:], s[:i]
	}
	word = strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' || r >= '0' && r <= '9' {
			return r
		}
		return -1
	}, s)
	if unit != "" && unitM(unit) == 0 {
		word += strings.Map(func(r rune) rune {
			if r >= 'a' && r <= 'z' || r >= '0' && r <= '9' {
				return r
			}
			return -1
		}, unit)
		unit = ""
	}
	for kind, list := range kindWords {
		for _, w := range strings.Fields(list) {
			if w == word {
				return kind, unit, word
			}
		}
	}
	return "", unit, word
}

// Words for a number of points that do not say of which points, and those that do.
const (
	pointWords      = "points numberofpoints npoints numpoints"
	checkPointWords = "checkpoints numberofcheckpoints"
)

var kindWords = map[Kind]string{
	N:            pointWords + " " + checkPointWords + " n count number samples anzahl nintext nintable nonmap rows tablerows rowsintable rowsinthetable pointsintext pointsinthetext pointsintable pointsinthetable pointsonmap pointsonthemap mappoints",
	Mean:         "mean average meanerror bias avg mittel mittelwert meandz averagedz",
	Std:          "std sd stddev stdev standarddeviation sigma stdabw stddeviation",
	RMSE:         "rmse rmsez rms rmsev1 nvarmse nvarmsez rmsef verticalrmse",
	RMSEx:        "rmsex rmsee rmseeast",
	RMSEy:        "rmsey rmsen rmsenorth",
	RMSEr:        "rmser rmseh rmsexy horizontalrmse",
	Accuracy95:   "accuracy95 accuracyz accz 95 95confidence 95level nva95 nva nvaat95 fva fundamentalverticalaccuracy 196rmse 95percentconfidence conf95 accuracyz95 rmse95 vertical95 confidence95",
	Accuracy95R:  "accuracy95r accuracyr horizontal95 ce95",
	P95:          "p95 percentile95 95thpercentile 95percentile vva vvap95 95th svap95",
	Min:          "min minimum minerror mindz",
	Max:          "max maximum maxerror maxdz",
	MaxAbs:       "maxabs maxabsolute absmax largest maxabserror",
	Median:       "median mediandz",
	NMAD:         "nmad",
	Limit:        "limit target requirement threshold spec specification tolerance limitrmse rmselimit maxrmse",
	Limit95:      "limit95 target95 requirement95 spec95 nvalimit",
	LimitP95:     "limitp95 vvalimit targetp95",
	Class:        "class accuracyclass verticalclass",
	Claim:        "claim result verdict status pass passfail meets outcome",
	UnitOf:       "unit units uom einheit",
	SurveyRMSE:   "surveyrmse rmsev2 surveyaccuracy checksurvey",
	CombinedRMSE: "rmsev totalrmse combinedrmse",
}
