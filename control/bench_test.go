package control

import (
	"math/rand/v2"
	"testing"
)

// BenchmarkEvaluate finds the surface at points with some 5000 returns each, as of a drone's cloud at 180 on a square metre.
//
//	go test -run '^$' -bench Evaluate ./control
func BenchmarkEvaluate(b *testing.B) {
	rng := rand.New(rand.NewPCG(61, 62))
	var cl cloud
	var points []Point
	for i := range 10 {
		e := site0E + 100*float64(i)
		points = append(points, Point{EM: e, NM: site0N, ZM: 5})
		cl.flat(rng, e, site0N, 3.2, 180, 0.02, func(x, y float64) float64 { return 5 + 0.01*x })
	}
	c := collect(points, 3, cl.chunks(inOrder(len(cl.x)), 8192, metreFrame()))
	n := 0
	for b.Loop() {
		c.Evaluate(DefaultEvaluateOptions())
		n += len(points)
	}
	b.ReportMetric(float64(n)/b.Elapsed().Seconds(), "checkpoints/s")
}
