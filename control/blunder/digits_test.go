package blunder

import (
	"math"
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
	// the place adds 4 cm on a slope: 231.63 written as 236.13, the cloud 3 cm off beside it
	if v, text, _ = digitError(-4.47, 0.004, 236.13, 0.04); v != -4.5 || !strings.Contains(text, "transposed") {
		t.Errorf("%v %q", v, text)
	}
	// decimals of a height on a slope: 411.194 as 411.914, the place adds 4 cm and the cloud lies 3.5 cm off
	if v, text, _ = digitError(-0.755, 0.004, 411.914, 0.04); math.Abs(v+0.72) > 1e-9 || !strings.Contains(text, "transposed") {
		t.Errorf("%v %q", v, text)
	}
	if v, text, _ = digitError(-0.72, 0.004, 411.333, 0.04); text != "" {
		t.Errorf("no two digits of 411.333 leave 0.72 m: %v %q", v, text)
	}
	if v, text, _ = digitError(-0.55, 0.013, 411.333, 0); text != "" {
		t.Errorf("nothing explains 0.55 m: %v %q", v, text)
	}
}
