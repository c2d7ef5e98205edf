package simulate

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// GDAL accepts the coordinate systems of the files and reads the units from them.
func TestWKTAgainstGDAL(t *testing.T) {
	tool, err := exec.LookPath("gdalsrsinfo")
	if err != nil {
		t.Skip("gdalsrsinfo of GDAL is not installed")
	}
	f := fly(t, SmallScenario())
	for _, c := range []struct {
		name string
		u    Units
		flat bool
		want []string
	}{
		{"metres", Metres, false, []string{"+proj=utm +zone=33", "+units=m", "+vunits=m"}},
		{"US survey feet", Units{USSurveyFootM, USSurveyFootM}, false, []string{"+x_0=500000", "+units=us-ft", "+vunits=us-ft"}},
		{"international feet", Units{InternationalFootM, InternationalFootM}, false, []string{"+x_0=500000", "+units=ft", "+vunits=ft"}},
		{"metres and feet", Units{MetreM, USSurveyFootM}, false, []string{"+units=m", "+vunits=us-ft"}},
		{"horizontal only", Metres, true, []string{"+proj=utm +zone=33"}},
	} {
		path := filepath.Join(t.TempDir(), "a.wkt")
		if err := os.WriteFile(path, []byte(f.WKT(c.u, c.flat)), 0o644); err != nil {
			t.Fatal(err)
		}
		out, err := exec.Command(tool, "-V", "-o", "proj4", path).CombinedOutput()
		if err != nil || !strings.Contains(string(out), "Validate Succeeds") {
			t.Errorf("%s: %v: %s", c.name, err, out)
		}
		for _, w := range c.want {
			if !strings.Contains(string(out), w) {
				t.Errorf("%s: GDAL reads %q, want %s", c.name, out, w)
			}
		}
	}
}

// GDAL reads from the geoid grid what GeoidM says.
func TestGeoidGridAgainstGDAL(t *testing.T) {
	tool, err := exec.LookPath("gdallocationinfo")
	if err != nil {
		t.Skip("gdallocationinfo of GDAL is not installed")
	}
	f := fly(t, SmallScenario())
	path := filepath.Join(t.TempDir(), "g.gtx")
	if err := f.WriteGeoid(path); err != nil {
		t.Fatal(err)
	}
	lat0, lon0 := f.utm.Inverse(f.Scenario.Site.CentreEM, f.Scenario.Site.CentreNM)
	for _, d := range [][2]int{{0, 0}, {5, -3}, {-8, 7}} {
		lat, lon := 0.002*float64(int(lat0/deg/0.002+0.5)+d[0]), 0.002*float64(int(lon0/deg/0.002+0.5)+d[1])
		out, err := exec.Command(tool, "-valonly", "-wgs84", path, fmt.Sprintf("%.6f", lon), fmt.Sprintf("%.6f", lat)).Output()
		if err != nil {
			t.Fatal(err)
		}
		got, err := strconv.ParseFloat(strings.TrimSpace(string(out)), 64)
		if err != nil {
			t.Fatalf("%q: %v", out, err)
		}
		e, n := f.utm.Forward(lat*deg, lon*deg)
		near(t, "geoid height", "m", got, f.GeoidM(e, n), 1e-4)
	}
}
