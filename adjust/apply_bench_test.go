package adjust

import (
	"context"
	"path/filepath"
	"testing"

	"sidelap/las"
	"sidelap/trajectory/simulate"
)

// BenchmarkApplyFile is the second reading: a file read, every point moved by all kinds of errors and tried back, written, with its undo file.
func BenchmarkApplyFile(b *testing.B) {
	for _, c := range []struct {
		name  string
		cloud simulate.CloudOptions
	}{
		{"LAS", simulate.CloudOptions{OneFile: true}},
		{"LAZ", simulate.CloudOptions{OneFile: true, Compressed: true}},
	} {
		b.Run(c.name, func(b *testing.B) {
			s := simulate.DefaultScenario()
			f := flyCloud(b, s, 1)
			dir := b.TempDir()
			names, err := f.flight.WriteCloud(dir, c.cloud)
			if err != nil {
				b.Fatal(err)
			}
			in, err := las.Open(names[0])
			if err != nil {
				b.Fatal(err)
			}
			defer in.Close()
			fault := everyError(f.survey, f.path)
			var points int64
			for b.Loop() {
				a, err := ApplyFile(context.Background(), in, 0, filepath.Join(dir, "out"+filepath.Ext(names[0])), fault, f.path, ApplyOptions{Overwrite: true})
				if err != nil {
					b.Fatal(err)
				}
				points += a.Counts.Points
			}
			b.ReportMetric(float64(points)/b.Elapsed().Seconds(), "points/s")
		})
	}
}

// BenchmarkMove moves points alone, with and without the trial back.
func BenchmarkMove(b *testing.B) {
	s := simulate.SmallScenario()
	f := flyCloud(b, s, 1)
	fault := everyError(f.survey, f.path)
	var chunks []*las.Chunk
	for c := range f.flight.StripChunks(1) {
		d := *c
		d.X, d.Y, d.Z = append([]int32(nil), c.X...), append([]int32(nil), c.Y...), append([]int32(nil), c.Z...)
		d.GPSTime, d.Source, d.ScanAngle = append([]float64(nil), c.GPSTime...), append([]uint16(nil), c.Source...), append([]int16(nil), c.ScanAngle...)
		d.Channel = append([]uint8(nil), c.Channel...)
		chunks = append(chunks, &d)
	}
	for _, back := range []bool{false, true} {
		name := "forward"
		var exceptions func(int, [3]int32)
		if back {
			name, exceptions = "and back", func(int, [3]int32) {}
		}
		b.Run(name, func(b *testing.B) {
			m, err := NewMover(fault, f.path, 0)
			if err != nil {
				b.Fatal(err)
			}
			points := 0
			for b.Loop() {
				for _, c := range chunks {
					if err := m.Move(c, exceptions); err != nil {
						b.Fatal(err)
					}
					points += c.N
				}
			}
			b.ReportMetric(float64(points)/b.Elapsed().Seconds(), "points/s")
		})
	}
}
