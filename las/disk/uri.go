package disk

import (
	"net/url"
	"path/filepath"
	"strings"
)

// URI returns the file URI of a path, for libraries that take a name with settings behind a question mark. Whatever the name
// holds (a question mark, per cent, a drive letter) stands for itself.
func URI(path string) string {
	if abs, err := filepath.Abs(path); err == nil {
		path = abs
	}
	return slashURI(filepath.ToSlash(path))
}

// slashURI is URI for an absolute path with slashes: /a/b, C:/a/b or //server/share/a.
func slashURI(path string) string {
	if !strings.HasPrefix(path, "/") {
		path = "/" + path
	}
	return "file://" + (&url.URL{Path: path}).EscapedPath()
}
