package simulate

import (
	"math"
	"testing"
	"time"
)

func TestSmoke(t *testing.T) {
	for _, s := range []Scenario{FlatScenario(), SmallScenario(), DefaultScenario(), DemoScenario()} {
		t0 := time.Now()
		f, err := Fly(s)
		if err != nil {
			t.Fatal(err)
		}
		t1 := time.Now()
		n, worst, sum, m := 0, 0.0, 0.0, 0
		for i := range f.Strips {
			for c, tr := range f.StripChunksWithTruth(i) {
				n += c.N
				for k := range c.N {
					if tr.Cover[k] != CoverHard {
						continue
					}
					e, no, h := c.Frame.XM(c.X[k]), c.Frame.YM(c.Y[k]), c.Frame.ZM(c.Z[k])
					d := h - f.Surface.GroundM(e, no)
					worst = math.Max(worst, math.Abs(d))
					sum += d * d
					m++
				}
			}
		}
		t.Logf("fly %v scan %v points %d (%.2f M/s) hard %d worst %.4f rms %.4f; strips %d flight %.0f s houses %d plants %d cp %d gc %d", t1.Sub(t0), time.Since(t1), n, float64(n)/time.Since(t1).Seconds()/1e6, m, worst, math.Sqrt(sum/float64(m)), len(f.Strips), f.True.TimeS[f.True.Len()-1]-f.True.TimeS[0], len(f.Surface.houses), len(f.Surface.plants), len(f.Points), len(f.Control))
		for i := range f.Strips {
			t.Logf("%+v", f.Strips[i])
		}
	}
}
