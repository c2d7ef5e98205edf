package las

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
)

// outFile is a file under a temporary name beside its final one.
type outFile struct {
	*os.File
	path string
}

// newOutFile creates the temporary file. It refuses to replace an existing file unless told to.
func newOutFile(path string, overwrite bool) (*outFile, error) {
	if _, err := os.Lstat(path); err == nil && !overwrite {
		return nil, &fs.PathError{Op: "create", Path: path, Err: fs.ErrExist}
	}
	// Not os.CreateTemp: its files are readable by the owner only, against the user's umask.
	for i := 0; ; i++ {
		name := filepath.Join(filepath.Dir(path), fmt.Sprintf(".%s.%d-%d.part", filepath.Base(path), os.Getpid(), i))
		f, err := os.OpenFile(name, os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o666)
		switch {
		case err == nil:
			return &outFile{f, path}, nil
		case !errors.Is(err, fs.ErrExist) || i > 10000:
			return nil, err
		}
	}
}

// commit gives the file its name.
func (o *outFile) commit() error {
	if err := o.File.Close(); err != nil {
		os.Remove(o.Name())
		return err
	}
	if err := os.Rename(o.Name(), o.path); err != nil {
		os.Remove(o.Name())
		return err
	}
	return nil
}

// abort removes the file.
func (o *outFile) abort() error {
	o.File.Close()
	return os.Remove(o.Name())
}
