package report

import (
	"cmp"
	"slices"
	"strings"
)

// brief is the rest of the summary: two pages.
func (d *pdfDoc) brief() error {
	where, base := d.v.referenceRows()
	d.factsTable("Job and reference", slices.Concat(d.v.jobRows(), where[:min(7, len(where))], base[:1], base[4:6]))
	t := d.v.criteria()
	d.table(t, 10, func(i int) bool { return d.v.rec.Verdict.Criteria[i].Result == Fail })
	for _, l := range d.v.accuracyLines() {
		d.need(40)
		d.paragraph(sentenceText(l), 8.6, false, inkColor, 0)
	}
	for i, f := range d.v.gravest() { // every fault, and of the others what the page has room for
		if f.Severity != SeverityFault && (i >= 4 || d.y > d.bottom-60 || d.f.PageNo() > 1) {
			d.paragraph(Counted(len(d.v.rec.Findings)-i, "more finding", "more findings")+", none of them a fault, in the full report.", 8.6, false, mutedColor, 0)
			break
		}
		d.bullet(f.Severity + ": " + f.Text)
	}
	if d.f.PageNo() == 1 {
		d.page()
	}
	room := d.bottom - d.y - 385 // what stands below the map
	if err := d.separationMap(d.l.Separation, max(min(room, 330), 120), ""); err != nil {
		return err
	}
	d.pairTable(4)
	d.paragraph(d.v.cautions()[0], 8, false, inkColor, 0)
	d.signOff()
	return d.f.Error()
}

// jobRows name the job on the summary: number, client and site as far as they are given.
func (v *view) jobRows() [][2]string {
	p := v.rec.Project
	if p == nil {
		return nil
	}
	var parts []string
	for _, x := range [][2]string{{"number ", string(p.Number)}, {"client ", string(p.Client)}, {"site ", string(p.Site)}, {"flown on ", string(p.FlightDate)}} {
		if x[1] != "" {
			parts = append(parts, x[0]+x[1])
		}
	}
	if len(parts) == 0 {
		return nil
	}
	return [][2]string{{"project", strings.Join(parts, "; ")}}
}

// gravest returns the findings by severity: faults, warnings, notes, each in the order of the record.
func (v *view) gravest() []Finding {
	rank := func(f Finding) int {
		return slices.Index([]string{SeverityNote, SeverityWarning, SeverityFault}, f.Severity)
	}
	out := slices.Clone(v.rec.Findings)
	slices.SortStableFunc(out, func(a, b Finding) int { return cmp.Compare(rank(b), rank(a)) })
	return out
}
