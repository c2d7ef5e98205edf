package blunder

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"sidelap/trajectory/simulate/studydoc"
)

// score is the outcome of one case over many seeds.
type score struct {
	name, rule                string
	runs, first, among, alone int
}

// study injects every blunder into surveys of n points over the seeds. A hit is the right rule first;
// among counts it anywhere; alone counts runs in which no other rule spoke.
func study(n, seeds int) []score {
	var out []score
	for k, b := range blunders {
		s := score{name: b.name, rule: b.rule}
		for seed := range seeds {
			e := survey(uint64(1000*k+seed), n)
			b.inject(&e, rand.New(rand.NewPCG(uint64(seed), 5)))
			r := Find(e)
			s.runs++
			others := 0
			found := false
			for i, f := range r.Findings {
				if f.ID == b.rule {
					found = true
					if i == 0 {
						s.first++
					}
				} else {
					others++
				}
			}
			if found {
				s.among++
			}
			if found && others == 0 {
				s.alone++
			}
		}
		out = append(out, s)
	}
	return out
}

// falseAlarms counts clean surveys of n points in which any rule spoke, and by rule.
func falseAlarms(n, seeds int) (surveys int, by map[string]int) {
	by = map[string]int{}
	for seed := range seeds {
		r := Find(survey(uint64(500000+seed), n))
		if len(r.Findings) > 0 {
			surveys++
		}
		for _, f := range r.Findings {
			by[f.ID]++
		}
	}
	return surveys, by
}

// A short run of the study: the right rule comes first nearly always, and clean surveys stay silent.
func TestInjectionStudy(t *testing.T) {
	for _, s := range study(20, 25) {
		if s.first < s.runs*85/100 {
			t.Errorf("%s %s: first in %d of %d, among the findings in %d", s.rule, s.name, s.first, s.runs, s.among)
		}
	}
	// B15 asks when the mean is closer to zero than chance leaves it: 4 % of clean surveys by its own count
	if n, by := falseAlarms(20, 300); n > 300*8/100 {
		t.Errorf("false alarms in %d of 300 clean surveys: %v", n, by)
	}
}

// The long run writes its table into docs/blunders.md:
//
//	SIDELAP_LONG=1 go test -run TestWriteStudy ./control/blunder
func TestWriteStudy(t *testing.T) {
	if os.Getenv("SIDELAP_LONG") != "1" {
		t.Skip("long: set SIDELAP_LONG=1")
	}
	const seeds = 400
	sizes := []int{8, 20, 40}
	byN := map[int][]score{}
	for _, n := range sizes {
		byN[n] = study(n, seeds)
	}
	var b strings.Builder
	fmt.Fprintf(&b, "%d surveys for each case and number of points; differences of 2.5 cm spread; hit: the right rule first (share of runs, per cent).\n\n", seeds)
	b.WriteString("| rule | blunder injected | n = 8 | n = 20 | n = 40 | found at all, n = 20 | no other rule spoke, n = 20 |\n|---|---|---|---|---|---|---|\n")
	for k, s := range byN[20] {
		pct := func(a, runs int) string { return fmt.Sprintf("%.0f", 100*float64(a)/float64(runs)) }
		fmt.Fprintf(&b, "| %s | %s | %s | %s | %s | %s | %s |\n", s.rule, s.name, pct(byN[8][k].first, seeds), pct(s.first, seeds), pct(byN[40][k].first, seeds), pct(s.among, seeds), pct(s.alone, seeds))
	}
	b.WriteString("\nFalse alarms in clean surveys, all rules together: ")
	for i, n := range sizes {
		c, by := falseAlarms(n, 2000)
		if i > 0 {
			b.WriteString("; ")
		}
		fmt.Fprintf(&b, "n = %d: %.1f %% of 2000 (%s)", n, float64(c)/20, alarmText(by))
	}
	b.WriteString(".\n")
	if err := studydoc.Replace(filepath.Join("..", "..", "docs", "blunders.md"), "injection", b.String()); err != nil {
		t.Fatal(err)
	}
}

func alarmText(by map[string]int) string {
	var s []string
	for _, id := range ruleOrder {
		if by[id] > 0 {
			s = append(s, fmt.Sprintf("%s %.1f %%", id, float64(by[id])/20))
		}
	}
	if len(s) == 0 {
		return "none"
	}
	return strings.Join(s, ", ")
}
