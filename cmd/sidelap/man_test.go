package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/spf13/cobra/doc"
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
		c.Long += "\n" + strings.ReplaceAll(exitHelp(c.Name()), "\n  ", "\n\n  ")
	}
	header := &doc.GenManHeader{Title: "SIDELAP", Section: "1", Date: &date, Source: "sidelap " + programVersion(), Manual: "sidelap"}
	if err := doc.GenManTree(root, header, dir); err != nil {
		t.Fatal(err)
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
		if !strings.Contains(string(b), "SYNOPSIS") {
			t.Errorf("%s: no synopsis", p)
		}
		if groff == "" {
			continue
		}
		if out, err := exec.Command(groff, "-man", "-Tutf8", "-ww", "-z", p).CombinedOutput(); err != nil || len(out) > 0 {
			t.Errorf("%s: %v\n%.500s", p, err, out)
		}
	}
}
