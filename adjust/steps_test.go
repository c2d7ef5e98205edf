package adjust

import (
	"math"
	"strings"
	"testing"

	"sidelap/trajectory/simulate"
)

// TestStepWithinStrip is known truth: a strip that jumps within, in height or sideways, or rolls away, is named with its strip and its
// size, and nothing else is made of it.
func TestStepWithinStrip(t *testing.T) {
	cases := []struct {
		name  string
		kind  Kind
		fault simulate.StripFault
		size  float64
		at    float64 // place of the step, 0: no step
		also  Kind    // may be named beside it, of the same strip: the mean of what was made
	}{
		{"height", StripDrift, simulate.StripFault{DriftH: simulate.Drift{Shape: simulate.DriftStep, Size: -0.06, At: 0.4}}, -0.06, 0.4, StripHeight},
		{"sideways", StripHorizontal, simulate.StripFault{DriftE: simulate.Drift{Shape: simulate.DriftStep, Size: 0.15, At: 0.55},
			DriftN: simulate.Drift{Shape: simulate.DriftStep, Size: -0.1, At: 0.55}}, math.Hypot(0.15, 0.1), 0.55, StripHorizontal},
		{"roll", AttitudeDrift, simulate.StripFault{Roll: simulate.Drift{Shape: simulate.DriftLinear, Size: 0.1}}, 0.1 * deg, 0, AttitudeDrift},
	}
	for _, c := range cases {
		for seed := uint64(1); seed <= 2; seed++ {
			s := simulate.SmallScenario()
			s.Seed = seed
			c.fault.Strip = 1 + int(seed)
			s.Faults.Strips = []simulate.StripFault{c.fault}
			f := fly(t, s, 1)
			d := Diagnose(f.survey, f.pairs, f.path, FromPath, DefaultOptions())
			found := false
			for _, k := range d.Causes {
				switch {
				case k.Strip != int(seed) || k.Kind != c.kind && k.Kind != c.also:
					t.Errorf("%s, seed %d: %s of strip %d is named: %s %s", c.name, seed, k.Kind, k.Strip+1, k.Kind.Amount(k.Estimate, k.Sigma), k.Detail)
				case k.Kind == c.kind:
					found = true
					if math.Abs(k.Estimate-c.size) > 3*k.Sigma {
						t.Errorf("%s, seed %d: %s, %s was made (%s)", c.name, seed, k.Kind.Amount(k.Estimate, k.Sigma), k.Kind.Amount(c.size, 0), k.Detail)
					}
					if c.at > 0 && !strings.Contains(k.Detail, "% of the strip") || c.at > 0 && !strings.Contains(k.Detail, "a step") && !strings.Contains(k.Detail, "a jump") {
						t.Errorf("%s, seed %d: no step in words: %s", c.name, seed, k.Detail)
					}
				}
			}
			if !found {
				t.Errorf("%s, seed %d: %s is not named: %v", c.name, seed, c.kind, d.Causes)
			}
		}
	}
}
