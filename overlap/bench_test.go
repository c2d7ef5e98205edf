package overlap_test

import (
	"slices"
	"testing"

	"sidelap/las"
	"sidelap/overlap"
	"sidelap/trajectory/simulate"
)

// flightChunks returns copies of all chunks of a simulated flight, strip after
// strip, and the number of points.
func flightChunks(tb testing.TB, sc simulate.Scenario) ([]*las.Chunk, int) {
	tb.Helper()
	f, err := simulate.Fly(sc)
	if err != nil {
		tb.Fatal(err)
	}
	var out []*las.Chunk
	n := 0
	for c := range f.Chunks() {
		out = append(out, cloneChunk(c))
		n += c.N
	}
	return out, n
}

func cloneChunk(c *las.Chunk) *las.Chunk {
	d := *c
	d.X, d.Y, d.Z = slices.Clone(c.X), slices.Clone(c.Y), slices.Clone(c.Z)
	d.ReturnNumber, d.NumReturns = slices.Clone(c.ReturnNumber), slices.Clone(c.NumReturns)
	d.Flags, d.Channel, d.Class = slices.Clone(c.Flags), slices.Clone(c.Channel), slices.Clone(c.Class)
	d.ScanAngle, d.Source, d.GPSTime = slices.Clone(c.ScanAngle), slices.Clone(c.Source), slices.Clone(c.GPSTime)
	return &d
}

// BenchmarkAdd measures accumulation on one core, points in order of time and,
// as in tiles sorted by place, from three strips in turn.
//
//	go test -run '^$' -bench Add ./overlap
func BenchmarkAdd(b *testing.B) {
	chunks, n := flightChunks(b, simulate.DefaultScenario())
	mixed := interleave(chunks, 3)
	for _, order := range []struct {
		name   string
		chunks []*las.Chunk
	}{{"time", chunks}, {"strips-in-turn", mixed}} {
		b.Run("order="+order.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				a, err := overlap.NewAccumulator(overlap.DefaultOptions())
				if err != nil {
					b.Fatal(err)
				}
				for _, c := range order.chunks {
					a.Add(c, 0)
				}
			}
			b.ReportMetric(float64(n)*float64(b.N)/b.Elapsed().Seconds(), "points/s")
		})
	}
}

// interleave deals the points of k stretches of the chunks into new chunks, one
// point from each in turn.
func interleave(chunks []*las.Chunk, k int) []*las.Chunk {
	part := len(chunks) / k
	var out []*las.Chunk
	for i := range part {
		n := las.MaxChunk
		for j := range k {
			n = min(n, chunks[j*part+i].N)
		}
		d := &las.Chunk{Frame: chunks[0].Frame, N: n * k}
		for p := range n {
			for j := range k {
				c := chunks[j*part+i]
				d.X, d.Y, d.Z = append(d.X, c.X[p]), append(d.Y, c.Y[p]), append(d.Z, c.Z[p])
				d.ReturnNumber, d.NumReturns = append(d.ReturnNumber, c.ReturnNumber[p]), append(d.NumReturns, c.NumReturns[p])
				d.Flags, d.Channel, d.Class = append(d.Flags, c.Flags[p]), append(d.Channel, c.Channel[p]), append(d.Class, c.Class[p])
				d.ScanAngle, d.Source, d.GPSTime = append(d.ScanAngle, c.ScanAngle[p]), append(d.Source, c.Source[p]), append(d.GPSTime, c.GPSTime[p])
			}
		}
		out = append(out, d)
	}
	return out
}

// BenchmarkSurvey measures everything after the reading, on a flight of about
// two million points.
func BenchmarkSurvey(b *testing.B) {
	chunks, _ := flightChunks(b, simulate.DefaultScenario())
	o := overlap.DefaultOptions()
	o.CellM = 0.5
	a, err := overlap.NewAccumulator(o)
	if err != nil {
		b.Fatal(err)
	}
	for _, c := range chunks {
		a.Add(c, 0)
	}
	s, err := a.Survey(overlap.DefaultSurveyOptions())
	if err != nil {
		b.Fatal(err)
	}
	cells := 0
	for i := range s.Strips {
		cells += len(s.Strips[i].Facets)
	}
	for _, step := range []struct {
		name string
		run  func()
	}{
		{"strips", func() { _, err = a.Survey(overlap.DefaultSurveyOptions()) }},
		{"pairs", func() { s.Pairs(overlap.DefaultPairOptions()) }},
		{"repeatability", func() { s.Repeatability(overlap.DefaultRepeatabilityOptions()) }},
		{"coverage", func() { s.Coverage(overlap.DefaultCoverageOptions()) }},
		{"merge", func() {
			m, e := overlap.NewAccumulator(o)
			if e == nil {
				e = m.Merge(a)
			}
			err = e
		}},
	} {
		b.Run("step="+step.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				step.run()
			}
			if err != nil {
				b.Fatal(err)
			}
			b.ReportMetric(float64(cells)*float64(b.N)/b.Elapsed().Seconds(), "cells/s")
		})
	}
}
