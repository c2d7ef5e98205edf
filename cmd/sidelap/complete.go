package main

import (
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"sidelap/report/limits"
)

// units are the names that the unit flags know.
var units = []string{"m", "ift\tinternational foot, 0.3048 m", "usft\tUS survey foot, 1200/3937 m"}

// values are what the shell offers behind a flag, a description behind a tab.
var values = map[string][]string{
	"strips-by":       {"auto\tby what the files say", "id\tpoint source ID", "file\ta strip is a file", "time\tgaps in GPS time"},
	"format":          {"las", "laz"},
	"horizontal-unit": units, "vertical-unit": units, "list-unit": units,
	"targets": {"disc:0.15\tradius in metres", "checkerboard:0.3\tside", "chevron:0.5\tarm[:width]", "cross:0.5\tarm[:width]"},
}

// endings are those of the files that a flag takes.
var endings = map[string][]string{
	"checkpoints": {"csv", "txt", "gpkg"}, "control": {"csv", "txt", "gpkg"}, "audit": {"csv", "toml", "txt"},
	"geoid": {"gtx", "tif", "tiff"}, "letterhead": {"toml"}, "plan": {"geojson", "json", "kml", "kmz", "gpkg"},
	"trajectory-accuracy": {"smrmsg", "gz"},
}

// addCompletion says what the shell offers for the flags and arguments of a command.
func addCompletion(c *cobra.Command) {
	c.Flags().VisitAll(func(f *pflag.Flag) {
		switch {
		case f.Name == "limits":
			_ = c.RegisterFlagCompletionFunc(f.Name, completeLimits)
		case f.Name == "out":
			_ = c.MarkFlagDirname(f.Name)
		case values[f.Name] != nil:
			_ = c.RegisterFlagCompletionFunc(f.Name, cobra.FixedCompletions(values[f.Name], cobra.ShellCompDirectiveNoFileComp))
		case endings[f.Name] != nil:
			_ = c.MarkFlagFilename(f.Name, endings[f.Name]...)
		case f.Value.Type() != "string" && f.Value.Type() != "stringArray":
			_ = c.RegisterFlagCompletionFunc(f.Name, cobra.NoFileCompletions)
		}
	})
	switch c.Name() {
	case "limits":
		c.ValidArgsFunction = completeLimits
	case "demo", "report":
		c.ValidArgsFunction = func(*cobra.Command, []string, string) ([]cobra.Completion, cobra.ShellCompDirective) {
			return nil, cobra.ShellCompDirectiveFilterDirs
		}
	}
}

// completeLimits offers the built-in sets, and files for one's own.
func completeLimits(_ *cobra.Command, _ []string, begun string) ([]cobra.Completion, cobra.ShellCompDirective) {
	var names []cobra.Completion
	for _, l := range limits.List() {
		if strings.HasPrefix(l.Name, begun) {
			names = append(names, l.Name+"\t"+l.Title)
		}
	}
	return names, cobra.ShellCompDirectiveDefault
}
