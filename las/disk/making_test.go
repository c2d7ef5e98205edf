package disk

import (
	"io"
	"os"
	"path/filepath"
	"testing"
)

// Files of a folder in the making wait for its name; all others are written through at once, also when it has its name or is given up.
func TestInTheMaking(t *testing.T) {
	final := filepath.Join(t.TempDir(), "out")
	for _, replace := range []bool{true, false} {
		f, err := NewFolder(final)
		if err != nil {
			t.Fatal(err)
		}
		inside := filepath.Join(f.Path, "tables", "a.csv")
		if err := os.Mkdir(filepath.Dir(inside), 0o777); err != nil {
			t.Fatal(err)
		}
		if !inTheMaking(inside) || inTheMaking(filepath.Join(filepath.Dir(f.Path), "b")) || inTheMaking(filepath.Join(final, "tables", "a.csv")) {
			t.Error("what lies in the folder in the making, and only that, may wait")
		}
		if err := Write(inside, func(w io.Writer) error { _, err := io.WriteString(w, "1"); return err }); err != nil {
			t.Fatal(err)
		}
		if replace {
			if err := f.Replace(); err != nil {
				t.Fatal(err)
			}
		}
		if err := f.Close(); err != nil {
			t.Fatal(err)
		}
		if inTheMaking(inside) {
			t.Error("the folder is done")
		}
		if b, err := os.ReadFile(filepath.Join(final, "tables", "a.csv")); err != nil || string(b) != "1" {
			t.Errorf("%q, %v", b, err)
		}
	}
}

// A file that cannot be written through keeps the folder from its name, and the error names the file as the user will know it.
func TestReplaceUnsynced(t *testing.T) {
	final := filepath.Join(t.TempDir(), "out")
	f, err := NewFolder(final)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	path := filepath.Join(f.Path, "a")
	if err := os.WriteFile(path, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	f.syncFile = func(*os.File) error { return io.ErrShortWrite }
	if err := f.Replace(); err == nil || err.Error() == "" {
		t.Fatal("no error")
	} else if want := filepath.Join(final, "a") + ": cannot be written: short write"; err.Error() != want {
		t.Errorf("%q, want %q", err, want)
	}
	if _, err := os.Lstat(final); !os.IsNotExist(err) {
		t.Error("the folder has its name")
	}
}
