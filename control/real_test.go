package control

import (
	"context"
	"fmt"
	"math"
	"path/filepath"
	"testing"

	"sidelap/las"
)

// Open data: ground returns of one line over Delft serve as points, the next line as the cloud. The README of
// the data measured -0.028 m between these lines by cell means (NMAD 0.009); triangles must find the same.
func TestRealLinesAsCheckPoints(t *testing.T) {
	path := filepath.Join(realData(t, "lidar"), "nl-ahn3-delft-1.laz")
	f, err := las.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	each := func(source uint16, take func(ch *las.Chunk)) {
		t.Helper()
		for ch, err := range f.Chunks(context.Background(), CollectorColumns, 1) {
			if err != nil {
				t.Fatal(err)
			}
			take(only(ch, source))
		}
	}
	var points []Point
	n := 0
	each(57138, func(ch *las.Chunk) {
		for i := range ch.N {
			if ch.Class[i] != 2 {
				continue
			}
			if n++; n%12 == 0 {
				points = append(points, Point{ID: fmt.Sprint(n), EM: ch.Frame.XM(ch.X[i]), NM: ch.Frame.YM(ch.Y[i]), ZM: ch.Frame.ZM(ch.Z[i]), Use: UseCheck, Cover: CoverOpen})
			}
		}
	})
	col := NewCollector(points, 3)
	each(57139, func(ch *las.Chunk) { col.Add(ch, 0) })
	cmp := col.Evaluate(DefaultEvaluateOptions())
	var flat []float64
	for i := range cmp.Points {
		p := &cmp.Points[i]
		if p.Used && p.SlopePct < 3 && p.PlaneRMSM < 0.03 && p.StepM == 0 && p.P90P10M < 0.06 {
			flat = append(flat, p.DzM)
		}
	}
	if len(flat) < 100 {
		t.Fatalf("%d flat places of %d points, %d used", len(flat), len(points), cmp.NUsed)
	}
	a := must(t, flat)
	t.Logf("%d of %d: median %.4f, NMAD %.4f", len(flat), len(points), a.MedianM, a.NMADM)
	if math.Abs(a.MedianM+0.028) > 0.009 || a.NMADM > 0.03 {
		t.Errorf("median %.4f m (NMAD %.4f), the data's README has -0.028 (0.009)", a.MedianM, a.NMADM)
	}
}

// only returns the points of one source.
func only(ch *las.Chunk, source uint16) *las.Chunk {
	o := &las.Chunk{Frame: ch.Frame, First: ch.First}
	for i := range ch.N {
		if ch.Source[i] != source {
			continue
		}
		o.N++
		o.X, o.Y, o.Z = append(o.X, ch.X[i]), append(o.Y, ch.Y[i]), append(o.Z, ch.Z[i])
		o.Intensity, o.ReturnNumber, o.NumReturns = append(o.Intensity, ch.Intensity[i]), append(o.ReturnNumber, ch.ReturnNumber[i]), append(o.NumReturns, ch.NumReturns[i])
		o.Flags, o.Class, o.Source, o.GPSTime = append(o.Flags, ch.Flags[i]), append(o.Class, ch.Class[i]), append(o.Source, ch.Source[i]), append(o.GPSTime, ch.GPSTime[i])
	}
	return o
}
