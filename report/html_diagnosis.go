package report

import "strings"

func (v *view) diagnosisSection(l *Layers) (*section, error) {
	s := &section{ID: "diagnosis", Name: "Diagnosis"}
	switch {
	case v.rec.Findings == nil:
		s.add("<p>The rules for blunders were not run.</p>")
	case len(v.rec.Findings) == 0:
		s.add("<p>None of the rules that were run found anything.</p>")
	}
	for i := range v.rec.Findings {
		f := &v.rec.Findings[i]
		var b strings.Builder
		b.WriteString("<h3>" + esc(Capital(f.Severity)) + ": " + esc(f.Text) + "</h3><ul>")
		if f.Evidence != "" {
			b.WriteString("<li>evidence: " + esc(string(f.Evidence)) + "</li>")
		}
		for _, r := range f.Rivals {
			b.WriteString("<li>rival: " + esc(r) + "</li>")
		}
		if f.DecideBy != "" {
			b.WriteString("<li>decide by: " + esc(string(f.DecideBy)) + "</li>")
		}
		if len(f.Strips) > 0 {
			b.WriteString("<li>strips: " + esc(strings.Join(f.Strips, ", ")) + "</li>")
		}
		s.add(b.String() + "</ul>")
	}
	switch {
	case v.rec.Causes == nil:
		s.add("<p>Causes were not estimated.</p>")
	case len(v.rec.Causes) == 0:
		s.add("<p>No cause stands out of the noise.</p>")
	default:
		s.add(v.tableHTML(v.causes(), nil), `<p class="note">Estimates are used minus true. A cause that is not told apart from another needs the measurement named under findings.</p>`)
	}
	limitM, judged := v.scaleLimit()
	for _, p := range v.diagnosisPanels(l) {
		g := &svg{w: 1000}
		if g.h = drawPanels(g, g.w, 11, 3, p, limitM, judged, len(v.rec.Causes) > 0); g.h > 0 {
			s.add(figure("wide", g.element("", p.title), p.caption))
		}
	}
	maps, err := v.residualMaps(l)
	s.add(maps)
	return s, err
}

// residualMaps draws the separations on the map, as they are and with the causes taken out.
func (v *view) residualMaps(l *Layers) (string, error) {
	before, after := residualGrids(l.Diagnosis)
	if before == nil || len(v.rec.Causes) == 0 {
		return "", nil
	}
	top, _ := amountTop(before, false)
	if top == 0 {
		return "", nil
	}
	var b strings.Builder
	for _, m := range []struct {
		g    *Grid
		name string
	}{{before, "RMS separation as it is"}, {after, "RMS separation with the causes taken out"}} {
		part, err := v.amountMapOf(l, m.g, top, 3, m.name+" [m]", m.name+", squares of "+trimmed(m.g.CellM, 1)+" m, all pairs together.")
		if err != nil {
			return "", err
		}
		b.WriteString(part)
	}
	return `<div class="pair">` + b.String() + `</div>`, nil
}
