package blunder

import (
	"strings"
	"testing"
)

// Digits as written: 411.194 entered as 411.914 is a transposition of 0.72 m, not one wrong digit of 0.7 m; the spread of a
// good survey (13 mm) is larger than the last digit.
func TestDigitsTransposedInTheDecimals(t *testing.T) {
	v, text, chance := digitError(-0.712, 0.013, 411.914, 0)
	if v > -0.71 || v < -0.73 || !strings.Contains(text, "transposed") || !(chance > 0 && chance < 100) {
		t.Errorf("%v %q %v", v, text, chance)
	}
	if v, text, _ = digitError(-0.70, 0.005, 411.3, 0); v > -0.69 || v < -0.71 || text != "one wrong digit? (0.7 m)" {
		t.Errorf("%v %q", v, text)
	}
	if v, text, _ = digitError(-0.55, 0.013, 411.333, 0); text != "" {
		t.Errorf("nothing explains 0.55 m: %v %q", v, text)
	}
}
