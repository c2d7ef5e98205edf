package disk

import (
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
)

// put writes files below dir, named with slashes; the content is the name.
func put(t *testing.T, dir string, names ...string) {
	t.Helper()
	for _, n := range names {
		p := filepath.Join(dir, filepath.FromSlash(n))
		if err := os.MkdirAll(filepath.Dir(p), 0o777); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(p, []byte(n), 0o666); err != nil {
			t.Fatal(err)
		}
	}
}

// list gives every file below dir with its content.
func list(t *testing.T, dir string) string {
	t.Helper()
	var all []string
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		b, err := os.ReadFile(path)
		rel, _ := filepath.Rel(dir, path)
		all = append(all, filepath.ToSlash(rel)+"="+string(b))
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	slices.Sort(all)
	return strings.Join(all, " ")
}

func TestWrite(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "x.csv")
	text := func(s string) func(io.Writer) error {
		return func(w io.Writer) error { _, err := io.WriteString(w, s); return err }
	}
	if err := Write(path, text("one")); err != nil {
		t.Fatal(err)
	}
	broken := errors.New("broken")
	err := Write(path, func(w io.Writer) error {
		if _, err := w.Write(make([]byte, 1<<20)); err != nil {
			return err
		}
		return broken
	})
	if !errors.Is(err, broken) || list(t, dir) != "x.csv=one" {
		t.Errorf("%v, %s", err, list(t, dir))
	}
	if _, err := Create(path, false); !errors.Is(err, fs.ErrExist) {
		t.Errorf("an existing file: %v", err)
	}
	var e *Error
	if err := Write(filepath.Join(dir, "none", "x"), text("")); !errors.As(err, &e) || strings.Contains(err.Error(), ending) {
		t.Errorf("no such folder: %v", err)
	}
}

// What a dead run left is removed by the next run that makes the same file; what a living one makes, and foreign files, stay.
func TestSweepFiles(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "a.laz")
	living, err := Create(path, false)
	if err != nil {
		t.Fatal(err)
	}
	dead, foreign := ".a.laz.sidelap-00c0ffee.part", []string{".a.laz.sidelap-notahexx.part", ".b.laz.sidelap-00c0ffee.part", ".a.laz.part"}
	put(t, dir, append(foreign, dead)...)
	age(t, dir)
	next, err := Create(path, false)
	if err != nil {
		t.Fatal(err)
	}
	names := list(t, dir)
	if strings.Contains(names, dead) {
		t.Errorf("%s was not swept", dead)
	}
	for _, n := range append(foreign, filepath.Base(living.Name()), filepath.Base(next.Name())) {
		if !strings.Contains(names, n+"=") {
			t.Errorf("%s was swept", n)
		}
	}
	if err := errors.Join(living.Abort(), next.Commit()); err != nil {
		t.Fatal(err)
	}
}

// A file that is finished while other runs sweep is there under its name: it is never taken for a dead one's.
func TestCommitWhileSwept(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "a.laz")
	stop, swept := make(chan struct{}), make(chan struct{})
	go func() {
		defer close(swept)
		for {
			select {
			case <-stop:
				return
			default:
				sweepFiles(path)
			}
		}
	}()
	lost := 0
	for range 200 {
		if err := Write(path, func(w io.Writer) error { _, err := io.WriteString(w, "x"); return err }); err != nil {
			lost++
			t.Log(err)
		}
	}
	close(stop)
	<-swept
	if lost > 0 {
		t.Errorf("%d of 200 files were lost", lost)
	}
}

// age makes everything in dir old, as systems without locks ask for.
func age(t *testing.T, dir string) {
	t.Helper()
	then := time.Now().Add(-48 * time.Hour)
	entries, _ := os.ReadDir(dir)
	for _, e := range entries {
		if err := os.Chtimes(filepath.Join(dir, e.Name()), then, then); err != nil {
			t.Fatal(err)
		}
	}
}

