package simulate

import (
	"math"
	"os"
	"strconv"
	"testing"
)

// TestWriteBig writes a cloud for whole-program measurements: SIDELAP_BIG names the folder, SIDELAP_BIG_FACTOR
// the density as a multiple of the demo's (10 gives 46 million points), SIDELAP_BIG_LAZ=1 asks for LAZ.
// SIDELAP_BIG_KM2 asks for a square of so many square kilometres instead, with factor first returns of a strip on a
// square metre. docs/performance.md says how it is used.
func TestWriteBig(t *testing.T) {
	dir := os.Getenv("SIDELAP_BIG")
	if dir == "" {
		t.Skip("set SIDELAP_BIG to a folder to write a large cloud")
	}
	factor, err := strconv.ParseFloat(os.Getenv("SIDELAP_BIG_FACTOR"), 64)
	if err != nil {
		factor = 10
	}
	s := DemoScenario()
	if km2, err := strconv.ParseFloat(os.Getenv("SIDELAP_BIG_KM2"), 64); err == nil {
		s = wideScenario(km2, factor)
	} else {
		s.Scanner.PulseRateHz *= factor
		s.Scanner.LineRateHz *= min(factor, 6)
	}
	if _, err := WriteSurvey(dir, s, CloudOptions{Compressed: os.Getenv("SIDELAP_BIG_LAZ") == "1"}); err != nil {
		t.Fatal(err)
	}
}

// wideScenario is a square flown high and fast in long strips.
func wideScenario(km2, perM2 float64) Scenario {
	s := DemoScenario()
	side := 1000 * math.Sqrt(km2)
	p, sc := &s.Plan, &s.Scanner
	p.HeightM, p.SpeedMPS, p.TurnSpeedMPS, p.TurnRadiusM, p.SpacingM = 240, 25, 20, 60, 240
	p.StripLengthM, p.Strips, p.CrossStrips = side, int(side/p.SpacingM)+1, 1
	p.CrossLengthM = 0
	sc.FieldOfViewDeg = 70
	s.Process.RateHz = 50
	swath := 2 * p.HeightM * math.Tan(sc.FieldOfViewDeg/2*math.Pi/180)
	sc.PulseRateHz = perM2 * swath * p.SpeedMPS * 360 / sc.FieldOfViewDeg
	sc.LineRateHz = p.SpeedMPS * math.Sqrt(perM2)
	return s
}
