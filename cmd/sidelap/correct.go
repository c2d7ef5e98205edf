package main

import (
	"context"
	"encoding/json"
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
	var undo, again string
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

  # the same correction for other copies of the flight: other tiles, a denser export
  sidelap correct --apply corrected/cloud/correction.json --out corrected-tiles tiles/

  # back to the coordinates as they came, to the last digit: a file, or a folder of them
  sidelap correct --undo corrected/cloud/strip_101.las strip_101.las
  sidelap correct --undo corrected/cloud as-it-came`,
		Args: cobra.MinimumNArgs(0),
		RunE: func(c *cobra.Command, args []string) error {
			if undo != "" && again != "" {
				return usagef("--apply and --undo: one at a time")
			}
			if err := assess.Present([][2]string{{"undo", undo}, {"apply", again}}); err != nil {
				return err
			}
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
			if again != "" {
				return a.again(c, again, ao, o)
			}
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
	f.BoolVar(&o.ApplyBeyond, "apply-beyond-accuracy", false, "apply also what is larger than the path file states of its own accuracy, and a shift to control that is held back")
	f.StringVar(&again, "apply", "", "correction.json of an earlier run: apply it to other copies of the same flight, estimate nothing")
	f.StringVar(&undo, "undo", "", "corrected file or folder to undo; the argument names the file or folder to write")
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

// again applies a correction that was found before.
func (a *app) again(c *cobra.Command, file string, ao assess.Options, o correct.Options) error {
	for _, name := range []string{"trajectory", "trajectory-accuracy", "lever", "control", "checkpoints", "no-splines", "apply-confounded", "apply-beyond-accuracy", "dry-run", "strips-by", "cell"} {
		if c.Flags().Changed(name) {
			return usagef("--%s has no use beside --apply: the correction is as it was found; leave it out", name)
		}
	}
	if !c.Flags().Changed("out") {
		return usagef("--apply: name the folder to write with --out")
	}
	if err := checkOut(o.Out, o.Force); err != nil {
		return err
	}
	p := a.newProgress()
	res, err := correct.Again(c.Context(), correct.AgainOptions{Correction: file, Inputs: ao.Inputs, Out: o.Out, Format: o.Format, Force: o.Force, Workers: ao.Workers, HorizontalM: ao.HorizontalM,
		VerticalM: ao.VerticalM, Program: ao.Program, CommandLine: ao.CommandLine, Now: ao.Now, Progress: p.update})
	p.close()
	if err != nil {
		return err
	}
	if a.json {
		return a.printJSON(res)
	}
	return correct.WriteAgain(a.stdout, o.Out, res)
}

// undo gives corrected files their old coordinates back.
func (a *app) undo(ctx context.Context, in string, args []string, workers int, force bool) error {
	if len(args) != 1 {
		return usagef("--undo %s: name one file or folder to write", in)
	}
	if info, err := os.Stat(in); err == nil && info.IsDir() {
		if err := checkOut(args[0], false); err != nil {
			return err
		}
		p := a.newProgress()
		res, err := correct.UndoFolder(ctx, in, args[0], workers, p.update)
		p.close()
		if err != nil {
			return err
		}
		if a.json {
			return a.printJSON(res)
		}
		for _, f := range res.Files {
			fmt.Fprintf(a.stdout, "%s: %d points as they were before the correction\n", printable(filepath.Join(args[0], filepath.FromSlash(f.Output))), f.Points)
		}
		return nil
	}
	if err := checkOutFile(args[0], force); err != nil {
		return err
	}
	res, err := adjust.UndoFile(ctx, in, args[0], adjust.ApplyOptions{Workers: workers, Overwrite: force, Format: formatByName(args[0])})
	if err != nil {
		return err
	}
	if a.json {
		return a.printJSON(res)
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

// printJSON prints a document on stdout.
func (a *app) printJSON(v any) error {
	b, err := json.MarshalIndent(v, "", " ")
	if err != nil {
		return err
	}
	_, err = a.stdout.Write(append(b, '\n'))
	return err
}
