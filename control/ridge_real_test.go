package control

import (
	"context"
	"fmt"
	"math"
	"path/filepath"
	"testing"

	"sidelap/las"
)

// Open data: gabled roofs of Delft and of a French village, each seen by two lines. No surveyed ridges come with them, so
// one line's own ridges serve as the survey and the other line as the cloud. The README of the data measured the
// height between the lines on flat ground by cell means: +0.028 to +0.033 m and +0.006 m in this order. Ridges have to show the
// same, and offsets across them of centimetres, as lines of one survey have.
func TestRealRidges(t *testing.T) {
	if testing.Short() {
		t.Skip("reads 600 000 points three times")
	}
	for _, c := range []struct {
		glob          string
		survey, cloud uint16
		stepM         float64 // of the places where ridges are looked for
		atLeast       int
		dzM           float64
	}{
		{"nl-ahn3-delft-1.laz", 57139, 57138, 4, 5, 0.030},
		{"fr-ign-block-77055_6277*.laz", 707, 706, 2, 5, 0.006},
	} {
		paths, err := filepath.Glob(filepath.Join(realData(t, "lidar"), c.glob))
		if err != nil || len(paths) == 0 {
			t.Fatal(c.glob, err)
		}
		var points []Point
		for _, p := range paths {
			h := header(t, p)
			for e := h.Min[0]; e < h.Max[0]; e += c.stepM {
				for n := h.Min[1]; n < h.Max[1]; n += c.stepM {
					points = append(points, Point{ID: fmt.Sprintf("%.0f %.0f", e, n), EM: e, NM: n})
				}
			}
		}
		var survey []Point
		for i, r := range ridgesOf(t, paths, c.survey, points) {
			if r.OK {
				p := points[i]
				p.EM, p.NM, p.ZM = p.EM+r.NormalE*r.AcrossM, p.NM+r.NormalN*r.AcrossM, r.DzM
				survey = append(survey, p)
			}
		}
		var across, dz []float64
		for _, r := range ridgesOf(t, paths, c.cloud, survey) {
			if r.OK {
				across, dz = append(across, r.AcrossM), append(dz, r.DzM)
			}
		}
		t.Logf("%s: %d ridges in line %d, %d of them in line %d: across %+.3f m (NMAD %.3f), height %+.3f (%.3f)", c.glob, len(survey), c.survey, len(dz), c.cloud, Median(across), NMAD(across), Median(dz), NMAD(dz))
		if len(dz) < c.atLeast {
			t.Fatalf("%s: %d ridges seen by both lines", c.glob, len(dz))
		}
		if math.Abs(Median(dz)-c.dzM) > 0.015 || NMAD(dz) > 0.03 || NMAD(across) > 0.06 || math.Abs(Median(across)) > 0.08 {
			t.Errorf("%s: ridges disagree with the ground between the lines, %+.3f m", c.glob, c.dzM)
		}
	}
}

func header(t *testing.T, path string) *las.Header {
	t.Helper()
	f, err := las.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	return f.Header()
}

// ridgesOf looks for ridges at the points in the roofs of one line.
func ridgesOf(t *testing.T, paths []string, source uint16, points []Point) []RidgeFix {
	t.Helper()
	col := NewCollector(points, 2.5)
	for _, p := range paths {
		f, err := las.Open(p)
		if err != nil {
			t.Fatal(err)
		}
		for ch, err := range f.Chunks(context.Background(), CollectorColumns, 1) {
			if err != nil {
				t.Fatal(err)
			}
			col.Add(roofs(only(ch, source)), 0)
		}
		f.Close()
	}
	return col.Ridges()
}

// roofs returns the points of class 6.
func roofs(ch *las.Chunk) *las.Chunk {
	o := &las.Chunk{Frame: ch.Frame, First: ch.First}
	for i := range ch.N {
		if ch.Class[i] != 6 {
			continue
		}
		o.N++
		o.X, o.Y, o.Z = append(o.X, ch.X[i]), append(o.Y, ch.Y[i]), append(o.Z, ch.Z[i])
		o.Class, o.ReturnNumber, o.NumReturns = append(o.Class, 6), append(o.ReturnNumber, ch.ReturnNumber[i]), append(o.NumReturns, ch.NumReturns[i])
	}
	return o
}
