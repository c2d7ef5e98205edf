//go:build !unix

package disk

import (
	"os"
	"path/filepath"
	"time"
)

// hold does nothing: an open file cannot be removed here.
func hold(*os.File) bool { return true }

func holdFolder(string) (*os.File, bool) { return nil, true }

// ifAbandoned does what do does when nothing was changed for a day, longer than any run leaves what it makes.
func ifAbandoned(name string, do func()) {
	if info, err := os.Lstat(name); err == nil && time.Since(info.ModTime()) > 24*time.Hour {
		do()
	}
}

// rename gives a file its name. An open file cannot be renamed here.
func (f *File) rename() error {
	if err := f.Close(); err != nil {
		return err
	}
	return os.Rename(f.Name(), f.Final)
}

// mounted reports whether a folder is the top of a drive or share.
func mounted(dir string) bool { return filepath.Dir(dir) == dir }
