// Package disk reads inputs and writes outputs whole or not at all.
//
// An input is a regular file of a size that its kind can have: to open a pipe would wait for a writer, and a
// device may never end. An Identity tells whether a file stayed what it was while it was read.
//
// An output is made under a hidden temporary name beside its final one (".NAME.sidelap-XXXXXXXX.part"), written through
// to the disk, and renamed. A process holds a lock on what it makes; the lock goes with the process. What
// a killed run left behind is therefore told apart from what a living one is making, and the next run
// that makes the same output removes it.
//
// Not in scope: what the bytes mean.
package disk

import "io/fs"

// Error says why a file or folder cannot be used, and what to do.
type Error struct {
	Path   string
	Err    error
	Remedy string // may be empty
}

func (e *Error) Error() string {
	s := e.Path + ": " + e.Err.Error()
	if e.Remedy != "" {
		s += "; " + e.Remedy
	}
	return s
}

func (e *Error) Unwrap() error { return e.Err }

// kind says what a file is that is no regular one.
func kind(m fs.FileMode) string {
	switch {
	case m.IsDir():
		return "this is a folder"
	case m&fs.ModeNamedPipe != 0:
		return "this is a pipe"
	case m&fs.ModeSocket != 0:
		return "this is a socket"
	}
	return "this is a device"
}
