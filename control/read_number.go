package control

import (
	"strconv"
	"strings"
)

// numberStyle tells how the numbers of a list are written.
type numberStyle struct{ decimalComma bool }

// bare removes what may stand inside a number besides digits, sign, point, comma and
// exponent: thousands blanks and apostrophes.
func bare(s string) string {
	return strings.Map(func(r rune) rune {
		switch r {
		case ' ', '\u00a0', '\u202f', '\u2009', '\'', '’':
			return -1
		case '−', '–':
			return '-'
		}
		return r
	}, s)
}

// looksNumeric reports whether the field is a number in some style.
func looksNumeric(s, delimiter string) bool {
	b := bare(s)
	if b == "" || b != s && !thousandsBlanks(s) {
		return false
	}
	if _, err := parsePlain(b); err == nil {
		return true
	}
	if delimiter == DelimiterComma || !strings.Contains(b, ",") {
		return false
	}
	_, errDecimal := parseNumber(b, numberStyle{decimalComma: true})
	_, errThousands := parseNumber(b, numberStyle{})
	return errDecimal == nil || errThousands == nil
}

// thousandsBlanks reports whether the blanks in s stand before groups of three digits.
func thousandsBlanks(s string) bool {
	s = strings.TrimLeft(s, "+-−–")
	groups := strings.FieldsFunc(s, func(r rune) bool { return strings.ContainsRune(" \u00a0\u202f\u2009'’", r) })
	for i, g := range groups {
		digits := strings.IndexFunc(g, func(r rune) bool { return r < '0' || r > '9' })
		if digits < 0 {
			digits = len(g)
		}
		if i < len(groups)-1 && digits < len(g) || i > 0 && digits != 3 || i == 0 && len(groups) > 1 && digits > 3 {
			return false
		}
	}
	return true
}

// parsePlain parses digits with a point; hexadecimal, underscores and names of numbers are
// no numbers of a list.
func parsePlain(s string) (float64, error) {
	for _, r := range s {
		if !strings.ContainsRune("0123456789+-.eE", r) {
			return 0, strconv.ErrSyntax
		}
	}
	v, err := strconv.ParseFloat(s, 64)
	if err != nil || !finite(v) {
		return 0, strconv.ErrSyntax
	}
	return v, nil
}

// parseNumber parses a field in the style of the list.
func parseNumber(s string, style numberStyle) (float64, error) {
	b := bare(s)
	if b != s && !thousandsBlanks(s) {
		return 0, strconv.ErrSyntax
	}
	group, decimal := ",", "."
	if style.decimalComma {
		group, decimal = ".", ","
	}
	whole, fraction, found := strings.Cut(b, decimal)
	if strings.Contains(fraction, group) {
		return 0, strconv.ErrSyntax
	}
	if strings.Contains(whole, group) {
		parts := strings.Split(strings.TrimLeft(whole, "+-"), group)
		for i, p := range parts {
			if i > 0 && len(p) != 3 || i == 0 && (len(p) == 0 || len(p) > 3) {
				return 0, strconv.ErrSyntax
			}
		}
		whole = strings.ReplaceAll(whole, group, "")
	}
	if found {
		whole += "." + fraction
	}
	return parsePlain(whole)
}

// commaRole is what the commas inside the numbers of a list are.
type commaRole int

const (
	commaNone commaRole = iota
	commaDecimal
	commaThousands
	commaUnclear
)

// judgeCommas decides what commas mean from all numeric fields: "512345,12" can only be
// decimal, "1,234.5" only thousands, "345,123" alone is either.
func judgeCommas(fields []string) commaRole {
	role := commaNone
	for _, f := range fields {
		b := strings.TrimLeft(bare(f), "+-")
		i := strings.LastIndexByte(b, ',')
		if i < 0 {
			continue
		}
		point := strings.LastIndexByte(b, '.')
		switch {
		case point > i:
			return commaThousands
		case point >= 0, strings.Count(b, ",") == 1 && (len(b)-i-1 != 3 || i > 3 || i == 0 || b[0] == '0'):
			return commaDecimal
		case strings.Count(b, ",") > 1:
			return commaThousands
		}
		role = commaUnclear
	}
	if role == commaUnclear {
		for _, f := range fields {
			if b := bare(f); strings.Contains(b, ".") && !strings.Contains(b, ",") {
				return commaThousands
			}
		}
	}
	return role
}
