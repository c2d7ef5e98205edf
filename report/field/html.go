package field

import (
	_ "embed"
	"html/template"
	"io"
	"path"
	"strings"

	"sidelap/report"
	"sidelap/trajectory/fieldcheck"
)

//go:embed page.tmpl
var pageText string

var page = template.Must(template.New("page").Parse(pageText))

type pageCheck struct{ Class, Word, Title, Found, Wanted, Strips, Note, Basis string }

type pageEvent struct{ Clock, Text string }

// WriteHTML writes the page: one file without anything from elsewhere, for a phone and for one sheet of paper.
func WriteHTML(w io.Writer, r *Report) error {
	d := struct {
		Class, Word, Headline, Date, Clock, Start, Command, Program string
		Items                                                       []again
		Reasons, NotJudged                                          []reason
		Checks                                                      []pageCheck
		Events                                                      []pageEvent
		Missing                                                     []Missing
		Notes, Cautions                                             []string
		Map                                                         template.HTML
		Inputs                                                      string
		Unseen, Places                                              bool
	}{
		Class: string(r.Verdict), Word: bigWord(r.Verdict), Headline: report.Capital(r.Headline()) + ".", Date: r.Date(), Clock: r.ClockName(), Start: r.startNote(),
		Command: strings.Join(r.Record.CommandLine, " "), Program: r.Record.Program.Version, Reasons: r.reasons(), NotJudged: r.notJudged(),
		Notes: r.Record.Warnings, Cautions: r.cautions(), Map: template.HTML(r.Map.SVG()), Inputs: r.inputs(), Items: r.rows(), Unseen: len(r.Map.Points) > 0, Places: len(r.Map.Places) > 0,
	}
	if !r.Complete() {
		d.Missing = r.Missing
	}
	for _, c := range r.ordered() {
		if c.Result != fieldcheck.NotJudged {
			d.Checks = append(d.Checks, pageCheck{Class: string(c.Result), Word: word(c.Result), Title: c.Title, Found: found(&c), Wanted: wanted(&c),
				Strips: strings.Join(c.Strips, ", "), Note: c.Note, Basis: c.Basis})
		}
	}
	for _, e := range r.events() {
		d.Events = append(d.Events, pageEvent{r.Clock(e.StartS), eventLine(e)})
	}
	var b strings.Builder
	if err := page.Execute(&b, d); err != nil {
		return err
	}
	_, err := io.WriteString(w, report.Plain(b.String()))
	return err
}

// inputs says in one clause what was read.
func (r *Report) inputs() string {
	var s []string
	var points int64
	for _, in := range r.Record.Inputs {
		points += in.Points
	}
	if n := len(r.Record.Inputs); n > 0 {
		s = append(s, counted(n, "cloud file", "cloud files")+" with "+grouped(points)+" points")
	}
	if p := r.Record.Path; p != nil && p.Source == "file" {
		s = append(s, "the path "+path.Base(string(p.File)))
	}
	s = append(s, r.read...)
	if len(s) == 0 {
		return ""
	}
	return "Read: " + strings.Join(s, ", ") + "."
}

// grouped writes n with thin groups of three.
func grouped(n int64) string {
	s := []byte(number(float64(n)))
	if n < 10_000 {
		return string(s)
	}
	var out []byte
	for i, c := range s {
		if i > 0 && (len(s)-i)%3 == 0 {
			out = append(out, "\u202f"...)
		}
		out = append(out, c)
	}
	return string(out)
}
