package blunder

import (
	"fmt"
	"math"
	"os"
	"os/exec"
	"strings"
	"testing"
)

// zoneToZone turns UTM coordinates of one northern zone into another's.
func zoneToZone(from, to int) func(e, n float64) (float64, float64) {
	f, errF := utm(from, false)
	g, errG := utm(to, false)
	if errF != nil || errG != nil {
		panic("UTM")
	}
	return func(e, n float64) (float64, float64) {
		lat, lon, _ := f.Inverse(e, n)
		a, b, _ := g.Forward(lat, lon)
		return a, b
	}
}

// zoneToDegrees gives latitude and longitude in degrees.
func zoneToDegrees(zone int) func(e, n float64) (float64, float64) {
	f, err := utm(zone, false)
	if err != nil {
		panic("UTM")
	}
	return func(e, n float64) (float64, float64) {
		lat, lon, _ := f.Inverse(e, n)
		return lat * 180 / math.Pi, lon * 180 / math.Pi
	}
}

// The zone shifts that rule B4 undoes, against PROJ.
func TestZonesAgainstPROJ(t *testing.T) {
	if _, err := exec.LookPath("cs2cs"); err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal("cs2cs is missing: apt-get install proj-bin")
		}
		t.Skip("cs2cs is missing")
	}
	cmd := exec.Command("cs2cs", "-f", "%.4f", "EPSG:32617", "EPSG:32618")
	cmd.Stdin = strings.NewReader("512345.12 4500321.10 0\n")
	out, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	var e, n float64
	if _, err := fmt.Sscan(string(out), &e, &n); err != nil {
		t.Fatalf("%q: %v", out, err)
	}
	ge, gn := zoneToZone(17, 18)(512345.12, 4500321.10)
	if math.Hypot(ge-e, gn-n) > 1e-3 {
		t.Errorf("zone 18: %.3f %.3f, PROJ %.3f %.3f", ge, gn, e, n)
	}
}
