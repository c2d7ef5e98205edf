package las

import (
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
	f, err := os.CreateTemp(filepath.Dir(path), "."+filepath.Base(path)+".*.part")
	if err != nil {
		return nil, err
	}
	return &outFile{f, path}, nil
}

func (o *outFile) commit() error {
	if err := o.Chmod(0o644); err != nil {
		o.abort()
		return err
	}
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

func (o *outFile) abort() error {
	o.File.Close()
	return os.Remove(o.Name())
}
