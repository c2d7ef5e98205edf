// Package studydoc puts the tables of the seed studies into the pages of docs/, for tests.
//
// A generated part stands between the lines "<!-- begin MARK -->" and "<!-- end MARK -->".
package studydoc

import (
	"fmt"
	"os"
	"strings"
)

// Replace puts text between the marks of a page.
func Replace(path, mark, text string) error {
	page, err := os.ReadFile(path)
	if err != nil {
		return err
	}
	begin, end := "<!-- begin "+mark+" -->\n", "<!-- end "+mark+" -->"
	before, rest, ok1 := strings.Cut(string(page), begin)
	_, after, ok2 := strings.Cut(rest, end)
	if !ok1 || !ok2 {
		return fmt.Errorf("%s: no marks for %s", path, mark)
	}
	return os.WriteFile(path, []byte(before+begin+text+end+after), 0o644)
}
