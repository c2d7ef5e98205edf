package main

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"strings"
	"testing"

	"sidelap/control"
	"sidelap/las"
	"sidelap/las/disk"
	"sidelap/report/assess"
)

// TestErrorText: a name cannot begin a line of its own, nor drive the terminal, whichever error carries it; texts of several lines keep theirs.
func TestErrorText(t *testing.T) {
	const name = "odd\n\x1b[2Jsidelap: all well.las"
	const shown = "odd??[2Jsidelap: all well.las"
	gone := &fs.PathError{Op: "open", Path: name, Err: fs.ErrNotExist}
	readings := []control.Reading{{Columns: "p e n z", FirstRow: "1 2 3 4"}, {Columns: "p n e z", FirstRow: "1 3 2 4"}}
	for _, c := range []struct {
		err  error
		want string
	}{
		{gone, "open " + shown + ": file does not exist"},
		{&assess.InputError{Path: name, Err: fs.ErrNotExist, Remedy: "check the path"}, shown + ": file does not exist; check the path"},
		{&las.FormatError{Path: name, Field: "Version", Err: las.ErrNotLAS}, shown + ": byte 0: Version: not a LAS or LAZ file"},
		{&disk.Error{Path: name, Err: fs.ErrPermission}, shown + ": permission denied"},
		{usagef("--out: %s exists", name), "--out: " + shown + " exists"},
		{errors.Join(gone, fmt.Errorf("%s: %w", name, gone)), "open " + shown + ": file does not exist\n" + shown + ": open " + shown + ": file does not exist"},
		{fmt.Errorf("%w and %w", gone, gone), "open " + shown + ": file does not exist and open " + shown + ": file does not exist"},
		{fmt.Errorf("--checkpoints: %w", &control.AmbiguousError{Path: name, Question: "which?", Readings: readings, Remedy: "say so"}),
			"--checkpoints: " + shown + ": which?\n  p e n z: 1 2 3 4\n  p n e z: 1 3 2 4\nsay so"},
		{&partlyError{gone, "the survey is in " + name}, "interrupted; the survey is in " + shown},
	} {
		var b bytes.Buffer
		code := exitInput
		if strings.HasPrefix(c.want, "interrupted") {
			code = exitInterrupted
		}
		printError(&b, c.err, code, false)
		if b.String() != "sidelap: "+c.want+"\n" {
			t.Errorf("%T: %q, want %q", c.err, b.String(), c.want)
		}
	}
}
