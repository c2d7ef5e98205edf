package control

import "strings"

// delimiters in the order in which they are tried: a semicolon or tab is never part of a number,
// a comma may be a decimal comma, blanks may stand inside names and numbers.
var delimiters = []struct {
	name string
	char rune
}{{DelimiterSemicolon, ';'}, {DelimiterTab, '\t'}, {DelimiterComma, ','}, {DelimiterBlank, ' '}}

// sniffDelimiter returns the delimiter with which most lines have at least two numbers. Ties
// go to the earlier of delimiters.
func sniffDelimiter(lines []line) string {
	best, bestRows := DelimiterComma, 0
	for _, d := range delimiters {
		rows := 0
		for _, l := range lines[:min(len(lines), 500)] {
			if !l.comment && countNumbers(splitFields(l.text, d.name), d.name) >= 2 {
				rows++
			}
		}
		if rows > bestRows {
			best, bestRows = d.name, rows
		}
	}
	return best
}

func countNumbers(fields []string, delimiter string) int {
	n := 0
	for _, f := range fields {
		if looksNumeric(f, delimiter) || looksAngle(f) {
			n++
		}
	}
	return n
}

// splitFields splits a line; quotes hold a field together, doubled quotes stand for one.
// Blanks count as one delimiter however many there are.
func splitFields(text, delimiter string) []string {
	sep := ','
	for _, d := range delimiters {
		if d.name == delimiter {
			sep = d.char
		}
	}
	blank := delimiter == DelimiterBlank
	var fields []string
	var cur strings.Builder
	quoted, any := false, false
	flush := func() {
		if !blank || any {
			fields = append(fields, strings.TrimSpace(strings.ReplaceAll(cur.String(), "\u00a0", " ")))
		}
		cur.Reset()
		any = false
	}
	runes := []rune(text)
	for i := 0; i < len(runes); i++ {
		c := runes[i]
		switch {
		case c == '"' && quoted && i+1 < len(runes) && runes[i+1] == '"':
			cur.WriteRune('"')
			i++
		case c == '"' && (quoted || strings.TrimSpace(cur.String()) == ""):
			quoted, any = !quoted, true
		case !quoted && (c == sep || blank && c == '\t'):
			flush()
		default:
			cur.WriteRune(c)
			any = true
		}
	}
	flush()
	return fields
}
