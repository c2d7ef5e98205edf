package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"strings"

	"sidelap/control"
	"sidelap/las"
	"sidelap/las/disk"
	"sidelap/report"
	"sidelap/report/assess"
)

// Exit codes. They never change meaning; scripts rely on them.
const (
	exitWithin      = 0   // within limits, or go
	exitExceeded    = 1   // a limit is exceeded, or refly
	exitUsage       = 2   // command line or settings
	exitInput       = 3   // an input cannot be read, or an output not be written
	exitNotJudged   = 4   // not enough data to judge
	exitInterrupted = 130 // Ctrl-C or a termination signal
)

// exitHelp is the last part of a command's help.
func exitHelp(command string) string {
	if command == "correct" {
		return exitHelpCorrect
	}
	return exitHelpAll
}

const exitHelpAll = `
Exit status:
  0    within the limits, or go
  1    a limit is exceeded, or refly
  2    command line or settings wrong
  3    a file cannot be read or written
  4    not enough data to judge
  130  interrupted
`

// exitHelpCorrect is that of correct, whose verdict counts only for a cloud that it wrote.
const exitHelpCorrect = `
Exit status:
  0    corrected, and the new cloud is within the limits; or, whatever
       the verdict, nothing to correct, or only shown (--dry-run);
       --apply and --undo: done
  1    corrected, and the new cloud exceeds a limit
  2    command line or settings wrong
  3    a file cannot be read or written
  4    held back, or too little overlap: nothing was corrected; or
       corrected, and not enough data to judge the new cloud
  130  interrupted
Scripts: correction.applied in results.json (or --json) says whether
points moved.
`

// usageError is an error of the command line or of a settings file.
type usageError struct{ err error }

func (e *usageError) Error() string { return e.err.Error() }
func (e *usageError) Unwrap() error { return e.err }

func usagef(format string, args ...any) error {
	return &usageError{fmt.Errorf(format, args...)}
}

// verdictError carries the exit code of a run that worked but whose result is not "within limits".
type verdictError struct{ code int }

func (e *verdictError) Error() string { return fmt.Sprintf("exit %d", e.code) }

// partlyError is an interruption that left something complete behind.
type partlyError struct {
	err  error
	left string
}

func (e *partlyError) Error() string { return "interrupted; " + e.left }
func (e *partlyError) Unwrap() error { return e.err }

// exitCode gives the exit code that belongs to an error.
func exitCode(ctx context.Context, err error) int {
	var verdict *verdictError
	var usage *usageError
	var settings *assess.SettingsError
	var ambiguous *control.AmbiguousError
	var empty *assess.NoDataError
	switch {
	case err == nil:
		return exitWithin
	case errors.As(err, &verdict):
		return verdict.code
	case errors.Is(err, context.Canceled) || ctx.Err() != nil:
		return exitInterrupted
	case errors.As(err, &usage), errors.As(err, &settings), errors.As(err, &ambiguous):
		return exitUsage
	case errors.As(err, &empty):
		return exitNotJudged
	}
	return exitInput
}

// failure is the form of an error under --json.
type failure struct {
	SchemaVersion int    `json:"schema_version"`
	Error         string `json:"error"`
	Path          string `json:"path,omitempty"`
	Byte          *int64 `json:"byte,omitempty"`
	Remedy        string `json:"remedy,omitempty"`
	ExitCode      int    `json:"exit_code"`
}

// printError writes err for a person, or as one JSON object when asJSON is set.
func printError(w io.Writer, err error, code int, asJSON bool) {
	var verdict *verdictError
	if errors.As(err, &verdict) {
		return
	}
	text := err.Error()
	if !asJSON {
		text = errorText(err)
	}
	if code == exitInterrupted {
		text = "interrupted; nothing was written under a final name"
		var partly *partlyError
		if errors.As(err, &partly) {
			text = partly.Error()
			if !asJSON {
				text = printable(text)
			}
		}
	}
	if !asJSON {
		fmt.Fprintln(w, "sidelap: "+text)
		return
	}
	f := failure{SchemaVersion: 1, Error: text, ExitCode: code}
	var format *las.FormatError
	var path *fs.PathError
	var file *disk.Error
	var input *assess.InputError
	switch {
	case errors.As(err, &format):
		f.Path, f.Byte, f.Remedy = format.Path, &format.Offset, format.Remedy
	case errors.As(err, &file):
		f.Path, f.Remedy = file.Path, file.Remedy
	case errors.As(err, &input):
		f.Path, f.Remedy = input.Path, input.Remedy
	case errors.As(err, &path):
		f.Path = path.Path
	}
	b, _ := json.Marshal(f)
	fmt.Fprintln(w, string(b))
}

// printable replaces, in a text of one line, what names of files may hold to drive the terminal or to begin a line.
func printable(s string) string { return report.Line(s) }

// errorText is an error as a person is shown it: the line breaks that its own form has stay, those of names in it do not.
func errorText(err error) string {
	text := err.Error()
	switch e := err.(type) {
	case *fs.PathError:
		if e.Op == "stat" || e.Op == "lstat" {
			return printable(e.Path + ": " + e.Err.Error())
		}
	case *control.AmbiguousError:
		shown := control.AmbiguousError{Path: printable(e.Path), Question: printable(e.Question), Remedy: printable(e.Remedy)}
		for _, r := range e.Readings {
			shown.Readings = append(shown.Readings, control.Reading{Columns: printable(r.Columns), FirstRow: printable(r.FirstRow)})
		}
		return shown.Error()
	case interface{ Unwrap() []error }:
		var parts []string
		for _, part := range e.Unwrap() {
			parts = append(parts, errorText(part))
		}
		if text == errors.Join(e.Unwrap()...).Error() {
			return strings.Join(parts, "\n")
		}
	case interface{ Unwrap() error }:
		inner := e.Unwrap()
		if inner == nil {
			break
		}
		if before, after, found := strings.Cut(text, inner.Error()); found {
			return printable(before) + errorText(inner) + printable(after)
		}
	}
	return printable(text)
}
