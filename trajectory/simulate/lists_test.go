package simulate

import (
	"bytes"
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

func TestPointLists(t *testing.T) {
	f := fly(t, SmallScenario())
	dir := t.TempDir()
	if err := f.WriteCheckPoints(filepath.Join(dir, "a.csv"), ListOptions{}); err != nil {
		t.Fatal(err)
	}
	b, _ := os.ReadFile(filepath.Join(dir, "a.csv"))
	rows, err := csv.NewReader(bytes.NewReader(b)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if len(rows) != 1+len(f.Points) || len(f.Points) != 26 {
		t.Fatalf("%d rows for %d points, want 26 points", len(rows), len(f.Points))
	}
	e, _ := strconv.ParseFloat(rows[1][1], 64)
	near(t, "easting", "m", e, f.Points[0].GivenEM, 0.0006)
	o := ListOptions{NorthingFirst: true, NoHeadings: true, Separator: ";", DecimalComma: true, UnitM: USSurveyFootM}
	if err := f.WriteCheckPoints(filepath.Join(dir, "b.csv"), o); err != nil {
		t.Fatal(err)
	}
	b, _ = os.ReadFile(filepath.Join(dir, "b.csv"))
	w := strings.Split(strings.SplitN(string(b), "\n", 2)[0], ";")
	n, _ := strconv.ParseFloat(strings.Replace(w[1], ",", ".", 1), 64)
	near(t, "northing in feet", "ft", n*USSurveyFootM, f.Points[0].GivenNM, 0.001)
}

// Survey points lie on what they claim, in the covered block, and are off their truth by the survey noise.
func TestSurveyPoints(t *testing.T) {
	var n, ss float64
	for seed := range uint64(8) {
		s := SmallScenario()
		s.Seed = seed + 1
		f := fly(t, s)
		if len(f.Points) != s.Survey.OpenPoints+s.Survey.VegetatedPoints || len(f.Control) != s.Survey.ControlPoints {
			t.Errorf("seed %d: %d check and %d control points", s.Seed, len(f.Points), len(f.Control))
		}
		for _, p := range append(append([]SurveyPoint(nil), f.Points...), f.Control...) {
			if got := f.Surface.CoverAt(p.TrueEM, p.TrueNM); got != p.Cover {
				t.Errorf("%s: cover %v, want %v", p.ID, got, p.Cover)
			}
			near(t, p.ID, "m", p.TrueHM, f.Surface.GroundM(p.TrueEM, p.TrueNM), 1e-9)
			d := p.GivenHM - p.TrueHM
			n, ss = n+1, ss+d*d
		}
	}
	near(t, "survey noise", "m", math.Sqrt(ss/n), SmallScenario().Survey.SigmaVM, 0.0025)
}

func TestBlunders(t *testing.T) {
	s := SmallScenario()
	clean := fly(t, s)
	dz := func(f *Flight, i int) float64 { return f.Points[i].GivenHM - clean.Points[i].GivenHM }
	with := func(b Blunder) *Flight {
		c := s
		c.Survey.Blunders = []Blunder{b}
		return fly(t, c)
	}
	near(t, "constant", "m", dz(with(Blunder{Kind: BlunderConstant, Value: 0.15}), 3), 0.15, 1e-9)
	near(t, "pole", "m", dz(with(Blunder{Kind: BlunderPole, Value: 2}), 3), -2, 1e-9)
	near(t, "geoid", "m", dz(with(Blunder{Kind: BlunderGeoid}), 3), s.Site.GeoidM, 0.02)
	f := with(Blunder{Kind: BlunderSwapEN})
	near(t, "swap", "m", f.Points[2].GivenEM, clean.Points[2].GivenNM, 0)
	f = with(Blunder{Kind: BlunderFeetHeights})
	near(t, "feet", "", f.Points[2].GivenHM/clean.Points[2].GivenHM, 3.28084, 1e-5)
	f = with(Blunder{Kind: BlunderWrongFoot})
	near(t, "wrong foot, easting", "m", f.Points[2].GivenEM-clean.Points[2].GivenEM, 2.000004e-6*clean.Points[2].GivenEM, 1e-5)
	f = with(Blunder{Kind: BlunderTranspose, Point: 4})
	d := dz(f, 4)
	if k := math.Round(d/9) * 9; math.Abs(d) < 8.9 || math.Abs(d-k) > 1e-9+0.002 { // exchanged tens and units: a multiple of 9
		if k := math.Round(d/0.9) * 0.9; math.Abs(d-k) > 1e-9+0.002 {
			t.Errorf("transposed digits change the height by %.4f m, want a multiple of 9 or 0.9", d)
		}
	}
	near(t, "others unchanged", "m", dz(f, 5), 0, 0)
	f = with(Blunder{Kind: BlunderVegetation, Point: 1})
	if c := f.Surface.CoverAt(f.Points[1].TrueEM, f.Points[1].TrueNM); c != CoverVegetated || f.Points[1].Cover != CoverHard {
		t.Errorf("vegetation blunder: lies in %v, called %v", c, f.Points[1].Cover)
	}
	f = with(Blunder{Kind: BlunderControlReuse})
	if len(f.Points) != len(clean.Points)+len(clean.Control) {
		t.Errorf("control reuse: %d points", len(f.Points))
	}
	f = with(Blunder{Kind: BlunderZone})
	// same point in the neighbouring zone at 50 degrees: E differs by about 430 km (practice.md B4: 473 at 45, 335 at 60)
	near(t, "zone", "km", math.Abs(f.Points[0].GivenEM-clean.Points[0].GivenEM)/1000, 430, 15)
}
