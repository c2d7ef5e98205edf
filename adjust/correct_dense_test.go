package adjust

import (
	"math"
	"testing"

	"sidelap/trajectory/simulate"
)

// TestQuietSurfaces is known truth: on a cloud so dense, or so precise, that its surfaces are quieter than the path (here 2 mm against slow errors of 3 mm and 0.0008
// degrees) a boresight error is taken off as one, not as shifts and rolls of the strips that take the path's errors along: no strip of its own is moved by a centimetre. Across surfaces within 1.2 times
// the flight without it; the angles within three of their standard deviations, which the path's errors make and which decide in plan.
func TestQuietSurfaces(t *testing.T) {
	if testing.Short() {
		t.Skip("flights of simulation")
	}
	for _, seed := range []uint64{4, 6, 12} {
		s := simulate.SmallScenario()
		s.Seed = seed
		s.Scanner.RangeNoiseM = 0.002
		s.Process.NoiseHorizontalM, s.Process.NoiseVerticalM = 0.002, 0.003
		s.Process.NoiseRollPitchDeg, s.Process.NoiseHeadingDeg = 0.0008, 0.002
		clean := flyCloud(t, s, 1).compare(t, nil, false)
		s.Faults.BoresightRollDeg, s.Faults.BoresightPitchDeg, s.Faults.BoresightHeadingDeg = 0.04, 0.03, 0.06
		r := flyCloud(t, s, 1).correctFlight(t, fromFile, DefaultCorrectOptions(), false)
		a := r.after
		if !(a.groundM <= 1.2*clean.groundM && a.roofM <= 1.2*clean.roofM) {
			t.Errorf("seed %d: %+v, without the fault %+v; fitted %s", seed, a, clean, fittedText(&r))
		}
		truth := map[Kind]float64{BoresightRoll: 0.04 * math.Pi / 180, BoresightPitch: 0.03 * math.Pi / 180, BoresightHeading: 0.06 * math.Pi / 180}
		for _, q := range r.fit.Fitted {
			if want, ok := truth[q.Kind]; ok && !(math.Abs(q.Value-want) <= 3*q.Sigma && q.Value >= want/2) {
				t.Errorf("seed %d: %v %.5f +- %.5f, truth %.5f", seed, q.Kind, q.Value, q.Sigma, want)
			}
			delete(truth, q.Kind)
			if q.Strip >= 0 && q.EffectM > 0.01 {
				t.Errorf("seed %d: strip %d is moved by %.4f m of its own: %s", seed, q.Strip, q.EffectM, fittedText(&r))
			}
		}
		if len(truth) > 0 {
			t.Errorf("seed %d: not all angles were found: %s", seed, fittedText(&r))
		}
	}
}
