package adjust

import (
	"cmp"
	"math"
	"slices"
	"strings"
	"testing"

	"sidelap/trajectory"
	"sidelap/trajectory/simulate"
)

// refusal is the reason for which a kind was not applied, "" when it was not refused.
func refusal(f *CorrectionFit, k Kind) string {
	for _, r := range f.Refused {
		if r.Kind == k {
			return r.Reason
		}
	}
	return ""
}

// TestConfoundedIsHeld: strips flown in one direction only cannot tell a roll from heights of the strips, which would move the points elsewhere. It is said, and applied only on request.
func TestConfoundedIsHeld(t *testing.T) {
	s := simulate.SmallScenario()
	s.Plan.CrossStrips, s.Plan.SameDirection = 0, true
	s.Faults.BoresightRollDeg = 0.06
	f := flyCloud(t, s, 1)
	o := DefaultCorrectOptions()
	c := f.correctFlight(t, fromFile, o, true)
	why := refusal(c.fit, BoresightRoll)
	for _, part := range []string{"cannot tell it from a rival", "height shifts of single strips", "mm", "--apply-confounded"} {
		if !strings.Contains(why, part) {
			t.Errorf("%q does not say %q", why, part)
		}
	}
	if !c.fit.Correction.Zero() {
		t.Errorf("it was applied: %s", fittedText(&c))
	}
	if !math.IsNaN(c.fit.OverlapRMSM) || !math.IsNaN(c.fit.OverlapBefore) {
		t.Errorf("nothing was fitted, and %.4f m are said to be left in overlaps outside the fit", c.fit.OverlapRMSM)
	}
	o.ApplyConfounded = true
	c = f.correctFlight(t, fromFile, o, true)
	if c.fit.Correction.BoresightRollRad == 0 || !strings.Contains(strings.Join(c.fit.Notes, " "), "applied as asked for") {
		t.Errorf("asked for: %s, notes %q", fittedText(&c), c.fit.Notes)
	}
}

// TestBeyondAccuracyIsHeld: a strip that lies higher than three times what the path states of its own height is not corrected unless asked for.
func TestBeyondAccuracyIsHeld(t *testing.T) {
	s := simulate.SmallScenario()
	s.Faults.Strips = []simulate.StripFault{{Strip: 2, HeightM: 0.1}}
	f := flyCloud(t, s, 1)
	n := f.path.Len()
	same := func(v float64) []float64 {
		out := make([]float64, n)
		for i := range out {
			out[i] = v
		}
		return out
	}
	for _, c := range []struct {
		upM  float64
		held bool
	}{{0.01, true}, {0.05, false}} {
		f.path.Sigma = &trajectory.PathSigma{EastM: same(0.01), NorthM: same(0.01), UpM: same(c.upM), RollRad: same(1e-4), PitchRad: same(1e-4), HeadingRad: same(5e-4)}
		o := DefaultCorrectOptions()
		r := f.correctFlight(t, fromFile, o, true)
		why := refusal(r.fit, StripHeight)
		if c.held != (why != "") || c.held != r.fit.Correction.Zero() {
			t.Errorf("stated %.2f m: refused %q, %s", c.upM, why, fittedText(&r))
		}
		if c.held && !(strings.Contains(why, "larger than 3 times what the path file states for itself") && strings.Contains(why, "--apply-beyond-accuracy")) {
			t.Errorf("the reason does not say so: %q", why)
		}
		if o.ApplyBeyond = true; c.held {
			r = f.correctFlight(t, fromFile, o, true)
			if r.fit.Correction.Zero() || !strings.Contains(strings.Join(r.fit.Notes, " "), "applied as asked for") {
				t.Errorf("asked for: %s, notes %q", fittedText(&r), r.fit.Notes)
			}
		}
	}
}

