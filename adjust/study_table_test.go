package adjust

import (
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"
)

// tally counts outcomes.
type tally struct {
	name               string
	faults, geometries []string
	kinds              map[string]map[Kind]int
	none               map[string]int
	flights            map[string]int
	byFault            map[string]*[outcomes]int
	byGeometry         map[string]*[outcomes]int
	clean, cleanNone   int
	inside, outside    int
	near, far          int
	rivals, named      int
}

func (c *tally) add(r flightStudy) {
	if c.kinds == nil {
		c.kinds, c.none, c.flights = map[string]map[Kind]int{}, map[string]int{}, map[string]int{}
		c.byFault, c.byGeometry = map[string]*[outcomes]int{}, map[string]*[outcomes]int{}
	}
	if !slices.Contains(c.faults, r.fault) {
		c.faults = append(c.faults, r.fault)
		c.kinds[r.fault], c.byFault[r.fault] = map[Kind]int{}, &[outcomes]int{}
	}
	if !slices.Contains(c.geometries, r.geometry) {
		c.geometries = append(c.geometries, r.geometry)
		c.byGeometry[r.geometry] = &[outcomes]int{}
	}
	c.flights[r.fault]++
	for _, k := range r.named {
		c.kinds[r.fault][k]++
	}
	if len(r.named) == 0 {
		c.none[r.fault]++
	}
	c.byFault[r.fault][r.result]++
	c.byGeometry[r.geometry][r.result]++
	if slices.Contains([]string{"clean", "lever z", "datum height"}, r.fault) {
		c.clean++
		if len(r.named) == 0 {
			c.cleanNone++
		}
	}
	c.inside += r.inside
	c.outside += r.outside
	c.near += r.near
	c.far += r.far
	if r.result == right && len(r.named) > 0 {
		c.rivals += r.rivals
		c.named += len(r.named)
	}
}

// share is the part of all flights with an outcome.
func (c *tally) share(o outcome) float64 {
	n, all := 0, 0
	for _, v := range c.byFault {
		n += v[o]
		for _, k := range v {
			all += k
		}
	}
	return float64(n) / float64(all)
}

func (c *tally) confusion(b *strings.Builder) {
	short := []string{"roll", "pitch", "heading", "scale", "lever x", "lever y", "time", "range", "", "", "heights", "horizontal", "drift", "roll drift"} // in the order of Kind
	fmt.Fprint(b, "| made | flights |")
	for _, n := range short {
		if n != "" {
			fmt.Fprintf(b, " %s |", n)
		}
	}
	fmt.Fprint(b, " none |\n|---|---|")
	for _, n := range short {
		if n != "" {
			fmt.Fprint(b, "---|")
		}
	}
	fmt.Fprint(b, "---|\n")
	for _, f := range c.faults {
		fmt.Fprintf(b, "| %s | %d |", f, c.flights[f])
		for k, n := range short {
			if n != "" {
				fmt.Fprintf(b, " %s |", count(c.kinds[f][Kind(k)]))
			}
		}
		fmt.Fprintf(b, " %s |\n", count(c.none[f]))
	}
}

func count(n int) string {
	if n == 0 {
		return ""
	}
	return fmt.Sprint(n)
}

func outcomeTable(b *strings.Builder, head string, order []string, of map[string]*[outcomes]int) {
	fmt.Fprintf(b, "| %s |", head)
	for _, n := range outcomeNames {
		fmt.Fprintf(b, " %s |", n)
	}
	fmt.Fprint(b, "\n|---|---|---|---|---|---|\n")
	for _, name := range order {
		fmt.Fprintf(b, "| %s |", name)
		for _, n := range of[name] {
			fmt.Fprintf(b, " %s |", count(n))
		}
		fmt.Fprint(b, "\n")
	}
}

const (
	studyBegins = "<!-- study: written by TestStudy -->"
	studyEnds   = "<!-- end of study -->"
)

// writeStudy puts the tables between their marks in docs/diagnosis.md.
func writeStudy(t *testing.T, flights int, tallies []*tally) {
	const page = "../docs/diagnosis.md"
	var b strings.Builder
	fmt.Fprintf(&b, "%d simulated flights of three to five strips, each diagnosed three times.\n", flights)
	for _, c := range tallies {
		fmt.Fprintf(&b, "\n**%s.** Kinds that are named (a flight can have several):\n\n", c.name)
		c.confusion(&b)
		fmt.Fprint(&b, "\n")
		outcomeTable(&b, "geometry", c.geometries, c.byGeometry)
		fmt.Fprintf(&b, "\nWrong causes in %.1f %% of flights; no cause in %d of %d flights without a fault that shows; %d of %d estimates of global kinds within three stated standard deviations of the truth; "+
			"%d of %d boresight angles within the distance asked for where the prediction allows to ask; a cause that is right has %.2f rivals on average.\n",
			100*c.share(wrong), c.cleanNone, c.clean, c.inside, c.inside+c.outside, c.near, c.near+c.far, float64(c.rivals)/float64(max(c.named, 1)))
	}
	old, err := os.ReadFile(page)
	if err != nil {
		t.Fatal(err)
	}
	head, rest, ok := strings.Cut(string(old), studyBegins)
	_, tail, ok2 := strings.Cut(rest, studyEnds)
	if !ok || !ok2 {
		t.Fatalf("%s has no marks for the study", page)
	}
	text := head + studyBegins + "\n" + b.String() + studyEnds + tail
	if err := os.WriteFile(page, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}
