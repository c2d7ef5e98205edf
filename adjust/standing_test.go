package adjust

import (
	"math"
	"strings"
	"testing"

	"sidelap/overlap"
)

// TestStandings is a closed form: four strips at known heights with all pairs but one, and two strips of another place.
func TestStandings(t *testing.T) {
	heights := []float64{0, -0.0306, 0.005, 0.012, 0.4, 0.44}
	s := &overlap.Survey{}
	for i := range heights {
		s.Strips = append(s.Strips, overlap.Strip{ID: string(rune('a' + i))})
	}
	var pairs []overlap.Pair
	for _, p := range [][2]int{{0, 1}, {0, 2}, {0, 3}, {1, 2}, {2, 3}, {4, 5}} {
		q := overlap.Pair{A: p[0], B: p[1], MedianSigmaM: 0.001}
		q.Used.Cells, q.Used.MedianM = 100, heights[p[1]]-heights[p[0]]
		pairs = append(pairs, q)
	}
	pairs = append(pairs, overlap.Pair{A: 3, B: 4}) // too few cells: no tie
	got := standings(len(heights), pairs)
	if len(got) != len(heights) {
		t.Fatalf("%d strips", len(got))
	}
	want := []float64{-0.0025, -0.0331, 0.0025, 0.0095, -0.02, 0.02}
	for i, h := range got {
		if h.Strip != i || math.Abs(h.HeightM-want[i]) > 1e-6 || h.ResidualM > 1e-6 || !(h.SigmaM >= 0 && h.SigmaM < 0.005) {
			t.Errorf("strip %d: %+v, %.4f m expected", i, h, want[i])
		}
	}
	// a pair alone: each strip lies half of the separation from the median of the two, and is known to half of its standard error
	for _, h := range got[4:] {
		if want := math.Hypot(0.001, minSigmaM) / 2; math.Abs(h.SigmaM-want) > 0.02*want {
			t.Errorf("strip %d: ± %.5f m, want %.5f", h.Strip, h.SigmaM, want)
		}
	}
	d := &Diagnosis{Judged: true, Standings: got}
	text := ""
	for _, f := range d.Findings(s) {
		if f.ID == "strip-standing" {
			text = f.Text
		}
	}
	if !strings.Contains(text, "b by -0.033") || !strings.Contains(text, "f by +0.020") || strings.Contains(text, "a by") || strings.Contains(text, "d by") {
		t.Errorf("finding: %s", text)
	}
	pairs[0].Used.MedianM += 0.02 // the loops of a and b do not close any more
	if got = standings(len(heights), pairs); got[0].ResidualM < 0.005 || got[4].ResidualM > 1e-6 {
		t.Errorf("residuals %.4f, %.4f", got[0].ResidualM, got[4].ResidualM)
	}
}
