package field

import (
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"sidelap/report"
	"sidelap/trajectory/fieldcheck"
)

// TextOptions says how the answer is printed on a terminal.
type TextOptions struct {
	Columns int    // width of the window; 80 when 0
	Bold    bool   // the words that decide in bold or reversed; words alone carry the meaning
	Events  bool   // list what the pilot did, too
	Page    string // path of the page that holds all of it; "" = none
}

// leastColumns is the narrowest window that is served.
const leastColumns = 24

// tableColumns is the narrowest window with columns for the checks.
const tableColumns = 72

// WriteText prints the answer: the verdict, what to fly again, why, every check, and the verdict once more,
// since a terminal shows its end.
func WriteText(w io.Writer, r *Report, o TextOptions) error {
	if o.Columns <= 0 {
		o.Columns = 80
	}
	p := &printer{o: o, width: max(min(o.Columns, 120), leastColumns)}
	p.head(r)
	p.again(r)
	p.why(r)
	p.checks(r)
	if o.Events {
		p.events(r)
	}
	p.foot(r)
	_, err := io.WriteString(w, p.b.String())
	return err
}

type printer struct {
	o     TextOptions
	width int
	b     strings.Builder
}

// strong marks a word where the terminal can.
func (p *printer) strong(s string, reverse bool) string {
	switch {
	case !p.o.Bold:
		return s
	case reverse:
		return "\x1b[1;7m " + s + " \x1b[0m"
	}
	return "\x1b[1m" + s + "\x1b[0m"
}

// para writes a paragraph of the words of mark, which are made strong, and of text: first stands before its first
// line, indent before the others.
func (p *printer) para(first, indent, mark, text string) {
	marked := len(split(mark))
	line, used, empty := first, utf8.RuneCountInString(first), true
	for i, x := range append(split(mark), split(text)...) {
		for {
			n, gap := utf8.RuneCountInString(x), 1
			if empty {
				gap = 0
			}
			if used+gap+n <= p.width {
				if i < marked {
					x = p.strong(x, false)
				}
				line, used, empty = line+strings.Repeat(" ", gap)+x, used+gap+n, false
				break
			}
			if !empty {
				p.b.WriteString(line + "\n")
			} else { // a word longer than a line, such as a path
				cut, room := []rune(x), p.width-used
				p.b.WriteString(line + string(cut[:room]) + "\n")
				x = string(cut[room:])
			}
			line, used, empty = indent, utf8.RuneCountInString(indent), true
		}
	}
	p.b.WriteString(strings.TrimRight(line, " ") + "\n")
}

// split returns the words of a text, without control characters. A value stays together with its unit.
func split(s string) []string {
	return strings.FieldsFunc(printable(s), func(c rune) bool { return c == ' ' || c == '\n' || c == '\t' })
}

func (p *printer) heading(s string) {
	p.b.WriteString("\n")
	p.para("", "  ", s, "")
}

func (p *printer) head(r *Report) {
	w := bigWord(r.Verdict)
	if p.o.Bold {
		p.b.WriteString(p.strong(w, true) + "\n")
	} else {
		p.b.WriteString(w + "\n")
	}
	p.para("", "", "", report.Capital(r.Headline())+".")
}

func (p *printer) again(r *Report) {
	if len(r.Refly) == 0 {
		return
	}
	p.heading("Fly again")
	for _, row := range r.rows() {
		p.para(fmt.Sprintf("%2d  ", row.N), "    ", row.Title+",", row.Place)
		for _, x := range row.Reasons {
			p.para("    ", "    ", "", x)
		}
	}
}

func (p *printer) why(r *Report) {
	list := r.reasons()
	if len(list) == 0 {
		return
	}
	p.heading("Why")
	for _, x := range list {
		p.para("  ", "    ", x.Word()+":", x.Title+": "+x.Note)
	}
	if !r.Complete() {
		for i, m := range r.Missing {
			if i == 0 {
				p.heading("Not given")
			}
			p.para("  ", "    ", "", m.What+": "+m.Flag)
		}
	}
}

// checks prints every check that was judged: columns in a wide window, a line each in a narrow one.
func (p *printer) checks(r *Report) {
	p.heading("Checks")
	const resultW, foundW, wantedW = 9, 13, 18
	titleW := min(p.width-resultW-foundW-wantedW-4, 46)
	for _, c := range r.ordered() {
		if c.Result == fieldcheck.NotJudged {
			continue
		}
		w, title, value, limit := word(c.Result), report.Line(c.Title), report.Line(found(&c)), report.Line(wanted(&c))
		if p.width < tableColumns {
			if c.Result == fieldcheck.Go {
				p.para("", "    ", "", w+" "+title+": "+value)
				continue
			}
			if limit != "" && limit != "none" {
				value += " (" + limit + ")"
			}
			p.para("", "    ", w, title+": "+value)
			continue
		}
		if n := utf8.RuneCountInString(title); n > titleW {
			title = string([]rune(title)[:titleW-1]) + "…"
		}
		mark := w
		if c.Result == fieldcheck.Refly || c.Result == fieldcheck.Caution {
			mark = p.strong(w, false)
		}
		p.b.WriteString(strings.TrimRight(mark+pad(w, resultW)+title+pad(title, titleW+1)+pad(value, foundW)+value+"  "+limit, " ") + "\n")
	}
	var titles []string
	for _, c := range r.Checks {
		if c.Result == fieldcheck.NotJudged && !c.Required { // the others are in the reasons
			titles = append(titles, c.Title)
		}
	}
	if len(titles) > 0 {
		p.b.WriteString("\n")
		p.para("", "    ", "not judged", "for want of an input, and not needed: "+strings.Join(titles, ", "))
	}
}

// pad returns the blanks that bring s to a width.
func pad(s string, width int) string {
	return strings.Repeat(" ", max(0, width-utf8.RuneCountInString(s)))
}

func (p *printer) events(r *Report) {
	list := r.events()
	if len(list) == 0 {
		return
	}
	p.heading("What the pilot did, times " + r.ClockName())
	for _, e := range list {
		p.para(r.Clock(e.StartS)+"  ", "    ", "", eventLine(e))
	}
}

func (p *printer) foot(r *Report) {
	p.b.WriteString("\n")
	for _, s := range r.Record.Warnings {
		p.para("", "  ", "note:", s)
	}
	if s := r.startNote(); s != "" {
		p.para("", "", "", s)
	}
	for _, s := range r.cautions() {
		p.para("", "", "", s)
	}
	if p.o.Page != "" {
		p.para("", "", "", "Page for the tablet: "+p.o.Page)
	}
	p.b.WriteString("\n")
	p.para("", "", bigWord(r.Verdict)+":", r.short())
}

// short names what to fly again, or repeats the headline.
func (r *Report) short() string {
	if len(r.Refly) == 0 {
		return r.Headline()
	}
	var s []string
	rows := r.rows()
	for i, row := range rows {
		if i == 6 {
			s = append(s, fmt.Sprintf("and %d more", len(rows)-i))
			break
		}
		if r.Refly[row.Items[0]].Part {
			row.Title += " in part"
		}
		s = append(s, row.Title)
	}
	return strings.Join(s, ", ")
}

// printable replaces what could drive the terminal.
func printable(s string) string { return report.Plain(s) }
