package las

import (
	"errors"
	"fmt"
)

// What callers branch on. They are wrapped in a *FormatError, which says where.
var (
	ErrNotLAS       = errors.New("not a LAS or LAZ file")
	ErrTruncated    = errors.New("the file ends too early")
	ErrCorrupt      = errors.New("damaged data")
	ErrUnsupported  = errors.New("not supported")
	ErrInvalidValue = errors.New("invalid value")
)

// FormatError reports a place in a LAS or LAZ file that breaks the specification.
type FormatError struct {
	Path   string // file as the user named it
	Offset int64  // bytes from the start of the file to the offending field
	Field  string // field name in the LAS specification, or the chunk
	Err    error  // what is wrong, in one clause; wraps one of the Err values of this package
	Remedy string // what the user can do, one imperative clause; may be empty
}

// Error returns "path: byte N: field: what is wrong; remedy".
func (e *FormatError) Error() string {
	s := fmt.Sprintf("%s: byte %d: %s: %v", e.Path, e.Offset, e.Field, e.Err)
	if e.Remedy != "" {
		s += "; " + e.Remedy
	}
	return s
}

// Unwrap returns what is wrong.
func (e *FormatError) Unwrap() error { return e.Err }

// kindError is one of the sentinels with the words that fit this occurrence.
type kindError struct {
	kind error
	text string
}

func (e *kindError) Error() string { return e.text }
func (e *kindError) Unwrap() error { return e.kind }

// kindf returns an error that reads as the text and is the sentinel kind.
func kindf(kind error, format string, args ...any) error {
	return &kindError{kind, fmt.Sprintf(format, args...)}
}

const (
	remedyExport = "ask the data producer to export the file again"
	remedyCopy   = "copy the file again from its source, or save what is whole with salvage (sidelap repack --salvage)"
)
