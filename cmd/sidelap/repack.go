package main

import (
	"fmt"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"sidelap/las"
)

func (a *app) repackCommand() *cobra.Command {
	o := las.RepackOptions{}
	var force bool
	c := &cobra.Command{
		Use:   "repack [flags] IN OUT",
		Short: "Turn LAS into LAZ or LAZ into LAS, every bit of every point kept",
		Long: `Turn LAS into LAZ or LAZ into LAS; the ending of OUT says which. Every bit of every point and every
variable length record is kept, except what the change of form itself requires. A COPC file
is unpacked in the order of its points; the result is no longer COPC, and the command says so.`,
		Example: `  sidelap repack strip_1.las strip_1.laz`,
		Args:    cobra.ExactArgs(2),
		RunE: func(c *cobra.Command, args []string) error {
			if err := checkRepack(args[0], args[1]); err != nil {
				return err
			}
			if err := checkOutFile(args[1], force); err != nil {
				return err
			}
			o.Overwrite = force
			res, err := las.Repack(c.Context(), args[0], args[1], o)
			if err != nil {
				return err
			}
			for _, w := range res.Warnings {
				fmt.Fprintln(a.stderr, "sidelap: "+printable(args[0]+": "+w))
			}
			fmt.Fprintf(a.stdout, "%s: %d points, %d bytes\n", printable(args[1]), res.Points, res.Bytes)
			return nil
		},
	}
	f := c.Flags()
	f.IntVar(&o.Workers, "workers", 0, "goroutines that pack and unpack (default: all cores)")
	f.BoolVar(&o.Salvage, "salvage", false, "go on behind damage and say what is lost")
	f.BoolVar(&force, "force", false, "replace an existing file")
	return c
}

// checkRepack refuses an output that does not say its form, and one that is the input.
func checkRepack(in, out string) error {
	if formatByName(out) == "" {
		return usagef("%s: the ending of the output says its form: name it .las or .laz", out)
	}
	a, errA := os.Stat(in)
	b, errB := os.Stat(out)
	if filepath.Clean(in) == filepath.Clean(out) || errA == nil && errB == nil && os.SameFile(a, b) {
		return usagef("%s: the output is the input; name another file", out)
	}
	return nil
}
