package main

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"time"

	"github.com/spf13/cobra"

	"sidelap/las/disk"
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
			flight, err := flyInto(c.Context(), dir)
			if err != nil {
				return err
			}
			err = a.assessDemo(c, dir, flight, started)
			if err != nil && c.Context().Err() != nil {
				err = &partlyError{err, fmt.Sprintf("the survey is in %s, its results are not; 'sidelap demo --force %s' makes both again", dir, dir)}
			}
			return err
		},
	}
	c.Flags().BoolVar(&force, "force", false, "write into a folder that is not empty")
	return c
}

// checkDemoDir refuses a folder that holds anything but what an earlier demo left when it was killed.
func checkDemoDir(dir string, force bool) error {
	entries, err := os.ReadDir(dir)
	entries = slices.DeleteFunc(entries, func(e fs.DirEntry) bool { return disk.IsTemporary(e.Name()) })
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

// flyInto lays out the survey in a hidden folder below dir and moves its files to their places when all are
// complete. Otherwise nothing of it stays.
func flyInto(ctx context.Context, dir string) (flight *simulate.Flight, err error) {
	_, err = os.Stat(dir)
	absent := errors.Is(err, fs.ErrNotExist)
	tmp, err := disk.NewFolder(filepath.Join(dir, "survey"))
	if err != nil {
		return nil, &usageError{err}
	}
	defer func() {
		if e := tmp.Close(); err == nil {
			err = e
		}
		if err != nil && absent {
			os.Remove(dir) // fails, rightly, when something is in it
		}
	}()
	if flight, err = simulate.WriteSurveyContext(ctx, tmp.Path, simulate.DemoScenario(), simulate.CloudOptions{}); err != nil {
		return nil, tmp.Named(err, dir)
	}
	return flight, moveInto(dir, tmp.Path)
}

// moveInto moves every file below from to the same place below dir.
func moveInto(dir, from string) error {
	return filepath.WalkDir(from, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(from, path)
		if err != nil {
			return err
		}
		if d.IsDir() {
			return os.MkdirAll(filepath.Join(dir, rel), 0o777)
		}
		return os.Rename(path, filepath.Join(dir, rel))
	})
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
	if err := report.RenderContext(c.Context(), out, rec, layers, report.RenderOptions{Force: true}); err != nil {
		return err
	}
	if a.json {
		return a.printRecord(rec)
	}
	return writeBrief(a.stdout, rec, out, time.Since(started))
}
