package trajectory

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
)

// maxInflate bounds what a compressed file may become: real path files shrink
// two- to fivefold, text up to twentyfold; 100 is more than any honest one.
const maxInflate = 100

// readAll returns the bytes of a file, decompressed if it is gzip.
func readAll(path string) ([]byte, error) {
	b, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	b, err = inflate(b)
	return b, named(path, err)
}

// inflate decompresses gzip data and returns anything else as it is.
func inflate(b []byte) ([]byte, error) {
	if len(b) < 2 || b[0] != 0x1f || b[1] != 0x8b {
		return b, nil
	}
	z, err := gzip.NewReader(bytes.NewReader(b))
	if err != nil {
		return nil, binaryError(0, "gzip header", "compress it again", "%w", err)
	}
	limit := int64(len(b))*maxInflate + 1<<16
	out, err := io.ReadAll(io.LimitReader(z, limit+1))
	if err != nil {
		return nil, binaryError(int64(len(b)), "gzip data", "copy the file again", "after %d bytes: %w", len(out), err)
	}
	if int64(len(out)) > limit {
		return nil, binaryError(0, "gzip data", "decompress the file yourself and look at it", "it grows more than %d-fold: this is no path file", maxInflate)
	}
	return out, nil
}

// writeFile writes through a temporary file beside path and renames it.
func writeFile(path string, write func(io.Writer) error) (err error) {
	f, err := os.CreateTemp(filepath.Dir(path), "."+filepath.Base(path)+".*")
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			err = errors.Join(fmt.Errorf("%s: %w", path, err), ignoreClosed(f.Close()), os.Remove(f.Name()))
		}
	}()
	w := bufio.NewWriterSize(f, 1<<16)
	if err = write(w); err != nil {
		return err
	}
	if err = w.Flush(); err != nil {
		return err
	}
	if err = f.Chmod(0o644); err != nil {
		return err
	}
	if err = f.Close(); err != nil {
		return err
	}
	return os.Rename(f.Name(), path)
}

func ignoreClosed(err error) error {
	if errors.Is(err, os.ErrClosed) {
		return nil
	}
	return err
}
