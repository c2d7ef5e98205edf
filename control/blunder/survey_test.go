package blunder

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"sidelap/control"
	"sidelap/trajectory/simulate"
	"sidelap/trajectory/simulate/studydoc"
)

// assess runs a simulated flight through the package as the program does: returns collected near the
// list's points, surface, differences, rules.
func assess(t *testing.T, s simulate.Scenario) (Report, *control.Comparison) {
	t.Helper()
	f, err := simulate.Fly(s)
	if err != nil {
		t.Fatal(err)
	}
	e := Evidence{LimitM: 0.10, Zone: s.Site.UTMZone, South: s.Site.South, GeoidM: s.Site.GeoidM,
		AntennaM: s.Base.AntennaHeightM, PolesM: []float64{2.0, 1.8}, Labels: &LabelEvidence{IDs: len(f.Strips), Files: 1},
		VerticalKnown: true, CRSStated: true, VerticalCRS: "stated"}
	points, checked := listed(f.Points), listed(f.Control)
	for i := range checked {
		checked[i].Use = control.UseControl
	}
	e.Control = checked
	radius := 3.0
	col := control.NewCollector(points, radius)
	moved := FootPlaces(points)
	var others []*control.Collector
	for _, m := range moved {
		others = append(others, control.NewCollector(m.Points, radius))
	}
	first, last := math.Inf(1), math.Inf(-1)
	box := control.Box{MinEM: math.Inf(1), MinNM: math.Inf(1), MaxEM: math.Inf(-1), MaxNM: math.Inf(-1)}
	for ch := range f.Chunks() {
		col.Add(ch, 0)
		first, last = min(first, slices.Min(ch.GPSTime)), max(last, slices.Max(ch.GPSTime))
		for _, o := range others {
			o.Add(ch, 0)
		}
		for i := range ch.N {
			x, y := ch.Frame.XM(ch.X[i]), ch.Frame.YM(ch.Y[i])
			box = control.Box{MinEM: min(box.MinEM, x), MinNM: min(box.MinNM, y), MaxEM: max(box.MaxEM, x), MaxNM: max(box.MaxNM, y)}
		}
	}
	e.Extent = box
	cmp := col.Evaluate(control.DefaultEvaluateOptions())
	ev := FromComparison(cmp)
	e.Points, e.NoiseM = ev.Points, ev.NoiseM
	for k, m := range moved {
		e.Alternatives = append(e.Alternatives, Alternative{m.ID, m.Name, others[k].Evaluate(control.DefaultEvaluateOptions()).Points})
	}
	if s.Survey.TargetRadiusM > 0 {
		fixes, err := col.Targets(control.TargetOptions{Kind: control.TargetDisc, SizeM: s.Survey.TargetRadiusM, SearchM: 2})
		if err != nil {
			t.Fatal(err)
		}
		for _, x := range fixes {
			if x.OK {
				e.Targets = append(e.Targets, Target{ID: x.ID, EM: x.EM, NM: x.NM, DEM: x.DEM, DNM: x.DNM, SigmaM: x.SigmaM})
			}
		}
	}
	e.Time = &TimeEvidence{Adjusted: !s.Faults.TimeMislabelled, MinS: first, MaxS: last}
	return Find(e), cmp
}

func listed(from []simulate.SurveyPoint) []control.Point {
	var out []control.Point
	for _, p := range from {
		c := control.Point{ID: p.ID, EM: p.GivenEM, NM: p.GivenNM, ZM: p.GivenHM, Use: control.UseCheck, Cover: control.CoverOpen, Source: control.SourceNetwork}
		if p.Cover != simulate.CoverHard {
			c.Cover = control.CoverVegetated
		}
		out = append(out, c)
	}
	return out
}

// ruleOf is the rule that a case of the simulator names: "B2h feet, all" is B2.
func ruleOf(name string) string {
	r, _, _ := strings.Cut(name, " ")
	return strings.TrimRight(r, "hv")
}

func scenario(seed uint64) simulate.Scenario {
	s := simulate.SmallScenario()
	s.Seed = seed
	s.Survey.TargetRadiusM = 0.5
	s.Scanner.PulseRateHz = 60000
	return s
}

// Simulated flights with a blunder each: the rule named first. A short run of a few cases; the long one is TestWriteSurveys.
func TestSimulatedSurveys(t *testing.T) {
	if testing.Short() {
		t.Skip("flies surveys")
	}
	for _, c := range simulate.BlunderCases() {
		switch c.Name {
		case "clean", "B1 geoid with the wrong sign", "B3 swapped", "B5 other foot", "B6 pole 2.0 m", "B14 transposed":
		default:
			continue
		}
		s := scenario(11)
		c.Apply(&s)
		r, _ := assess(t, s)
		first := "none"
		if len(r.Findings) > 0 {
			first = r.Findings[0].ID
		}
		want := ruleOf(c.Name)
		if want == "clean" {
			want = "none"
		}
		if first != want {
			t.Errorf("%s: first %s, want %s\n  %s", c.Name, first, want, ids(r))
		}
	}
}

// The long run writes its table into docs/blunders.md:
//
//	SIDELAP_LONG=1 go test -timeout 1h -run TestWriteSurveys ./control/blunder
func TestWriteSurveys(t *testing.T) {
	if os.Getenv("SIDELAP_LONG") != "1" {
		t.Skip("long: set SIDELAP_LONG=1")
	}
	const seeds = 12
	var b strings.Builder
	fmt.Fprintf(&b, "%d simulated surveys for each case: three opposed strips and a cross strip, 20 open and 6 vegetated check points of 1.2 cm, discs of 0.5 m as targets.\n\n", seeds)
	b.WriteString("| blunder | right rule first | among the findings | other rules first |\n|---|---|---|---|\n")
	for _, c := range simulate.BlunderCases() {
		if ruleOf(c.Name) == "B16" { // no rule on the points: see the whole program
			continue
		}
		first, among := 0, 0
		others := map[string]int{}
		for seed := range seeds {
			s := scenario(uint64(100 + seed))
			c.Apply(&s)
			r, _ := assess(t, s)
			want := ruleOf(c.Name)
			if want == "clean" {
				if len(r.Findings) == 0 {
					first++
					among++
				} else {
					others[r.Findings[0].ID]++
				}
				continue
			}
			for i, f := range r.Findings {
				if f.ID == want {
					among++
					if i == 0 {
						first++
					}
					break
				}
			}
			if len(r.Findings) == 0 {
				others["none"]++
			} else if r.Findings[0].ID != want {
				others[r.Findings[0].ID]++
			}
		}
		name := c.Name
		if name == "clean" {
			name = "clean (right: silence)"
		}
		fmt.Fprintf(&b, "| %s | %d of %d | %d | %s |\n", name, first, seeds, among, otherText(others))
	}
	if err := studydoc.Replace(filepath.Join("..", "..", "docs", "blunders.md"), "surveys", b.String()); err != nil {
		t.Fatal(err)
	}
}

func otherText(m map[string]int) string {
	var s []string
	for _, id := range append([]string{"none"}, ruleOrder...) {
		if m[id] > 0 {
			s = append(s, fmt.Sprintf("%s %d", id, m[id]))
		}
	}
	return strings.Join(s, ", ")
}