// TestDriftOfParallelStripsIsHeld: parallel strips that nothing crosses do not tell which of them drifts in height; it is said, and applied only on request.
func TestDriftOfParallelStripsIsHeld(t *testing.T) {
	s := simulate.SmallScenario()
	s.Plan.CrossStrips = 0
	for i := range 3 {
		s.Faults.Strips = append(s.Faults.Strips, simulate.StripFault{Strip: i + 1, DriftH: simulate.Drift{Shape: simulate.DriftLinear, Size: 0.1}})
	}
	f := flyCloud(t, s, 1)
	o := DefaultCorrectOptions()
	c := f.correctFlight(t, fromFile, o, true)
	why := refusal(c.fit, StripDrift)
	for _, part := range []string{"which strip drifts is not determined", "a crossing strip, or at least 6 control points (--control)", "--apply-confounded"} {
		if !strings.Contains(why, part) {
			t.Errorf("%q does not say %q; fitted %s", why, part, fittedText(&c))
		}
	}
	if !c.fit.Correction.Zero() {
		t.Errorf("it was applied: %s", fittedText(&c))
	}
	o.ApplyConfounded = true
	c = f.correctFlight(t, fromFile, o, true)
	if c.fit.Correction.Zero() || !strings.Contains(strings.Join(c.fit.Notes, " "), "Its standard deviation does not count this") {
		t.Errorf("asked for: %s, notes %q", fittedText(&c), c.fit.Notes)
	}
	o.ApplyConfounded, o.Again = false, []Kind{StripDrift}
	if c = f.correctFlight(t, fromFile, o, true); refusal(c.fit, StripDrift) == "" {
		t.Errorf("a second round applied it: %s", fittedText(&c))
	}
}

// TestControlDecidesDrifts: control lifts the guard of drifts that nothing crosses only where it can show a tilt of the block: with six points or more, spread over it.
func TestControlDecidesDrifts(t *testing.T) {
	s := simulate.SmallScenario()
	s.Plan.CrossStrips = 0
	s.Survey.ControlPoints, s.Survey.SeparationM = 30, 2
	for i := range 3 {
		s.Faults.Strips = append(s.Faults.Strips, simulate.StripFault{Strip: i + 1, DriftH: simulate.Drift{Shape: simulate.DriftLinear, Size: 0.1}})
	}
	f := flyCloud(t, s, 1)
	all := f.control()
	eM, nM := 0.0, 0.0
	for _, p := range all {
		eM, nM = eM+p.EM/float64(len(all)), nM+p.NM/float64(len(all))
	}
	near := slices.Clone(all) // the points of one corner
	slices.SortFunc(near, func(a, b ControlPoint) int {
		return cmp.Compare(math.Hypot(a.EM-all[0].EM, a.NM-all[0].NM), math.Hypot(b.EM-all[0].EM, b.NM-all[0].NM))
	})
	for _, c := range []struct {
		name    string
		control []ControlPoint
		held    bool
	}{{"spread", all, false}, {"in one corner", near[:8], true}, {"one", all[:1], true}, {"five", all[:5], true}} {
		o := DefaultCorrectOptions()
		o.Control = c.control
		r := f.correctFlight(t, fromFile, o, true)
		if why := refusal(r.fit, StripDrift); c.held != strings.Contains(why, "which strip drifts is not determined") {
			t.Errorf("%s: refused %q; %s; %q", c.name, why, fittedText(&r), r.fit.Notes)
		}
		if !c.held && r.after.groundM > 0.6*r.before.groundM {
			t.Errorf("%s: %.4f m, before %.4f m: %s", c.name, r.after.groundM, r.before.groundM, fittedText(&r))
		}
	}
}

