package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"sidelap/adjust"
	"sidelap/report/assess"
	"sidelap/report/correct"
)

func (a *app) correctCommand() *cobra.Command {
	var s surveyFlags
	o := correct.DefaultOptions()
	var undo string
	c := &cobra.Command{
		Use:   "correct [flags] FILE|DIR...",
		Short: "Correct a survey: estimate, prove on ground outside the fit, write moved copies",
		Long: `Estimate what makes the strips disagree, take it off the points, and write corrected copies of the files:
boresight, lever arm, scan angle scale, time offset, shifts and drifts of single strips, and, with
--control, the height of the whole cloud. Only what ground outside the fit vouches for is applied. The inputs
are not changed. OUT/cloud has the copies under the inputs' own names with what undoing needs,
OUT the assessment of the corrected cloud, OUT/before that of the cloud as it came. Check points
(--checkpoints) are never fitted to. Have a licensed surveyor look at before and after where the job calls for one.`,
		Example: `  sidelap correct --trajectory flight.sbet --checkpoints checkpoints.csv --out corrected cloud/

  # with control points for the height of the block
  sidelap correct --trajectory flight.sbet --control control.csv --checkpoints checkpoints.csv cloud/

  # back to the coordinates as they came, to the last digit
  sidelap correct --undo corrected/cloud/strip_101.las strip_101.las`,
		Args: cobra.MinimumNArgs(0),
		RunE: func(c *cobra.Command, args []string) error {
			if undo != "" {
				return a.undo(c.Context(), undo, args, s.o.Workers, s.force)
			}
			if len(args) == 0 {
				return usagef("name the files or the folder of the cloud")
			}
			ao, err := s.options(a, args)
			if err != nil {
				return err
			}
			o.Out, o.Force = s.out, s.force
			return a.correct(c.Context(), ao, o)
		},
	}
	s.addSurvey(c)
	s.addOutput(c, o.Out)
	f := c.Flags()
	f.Lookup("force").Usage = "replace an existing results folder; write a cloud also when there is nothing to correct"
	f.Lookup("control").Usage = "list of control points: the height of the cloud is fitted to them"
	f.StringVar(&o.Format, "format", "", "las or laz for the corrected files (default: as they came)")
	f.BoolVar(&o.DryRun, "dry-run", false, "estimate and report; write no cloud")
	f.BoolVar(&o.NoSplines, "no-splines", false, "no drifts but straight lines in time")
	f.BoolVar(&o.ApplyConfounded, "apply-confounded", false, "apply also what these data cannot tell from a rival that moves points elsewhere")
	f.BoolVar(&o.ApplyBeyond, "apply-beyond-accuracy", false, "apply also what is larger than the path file states of its own accuracy")
	f.StringVar(&undo, "undo", "", "corrected file to undo; the argument names the file to write")
	return c
}

// correct runs the job and prints its result.
func (a *app) correct(ctx context.Context, ao assess.Options, o correct.Options) error {
	if err := checkOut(o.Out, o.Force); err != nil {
		return err
	}
	p := a.newProgress()
	ao.Progress = p.update
	res, err := correct.Run(ctx, ao, o)
	p.close()
	if err != nil {
		return err
	}
	if err := a.printCorrection(res); err != nil {
		return err
	}
	if !a.json {
		fmt.Fprintf(a.stdout, "\nReport: %s\n", printable(o.Out+string(os.PathSeparator)+"report.html"))
	}
	switch res.Outcome {
	case correct.Nothing, correct.Shown:
		return nil
	case correct.Held, correct.NotJudged:
		return &verdictError{exitNotJudged}
	}
	return verdictOf(res.Record)
}

// printCorrection prints the record, and for a person first what the correction did.
func (a *app) printCorrection(res *correct.Result) error {
	if !a.json {
		columns, ok := isTerminal(a.stdout)
		if !ok {
			columns = 100
		}
		if err := correct.WriteText(a.stdout, res.Record, columns); err != nil {
			return err
		}
	}
	return a.printRecord(res.Record)
}

// undo gives a corrected file its old coordinates back.
func (a *app) undo(ctx context.Context, in string, args []string, workers int, force bool) error {
	if len(args) != 1 {
		return usagef("--undo %s: name one file to write", in)
	}
	if err := checkOutFile(args[0], force); err != nil {
		return err
	}
	res, err := adjust.UndoFile(ctx, in, args[0], adjust.ApplyOptions{Workers: workers, Overwrite: force, Format: formatByName(args[0])})
	if err != nil {
		return err
	}
	fmt.Fprintf(a.stdout, "%s: %d points as they were before the correction\n", printable(args[0]), res.Counts.Points)
	return nil
}

// formatByName says what the ending of a file's name asks for; "" for neither.
func formatByName(path string) string {
	switch strings.ToLower(filepath.Ext(path)) {
	case ".las":
		return "las"
	case ".laz":
		return "laz"
	}
	return ""
}
