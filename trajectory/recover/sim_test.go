package recover

import (
	"math"
	"testing"
	"time"

	"sidelap/trajectory/simulate"
)

func collect(t testing.TB, f *simulate.Flight) *Collector {
	c, err := NewCollector(DefaultOptions())
	if err != nil {
		t.Fatal(err)
	}
	for ch := range f.Chunks() {
		c.Add(ch, 0)
	}
	return c
}

func TestSim(t *testing.T) {
	s := simulate.DefaultScenario()
	f, err := simulate.Fly(s)
	if err != nil {
		t.Fatal(err)
	}
	c := collect(t, f)
	start := time.Now()
	r := c.Recover()
	t.Log(time.Since(start), r.Notes, r.Level)
	mount := f.TrueMount()
	for _, l := range r.Legs {
		var e [3]float64
		var worst, n float64
		var hErr float64
		for i, ts := range r.Path.TimeS {
			if ts < l.StartS+0.3 || ts > l.EndS-0.3 {
				continue
			}
			p := f.True.At(ts - f.StoredTimeS(0))
			ex, ny, hz := mount.Georeference(p, 0, 0)
			d := [3]float64{r.Path.EM[i] - ex, r.Path.NM[i] - ny, r.Path.HM[i] - hz}
			k := p.HeadingRad
			a := [3]float64{d[0]*math.Sin(k) + d[1]*math.Cos(k), d[0]*math.Cos(k) - d[1]*math.Sin(k), d[2]}
			for q := range e {
				e[q] += a[q] * a[q]
				worst = max(worst, math.Abs(a[q]))
			}
			if r.Path.HeadingRad != nil {
				dh := math.Remainder(r.Path.HeadingRad[i]-p.HeadingRad, 2*math.Pi) * 180 / math.Pi
				hErr += dh * dh
			}
			n++
		}
		t.Logf("%+v", l)
		t.Logf("   rms along %.3f across %.3f up %.3f worst %.3f heading %.2f deg n %v", math.Sqrt(e[0]/n), math.Sqrt(e[1]/n), math.Sqrt(e[2]/n), worst, math.Sqrt(hErr/n), n)
	}
}
