package trajectory

import (
	"math"
	"os"
	"path/filepath"
	"testing"

	"sidelap/trajectory/internal/motion"
)

// realData returns a file of the open data set, which is not part of the
// repository: without it the test is skipped, under CI=true it fails.
func realData(t testing.TB, name string) string {
	t.Helper()
	p := filepath.Join("..", "..", "shared", "data", "real", filepath.FromSlash(name))
	if _, err := os.Stat(p); err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatalf("open data missing: %v", err)
		}
		t.Skipf("open data missing: %v", err)
	}
	return p
}

// Latitude and longitude of the origin of invented flights.
const lat0, lon0 = 47.3 * deg, 11.2 * deg

// sbetOf puts an invented flight on the ellipsoid: the grid of the script is
// the plane that touches at the origin, wander is added to the heading.
func sbetOf(f *motion.Flight, wander float64) []SBETRecord {
	m, v := radii(lat0)
	out := make([]SBETRecord, len(f.T))
	for i := range out {
		lat := lat0 + (f.N[i]-f.N[0])/(m+f.H[i])
		out[i] = SBETRecord{TimeS: f.T[i], LatRad: lat, LonRad: lon0 + (f.E[i]-f.E[0])/((v+f.H[i])*math.Cos(lat)), AltM: f.H[i],
			RollRad: f.Roll[i], PitchRad: f.Pitch[i], HeadingRad: Wrap2Pi(f.Head[i] + wander), WanderRad: wander}
	}
	return out
}

// plane is the inverse of sbetOf, as a Projector with a convergence of its own.
type plane struct{ e, n, h, conv float64 }

func (p plane) Forward(lat, lon float64) (float64, float64, error) {
	m, v := radii(lat0)
	return p.e + (lon-lon0)*(v+p.h)*math.Cos(lat), p.n + (lat-lat0)*(m+p.h), nil
}

func (p plane) Inverse(e, n float64) (float64, float64, error) {
	m, v := radii(lat0)
	lat := lat0 + (n-p.n)/(m+p.h)
	return lat, lon0 + (e-p.e)/((v+p.h)*math.Cos(lat)), nil
}

func (p plane) Convergence(_, _ float64) float64 { return p.conv }

func hasText(t *testing.T, list []string, part string) {
	t.Helper()
	for _, s := range list {
		if contains(s, part) {
			return
		}
	}
	t.Errorf("no note with %q in %q", part, list)
}

func contains(s, part string) bool {
	for i := 0; i+len(part) <= len(s); i++ {
		if s[i:i+len(part)] == part {
			return true
		}
	}
	return false
}

func decisions(tr *Track) []string {
	var out []string
	for _, d := range tr.Decisions {
		out = append(out, d.String())
	}
	return append(out, tr.Warnings...)
}
