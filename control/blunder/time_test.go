package blunder

import (
	"math"
	"testing"

	"sidelap/las"
)

// LAS-2 of the reference: week 2300, 345600 s is 391385600.0 in adjusted time. Each label against each value.
func TestTimeLabel(t *testing.T) {
	adjusted := 2300*weekS + 345600 - adjustedOffsetS
	if adjusted != 391385600.0 {
		t.Fatalf("LAS-2: %.1f", adjusted)
	}
	for _, c := range []struct {
		flag bool
		t    float64
		want bool
	}{{true, adjusted, false}, {false, adjusted, true}, {true, 345600, true}, {false, 345600, false}, {false, -5, true}, {true, -4e8, false}} {
		r := Find(Evidence{Time: &TimeEvidence{Adjusted: c.flag, MinS: c.t, MaxS: c.t + 600}})
		got := len(r.Findings) > 0 && r.Findings[0].ID == "B17"
		if got != c.want {
			t.Errorf("flag %v, %.0f s: finding %v, want %v", c.flag, c.t, got, c.want)
		}
	}
}

// A clock sums whole millimetres: any split and order gives the same evidence, and a path 19 s ahead is found.
func TestClock(t *testing.T) {
	f := &las.Frame{Scale: [3]float64{0.001, 0.001, 0.001}, HorizontalM: 1, VerticalM: 1}
	var chunks []*las.Chunk
	for k := range 40 {
		c := &las.Chunk{Frame: f, First: int64(1000 * k), N: 1000}
		for i := range c.N {
			s := float64(k*1000+i) / 500 // 80 s at 500 points/s, 10 m/s east
			c.X, c.Y, c.Z = append(c.X, int32(10000*s)), append(c.Y, int32(7*(i%100)-350)), append(c.Z, 0)
			c.GPSTime = append(c.GPSTime, 1000+s)
		}
		chunks = append(chunks, c)
	}
	one, a, b := NewClock(), NewClock(), NewClock()
	for k, c := range chunks {
		one.Add(c, 0)
		if k%3 == 0 {
			a.Add(c, 0)
		} else {
			b.Add(c, 0)
		}
	}
	b.Merge(a)
	at := func(shift float64) PathAt {
		return func(tS float64) (float64, float64, float64, float64, float64, bool) {
			return 10 * (tS - 1000 - shift), 0, 60, 10, math.Pi / 2, tS > 900 && tS < 1200
		}
	}
	for _, c := range []struct{ shift, want float64 }{{0, 0}, {19, 19}, {-18, -18}} {
		x, y := one.Evidence(true, at(c.shift), 900, 1200), b.Evidence(true, at(c.shift), 900, 1200)
		if *x != *y {
			t.Fatalf("evidence depends on the split: %+v %+v", x, y)
		}
		if !x.ShiftKnown || x.ShiftS != c.want || x.ShiftM > 1 {
			t.Errorf("path %+.0f s: found %+.0f s (%.2f m)", c.shift, x.ShiftS, x.ShiftM)
		}
		x.Adjusted = false
		found := len(Find(Evidence{Time: x}).Findings) > 0 && Find(Evidence{Time: x}).Findings[0].ID == "B16"
		if found != (c.want != 0) {
			t.Errorf("path %+.0f s: finding %v", c.shift, found)
		}
	}
}
