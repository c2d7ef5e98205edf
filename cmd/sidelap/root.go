package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"runtime/debug"
	"runtime/pprof"
	"runtime/trace"
	"strconv"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// version is set by the release build; a build from source shows the module's version.
var version = ""

func programVersion() string {
	if version != "" {
		return version
	}
	if info, ok := debug.ReadBuildInfo(); ok && info.Main.Version != "" && info.Main.Version != "(devel)" {
		return info.Main.Version
	}
	return "0.1.0-dev"
}

// app holds what all commands share.
type app struct {
	stdout, stderr io.Writer
	json, quiet    bool
	cpuProfile     string
	traceFile      string
}

// run executes the command line and returns the exit code.
func run(ctx context.Context, args []string, stdout, stderr io.Writer) int {
	a := &app{stdout: stdout, stderr: stderr}
	root := a.rootCommand()
	root.SetArgs(args)
	root.SetOut(stdout)
	root.SetErr(stderr)
	stop := func() {}
	root.PersistentPreRunE = func(*cobra.Command, []string) (err error) {
		stop, err = a.startProfiles()
		return err
	}
	err := root.ExecuteContext(ctx)
	stop()
	code := exitCode(ctx, err)
	if err != nil {
		printError(stderr, err, code, a.json)
	}
	return code
}

func (a *app) rootCommand() *cobra.Command {
	root := &cobra.Command{
		Use:   "sidelap",
		Short: "Assess a drone lidar survey before it is delivered",
		Long: `sidelap tells, from the files of a drone lidar survey, whether it is complete, whether the
strips agree where they overlap, whether the cloud agrees with surveyed check points, what causes
a disagreement, and writes the report that proves the figures. It works offline.

Its figures support the judgement of the people responsible; they certify nothing. Where
the law asks for a licensed surveyor, a licensed surveyor must review and sign.`,
		Version:       programVersion(),
		SilenceErrors: true,
		SilenceUsage:  true,
		Args:          knownCommand,
		RunE:          func(c *cobra.Command, _ []string) error { return c.Help() },
	}
	root.SuggestionsMinimumDistance = 2
	root.SetFlagErrorFunc(flagError)
	f := root.PersistentFlags()
	f.BoolVar(&a.json, "json", false, "print one JSON document on stdout instead of tables; errors as JSON on stderr")
	f.BoolVarP(&a.quiet, "quiet", "q", false, "no progress")
	f.StringVar(&a.cpuProfile, "cpuprofile", "", "write a CPU profile to this file")
	f.StringVar(&a.traceFile, "trace", "", "write an execution trace to this file")
	f.MarkHidden("cpuprofile")
	f.MarkHidden("trace")
	root.AddCommand(a.commands()...)
	for _, c := range root.Commands() {
		c.SetHelpTemplate(c.HelpTemplate() + exitHelp(c.Name()))
		c.Args = usageArgs(c.Args)
		addCompletion(c)
	}
	return root
}

// knownCommand refuses a word that is no command and suggests those that are near.
func knownCommand(c *cobra.Command, args []string) error {
	if len(args) == 0 {
		return nil
	}
	if near := c.SuggestionsFor(args[0]); len(near) > 0 {
		return usagef("unknown command %q; did you mean %q?", args[0], near[0])
	}
	return usagef("unknown command %q; 'sidelap --help' lists the commands", args[0])
}

// flagError says in plain words which flag is wrong and what belongs there (exit 2).
func flagError(c *cobra.Command, err error) error {
	help := "; see '" + c.CommandPath() + " --help'"
	var value *pflag.InvalidValueError
	var none *pflag.ValueRequiredError
	switch {
	case errors.As(err, &none) && none.GetFlag() != nil:
		return usagef("--%s: no value is given; write one behind it%s", none.GetFlag().Name, help)
	case !errors.As(err, &value):
		return usagef("%w%s", err, help)
	}
	flag := value.GetFlag()
	switch kind := flag.Value.Type(); {
	case errors.Is(value, strconv.ErrRange):
		return usagef("--%s: %q is larger than any number that can be used%s", flag.Name, value.GetValue(), help)
	case kind == "bool":
		return usagef("--%s: %q is neither true nor false; write --%s alone for true%s", flag.Name, value.GetValue(), flag.Name, help)
	case kind == "int":
		return usagef("--%s: %q is no whole number; write one such as 4%s", flag.Name, value.GetValue(), help)
	case kind == "float64":
		return usagef("--%s: %q is no number; write one such as 0.5, with a point%s", flag.Name, value.GetValue(), help)
	}
	return usagef("--%s: %w%s", flag.Name, value.Unwrap(), help)
}

// usageArgs turns cobra's complaints about arguments into usage errors (exit 2).
func usageArgs(check cobra.PositionalArgs) cobra.PositionalArgs {
	return func(c *cobra.Command, args []string) error {
		if check == nil {
			return nil
		}
		if err := check(c, args); err != nil {
			given := fmt.Sprintf("%d names are given", len(args))
			switch len(args) {
			case 0:
				given = "nothing is named"
			case 1:
				given = "one name is given"
			}
			return usagef("%s; write '%s', see '%s --help'", given, c.UseLine(), c.CommandPath())
		}
		return nil
	}
}

// startProfiles starts what --cpuprofile and --trace ask for and returns what ends them.
func (a *app) startProfiles() (func(), error) {
	var ends []func() error
	if a.cpuProfile != "" {
		f, err := os.Create(a.cpuProfile)
		if err != nil {
			return func() {}, usagef("--cpuprofile: %w", err)
		}
		if err := pprof.StartCPUProfile(f); err != nil {
			return func() {}, err
		}
		ends = append(ends, func() error { pprof.StopCPUProfile(); return f.Close() })
	}
	if a.traceFile != "" {
		f, err := os.Create(a.traceFile)
		if err != nil {
			return func() {}, usagef("--trace: %w", err)
		}
		if err := trace.Start(f); err != nil {
			return func() {}, err
		}
		ends = append(ends, func() error { trace.Stop(); return f.Close() })
	}
	return func() {
		var err error
		for _, end := range ends {
			err = errors.Join(err, end())
		}
		if err != nil {
			printError(a.stderr, err, exitInput, a.json)
		}
	}, nil
}
