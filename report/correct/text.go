package correct

import (
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"sidelap/report"
)

// WriteText prints the correction of a record for a terminal of so many columns: what was done, the parameters, before and after, notes.
func WriteText(w io.Writer, rec *report.Record, columns int) error {
	c := rec.Correction
	if c == nil {
		return nil
	}
	var b strings.Builder
	wrap(&b, string(c.Statement), "", columns)
	if len(c.Parameters) > 0 {
		b.WriteString("\nParameters (used minus true)\n")
		for _, p := range c.Parameters {
			digits, unit := 4, " "+p.Unit
			if p.Unit == "1" { // a ratio
				digits, unit = 6, ""
			}
			fmt.Fprintf(&b, "  %-34s %11s +- %s%s\n", parameterName(&p), number(p.Value, digits), number(p.Sigma, digits), unit)
		}
	}
	var rows strings.Builder
	row := func(name string, f func(l *report.Level) *float64) {
		before, after := "-", "-"
		if c.Before != nil {
			before = number(f(c.Before), 4)
		}
		if c.After != nil {
			after = number(f(c.After), 4)
		}
		if before != "-" || after != "-" {
			fmt.Fprintf(&rows, "  %-18s %8s  %8s m\n", name, before, after)
		}
	}
	row("RMSD", func(l *report.Level) *float64 { return l.RMSDM })
	row("NMAD", func(l *report.Level) *float64 { return l.NMADM })
	row("95th percentile", func(l *report.Level) *float64 { return l.P95AbsM })
	if h := c.Holdout; h != nil {
		fmt.Fprintf(&rows, "  %-18s %8s  %8s m   (noise floor %s m, %d cells)\n", "outside the fit", number(h.BeforeRMSM, 4), number(h.AfterRMSM, 4), number(h.NoiseFloorM, 4), h.Cells)
	}
	row("check point RMSE", func(l *report.Level) *float64 { return l.CheckM })
	row("check point mean", func(l *report.Level) *float64 { return l.CheckMean })
	if rows.Len() > 0 {
		b.WriteString("\n                       before     after\n" + rows.String())
	}
	if len(c.Notes) > 0 {
		b.WriteString("\n")
	}
	for _, n := range c.Notes {
		wrap(&b, "- "+n, "  ", columns)
	}
	b.WriteString("\n")
	_, err := io.WriteString(w, printable(b.String()))
	return err
}

// parameterName is the name of a parameter in the words of the trade, with the strip that it is of.
func parameterName(p *report.Parameter) string {
	name := report.KindText(p.Kind)
	if p.Strip == "" {
		return name
	}
	if of, single := strings.CutSuffix(name, " of a strip"); single {
		return of + " of strip " + string(p.Strip)
	}
	return name + ", strip " + string(p.Strip)
}

// WriteAgain prints what Again did, a line for each file.
func WriteAgain(w io.Writer, out string, res *AgainResult) error {
	var b strings.Builder
	if res.Statement != "" {
		wrap(&b, "The correction as it was found: "+res.Statement, "", 100)
	}
	for _, f := range res.Files {
		fmt.Fprintf(&b, "%s: %d points, %d moved, by %.4f m rms, %.4f m at most", report.Line(filepath.Join(out, filepath.FromSlash(f.Output))), f.Points, f.Moved, f.RMSM, f.MaxM)
		for _, x := range []struct {
			n    int64
			text string
		}{{f.NoStrip, "of no strip"}, {f.NotTurned, "not turned, since nothing tells how the sensor saw them"}, {f.Far, "too far from the path and left where they are"}} {
			if x.n > 0 {
				fmt.Fprintf(&b, "; %d (%.2g %%) %s", x.n, 100*float64(x.n)/float64(max(f.Points, 1)), x.text)
			}
		}
		b.WriteString("\n")
	}
	for _, n := range res.Notes {
		wrap(&b, "- "+n, "  ", 100)
	}
	b.WriteString("Nothing was estimated or proven on these files: assess them, with check points, before they are delivered.\n")
	_, err := io.WriteString(w, printable(b.String()))
	return err
}

func number(v *float64, digits int) string {
	if v == nil {
		return "-"
	}
	return fmt.Sprintf("%.*f", digits, *v)
}

// wrap writes a paragraph, further lines behind the indent.
func wrap(b *strings.Builder, s, indent string, columns int) {
	line := 0
	for i, word := range strings.Fields(s) {
		n := len([]rune(word))
		switch {
		case i == 0:
		case line+1+n > max(columns, 20):
			b.WriteString("\n" + indent)
			line = len(indent)
		default:
			b.WriteByte(' ')
			line++
		}
		b.WriteString(word)
		line += n
	}
	b.WriteByte('\n')
}

// printable replaces what names in files may hold to drive the terminal.
func printable(s string) string { return report.Plain(s) }
