package fieldcheck

import (
	"math"
	"testing"
)

// Known truth: strips 3 and 4 were flown and have no points. Each is an item of its own, with a name of its own.
func TestTwoLostStripsSideBySide(t *testing.T) {
	whole := fly(t, script{}, 3)
	r := mustRun(t, fly(t, script{cloudSkip: map[int]bool{3: true, 4: true}}, 3))
	c := r.Check("strips_in_cloud")
	if c.Result != Refly || len(c.Strips) != 2 || c.Strips[0] == c.Strips[1] {
		t.Fatalf("%+v, want two names", c)
	}
	for i, want := range whole.Strips[2:4] {
		found := false
		for _, it := range r.Refly {
			if it.Strip == c.Strips[i] && math.Abs(it.StartS-want.StartS) < 5 && math.Abs(it.EndS-want.EndS) < 5 && len(it.Line) > 10 {
				found = true
			}
		}
		if !found {
			dump(t, r)
			t.Fatalf("strip %s, %.0f to %.0f s, is not on the list as %q", want.ID, want.StartS, want.EndS, c.Strips[i])
		}
	}
}
