package trajectory

import (
	"errors"
	"fmt"
	"strings"
)

// FormatError reports a place in a path file that breaks its format.
type FormatError struct {
	Path   string // file as the user named it
	Line   int    // line in a text file, from 1; 0 when it does not apply
	Offset int64  // byte in a binary file; -1 when it does not apply
	Field  string // column or field; may be empty
	Err    error  // what is wrong, in one clause
	Remedy string // what the user can do, one imperative clause; may be empty
}

// ErrUnsupported is wrapped by the error for a file that is recognised and not read.
var ErrUnsupported = errors.New("format not supported")

func (e *FormatError) Error() string {
	var b strings.Builder
	b.WriteString(e.Path)
	switch {
	case e.Line > 0:
		fmt.Fprintf(&b, ": line %d", e.Line)
	case e.Offset >= 0:
		fmt.Fprintf(&b, ": byte %d", e.Offset)
	}
	if e.Field != "" {
		b.WriteString(": " + e.Field)
	}
	b.WriteString(": " + e.Err.Error())
	if e.Remedy != "" {
		b.WriteString("; " + e.Remedy)
	}
	return b.String()
}

// Unwrap returns what is wrong.
func (e *FormatError) Unwrap() error { return e.Err }

func binaryError(offset int64, field, remedy, format string, args ...any) *FormatError {
	return &FormatError{Offset: offset, Field: field, Err: fmt.Errorf(format, args...), Remedy: remedy}
}

func textError(line int, field, remedy, format string, args ...any) *FormatError {
	return &FormatError{Line: line, Offset: -1, Field: field, Err: fmt.Errorf(format, args...), Remedy: remedy}
}

// named sets the file name of err if it is a FormatError without one.
func named(path string, err error) error {
	var fe *FormatError
	if errors.As(err, &fe) && fe.Path == "" {
		fe.Path = path
	}
	return err
}
