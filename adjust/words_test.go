package adjust

import (
	"strings"
	"testing"

	"sidelap/overlap"
)

// What helps no ground that was not fitted to is a trace; what its own doubt hides is a warning; only the rest is a fault.
func TestSeverityFollowsTheEvidence(t *testing.T) {
	s := &overlap.Survey{Strips: []overlap.Strip{{ID: "101"}, {ID: "102"}}}
	for _, c := range []struct {
		name            string
		cause           Cause
		before, holdout float64
		want            Severity
		word            string
	}{
		{"clear", Cause{Kind: StripHorizontal, Strip: 0, Estimate: 0.05, Sigma: 0.004}, 0.03, 0.01, Fault, "Horizontal shifts"},
		{"hidden by its doubt", Cause{Kind: StripHorizontal, Strip: 0, Estimate: 0.04, Sigma: 4.7, ConfoundedWith: []Kind{BoresightPitch}}, 0.014, 0.013, Warning, "cannot tell it from"},
		{"no better on other ground", Cause{Kind: StripHorizontal, Strip: 0, Estimate: 0.05, Sigma: 0.004}, 0.014, 0.015, Note, "A trace only"},
		{"roll hidden by its doubt", Cause{Kind: BoresightRoll, Strip: -1, Estimate: 1e-4, Sigma: 1e-3}, 0.014, 0.013, Warning, "may be off"},
	} {
		d := &Diagnosis{Judged: true, Causes: []Cause{c.cause}, BeforeRMSM: c.before, HoldoutRMSM: c.holdout}
		f := d.finding(s, c.cause.Kind)
		if f.Severity != c.want || !strings.Contains(f.Text, c.word) {
			t.Errorf("%s: severity %v, %q", c.name, f.Severity, f.Text)
		}
	}
}
