package simulate

import (
	"os"
	"strconv"
	"testing"
)

// TestWriteBig writes a cloud for whole-program measurements: SIDELAP_BIG names the folder, SIDELAP_BIG_FACTOR
// the density as a multiple of the demo's (10 gives 46 million points), SIDELAP_BIG_LAZ=1 asks for LAZ.
// docs/performance.md says how it is used.
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
	s.Scanner.PulseRateHz *= factor
	s.Scanner.LineRateHz *= min(factor, 6)
	if _, err := WriteSurvey(dir, s, CloudOptions{Compressed: os.Getenv("SIDELAP_BIG_LAZ") == "1"}); err != nil {
		t.Fatal(err)
	}
}
