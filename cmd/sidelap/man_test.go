package main

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/cobra/doc"
	"github.com/spf13/pflag"
)

// TestManPages writes the man pages: into the folder of the environment variable SIDELAP_MAN, as .ci/release asks for, dated SOURCE_DATE (2026-05-31),
// else for the test alone. Where there is a roff formatter it must have no complaint about them.
func TestManPages(t *testing.T) {
	dir := os.Getenv("SIDELAP_MAN")
	if dir == "" {
		dir = t.TempDir()
	}
	date := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)
	if s := os.Getenv("SOURCE_DATE"); s != "" {
		var err error
		if date, err = time.Parse(time.DateOnly, s); err != nil {
			t.Fatal(err)
		}
	}
	a := &app{}
	root := a.rootCommand()
	root.DisableAutoGenTag = true
	root.CompletionOptions.DisableDefaultCmd = true
	commands := root.Commands() // GenManTree adds help
	for _, c := range commands {
		c.DisableAutoGenTag = true
	}
	header := doc.GenManHeader{Section: "1", Date: &date, Source: "sidelap " + programVersion(), Manual: "sidelap"} // the title is the command's
	for _, c := range append(commands, root) {
		h := header
		var page bytes.Buffer
		if err := doc.GenMan(c, &h, &page); err != nil {
			t.Fatal(err)
		}
		name := filepath.Join(dir, strings.ReplaceAll(c.CommandPath(), " ", "-")+".1")
		if err := os.WriteFile(name, manPage(c, page.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	pages, err := filepath.Glob(filepath.Join(dir, "*.1"))
	if err != nil || len(pages) != len(commands)+1 {
		t.Fatalf("%d pages for %d commands: %v", len(pages), len(commands), err)
	}
	groff, err := exec.LookPath("groff")
	if err != nil {
		t.Log("no groff here: the pages were not formatted")
	}
	for _, p := range pages {
		b, err := os.ReadFile(p)
		if err != nil {
			t.Fatal(err)
		}
		title := strings.ToUpper(strings.TrimSuffix(filepath.Base(p), ".1"))
		if text := string(b); !strings.Contains(text, "SYNOPSIS") || !strings.HasPrefix(strings.ReplaceAll(text[strings.Index(text, ".TH"):], `\-`, "-"), `.TH "`+title+`" "1"`) ||
			strings.Contains(text, `="`) && strings.Contains(text, `\fP="`) || strings.Contains(text, `\fP[=`) || strings.Contains(text, "EXIT STATUS") == (title == "SIDELAP") {
			t.Errorf("%s: no synopsis, another title, a flag with an empty default, or no exit status", p)
		}
		if groff == "" {
			continue
		}
		if out, err := exec.Command(groff, "-man", "-Tutf8", "-ww", "-z", p).CombinedOutput(); err != nil || len(out) > 0 {
			t.Errorf("%s: %v\n%.500s", p, err, out)
		}
	}
}

// manFlag is a flag as cobra's generator sets it, with its default as a value.
var manFlag = regexp.MustCompile(`(?m)^((?:\\fB-[a-z]\\fP, )?\\fB--([a-z0-9-]+)\\fP)\[?=.*$`)

// manPage sets the flags of a generated page as the help does, the kind of the value and the default only where there are any,
// and the exit status as a section of its own.
func manPage(c *cobra.Command, page string) []byte {
	page = manFlag.ReplaceAllStringFunc(page, func(line string) string {
		m := manFlag.FindStringSubmatch(line)
		f := c.Flags().Lookup(m[2])
		if f == nil {
			f = c.InheritedFlags().Lookup(m[2])
		}
		if f == nil || f.Value.Type() == "bool" {
			return m[1]
		}
		kind, usage := pflag.UnquoteUsage(f)
		line = m[1] + ` \fI` + kind + `\fP`
		switch f.DefValue {
		case "", "0", "[]":
		default:
			if f.Name != "workers" && !strings.Contains(usage, "(default") { // workers: as many as the machine has cores
				line += " (default: " + strings.ReplaceAll(f.DefValue, "-", `\-`) + ")"
			}
		}
		return line
	})
	if !c.HasParent() {
		return []byte(page)
	}
	status := ".SH EXIT STATUS\n.EX\n" + strings.ReplaceAll(strings.TrimPrefix(exitHelp(c.Name()), "\nExit status:\n"), "-", `\-`) + ".EE\n\n"
	for _, next := range []string{".SH EXAMPLE\n", ".SH SEE ALSO\n"} {
		if before, after, found := strings.Cut(page, next); found {
			return []byte(before + status + next + after)
		}
	}
	return []byte(page + status)
}
