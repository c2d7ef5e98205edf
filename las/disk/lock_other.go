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

// abandoned reports whether nothing was changed for a day, longer than any run leaves what it makes.
func abandoned(name string) bool {
	info, err := os.Lstat(name)
	return err == nil && time.Since(info.ModTime()) > 24*time.Hour
}

// mounted reports whether a folder is the top of a drive or share.
func mounted(dir string) bool { return filepath.Dir(dir) == dir }
