package main

import (
	"fmt"

	"github.com/spf13/cobra"

	"sidelap/report/limits"
)

func (a *app) limitsCommand() *cobra.Command {
	return &cobra.Command{
		Use:   "limits [NAME]",
		Short: "List the built-in limits, or print one set as TOML to copy and edit",
		Example: `  sidelap limits
  sidelap limits asprs-ed2:5 > contract.toml`,
		Args: cobra.MaximumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			if len(args) == 1 {
				text, err := limits.TOML(args[0])
				if err != nil {
					return &usageError{err}
				}
				_, err = fmt.Fprint(a.stdout, text)
				return err
			}
			return limits.WriteList(a.stdout)
		},
	}
}
