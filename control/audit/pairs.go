package audit

import (
	"fmt"
	"strings"
)

// pairedRows checks rows that give one group in two units, and numbers of points that should agree.
func (r *Result) pairedRows() {
	for i := range r.Table.Rows {
		for j := range i {
			a, b := &r.Table.Rows[j], &r.Table.Rows[i]
			if a.Name == "" || baseName(a.Name) != baseName(b.Name) {
				continue
			}
			for _, f := range a.Figures {
				g, ok := b.get(f.Kind)
				if !ok || !f.OK {
					continue
				}
				r.Checked++
				if same(f, g) {
					continue
				}
				c := Contradiction{Row: b.Name, Line: b.Line, Rule: ruleUnits,
					Printed: fmt.Sprintf("%s %s %s, %s %s", f.Kind, f.Text, f.Unit, g.Text, g.Unit),
					Asked:   fmt.Sprintf("%.4g m both; printed are %.4g and %.4g m", f.Value, f.Value, g.Value), Figures: []string{f.Where, g.Where}}
				if f.Kind == N {
					c.Rule, c.Asked = rulePoints, "one number"
				}
				r.Contradictions = append(r.Contradictions, c)
			}
		}
	}
}

// baseName is a group's name without its unit.
func baseName(s string) string {
	words := strings.Fields(strings.ToLower(strings.Map(func(c rune) rune {
		if strings.ContainsRune("()[],;:", c) {
			return ' '
		}
		return c
	}, s)))
	var kept []string
	for _, w := range words {
		if unitM(w) == 0 && w != "us" && w != "survey" && w != "in" {
			kept = append(kept, w)
		}
	}
	return strings.Join(kept, " ")
}