func TestFolder(t *testing.T) {
	for _, c := range []struct {
		name    string
		before  []string // in the folder where it is made
		link    bool     // the folder is named by a link
		want    string
		replace bool
	}{
		{"new", nil, false, "out/n=n", true},
		{"given up", []string{"out/o"}, false, "out/o=out/o", false},
		{"replaced", []string{"out/o", "out/cloud/c"}, false, "out/cloud/c=out/cloud/c out/n=n", true},
		{"replaced through a link", []string{"real/o"}, true, "real/n=n", true},
		{"left by a kill while making", []string{".out.sidelap-00000001.part/x", "other"}, false, "other=other out/n=n", true},
		{"left by a kill before the exchange", []string{"out/o", "out/cloud/c", ".out.sidelap-00000001.old/x"}, false, "out/cloud/c=out/cloud/c out/n=n", true},
		{"left by a kill behind the exchange", []string{"out/o", ".out.sidelap-00000001.old/cloud/c"}, false, "out/cloud/c=.out.sidelap-00000001.old/cloud/c out/n=n", true},
		{"left by a kill between two renames", []string{".out.sidelap-00000001.old/cloud/c", ".out.sidelap-00000001.part/x"}, false,
			"out/cloud/c=.out.sidelap-00000001.old/cloud/c", false},
	} {
		t.Run(c.name, func(t *testing.T) {
			dir := t.TempDir()
			put(t, dir, c.before...)
			age(t, dir)
			out := filepath.Join(dir, "out")
			if c.link {
				if err := os.Symlink("real", out); err != nil {
					t.Skip(err)
				}
			}
			f, err := NewFolder(out, "cloud")
			if err != nil {
				t.Fatal(err)
			}
			put(t, f.Path, "n")
			if c.replace {
				err = f.Replace("cloud")
			}
			if err := errors.Join(err, f.Close()); err != nil {
				t.Fatal(err)
			}
			if c.link {
				if err := os.Remove(out); err != nil { // still the link
					t.Fatal(err)
				}
			}
			if got := list(t, dir); got != c.want {
				t.Errorf("got  %s\nwant %s", got, c.want)
			}
		})
	}
}

// Two runs into one folder: the later one replaces what the first one made, and neither sweeps the other's work.
func TestFolderTwice(t *testing.T) {
	dir := t.TempDir()
	out := filepath.Join(dir, "out")
	a, err := NewFolder(out)
	if err != nil {
		t.Fatal(err)
	}
	b, err := NewFolder(out)
	if err != nil {
		t.Fatal(err)
	}
	put(t, a.Path, "a")
	put(t, b.Path, "b")
	if err := errors.Join(a.Replace(), a.Close(), b.Replace(), b.Close()); err != nil {
		t.Fatal(err)
	}
	if got := list(t, dir); got != "out/b=b" {
		t.Error(got)
	}
}

func TestCheckFolder(t *testing.T) {
	dir := t.TempDir()
	t.Chdir(dir)
	put(t, dir, "file", "here/x")
	if err := os.Symlink("nowhere", "dangling"); err != nil {
		t.Skip(err)
	}
	for path, want := range map[string]string{
		"new": "", "here": "", "a/b/c": "", filepath.Join(dir, "new"): "",
		".": "the folder you are in", "..": "the folder you are in", "file/x": "file", "dangling": "not there",
	} {
		err := CheckFolder(path)
		if (err == nil) != (want == "") || err != nil && !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want %q", path, err, want)
		}
	}
	if err := os.Remove("dangling"); err != nil {
		t.Fatal(err)
	}
	if got := list(t, dir); got != "file=file here/x=here/x" {
		t.Errorf("the check left %s", got)
	}
	if os.Getuid() > 0 { // nothing is forbidden to root
		if err := os.Mkdir("shut", 0o555); err != nil {
			t.Fatal(err)
		}
		if err := CheckFolder("shut/x"); err == nil {
			t.Error("a folder that cannot be written")
		}
	}
}

