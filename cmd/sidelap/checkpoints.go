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
	c := &cobra.Command{
		Use:     "checkpoints [flags] FILE|DIR...",
		Short:   "Only the comparison with check points",
		Example: `  sidelap checkpoints --checkpoints checkpoints.csv --limits asprs-ed2:5 cloud/`,
		RunE: func(c *cobra.Command, args []string) error {
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
	s.addChecks(c)
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
