package report_test

import (
	"testing"

	"sidelap/report"
)

func TestCapital(t *testing.T) {
	for in, want := range map[string]string{"": "", "a b": "A b", "A": "A", "öffentlich": "Öffentlich", "β of 2": "Β of 2", "± 3": "± 3", "ßa": "ßa", "\xff\xfeb": "\xff\xfeb", "7 m": "7 m"} {
		if got := report.Capital(in); got != want {
			t.Errorf("%q: %q, want %q", in, got, want)
		}
	}
}

// TestLine: what is one line stays one, and invalid UTF-8 stays text.
func TestLine(t *testing.T) {
	for in, want := range map[string]string{"Wiese 3.las": "Wiese 3.las", "a\nsidelap: all well\t.las": "a?sidelap: all well?.las", "a\r\n\x1b[2Jb": "a???[2Jb", "": ""} {
		if got := report.Line(in); got != want {
			t.Errorf("%q: %q, want %q", in, got, want)
		}
	}
}

func TestPlain(t *testing.T) {
	for in, want := range map[string]string{
		"Wiese 3, 0.012\u00a0m – ±": "Wiese 3, 0.012\u00a0m – ±", "a\x1b[2Jb": "a?[2Jb", "x\u202efdp.exe": "x?fdp.exe", "\x1b[1mFAIL\x1b[0m\n\tx\r": "\x1b[1mFAIL\x1b[0m\n\tx?",
		"\u009b31m\u2028\u2066\ufeff\x00\x7f": "?31m?????", "": "",
	} {
		if got := report.Plain(in); got != want {
			t.Errorf("%q: %q, want %q", in, got, want)
		}
	}
}
