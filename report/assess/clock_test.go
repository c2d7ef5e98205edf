package assess

import (
	"slices"
	"testing"

	"sidelap/las"
	"sidelap/trajectory"
)

// The stretches of time that hold points are the same for any split among workers; a pause of more than two seconds parts them.
func TestClockRuns(t *testing.T) {
	one, a, b := newClock(), newClock(), newClock()
	for k := range 40 {
		c := &las.Chunk{First: int64(1000 * k), N: 1000}
		for i := range c.N {
			s := float64(k*1000+i) / 500 // 80 s at 500 points/s
			if s >= 40 {
				s += 10
			}
			c.GPSTime = append(c.GPSTime, 1000+s)
		}
		one.Add(c, 0)
		if k%3 == 0 {
			a.Add(c, 0)
		} else {
			b.Add(c, 0)
		}
	}
	b.merge(a)
	got := one.runs()
	if !slices.Equal(got, b.runs()) {
		t.Fatalf("depends on the split: %v, %v", got, b.runs())
	}
	want := []trajectory.Interval{{StartS: 1000, EndS: 1040}, {StartS: 1050, EndS: 1090}}
	if len(got) != 2 || got[0] != want[0] || got[1].StartS != 1050 || got[1].EndS < 1089.9 || got[1].EndS > 1090 {
		t.Errorf("%v, want about %v", got, want)
	}
	if len(newClock().runs()) != 0 {
		t.Error("no points, no time")
	}
}
