package rinex

import (
	"bytes"
	"fmt"
	"math"
	"testing"

	"sidelap/trajectory/geodesy"
)

// moved is an invented log of ten minutes whose antenna moves by so many metres, to the east and up, after five.
func moved(t testing.TB, eastM, upM, stepS float64, seed uint64, slip bool) *Log {
	t.Helper()
	const lat, lon = 0.82, 0.2
	x, y, z := geodesy.ToECEF(geodesy.WGS84, lat, lon, 450)
	at := [3]float64{x, y, z}
	to := [3]float64{x - eastM*math.Sin(lon) + upM*math.Cos(lat)*math.Cos(lon), y + eastM*math.Cos(lon) + upM*math.Cos(lat)*math.Sin(lon), z + upM*math.Sin(lat)}
	t0 := gps("2024-05-15 08:00:00")
	epochs := Invent(at, t0, t0+600, stepS, seed)
	after := Invent(to, t0, t0+600, stepS, seed) // the same noise
	for i := range epochs {
		if epochs[i].GPSS > t0+300 {
			epochs[i] = after[i]
		}
		if slip && epochs[i].GPSS > t0+200 { // cycles of single satellites
			for k := range epochs[i].Sats {
				if k%4 == 0 {
					epochs[i].Sats[k].Values[1] += 7
				}
			}
		}
	}
	var b bytes.Buffer
	if err := WriteObs(&b, Header{Marker: "M", Types: InventedTypes(), XYZM: at}, epochs); err != nil {
		t.Fatal(err)
	}
	f, err := Decode("moved.rnx", bytes.NewReader(b.Bytes()), int64(b.Len()))
	if err != nil {
		t.Fatal(err)
	}
	l, err := Join(f)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// Known truth: a tripod that is kicked is seen at its second, sideways or up; one that stands, and one whose receiver
// lost cycles of some satellites, is not blamed, over several seeds.
func TestJumpsOfTheAntenna(t *testing.T) {
	for seed := uint64(1); seed <= 4; seed++ {
		for _, c := range []struct {
			east, up, step float64
			slip           bool
			n              int
			watched        bool
		}{
			{0, 0, 1, false, 0, true}, {0, 0, 1, true, 0, true}, {0.10, 0, 1, false, 1, true}, {0, 0.12, 1, false, 1, true}, {0.3, -0.2, 1, true, 1, true},
			{0, 0, 2, false, 0, true}, {0.15, 0, 0.5, false, 1, true}, {0.3, 0, 5, false, 0, false},
		} {
			l := moved(t, c.east, c.up, c.step, seed, c.slip)
			jumps, watched := l.Jumps(l.Epochs[0].GPSS, l.Epochs[len(l.Epochs)-1].GPSS, 0.03)
			name := fmt.Sprintf("%+v, seed %d", c, seed)
			if len(jumps) != c.n || (watched > 0.95) != c.watched {
				t.Errorf("%s: %v, %.2f watched", name, jumps, watched)
				continue
			}
			if c.n == 1 {
				if d := jumps[0].GPSS - l.Epochs[0].GPSS - 300; d < 0 || d > 2*c.step {
					t.Errorf("%s: seen %.0f s after it happened", name, d)
				}
				if size, d := jumps[0].SizeM, math.Hypot(c.east, c.up); size < 0.3*d || size > 2.5*d {
					t.Errorf("%s: size %.3f m for a move of %.3f m", name, size, d)
				}
			}
		}
	}
}

// Outside the project: stations of the open data that stand on pillars, logged every second, did not jump.
func TestNoJumpsOnPillars(t *testing.T) {
	l, err := Read(realData(t, "nav-crx-v3-GRAS00FRA_R_20223151700_15M_01S_MO.crx.gz"))
	if err != nil {
		t.Fatal(err)
	}
	jumps, watched := l.Jumps(l.Epochs[0].GPSS, l.Epochs[len(l.Epochs)-1].GPSS, 0.03)
	if len(jumps) != 0 || watched < 0.9 {
		t.Errorf("%v, %.2f watched", jumps, watched)
	}
	var worst float64
	for _, e := range l.Epochs {
		worst = max(worst, float64(e.JumpM))
	}
	if worst == 0 || worst > 0.03 {
		t.Errorf("largest %.4f m", worst)
	}
}
