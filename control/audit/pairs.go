package audit

import (
	"fmt"
	"math"
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
				if !ok || !f.OK || f.Kind == N && f.Value == g.Value {
					continue
				}
				r.Checked++
				// 0.0003 of the value covers either foot and a factor rounded to four digits
				slack := f.HalfM + g.HalfM + 0.0003*max(math.Abs(f.Value), math.Abs(g.Value))
				if d := f.Value - g.Value; d > slack || -d > slack {
					r.Contradictions = append(r.Contradictions, Contradiction{Row: b.Name, Line: b.Line,
						Rule:    "the same figure in two units is one length",
						Printed: fmt.Sprintf("%s %s %s, %s %s", f.Kind, f.Text, f.Unit, g.Text, g.Unit),
						Asked:   fmt.Sprintf("%.4g m both; printed are %.4g and %.4g m", f.Value, f.Value, g.Value), Figures: []string{f.Where, g.Where}})
				}
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
