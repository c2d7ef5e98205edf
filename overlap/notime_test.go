package overlap_test

import (
	"math"
	"strings"
	"testing"

	"sidelap/overlap"
)

// zeroTimes makes two flat strips of two point source IDs whose times are all 0, as readers give them for point formats
// without time, with a third ID of a handful of points where asked for.
func zeroTimes(t *testing.T, handful bool) *overlap.Survey {
	t.Helper()
	s := newScene()
	for i := range 4000 {
		s.add(pulse{e: 400000 + 0.5*float64(i%100), n: 5600000 + 0.5*float64(i/100), z: 100, id: 7})
		if !handful {
			s.add(pulse{e: 400010 + 0.5*float64(i%100), n: 5600000 + 0.5*float64(i/100), z: 100, id: 9})
		}
	}
	if handful {
		for i := range 30 {
			s.add(pulse{e: 400010 + float64(i), n: 5600005, z: 100, id: 9, t: 1000 + float64(i)})
		}
		for _, c := range s.out {
			for i := range c.N {
				if c.Source[i] == 7 {
					c.GPSTime[i] = 1000 + 0.01*float64(i)
				}
			}
		}
	}
	a, err := overlap.NewAccumulator(overlap.DefaultOptions())
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range s.out {
		a.Add(c, 0)
	}
	sv, err := a.Survey(overlap.DefaultSurveyOptions())
	if err != nil {
		t.Fatal(err)
	}
	return sv
}

// TestZeroTimes: times that are all 0 are none, not damaged ones.
// Source: LAS 1.4, point formats 0 and 2 have no GPS time; las.Chunk gives 0 for them.
func TestZeroTimes(t *testing.T) {
	for _, st := range zeroTimes(t, false).Strips {
		notes := strings.Join(st.Notes, "; ")
		if !math.IsNaN(st.StartGPSS) || !math.IsNaN(st.EndGPSS) || !strings.Contains(notes, "no GPS time") || strings.Contains(notes, "damaged") {
			t.Errorf("strip %s: %g to %g s, %q", st.ID, st.StartGPSS, st.EndGPSS, notes)
		}
	}
}

// TestFewOfAnotherID: the sentence above the table of strips does not say one ID where the table shows two.
func TestFewOfAnotherID(t *testing.T) {
	s := zeroTimes(t, true)
	if len(s.Strips) != 2 || !strings.Contains(s.Why, "others with few points: 1") {
		t.Errorf("%d strips by %s: %s", len(s.Strips), s.Mode, s.Why)
	}
}
