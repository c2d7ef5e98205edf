package recover

import (
	"context"
	"math"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"sidelap/las"
)

// realCloud gathers files of the open data.
func realCloud(t *testing.T, names ...string) *Collector {
	t.Helper()
	dir := filepath.Join("..", "..", "..", "shared", "data", "real", "lidar")
	if _, err := os.Stat(dir); err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatalf("open data missing: %v", err)
		}
		t.Skip("open data not present")
	}
	c := collector(t)
	for i, name := range names {
		f, err := las.Open(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		for _, s := range f.Spans(1 << 20) {
			for ch, err := range f.Read(context.Background(), s, Columns) {
				if err != nil {
					t.Fatal(err)
				}
				c.Add(ch, i)
			}
		}
		if err := f.Close(); err != nil {
			t.Fatal(err)
		}
	}
	return c
}

// TestRealFlights recovers paths of open data sets and checks what can be known of
// them: an aircraft flies straight and level, as fast as aircraft of the trade do
// (common practice: 40 to 80 m/s), in the directions that the list of the data tells
// (README.md beside them), and neighbouring lines of one mission at one height.
func TestRealFlights(t *testing.T) {
	type leg struct {
		source    uint16
		level     Level
		courseDeg float64 // grid, +-20; NaN: not known
	}
	nan := math.NaN()
	for _, c := range []struct {
		name           string
		files          []string
		legs           []leg
		minHM, maxHM   float64 // above the points
		spreadM        float64 // largest difference in height above sea between legs; 0 = not checked
		minMPS, maxMPS float64
		straightM      float64 // largest RMS distance from a straight line
	}{
		// Delft, two tiles; whole-degree angles. The pair of 57138 and 57139 is opposed.
		{"nl", []string{"nl-ahn3-delft-1.laz", "nl-ahn3-delft-2.laz"}, []leg{{44266, LevelRays, -37}, {57139, LevelRays, -82}, {57138, LevelRays, 88}}, 400, 500, 6, 45, 75, 2},
		// British Columbia: lines flown north, south, north.
		{"ca", []string{"ca-bc-forest-1.laz"}, []leg{{66, LevelRays, 0}, {67, LevelRays, 180}, {68, LevelRays, 0}}, 600, 800, 0, 45, 75, 2},
		// France, six tiles of 50 m, a sensor that looks forward and back: rays only.
		{"fr", []string{"fr-ign-block-77050_627755.laz", "fr-ign-block-77050_627760.laz", "fr-ign-block-77055_627755.laz", "fr-ign-block-77055_627760.laz", "fr-ign-block-77060_627755.laz", "fr-ign-block-77060_627760.laz"},
			[]leg{{707, LevelRays, nan}, {706, LevelRays, nan}}, 1350, 1550, 40, 60, 80, 5},
		// Switzerland, thinned to a point in 2 000: angles only, lines alternate east and west.
		{"ch", []string{"ch-8lines-10k.las"}, []leg{{5062, LevelAngles, -97}, {5061, LevelAngles, 80}, {5060, LevelAngles, -97}, {5059, LevelAngles, 80}}, 1100, 1700, 250, 50, 70, 5},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := realCloud(t, c.files...).Recover()
			if r.Path == nil {
				t.Fatal(r.Notes)
			}
			if err := r.Path.Validate(); err != nil {
				t.Fatal(err)
			}
			var heights []float64
			for _, want := range c.legs {
				i := slices.IndexFunc(r.Legs, func(l Leg) bool { return l.Sources[0] == want.source && l.Level != LevelNone })
				if i < 0 {
					t.Errorf("line %d: no path", want.source)
					continue
				}
				l := r.Legs[i]
				course, rms, height := straightness(r, l)
				heights = append(heights, height)
				t.Logf("line %d: level %s, %.1f m above ground, %.1f m/s, course %.1f degrees, %.2f m off a straight line; sigma %.2f %.2f %.2f m", want.source, l.Level, l.HeightM, l.SpeedMPS, course, rms, l.SigmaAlongM, l.SigmaAcrossM, l.SigmaUpM)
				if l.Level != want.level || l.HeightM < c.minHM || l.HeightM > c.maxHM || l.SpeedMPS < c.minMPS || l.SpeedMPS > c.maxMPS || rms > c.straightM {
					t.Errorf("line %d: %+v, %.2f m off a straight line", want.source, l, rms)
				}
				if d := math.Abs(math.Remainder(course-want.courseDeg, 360)); d > 20 {
					t.Errorf("line %d: course %.1f degrees, want %.0f", want.source, course, want.courseDeg)
				}
			}
			if d := slices.Max(heights) - slices.Min(heights); c.spreadM > 0 && d > c.spreadM {
				t.Errorf("heights above sea differ by %.1f m: %v", d, heights)
			}
		})
	}
}

// straightness fits a straight line to a leg: course in degrees, RMS distance from the
// line, mean height.
func straightness(r *Result, l Leg) (courseDeg, rmsM, heightM float64) {
	var e, n []float64
	for i, t := range r.Path.TimeS {
		if t >= l.StartS && t <= l.EndS {
			e, n = append(e, r.Path.EM[i]), append(n, r.Path.NM[i])
			heightM += r.Path.HM[i]
		}
	}
	k := len(e)
	heightM /= float64(k)
	var me, mn, see, snn, sen float64
	for i := range e {
		me += e[i] / float64(k)
		mn += n[i] / float64(k)
	}
	for i := range e {
		see += (e[i] - me) * (e[i] - me)
		snn += (n[i] - mn) * (n[i] - mn)
		sen += (e[i] - me) * (n[i] - mn)
	}
	a := 0.5 * math.Atan2(2*sen, snn-see) // azimuth of the principal axis
	if (e[k-1]-e[0])*math.Sin(a)+(n[k-1]-n[0])*math.Cos(a) < 0 {
		a += math.Pi
	}
	for i := range e {
		d := (e[i]-me)*math.Cos(a) - (n[i]-mn)*math.Sin(a)
		rmsM += d * d / float64(k)
	}
	return math.Remainder(a*180/math.Pi, 360), math.Sqrt(rmsM), heightM
}

// TestRealWithoutEvidence: files that allow no path say so.
func TestRealWithoutEvidence(t *testing.T) {
	for _, name := range []string{"us-ne-wkt-and-geokeys-usft.las", "us-pa-las10-pdrf0-usft.las", "us-ca-mobile-usft-navd88.las", "no-coast-nn2000.laz", "fr-ground-20m-2lines.laz", "../odd/laszip4j-500m_IM2023_subset.laz"} {
		r := realCloud(t, name).Recover()
		if r.Path != nil || r.Level != LevelNone && r.Level != LevelNadir || len(r.Notes) == 0 {
			t.Errorf("%s: level %s, %d legs, %v", name, r.Level, len(r.Legs), r.Notes)
		}
	}
}
