package adjust

import (
	"fmt"
	"math"
	"os"
	"slices"
	"strings"
	"sync"
	"testing"

	"sidelap/trajectory/simulate"
)

func TestStudyLook(t *testing.T) {
	if os.Getenv("LOOK") == "" {
		t.Skip()
	}
	var mu sync.Mutex
	type key struct{ g, f string }
	out := map[key][]string{}
	var order []key
	sem := make(chan struct{}, 2)
	var wg sync.WaitGroup
	for _, g := range simulate.Geometries() {
		for _, fc := range simulate.FaultCases() {
			k := key{g.Name, fc.Name}
			order = append(order, k)
			for seed := uint64(1); seed <= 2; seed++ {
				wg.Go(func() {
					sem <- struct{}{}
					defer func() { <-sem }()
					s := simulate.SmallScenario()
					s.Seed = seed
					g.Apply(&s)
					fc.Apply(&s)
					f := fly(t, s, 1)
					d := Diagnose(f.survey, f.pairs, f.path, FromPath, DefaultOptions())
					var txt []string
					truth := map[string]float64{}
					for _, c := range f.flight.Causes() {
						truth[c.Kind] = c.Value
					}
					for _, c := range d.Causes {
						if c.Strip >= 0 && slices.Contains(txt, c.Kind.String()) {
							continue
						}
						if c.Strip >= 0 {
							txt = append(txt, c.Kind.String())
							continue
						}
						_, u := c.Kind.Unit()
						e := c.Kind.String()
						if v, ok := truth[e]; ok {
							e += fmt.Sprintf("(%.1fs)", (c.Estimate*u-v)/(c.Sigma*u))
						} else {
							e += "!"
						}
						if len(c.ConfoundedWith) > 0 {
							e += fmt.Sprint(c.ConfoundedWith)
						}
						txt = append(txt, e)
					}
					if !d.Judged {
						txt = append(txt, "not judged")
					}
					mu.Lock()
					out[k] = append(out[k], strings.Join(txt, " + "))
					mu.Unlock()
				})
			}
		}
	}
	wg.Wait()
	for _, k := range order {
		fmt.Printf("%-22s %-22s %s\n", k.g, k.f, strings.Join(out[k], "   |   "))
	}
	_ = math.Pi
}
