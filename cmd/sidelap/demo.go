package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"time"

	"github.com/spf13/cobra"

	"sidelap/report"
	"sidelap/report/assess"
	"sidelap/trajectory/simulate"
)

func (a *app) demoCommand() *cobra.Command {
	var force bool
	c := &cobra.Command{
		Use:   "demo DIR",
		Short: "Fly an invented survey with known faults into DIR and assess it",
		Long: `Fly an invented survey into DIR: five opposed strips and a cross strip over an invented valley, with
trajectory, base log and check points, and faults that are told in DIR/TRUTH.txt. Then assess it into
DIR/results and tell what was found. Nobody flew it; nothing in it is a real place.`,
		Example: `  sidelap demo demo`,
		Args:    cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			dir := args[0]
			if err := checkDemoDir(dir, force); err != nil {
				return err
			}
			started := time.Now()
			if !a.quiet && !a.json {
				fmt.Fprintln(a.stderr, "flying an invented survey into "+printable(dir))
			}
			flight, err := simulate.WriteSurvey(dir, simulate.DemoScenario(), simulate.CloudOptions{Overwrite: force})
			if err != nil {
				return err
			}
			if err := c.Context().Err(); err != nil {
				return err
			}
			return a.assessDemo(c, dir, flight, started)
		},
	}
	c.Flags().BoolVar(&force, "force", false, "write into a folder that is not empty")
	return c
}

func checkDemoDir(dir string, force bool) error {
	entries, err := os.ReadDir(dir)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil
	case err != nil:
		return usagef("%s: %w", dir, err)
	case len(entries) > 0 && !force:
		return usagef("%s is not empty; name another folder, or --force", dir)
	}
	return nil
}

// assessDemo assesses the demo and tells in five lines what it found. A limit that is exceeded is what the demo is
// for, and no failure of the command.
func (a *app) assessDemo(c *cobra.Command, dir string, flight *simulate.Flight, started time.Time) error {
	o := assess.DefaultOptions()
	o.Inputs = []string{filepath.Join(dir, simulate.DemoCloud)}
	o.Trajectory = filepath.Join(dir, filepath.FromSlash(simulate.DemoPath))
	o.Base = filepath.Join(dir, filepath.FromSlash(simulate.DemoBaseLog))
	o.CheckPoints = filepath.Join(dir, simulate.DemoCheckPoints)
	o.Limits = "asprs-ed2:5"
	o.Program = programVersion()
	o.Now = time.Now()
	o.CommandLine = []string{"sidelap", "demo", dir}
	o.LeverM, o.LeverGiven = flight.UsedMount().LeverM, true
	rec, layers, err := a.runAssess(c.Context(), o)
	if err != nil {
		return err
	}
	out := filepath.Join(dir, "results")
	if err := report.Render(out, rec, layers, report.RenderOptions{Force: true}); err != nil {
		return err
	}
	if a.json {
		return a.printRecord(rec)
	}
	return writeBrief(a.stdout, rec, out, time.Since(started))
}
