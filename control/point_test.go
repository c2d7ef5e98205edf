package control

import (
	"math"
	"testing"
)

// Words of the trade mark a point by themselves, in the plural and with a number or letter; not as a part of another word.
func TestWordsOfPoints(t *testing.T) {
	for _, c := range []struct {
		code, surface string
		target, ridge bool
	}{
		{"TARGET3", "", true, false}, {"TGT targets", "", true, false}, {"TargetB", "", true, false}, {"", "disc", true, false}, {"GCP_disk-2", "", true, false}, {"Checkerboard 1", "", true, false},
		{"discharge pipe", "", false, false}, {"DISCONTINUED", "", false, false}, {"targeted", "", false, false}, {"bridge", "", false, false}, {"Fußbridge", "", false, false},
		{"", "ridge", false, true}, {"ridges", "", false, true}, {"ridgeline", "", false, true}, {"Ridgewood Ave", "", false, false}, {"bridge ridge", "", false, true}, {"", "", false, false},
	} {
		p := Point{Code: c.code, Surface: c.surface}
		if p.IsTarget() != c.target || p.OnRidge() != c.ridge {
			t.Errorf("%q %q: target %v, ridge %v", c.code, c.surface, p.IsTarget(), p.OnRidge())
		}
	}
}

// One point in two lists: by place within 5 cm under any name, by name within 1 m.
func TestSamePoint(t *testing.T) {
	list := []Point{{ID: "A", EM: 100, NM: 10}, {ID: "B", EM: 200, NM: 10}, {ID: "", EM: 300, NM: 10}}
	for _, c := range []struct {
		p    Point
		want int
		d    float64
	}{
		{Point{ID: "x", EM: 100.04, NM: 10}, 0, 0.04}, {Point{ID: "x", EM: 100.06, NM: 10}, -1, 0}, {Point{ID: "B", EM: 200, NM: 10.9}, 1, 0.9}, {Point{ID: "B", EM: 200, NM: 11.1}, -1, 0},
		{Point{ID: "", EM: 300.5, NM: 10}, -1, 0},
	} {
		got, d := SamePoint(&c.p, list)
		switch {
		case c.want < 0 && got != nil:
			t.Errorf("%+v is %+v", c.p, got)
		case c.want >= 0 && (got != &list[c.want] || math.Abs(d-c.d) > 1e-9):
			t.Errorf("%+v: %+v, %.3f m", c.p, got, d)
		}
	}
}
