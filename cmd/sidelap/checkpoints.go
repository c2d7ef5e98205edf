package main

import (
	"errors"
	"io/fs"
	"os"

	"github.com/spf13/cobra"

	"sidelap/report"
)

func (a *app) checkpointsCommand() *cobra.Command {
	var s surveyFlags
	var table string
	c := &cobra.Command{
		Use:   "checkpoints [flags] FILE|DIR...",
		Short: "Only the comparison with check points; or the audit of a table of figures",
		Long: `Compare the cloud with surveyed check points: how the list was read, statistics with their uncertainty, the
figures of the standards, every point, and the dull reasons of a bad figure. Strips and coverage are not looked at.

With --audit no cloud is read: a table of somebody else's figures (CSV or TOML: n, mean, std, rmse, accuracy95, p95,
limit, claim, unit) is tested for figures that contradict each other. Exit 1 when some do, 0 when none does, 4 when no two
figures depend on each other.`,
		Example: `  sidelap checkpoints --checkpoints checkpoints.csv --limits asprs-ed2:5 cloud/
  sidelap checkpoints --checkpoints gcp.txt --columns penzd --geoid 46.2 --poles 1.8,2.0 --targets disc:0.4 cloud/
  sidelap checkpoints --audit delivered-figures.csv`,
		RunE: func(c *cobra.Command, args []string) error {
			if table != "" {
				return a.audit(c, table, args)
			}
			if len(args) == 0 {
				return usagef("no cloud named; see 'sidelap checkpoints --help'")
			}
			o, err := s.options(a, args)
			if err != nil {
				return err
			}
			if o.CheckPoints == "" {
				return usagef("--checkpoints: no list named; name the file with the surveyed points")
			}
			o.OnlyChecks = true
			rec, _, err := a.runAssess(c.Context(), o)
			if err != nil {
				return err
			}
			if a.json {
				if err := a.printRecord(rec); err != nil {
					return err
				}
				return verdictOf(rec)
			}
			columns, ok := isTerminal(a.stdout)
			if !ok {
				columns = 100
			}
			if err := report.WriteCheckPoints(a.stdout, rec, report.TextOptions{Columns: columns}); err != nil {
				return err
			}
			return verdictOf(rec)
		},
	}
	s.addReading(c)
	s.addSalvage(c)
	s.addChecks(c)
	c.Flags().StringVar(&s.o.Control, "control", "", "list of control points, to find those used twice")
	c.Flags().StringVar(&s.o.Trajectory, "trajectory", "", "path file of the flight (SBET or delimited text): its time, height and place against the cloud")
	c.Flags().StringVar(&s.o.Accuracy, "trajectory-accuracy", "", "accuracy companion of the path file (smrmsg)")
	c.Flags().StringVar(&table, "audit", "", "table of somebody else's figures to test against itself; no cloud is read")
	return c
}

// checkOutFile refuses to write over an existing file unless force is set.
func checkOutFile(path string, force bool) error {
	_, err := os.Stat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil
	case err != nil:
		return usagef("%s: %w", path, err)
	case !force:
		return usagef("%s exists; name another file, or --force to replace it", path)
	}
	return nil
}
