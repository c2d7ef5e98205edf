package studydoc

import (
	"os"
	"path/filepath"
	"testing"
)

// What stands between the marks is replaced and nothing else; a page without them is an error and stays as it is.
func TestReplace(t *testing.T) {
	path := filepath.Join(t.TempDir(), "page.md")
	const page = "a\n<!-- begin x -->\nold\n<!-- end x -->\nb\n<!-- begin y -->\nkept\n<!-- end y -->\n"
	if err := os.WriteFile(path, []byte(page), 0o644); err != nil {
		t.Fatal(err)
	}
	if Replace(path, "z", "new\n") == nil {
		t.Error("a missing mark is no error")
	}
	if err := Replace(path, "x", "new\n"); err != nil {
		t.Fatal(err)
	}
	const want = "a\n<!-- begin x -->\nnew\n<!-- end x -->\nb\n<!-- begin y -->\nkept\n<!-- end y -->\n"
	if b, err := os.ReadFile(path); err != nil || string(b) != want {
		t.Errorf("%q, %v", b, err)
	}
}
