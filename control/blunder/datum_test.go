package blunder

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"strings"
	"testing"

	"sidelap/trajectory/geodesy"
)

// The frames against PROJ (Debian's proj-bin), which reads the parameters from the EPSG dataset by the codes of the
// frames: two millimetres over the areas of use and dates from 2010 to 2035.
func TestFramesAgainstPROJ(t *testing.T) {
	if _, err := exec.LookPath("cs2cs"); err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal(err)
		}
		t.Skip("proj-bin is missing")
	}
	for _, c := range []struct {
		f                        frame
		epsg                     int
		south, north, west, east float64
	}{
		{frameNAD83, 6317, 26, 48, -120, -70},    // NAD83(2011)
		{frameNAD83, 8253, 45, 70, -130, -60},    // NAD83(CSRS)v7
		{frameETRS89, 7930, 37, 70, -9, 25},      // ETRF2000
		{frameGDA2020, 7842, -43, -12, 115, 152}, // GDA2020
		{frameGDA94, 4938, -43, -12, 115, 152},   // GDA94
	} {
		rng := rand.New(rand.NewPCG(8, uint64(c.epsg)))
		var in strings.Builder
		var xs [][3]float64
		var years []float64
		for range 40 {
			lat, lon := c.south+rng.Float64()*(c.north-c.south), c.west+rng.Float64()*(c.east-c.west)
			x, y, z := geodesy.ToECEF(geodesy.GRS80, lat*math.Pi/180, lon*math.Pi/180, 500*rng.Float64())
			year := 2010 + 25*rng.Float64()
			xs, years = append(xs, [3]float64{x, y, z}), append(years, year)
			fmt.Fprintf(&in, "%.6f %.6f %.6f %.6f\n", x, y, z, year)
		}
		cmd := exec.Command("cs2cs", "-f", "%.6f", "EPSG:7789", fmt.Sprintf("EPSG:%d", c.epsg))
		cmd.Stdin = strings.NewReader(in.String())
		out, err := cmd.Output()
		if err != nil {
			t.Fatal(err)
		}
		for i, line := range strings.Split(strings.TrimSpace(string(out)), "\n") {
			var p [3]float64
			if _, err := fmt.Sscan(line, &p[0], &p[1], &p[2]); err != nil {
				t.Fatalf("%s: %q", c.f.name, line)
			}
			d := c.f.offsetM(xs[i], years[i])
			for k := range 3 {
				if math.Abs(p[k]-xs[i][k]-d[k]) > 0.002 {
					t.Fatalf("%s, EPSG:%d, year %.2f: component %d moves %.4f m, PROJ %.4f", c.f.name, c.epsg, years[i], k, d[k], p[k]-xs[i][k])
				}
			}
		}
	}
}

// What a surveyor meets, from the practice reference: NAD 83 against ITRF one to two metres in the conterminous US,
// and ITRF against GDA2020 some 7 cm a year.
func TestDatumCandidatesAreOfTheSizeMet(t *testing.T) {
	const deg = math.Pi / 180
	far := func(list []DatumShift, name string) float64 {
		for _, d := range list {
			if d.Name == name {
				return math.Hypot(d.DEM, d.DNM)
			}
		}
		return math.NaN()
	}
	if d := far(DatumCandidates(40*deg, -105*deg, 0, 2026), "cloud in ITRF or WGS 84 of the day, survey in NAD 83 (2011, CSRS)"); !(d > 1 && d < 2) {
		t.Errorf("NAD 83 against ITRF in Colorado: %.2f m", d)
	}
	if d := far(DatumCandidates(-33*deg, 149*deg, 0, 2026), "cloud in ITRF or WGS 84 of the day, survey in GDA2020"); math.Abs(d-6*0.06) > 0.08 {
		t.Errorf("ITRF 2026 against GDA2020: %.2f m", d)
	}
	if d := far(DatumCandidates(-33*deg, 149*deg, 0, 2026), "cloud in GDA2020, survey in GDA94"); !(d > 1.4 && d < 1.9) {
		t.Errorf("GDA2020 against GDA94: %.2f m", d)
	}
	if got := DatumCandidates(0, -150*deg, 0, 2026); len(got) != 0 {
		t.Errorf("in the Pacific: %v", got)
	}
	// both orders are opposite, and the grid's convergence turns them
	list := DatumCandidates(50*deg, 13*deg, 0, 2026)
	turned := DatumCandidates(50*deg, 13*deg, 10*deg, 2026)
	for i, d := range list {
		if h := math.Hypot(d.DEM, d.DNM); math.Abs(h-math.Hypot(turned[i].DEM, turned[i].DNM)) > 1e-9 {
			t.Error("turning changes the length")
		}
		if a := math.Remainder(math.Atan2(d.DEM, d.DNM)-math.Atan2(turned[i].DEM, turned[i].DNM), 2*math.Pi); math.Abs(a-10*deg) > 1e-9 {
			t.Errorf("grid azimuth of a shift changes by %.3f deg", a/deg)
		}
	}
}
