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

// The motions of the plates against PROJ, which reads them from its file ITRF2014 (Altamimi et al. 2017): a millimetre over 25 years.
func TestPlatesAgainstPROJ(t *testing.T) {
	if _, err := exec.LookPath("cct"); err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal(err)
		}
		t.Skip("proj-bin is missing")
	}
	const epoch = 2000.4
	for _, c := range []struct {
		plate    string
		mas      [3]float64
		lat, lon float64
	}{{"EURA", plateEurasia, 50, 13}, {"NOAM", plateNorthAmerica, 40, -105}, {"SOAM", plateSouthAmerica, -16, -48}} {
		f := plateFixed(c.plate, epoch, c.mas)
		for _, year := range []float64{2000.4, 2010, 2026.3} {
			x, y, z := geodesy.ToECEF(geodesy.GRS80, c.lat*math.Pi/180, c.lon*math.Pi/180, 300)
			cmd := exec.Command("cct", "-d", "6", "+init=ITRF2014:"+c.plate, fmt.Sprintf("+t_epoch=%.4f", epoch))
			cmd.Stdin = strings.NewReader(fmt.Sprintf("%.6f %.6f %.6f %.6f\n", x, y, z, year))
			out, err := cmd.Output()
			if err != nil {
				t.Fatal(err)
			}
			var p [3]float64
			if _, err := fmt.Sscan(string(out), &p[0], &p[1], &p[2]); err != nil {
				t.Fatalf("%s: %q", c.plate, out)
			}
			d := f.offsetM([3]float64{x, y, z}, year)
			for k, v := range [3]float64{x, y, z} { // PROJ moves with the plate since the epoch, the frame takes that back
				if math.Abs(p[k]-v+d[k]) > 0.001 {
					t.Errorf("%s, year %.1f: component %d: taken back %.4f m, PROJ moves %.4f", c.plate, year, k, d[k], p[k]-v)
				}
			}
		}
	}
}

// Places within the regions, at their coasts too, and places that move on their own or use other frames (from memory).
func TestRegions(t *testing.T) {
	for _, c := range []struct {
		name     string
		lat, lon float64
		second   string // name of the second frame, empty where none is known
	}{
		{"Lisbon", 38.71, -9.14, "ETRS89"}, {"Tarifa", 36.01, -5.60, "ETRS89"}, {"Valletta", 35.90, 14.51, "ETRS89"}, {"Cagliari", 39.22, 9.11, "ETRS89"}, {"Galway", 53.27, -9.06, "ETRS89"},
		{"Vardo", 70.37, 31.11, "ETRS89"}, {"Burgas", 42.50, 27.47, "ETRS89"}, {"Thessaloniki", 40.64, 22.94, "ETRS89"}, {"Rostock", 54.09, 12.14, "ETRS89"},
		{"Athens", 37.98, 23.73, ""}, {"Heraklion", 35.34, 25.13, ""}, {"Izmir", 38.42, 27.14, ""}, {"Sinop", 42.03, 35.15, ""}, {"Tunis", 36.81, 10.17, ""}, {"Algiers", 36.75, 3.06, ""}, {"Ceuta", 35.89, -5.32, ""},
		{"Key West", 24.56, -81.78, "NAD 83"}, {"Miami", 25.76, -80.19, "NAD 83"}, {"Cape Hatteras", 35.25, -75.53, "NAD 83"}, {"Boston", 42.36, -71.06, "NAD 83"}, {"St. John's", 47.56, -52.71, "NAD 83"},
		{"Brownsville", 25.90, -97.50, "NAD 83"}, {"Denver", 39.74, -104.99, "NAD 83"}, {"Calgary", 51.05, -114.07, "NAD 83"}, {"Iqaluit", 63.75, -68.52, "NAD 83"},
		{"Los Angeles", 34.05, -118.24, ""}, {"San Francisco", 37.77, -122.42, ""}, {"Seattle", 47.61, -122.33, ""}, {"Anchorage", 61.22, -149.90, ""}, {"Nuuk", 64.18, -51.72, ""}, {"Havana", 23.11, -82.37, ""},
		{"Byron Bay", -28.64, 153.61, "GDA2020"}, {"Darwin", -12.46, 130.84, "GDA2020"}, {"Hobart", -42.88, 147.33, "GDA2020"}, {"Broome", -17.96, 122.24, "GDA2020"}, {"Thursday Island", -10.58, 142.22, "GDA2020"},
		{"Perth", -31.95, 115.86, "GDA2020"}, {"Port Moresby", -9.44, 147.18, ""}, {"Kupang", -10.18, 123.61, ""},
		{"Recife", -8.05, -34.88, "SIRGAS2000"}, {"Rio de Janeiro", -22.91, -43.17, "SIRGAS2000"}, {"Belem", -1.46, -48.50, "SIRGAS2000"}, {"Mar del Plata", -38.00, -57.55, "SIRGAS2000"}, {"Manaus", -3.12, -60.02, "SIRGAS2000"},
		{"Cayenne", 4.92, -52.31, "SIRGAS2000"}, {"Montevideo", -34.90, -56.19, "SIRGAS2000"},
		{"Concepcion", -36.83, -73.05, ""}, {"Santiago", -33.45, -70.67, ""}, {"Antofagasta", -23.65, -70.40, ""}, {"Mendoza", -32.89, -68.85, ""}, {"La Paz", -16.50, -68.15, ""}, {"Caracas", 10.49, -66.88, ""},
	} {
		got := framesAt(c.lat, c.lon)
		switch {
		case c.second == "" && len(got) > 0:
			t.Errorf("%s moves on its own or uses other frames: %s", c.name, got[1].name)
		case c.second != "" && (len(got) < 2 || !strings.HasPrefix(got[1].name, c.second)):
			t.Errorf("%s: %v, want %s", c.name, got, c.second)
		}
	}
}

// What a surveyor meets, from the practice reference: NAD 83 against ITRF one to two metres in the conterminous US; ITRF against
// GDA2020 by the motion of the plate, which that reference gives as some 7 cm a year (PROJ: 7 in the west, 6 in the south-east).
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
	if d := far(DatumCandidates(-33*deg, 149*deg, 0, 2026), "cloud in ITRF or WGS 84 of the day, survey in GDA2020"); math.Abs(d-6*0.059) > 0.01 {
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
