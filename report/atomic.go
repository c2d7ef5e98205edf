package report

import (
	"bufio"
	"fmt"
	"io"
	"os"
	"path/filepath"
)

// writeAtomic writes a file under a temporary name beside path and renames it
// when write and the flush to disk succeeded. Nothing is left behind otherwise.
func writeAtomic(path string, write func(io.Writer) error) (err error) {
	f, err := os.CreateTemp(filepath.Dir(path), "."+filepath.Base(path)+".*")
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			f.Close()
			os.Remove(f.Name())
		}
	}()
	w := bufio.NewWriterSize(f, 1<<16)
	if err = write(w); err != nil {
		return err
	}
	if err = w.Flush(); err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	if err = f.Chmod(0o644); err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	if err = f.Sync(); err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	if err = f.Close(); err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	return os.Rename(f.Name(), path)
}