func TestIdentity(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "x")
	for name, c := range map[string]struct {
		act  func() error
		want string
	}{
		"untouched": {func() error { return nil }, ""},
		"read":      {func() error { _, err := os.ReadFile(path); return err }, ""},
		"longer":    {func() error { return os.WriteFile(path, []byte("xy"), 0o666) }, "1 bytes at first, 2 in the end"},
		"rewritten": {func() error {
			return errors.Join(os.WriteFile(path, []byte("y"), 0o666), os.Chtimes(path, time.Time{}, time.Now().Add(time.Hour)))
		}, "it changed while it was read, at"},
		"gone":     {func() error { return os.Remove(path) }, "vanished"},
		"replaced": {func() error { put(t, dir, "y"); return os.Rename(filepath.Join(dir, "y"), path) }, "replaced by another"},
	} {
		put(t, dir, "x")
		id, err := Identify(path)
		if err != nil {
			t.Fatal(err)
		}
		if err := c.act(); err != nil {
			t.Fatal(err)
		}
		err = id.Unchanged()
		if (err == nil) != (c.want == "") || err != nil && !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", name, err, c.want)
		}
	}
}

func TestRead(t *testing.T) {
	dir := t.TempDir()
	put(t, dir, "12345")
	path := filepath.Join(dir, "12345")
	if b, err := Read(path, 5); err != nil || string(b) != "12345" {
		t.Errorf("%q, %v", b, err)
	}
	for p, want := range map[string]string{path: "larger", dir: "folder", filepath.Join(dir, "none"): "no such file"} {
		if _, err := Read(p, 4); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v", p, err)
		}
	}
}

// Forms of file URIs as SQLite takes them: https://sqlite.org/uri.html, section 3.1 and 3.2.
func TestURI(t *testing.T) {
	for path, want := range map[string]string{
		"/data/a.gpkg": "file:///data/a.gpkg", "/a b/50%41?x#y.gpkg": "file:///a%20b/50%2541%3Fx%23y.gpkg",
		"C:/Survey/a.gpkg": "file:///C:/Survey/a.gpkg", "//server/share/a.gpkg": "file:////server/share/a.gpkg",
	} {
		if got := slashURI(path); got != want {
			t.Errorf("%s: %s, want %s", path, got, want)
		}
	}
}

// What a run killed while it looked whether it may write has left is removed; nothing that holds anything is.
func TestCheckFolderSweeps(t *testing.T) {
	dir := t.TempDir()
	for _, name := range []string{mark + "1", mark + "2", mark + "mine", mark[:len(mark)-1], "other"} {
		if err := os.Mkdir(filepath.Join(dir, name), 0o755); err != nil {
			t.Fatal(err)
		}
	}
	living, err := NewFolder(filepath.Join(dir, "sidelap-results")) // its temporary name begins like the probe's
	if err != nil {
		t.Fatal(err)
	}
	defer living.Close()
	for _, name := range []string{filepath.Join(mark+"2", "x"), mark + "file"} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte("x"), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if err := CheckFolder(filepath.Join(dir, "results")); err != nil {
		t.Fatal(err)
	}
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, e := range entries {
		names = append(names, e.Name())
	}
	want := []string{mark + "2", mark + "file", mark + "mine", mark[:len(mark)-1], filepath.Base(living.Path), "other"}
	slices.Sort(want)
	if !slices.Equal(names, want) {
		t.Errorf("%q, want %q", names, want)
	}
}

// What os.RemoveAll cannot remove on some systems is removed name by name; a link goes, what it leads to stays.
func TestRemoveEach(t *testing.T) {
	dir := t.TempDir()
	kept := filepath.Join(dir, "kept")
	if err := errors.Join(os.MkdirAll(filepath.Join(dir, "a", "b", "c"), 0o755), os.Mkdir(kept, 0o755),
		os.WriteFile(filepath.Join(dir, "a", "b", "x"), nil, 0o444), os.WriteFile(filepath.Join(kept, "y"), nil, 0o644)); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(kept, filepath.Join(dir, "a", "link")); err != nil {
		t.Log("no links here: ", err)
	}
	if err := removeEach(filepath.Join(dir, "a")); err != nil {
		t.Error(err)
	}
	if _, err := os.Lstat(filepath.Join(dir, "a")); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("a is still there: %v", err)
	}
	if _, err := os.Stat(filepath.Join(kept, "y")); err != nil {
		t.Error(err)
	}
	if err := removeEach(filepath.Join(dir, "a")); err != nil {
		t.Errorf("nothing to remove: %v", err)
	}
}
