package main

import (
	"bytes"
	"context"
	"strings"
	"testing"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// What the shell is told when the user presses the key for completion.
func TestCompletion(t *testing.T) {
	for _, c := range []struct {
		args []string
		want string
	}{
		{[]string{"assess", "--limits", "asprs-ed2"}, "asprs-ed2:5\t"},
		{[]string{"assess", "--strips-by", ""}, "id\tpoint source ID"},
		{[]string{"correct", "--format", ""}, "laz"},
		{[]string{"assess", "--vertical-unit", ""}, "usft\t"},
		{[]string{"limits", "asprs-ed1"}, "asprs-ed1"},
		{[]string{"field", "--plan", ""}, "geojson"},
		{[]string{"re"}, "report\t"},
	} {
		var out, errs bytes.Buffer
		if code := run(context.Background(), append([]string{"__complete"}, c.args...), &out, &errs); code != 0 || !strings.Contains(out.String(), c.want) {
			t.Errorf("%q: exit %d, %q, want %q", c.args, code, out.String(), c.want)
		}
	}
	for _, shell := range []string{"bash", "zsh", "fish", "powershell"} {
		var out, errs bytes.Buffer
		if code := run(context.Background(), []string{"completion", shell}, &out, &errs); code != 0 || !strings.Contains(out.String(), "sidelap") {
			t.Errorf("completion %s: exit %d, %s", shell, code, errs.String())
		}
	}
}

// Every name in the tables of values and endings is a flag of some command.
func TestCompletionNames(t *testing.T) {
	flags := map[string]bool{}
	a := &app{}
	for _, c := range a.rootCommand().Commands() {
		visit(c, flags)
	}
	for name := range values {
		if !flags[name] {
			t.Errorf("no flag --%s", name)
		}
	}
	for name := range endings {
		if !flags[name] {
			t.Errorf("no flag --%s", name)
		}
	}
}

func visit(c *cobra.Command, flags map[string]bool) {
	c.Flags().VisitAll(func(f *pflag.Flag) { flags[f.Name] = true })
}
