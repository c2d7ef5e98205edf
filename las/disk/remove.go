package disk

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
)

// removeAll removes a folder and what is in it. Where os.RemoveAll cannot, because the system (Wine 8) or a server lacks the
// way that it takes on Windows, the names are removed one by one.
func removeAll(path string) error {
	if os.RemoveAll(path) == nil {
		return nil
	}
	return removeEach(path)
}

// removeEach removes what is below path, the deepest first, and path. It goes on behind an error and returns the first.
// Links are removed, not followed.
func removeEach(path string) error {
	var names []string
	filepath.WalkDir(path, func(name string, _ fs.DirEntry, _ error) error {
		names = append(names, name)
		return nil
	})
	var first error
	for i := len(names) - 1; i >= 0; i-- {
		if err := os.Remove(names[i]); first == nil && !errors.Is(err, fs.ErrNotExist) {
			first = err
		}
	}
	return first
}
