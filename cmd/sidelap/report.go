package main

import (
	"fmt"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"sidelap/report"
	"sidelap/report/assess"
	"sidelap/report/limits"
)

// layoutFlags are the settings of the documents.
type layoutFlags struct {
	letterhead    string
	letter, brief bool
	swathImage    bool
}

func (l *layoutFlags) add(c *cobra.Command) {
	f := c.Flags()
	f.StringVar(&l.letterhead, "letterhead", "", "TOML file with firm, project, client, site, logo and what is known of datum and base")
	f.BoolVar(&l.letter, "letter", false, "report.pdf on US letter paper instead of A4")
	f.BoolVar(&l.brief, "brief", false, "report.pdf as a summary of two pages")
	f.BoolVar(&l.swathImage, "swath-image", false, "write the swath separation image too: size of the separation in three levels over the intensity")
}

// apply puts the letterhead on the record and returns how to render it.
func (l *layoutFlags) apply(rec *report.Record, layers *report.Layers, force bool) (report.RenderOptions, error) {
	o := report.RenderOptions{Force: force, Letter: l.letter, Brief: l.brief, SwathImage: l.swathImage}
	if l.letterhead == "" {
		return o, nil
	}
	if err := assess.Present([][2]string{{"letterhead", l.letterhead}}); err != nil {
		return o, &usageError{err}
	}
	head, err := report.ReadLetterhead(l.letterhead)
	if err != nil {
		return o, &usageError{err}
	}
	head.Apply(rec, layers)
	return o, nil
}

func (a *app) reportCommand() *cobra.Command {
	var l layoutFlags
	var out, set string
	var force, sample bool
	c := &cobra.Command{
		Use:   "report [flags] DIR",
		Short: "Render a results folder again with other settings, without the points",
		Long: `Render a results folder again from its results.json and rasters: with a letterhead, on another paper, against
other limits. The points are not read.`,
		Example: `  sidelap report --print-letterhead > firm.toml
  sidelap report --letterhead firm.toml --brief --out for-client results`,
		Args: func(c *cobra.Command, args []string) error {
			if sample {
				return cobra.NoArgs(c, args)
			}
			return cobra.ExactArgs(1)(c, args)
		},
		RunE: func(c *cobra.Command, args []string) error {
			if sample {
				_, err := fmt.Fprint(a.stdout, report.LetterheadSample)
				return err
			}
			if out == "" {
				out = args[0]
			} else if err := checkOut(out, force); err != nil {
				return err
			}
			rec, layers, err := report.LoadFolder(args[0])
			if err != nil {
				return err
			}
			if set != "" {
				s, err := limits.Resolve(set)
				if err != nil {
					return &usageError{err}
				}
				rec.Options.Limits = report.Text(s.Name)
				if rec.Checkpoints != nil {
					rec.Checkpoints.Statement = limits.Statement(rec, s)
				}
				rec.Verdict = limits.Judge(rec, s)
			}
			o, err := l.apply(rec, layers, force || filepath.Clean(out) == filepath.Clean(args[0]))
			if err != nil {
				return err
			}
			if err := report.RenderContext(c.Context(), out, rec, layers, o); err != nil {
				return err
			}
			if a.json {
				return a.printRecord(rec)
			}
			fmt.Fprintf(a.stdout, "Report: %s\n", printable(out+string(os.PathSeparator)+"report.html"))
			return verdictOf(rec)
		},
	}
	l.add(c)
	f := c.Flags()
	f.StringVarP(&out, "out", "o", "", "folder to write (default: the same folder)")
	f.StringVar(&set, "limits", "", "judge against these limits instead: built-in name or TOML file")
	f.BoolVar(&force, "force", false, "replace an existing results folder")
	f.BoolVar(&sample, "print-letterhead", false, "print a complete file for --letterhead to copy and edit, and end")
	return c
}
