package assess

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"sidelap/trajectory/simulate"
)

// TestRidgesOfHouses is known truth through files: points surveyed on the ridges of the gabled houses of a simulated
// flight, a cloud that a wrong base coordinate moved. Each offset lies within its doubt, and the shift is recovered; flat roofs are refused.
func TestRidgesOfHouses(t *testing.T) {
	if testing.Short() {
		t.Skip("flies surveys")
	}
	const de, dn, dh, surveyM = 0.14, -0.09, 0.06, 0.01
	within, n := 0, 0
	for seed := uint64(21); seed < 24; seed++ {
		s := simulate.SmallScenario()
		s.Seed, s.Scanner.PulseRateHz = seed, 60000
		s.Faults.DatumEM, s.Faults.DatumNM, s.Faults.DatumHeightM = de, dn, dh
		f, o := survey(t, s, simulate.CloudOptions{})
		o.Trajectory, o.SkipCauses = "", true
		o.CheckPoints = filepath.Join(filepath.Dir(o.CheckPoints), "ridges.csv")
		rng := rand.New(rand.NewPCG(seed, 77))
		var list strings.Builder
		list.WriteString("name,easting,northing,height,surface\n")
		normal := map[string][2]float64{}
		flat := map[string]bool{}
		for i, h := range f.Surface.Houses() {
			id := fmt.Sprintf("R%d", i+1)
			u := 4 * (rng.Float64() - 0.5) // somewhere along the ridge
			sin, cos := math.Sincos(h.AzimuthRad)
			fmt.Fprintf(&list, "%s,%.3f,%.3f,%.3f,ridge\n", id, h.EM+u*sin+surveyM*rng.NormFloat64(), h.NM+u*cos+surveyM*rng.NormFloat64(), h.RidgeM+surveyM*rng.NormFloat64())
			normal[id], flat[id] = [2]float64{cos, -sin}, h.PitchRad == 0
		}
		if err := os.WriteFile(o.CheckPoints, []byte(list.String()), 0o644); err != nil {
			t.Fatal(err)
		}
		rec, _, err := Run(context.Background(), o)
		if err != nil {
			t.Fatal(err)
		}
		if rec.Checkpoints.NUsed != 0 {
			t.Errorf("seed %d: %d ridge points count as ground", seed, rec.Checkpoints.NUsed)
		}
		found, gabled := 0, 0
		for _, r := range rec.Checkpoints.Horizontal.Targets {
			if flat[r.ID] {
				if r.Found || r.Reason == "" {
					t.Errorf("seed %d: a flat roof gives a ridge: %+v", seed, r)
				}
				continue
			}
			gabled++
			if !r.Found {
				t.Logf("seed %d: %s not found: %s", seed, r.ID, r.Reason)
				continue
			}
			found++
			across := normal[r.ID][0]*de + normal[r.ID][1]*dn // of either sign: the normal's sense is free
			miss := math.Abs(math.Abs(*r.AcrossM) - math.Abs(across))
			n++
			if sigma := math.Hypot(*r.SigmaM, surveyM); miss < 2*sigma {
				within++
			}
			if miss > 0.05 || math.Abs(*r.DzM-dh) > 0.05 {
				t.Errorf("seed %d: %s: across %.3f (true %.3f), height %+.3f (true %+.3f), sigma %.3f", seed, r.ID, *r.AcrossM, across, *r.DzM, dh, *r.SigmaM)
			}
		}
		if found < gabled-1 || found < 3 {
			t.Errorf("seed %d: %d of %d ridges found", seed, found, gabled)
		}
		basis := string(rec.Checkpoints.Horizontal.Basis)
		_, tail, ok := strings.Cut(basis, "shift of the cloud ")
		var e, nn, se, sn float64
		if _, err := fmt.Sscanf(tail, "%f m east, %f m north (± %f, %f)", &e, &nn, &se, &sn); !ok || err != nil {
			t.Fatalf("seed %d: no shift in %q", seed, basis)
		}
		if math.Abs(e-de) > 0.03 || math.Abs(nn-dn) > 0.03 {
			t.Errorf("seed %d: shift %+.3f %+.3f, true %+.3f %+.3f", seed, e, nn, de, dn)
		}
		t.Logf("seed %d: %s", seed, basis)
	}
	if within < n*8/10 {
		t.Errorf("%d of %d offsets within two sigma", within, n)
	}
}
