package disk

import (
	"errors"
	"fmt"
	"io"
	"os"
	"time"
)

// Open opens a regular file of at most limit bytes and returns its size. Anything else is an *Error, and is
// not opened; a file that is not there is the error of the os package.
func Open(path string, limit int64) (*os.File, int64, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, 0, err
	}
	if !info.Mode().IsRegular() {
		remedy := "put its contents into a file and name that"
		if info.IsDir() {
			remedy = "name the file in it"
		}
		return nil, 0, &Error{path, errors.New(kind(info.Mode()) + ", not a file"), remedy}
	}
	if info.Size() > limit {
		return nil, 0, tooLarge(path, limit)
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, 0, err
	}
	return f, info.Size(), nil
}

// Read returns the bytes of a regular file of at most limit bytes. A file that grows beyond the limit while it
// is read is an error too: sizes are claims.
func Read(path string, limit int64) ([]byte, error) {
	f, size, err := Open(path, limit)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	id, err := IdentityOf(f)
	if err != nil {
		return nil, err
	}
	b := make([]byte, 0, size+512)
	for {
		n, err := f.Read(b[len(b):cap(b)])
		b = b[:len(b)+n]
		switch {
		case int64(len(b)) > limit:
			return nil, tooLarge(path, limit)
		case err == io.EOF:
			return b, id.Unchanged()
		case err != nil:
			return nil, err
		}
		if len(b) == cap(b) {
			b = append(b, 0)[:len(b)]
		}
	}
}

func tooLarge(path string, limit int64) error {
	return &Error{path, fmt.Errorf("larger than %d MB, which no such file is", limit>>20), "check that it is the right file"}
}

// Identity is what a file looked like when its reading began.
type Identity struct {
	path string
	info os.FileInfo
}

// Identify notes size, time of change and identity of the file at path.
func Identify(path string) (Identity, error) {
	info, err := os.Stat(path)
	return Identity{path, info}, err
}

// IdentityOf notes the same of an open file.
func IdentityOf(f *os.File) (Identity, error) {
	info, err := f.Stat()
	return Identity{f.Name(), info}, err
}

// Unchanged returns an *Error when the file is gone, is another one, or has another size or time of change than when it
// was identified: what was read of it may then be a mixture. A file system that keeps no times finer than two seconds
// can hide a change of the same size within them.
func (id Identity) Unchanged() error {
	if id.info == nil { // not a file on the disk
		return nil
	}
	const remedy = "wait until nothing writes or moves it, then run again"
	now, err := os.Stat(id.path)
	switch {
	case errors.Is(err, os.ErrNotExist):
		return &Error{id.path, errors.New("it vanished while it was read"), remedy}
	case err != nil:
		return err
	case !os.SameFile(id.info, now):
		return &Error{id.path, errors.New("it was replaced by another file while it was read"), remedy}
	case now.Size() != id.info.Size():
		return &Error{id.path, fmt.Errorf("it changed while it was read: %d bytes at first, %d in the end", id.info.Size(), now.Size()), remedy}
	case !now.ModTime().Equal(id.info.ModTime()):
		return &Error{id.path, fmt.Errorf("it changed while it was read, at %s", now.ModTime().UTC().Format(time.DateTime)+" UTC"), remedy}
	}
	return nil
}
