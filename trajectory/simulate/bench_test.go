package simulate

import (
	"testing"
)

// go test -run '^$' -bench . ./trajectory/simulate
func BenchmarkStream(b *testing.B) {
	for _, c := range []struct {
		name string
		s    Scenario
	}{{"scenario=flat", FlatScenario()}, {"scenario=small", SmallScenario()}, {"scenario=demo", DemoScenario()}} {
		b.Run(c.name, func(b *testing.B) {
			f := fly(b, c.s)
			points := 0
			b.ReportAllocs()
			for b.Loop() {
				for ch := range f.StripChunks(0) {
					points += ch.N
				}
			}
			b.ReportMetric(float64(points)/b.Elapsed().Seconds(), "points/s")
		})
	}
}

func BenchmarkFly(b *testing.B) {
	s := SmallScenario()
	for b.Loop() {
		fly(b, s)
	}
}
