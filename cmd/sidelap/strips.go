package main

import (
	"github.com/spf13/cobra"

	"sidelap/report"
)

func (a *app) stripsCommand() *cobra.Command {
	var s surveyFlags
	c := &cobra.Command{
		Use:     "strips [flags] FILE|DIR...",
		Short:   "One row per strip, in seconds",
		Example: `  sidelap strips cloud/`,
		Args:    cobra.MinimumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			o, err := s.options(a, args)
			if err != nil {
				return err
			}
			o.OnlyStrips = true
			rec, _, err := a.runAssess(c.Context(), o)
			if err != nil {
				return err
			}
			if a.json {
				return a.printRecord(rec)
			}
			columns, ok := isTerminal(a.stdout)
			if !ok {
				columns = 100
			}
			return report.WriteStrips(a.stdout, rec, report.TextOptions{Columns: columns})
		},
	}
	s.addReading(c)
	s.addSalvage(c)
	return c
}
