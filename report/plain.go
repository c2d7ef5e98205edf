package report

import (
	"strings"
	"unicode"
	"unicode/utf8"
)

// Capital returns the text with a capital first letter; a first character that has none, or is not UTF-8, stays.
func Capital(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	if r == utf8.RuneError {
		return s
	}
	return string(unicode.ToUpper(r)) + s[n:]
}

// styles are the sequences that the program itself sends to a terminal: bold, the answer of the field check, and their end.
var styles = []string{"\x1b[1m", "\x1b[1;7m", "\x1b[0m"}

// Plain replaces, in text that is shown, what could drive a terminal or turn the order of the text round: control characters but
// line feed and tab, and the marks of direction and line of Unicode (15.0, section 23.2). Names of files and texts in them may
// hold such characters. The few sequences of the program's own stay.
func Plain(s string) string {
	if strings.IndexFunc(s, drives) < 0 {
		return s
	}
	var b strings.Builder
	for i, r := range s {
		switch {
		case !drives(r) || ownStyle(s[i:]):
			b.WriteRune(r)
		default:
			b.WriteByte('?')
		}
	}
	return b.String()
}

// Line is Plain for a text of one line, such as the name of a file: a line feed or a tab in it cannot be ours and is replaced as well.
func Line(s string) string {
	return strings.Map(func(r rune) rune {
		if r == '\n' || r == '\t' {
			return '?'
		}
		return r
	}, Plain(s))
}

func drives(r rune) bool {
	switch {
	case r == '\n' || r == '\t':
		return false
	case unicode.IsControl(r), r == 0x061c, r == 0x200e, r == 0x200f, r >= 0x2028 && r <= 0x202e, r >= 0x2066 && r <= 0x2069, r == 0xfeff:
		return true
	}
	return false
}

func ownStyle(s string) bool {
	for _, x := range styles {
		if strings.HasPrefix(s, x) {
			return true
		}
	}
	return false
}
