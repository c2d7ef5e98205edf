package blunder

import (
	"slices"
	"testing"
)

// LAS-2 of the reference: week 2300, 345600 s is 391385600.0 in adjusted time. Each label against each value.
func TestTimeLabel(t *testing.T) {
	adjusted := 2300*weekS + 345600 - adjustedOffsetS
	if adjusted != 391385600.0 {
		t.Fatalf("LAS-2: %.1f", adjusted)
	}
	for _, c := range []struct {
		flag bool
		t    float64
		want bool
	}{{true, adjusted, false}, {false, adjusted, true}, {true, 345600, true}, {false, 345600, false}, {false, -5, true}, {true, -4e8, false}} {
		r := Find(Evidence{Time: &TimeEvidence{Adjusted: c.flag, MinS: c.t, MaxS: c.t + 600}})
		got := len(r.Findings) > 0 && r.Findings[0].ID == "B17"
		if got != c.want {
			t.Errorf("flag %v, %.0f s: finding %v, want %v", c.flag, c.t, got, c.want)
		}
	}
}

// The systems of time are compared where a path is brought to the points: the rule has run with one, and says what it needs
// without.
func TestTimeSystemsAreComparedWithThePath(t *testing.T) {
	for _, matched := range []bool{true, false} {
		r := Find(Evidence{Time: &TimeEvidence{Adjusted: true, MinS: 4e8, MaxS: 4e8 + 600, PathMatched: matched}})
		needs := slices.ContainsFunc(r.NotRun, func(s Skipped) bool { return s.ID == "B16" && s.Needs != "" })
		if slices.Contains(r.Run, "B16") != matched || needs == matched {
			t.Errorf("matched %v: run %v, not run %v", matched, r.Run, r.NotRun)
		}
	}
}
