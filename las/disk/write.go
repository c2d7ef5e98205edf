package disk

import (
	"bufio"
	"crypto/rand"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"unicode/utf8"
)

// File is an output under its temporary name. One goroutine uses it.
type File struct {
	*os.File
	Final string // the name that Commit gives it
}

// Create starts the file at path under a temporary name, with the permissions of the user's umask, and removes what killed
// runs left of it. It refuses to replace an existing file unless overwrite.
func Create(path string, overwrite bool) (*File, error) {
	if _, err := os.Lstat(path); err == nil && !overwrite {
		return nil, &fs.PathError{Op: "create", Path: path, Err: fs.ErrExist}
	}
	sweepFiles(path)
	for {
		name := temporary(path)
		f, err := os.OpenFile(name, os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o666)
		if errors.Is(err, fs.ErrExist) {
			continue
		}
		if err != nil {
			return nil, unwritable(path, err)
		}
		if hold(f) && isStill(f, name) {
			return &File{f, path}, nil
		}
		f.Close() // a sweeping run took it for a dead one's
	}
}

// Commit writes the file through to the disk and gives it its name. On error nothing is left. In a Folder that has no name yet
// writing through is left to Folder.Replace, which does it for all files at once.
func (f *File) Commit() (err error) {
	if !inTheMaking(f.Final) {
		err = f.Sync()
	}
	if err == nil {
		err = f.rename()
	}
	if err != nil {
		f.Close()
		os.Remove(f.Name())
		return unwritable(f.Final, err)
	}
	return nil
}

// Abort removes the file.
func (f *File) Abort() error {
	f.Close()
	return os.Remove(f.Name())
}

// Write writes a file through write and a buffer, replacing what is there when all went well.
func Write(path string, write func(io.Writer) error) error {
	f, err := Create(path, true)
	if err != nil {
		return err
	}
	w := bufio.NewWriterSize(f, 1<<16)
	err = write(w)
	if err == nil {
		err = w.Flush()
	}
	if err != nil {
		f.Abort()
		return err
	}
	return f.Commit()
}

// unwritable names the output by its final name in an error.
func unwritable(path string, err error) error {
	return &Error{path, fmt.Errorf("cannot be written: %w", bare(err)), ""}
}

// Write is os.File's, with the final name in errors, and so are the methods below.
func (f *File) Write(b []byte) (int, error) {
	n, err := f.File.Write(b)
	if err != nil {
		err = unwritable(f.Final, err)
	}
	return n, err
}

func (f *File) WriteAt(b []byte, off int64) (int, error) {
	n, err := f.File.WriteAt(b, off)
	if err != nil {
		err = unwritable(f.Final, err)
	}
	return n, err
}

func (f *File) WriteString(s string) (int, error) { return f.Write([]byte(s)) }

func (f *File) ReadFrom(r io.Reader) (int64, error) { return io.Copy(struct{ io.Writer }{f}, r) }

const (
	mark    = ".sidelap-" // in the names of what is being made
	ending  = ".part"
	retired = ".old" // ending of a folder on its way out
)

// IsTemporary reports whether a name, without its folder, is one under which this package makes something.
func IsTemporary(name string) bool {
	return strings.HasPrefix(name, ".") && strings.Contains(name, mark) && (strings.HasSuffix(name, ending) || strings.HasSuffix(name, retired))
}

// temporary makes up a hidden name beside path.
func temporary(path string) string {
	var b [4]byte
	rand.Read(b[:])
	return filepath.Join(filepath.Dir(path), prefix(path)+hex.EncodeToString(b[:])+ending)
}

// prefix begins the temporary names of path. Names may have 255 bytes; a long one is cut.
func prefix(path string) string {
	base := filepath.Base(path)
	if len(base) > 200 {
		base = base[:200]
		for len(base) > 0 && !utf8.ValidString(base) && len(base) > 196 {
			base = base[:len(base)-1]
		}
	}
	return "." + base + mark
}

// leftovers lists the temporary names of path that exist, with one of the endings.
func leftovers(path, end string) []string {
	dir := filepath.Dir(path)
	entries, err := os.ReadDir(dir)
	if err != nil {
		return nil
	}
	begin := prefix(path)
	var names []string
	for _, e := range entries {
		n := e.Name()
		middle, ok := strings.CutPrefix(n, begin)
		if !ok {
			continue
		}
		if middle, ok = strings.CutSuffix(middle, end); ok && len(middle) == 8 && strings.Trim(middle, "0123456789abcdef") == "" {
			names = append(names, filepath.Join(dir, n))
		}
	}
	return names
}

// sweepFiles removes the temporary files of path that no process holds.
func sweepFiles(path string) {
	for _, name := range leftovers(path, ending) {
		if info, err := os.Lstat(name); err == nil && info.Mode().IsRegular() {
			ifAbandoned(name, func() { os.Remove(name) })
		}
	}
}

// bare takes the name of a temporary file out of an error, which says nothing to the reader.
func bare(err error) error {
	var p *fs.PathError
	if errors.As(err, &p) {
		return p.Err
	}
	var l *os.LinkError
	if errors.As(err, &l) {
		return l.Err
	}
	return err
}

// isStill reports whether name is the file that f has open.
func isStill(f *os.File, name string) bool {
	a, errA := f.Stat()
	b, errB := os.Lstat(name)
	return errA == nil && errB == nil && os.SameFile(a, b)
}