// TestCommonDriftIsHeld: a drift that parallel strips have in common looks like a roll of the strip that crosses them, of each one where all show the same. It is said, and what
// is applied does not make the ground worse.
func TestCommonDriftIsHeld(t *testing.T) {
	for _, c := range []struct {
		same    bool
		crosses int
		want    string
	}{{true, 1, "tilt along their flight together"}, {true, 2, "tilt along their flight together"}, {false, 1, "have in common is not determined"}} {
		s := simulate.SmallScenario()
		s.Plan.CrossStrips, s.Plan.SameDirection = c.crosses, c.same
		for i := range 3 {
			s.Faults.Strips = append(s.Faults.Strips, simulate.StripFault{Strip: i + 1, DriftH: simulate.Drift{Shape: simulate.DriftLinear, Size: 0.1}})
		}
		r := flyCloud(t, s, 1).correctFlight(t, fromFile, DefaultCorrectOptions(), true)
		if all := fittedText(&r); !strings.Contains(all, c.want) || r.after.groundM > 1.01*r.before.groundM {
			t.Errorf("%+v: %.4f m, before %.4f m: %s", c, r.after.groundM, r.before.groundM, all)
		}
	}
}

// TestRollOfACrossStripIsDecidedByAnother: a roll of one of two crossing strips is taken off, since the other one speaks against a tilt of the strips that they cross.
func TestRollOfACrossStripIsDecidedByAnother(t *testing.T) {
	s := simulate.SmallScenario()
	s.Plan.CrossStrips = 2
	s.Faults.Strips = []simulate.StripFault{{Strip: 4, Roll: simulate.Drift{Shape: simulate.DriftLinear, Size: 0.1}}}
	r := flyCloud(t, s, 1).correctFlight(t, fromFile, DefaultCorrectOptions(), true)
	if r.fit.Correction.Strips[3].RollRad.zero() || r.after.groundM > 0.0113 {
		t.Errorf("%.4f m, before %.4f m: %s", r.after.groundM, r.before.groundM, fittedText(&r))
	}
}

// TestTimesWithoutOverlapAreNamed: where no other strip covers a strip that drifts, the drift is carried over, and said so.
func TestTimesWithoutOverlapAreNamed(t *testing.T) {
	s := simulate.SmallScenario()
	s.Plan.StripLengthM, s.Plan.CrossStrips = 200, 0
	s.Faults.Strips = []simulate.StripFault{{Strip: 2, DriftH: simulate.Drift{Shape: simulate.DriftLinear, Size: 0.2}}, {Strip: 1, KeepFrom: 0, KeepTo: 0.25}, {Strip: 3, KeepFrom: 0, KeepTo: 0.25}}
	f := flyCloud(t, s, 1)
	o := DefaultCorrectOptions()
	o.ApplyConfounded = true // no strip crosses
	c := f.correctFlight(t, fromFile, o, true)
	notes := strings.Join(c.fit.Notes, " ")
	if !strings.Contains(notes, "has no overlap for") || !strings.Contains(notes, "not measured") {
		t.Errorf("fitted %s, notes %q", fittedText(&c), c.fit.Notes)
	}
}

// TestStepIsRemoved is known truth: a strip whose height steps in the middle is corrected to the noise, and the step is found where it is.
func TestStepIsRemoved(t *testing.T) {
	s := simulate.SmallScenario()
	s.Faults.Strips = []simulate.StripFault{{Strip: 2, DriftH: simulate.Drift{Shape: simulate.DriftStep, Size: 0.08, At: 0.4}}}
	f := flyCloud(t, s, 1)
	c := f.correctFlight(t, noPath, DefaultCorrectOptions(), true)
	k := &c.fit.Correction.Strips[1]
	if len(k.UpStepsM) != 1 {
		t.Fatalf("%d steps: %s", len(k.UpStepsM), fittedText(&c))
	}
	at := (k.UpStepsM[0].TimeS[0] + k.UpStepsM[0].TimeS[1]) / 2
	if want := *k.StartS + 0.4*(*k.EndS-*k.StartS); math.Abs(at-want) > 0.3 || math.Abs(k.UpStepsM[0].Value[1]-0.08) > 0.004 {
		t.Errorf("a step of %.4f m at %.2f s, made 0.08 m at %.2f s", k.UpStepsM[0].Value[1], at, want)
	}
}
