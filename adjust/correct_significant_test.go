package adjust

import (
	"slices"
	"testing"

	"sidelap/trajectory/simulate"
)

// TestAppliedIsSignificant checks a rule of docs/correction.md on flights with faults of many sorts, with the path or without: what is taken off is
// larger than twice its standard deviation, or a shift of a strip, which is counted from the median strip.
func TestAppliedIsSignificant(t *testing.T) {
	if testing.Short() {
		t.Skip("estimates several flights")
	}
	tested := 0
	for i, fc := range simulate.FaultCases() {
		if i%3 == 1 { // every third is left out for its time
			continue
		}
		s := simulate.SmallScenario()
		s.Seed = uint64(3 + i)
		fc.Apply(&s)
		f := flyCloud(t, s, 1)
		k := [...]pathKind{fromFile, noPath}[i%2]
		path, know := f.known(t, k)
		o := DefaultCorrectOptions()
		o.Control = f.control()
		fit := EstimateCorrection(f.survey, f.pairs, path, Diagnose(f.survey, f.pairs, path, know, DefaultOptions()), o)
		for _, p := range fit.Fitted {
			tested++
			if p.Kind == StripHeight || p.Kind == StripHorizontal {
				continue
			}
			if !p.Reliable || !clearOf(p.Value, p.Sigma) {
				t.Errorf("%s, path %s: %s of strip %d, %+.5f +- %.5f, is taken off and is not significant", fc.Name, k, p.Kind, p.Strip, p.Value, p.Sigma)
			}
			if slices.ContainsFunc(fit.Refused, func(r Refused) bool { return r.Kind == p.Kind && r.Strip == p.Strip }) {
				t.Errorf("%s, path %s: %s of strip %d is taken off and held back", fc.Name, k, p.Kind, p.Strip)
			}
		}
	}
	if tested < 10 {
		t.Errorf("only %d parameters were taken off", tested)
	}
}
