package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"

	"github.com/spf13/cobra"

	"sidelap/las/disk"
	"sidelap/report"
	"sidelap/report/assess"
	"sidelap/report/limits"
)

func (a *app) commands() []*cobra.Command {
	return []*cobra.Command{
		a.assessCommand(), a.stripsCommand(), a.checkpointsCommand(), a.limitsCommand(), a.reportCommand(),
		a.repackCommand(), a.demoCommand(), a.fieldCommand(), a.correctCommand(),
	}
}

func (a *app) assessCommand() *cobra.Command {
	var s surveyFlags
	var l layoutFlags
	c := &cobra.Command{
		Use:   "assess [flags] FILE|DIR...",
		Short: "Assess a survey: strips, overlaps, coverage, check points, cause, verdict",
		Long: `Assess a lidar survey before delivery: completeness, strip against strip, cloud against check
points, the cause where they disagree, and a verdict against limits. Reads the points once, changes no
input, and writes a results folder: results.json, report.html, report.pdf, tables, rasters, map.gpkg.`,
		Example: `  # a folder of strips against check points, limits of the 5 cm class
  sidelap assess --checkpoints checkpoints.csv --limits asprs-ed2:5 --out results cloud/

  # with the flight path, so that a cause can be told apart from its rivals
  sidelap assess --trajectory flight.sbet --lever 0.05,0,0.12 --out results cloud/`,
		Args: cobra.MinimumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			o, err := s.options(a, args)
			if err != nil {
				return err
			}
			o.Intensity = l.swathImage
			return a.assess(c.Context(), o, s.out, s.force, &l)
		},
	}
	s.addSurvey(c)
	s.addSalvage(c)
	s.addOutput(c, "sidelap-results")
	l.add(c)
	return c
}

// assess runs the main job and writes, prints and judges its result.
func (a *app) assess(ctx context.Context, o assess.Options, out string, force bool, l *layoutFlags) error {
	if err := checkOut(out, force); err != nil {
		return err
	}
	if err := assess.Present([][2]string{{"letterhead", l.letterhead}}); err != nil { // before hours of reading
		return &usageError{err}
	}
	rec, layers, err := a.runAssess(ctx, o)
	if err != nil {
		return err
	}
	ro, err := l.apply(rec, layers, force)
	if err != nil {
		return err
	}
	if err := report.RenderContext(ctx, out, rec, layers, ro); err != nil {
		return err
	}
	if err := a.printRecord(rec); err != nil {
		return err
	}
	if !a.json {
		fmt.Fprintf(a.stdout, "\nReport: %s\n", printable(out+string(os.PathSeparator)+"report.html"))
	}
	return verdictOf(rec)
}

func (a *app) runAssess(ctx context.Context, o assess.Options) (*report.Record, *report.Layers, error) {
	p := a.newProgress()
	defer p.close()
	o.Progress = p.update
	return assess.Run(ctx, o)
}

// checkOut refuses an existing results folder, and a place that cannot be written, before hours of reading, not after.
func checkOut(out string, force bool) error {
	if out == "" {
		return usagef("--out: the results folder has no name")
	}
	info, err := os.Stat(out)
	switch {
	case errors.Is(err, fs.ErrNotExist):
	case err != nil:
		return usagef("--out: %w", err)
	case !info.IsDir():
		return usagef("--out: %s is a file; name a folder", out)
	case !force:
		entries, err := os.ReadDir(out)
		if err != nil || len(entries) > 0 {
			return usagef("--out: %s exists; name another folder, or --force to replace it", out)
		}
	}
	if err := disk.CheckFolder(out); err != nil {
		return usagef("--out: %w", err)
	}
	return nil
}

// printRecord writes the record on stdout: as JSON, or as tables that fit the terminal.
func (a *app) printRecord(rec *report.Record) error {
	if a.json {
		b, err := report.Marshal(rec)
		if err != nil {
			return err
		}
		_, err = a.stdout.Write(b)
		return err
	}
	columns, ok := isTerminal(a.stdout)
	if !ok {
		columns = 100
	}
	return report.WriteText(a.stdout, rec, report.TextOptions{Columns: columns})
}

// verdictOf turns the verdict into the exit code.
func verdictOf(rec *report.Record) error {
	if code := limits.ExitCode(rec.Verdict); code != exitWithin {
		return &verdictError{code}
	}
	return nil
}
