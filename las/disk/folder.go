package disk

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"sync"

	"golang.org/x/sync/errgroup"
)

// Folder is an output folder under its temporary name.
type Folder struct {
	Path     string // where to write
	final    string
	made     string // Path at first
	syncFile func(*os.File) error
	lock     *os.File // holds the folder; nil where there are no locks
}

// making holds the paths of the folders of this process that have no name yet.
var making sync.Map

// inTheMaking reports whether a file lies in such a folder.
func inTheMaking(path string) bool {
	for dir := filepath.Dir(path); ; dir = filepath.Dir(dir) {
		if _, ok := making.Load(dir); ok {
			return true
		}
		if dir == filepath.Dir(dir) {
			return false
		}
	}
}

// syncTogether is how many files are written through at a time: a file system does it for several in one go.
const syncTogether = 16

// sync writes all files of the folder through to the disk.
func (f *Folder) sync() error {
	var group errgroup.Group
	group.SetLimit(syncTogether)
	err := filepath.WalkDir(f.Path, func(path string, e fs.DirEntry, err error) error {
		if err != nil || !e.Type().IsRegular() {
			return err
		}
		group.Go(func() error {
			file, err := os.OpenFile(path, os.O_RDWR, 0)
			if err != nil {
				return unwritable(path, err)
			}
			err = f.syncFile(file)
			if e := file.Close(); err == nil {
				err = e
			}
			if err != nil {
				return unwritable(path, err)
			}
			return nil
		})
		return nil
	})
	if e := group.Wait(); err == nil {
		err = e
	}
	return err
}

// CheckFolder finds out, before hours of reading, whether a folder could be made or replaced at path.
func CheckFolder(path string) error {
	final, err := resolve(path)
	if err != nil {
		return err
	}
	dir := filepath.Dir(final)
	for {
		_, err := os.Stat(dir)
		if !errors.Is(err, fs.ErrNotExist) || dir == filepath.Dir(dir) {
			break
		}
		dir = filepath.Dir(dir)
	}
	tmp, err := os.MkdirTemp(dir, mark+"*")
	if err == nil {
		if err = os.Remove(tmp); errors.Is(err, fs.ErrNotExist) { // swept by another run, see below
			err = nil
		}
	}
	if err != nil {
		return &Error{path, fmt.Errorf("cannot be made in %s: %w", dir, bare(err)), "name another folder"}
	}
	// A run that was killed between the two lines above left an empty folder, its name ending in the digits that MkdirTemp
	// gives; one that holds anything stays.
	entries, _ := os.ReadDir(dir)
	for _, e := range entries {
		if rest, ok := strings.CutPrefix(e.Name(), mark); ok && e.IsDir() && rest != "" && strings.Trim(rest, "0123456789") == "" {
			os.Remove(filepath.Join(dir, e.Name()))
		}
	}
	return nil
}

// resolve returns the absolute path, links followed, of a folder that can be replaced by renaming.
func resolve(path string) (string, error) {
	final, err := filepath.Abs(path)
	if err != nil {
		return "", err
	}
	if real, err := filepath.EvalSymlinks(final); err == nil {
		final = real
	} else if !errors.Is(err, fs.ErrNotExist) {
		return "", &Error{path, bare(err), "name another folder"}
	} else if info, err := os.Lstat(final); err == nil && info.Mode()&fs.ModeSymlink != 0 {
		return "", &Error{path, errors.New("a link to a folder that is not there"), "make that folder, or name another"}
	}
	if here, err := os.Getwd(); err == nil {
		if real, err := filepath.EvalSymlinks(here); err == nil {
			here = real
		}
		if rel, err := filepath.Rel(final, here); err == nil && filepath.IsLocal(rel) {
			return "", &Error{path, errors.New("this is the folder you are in, or above it, and cannot be replaced as a whole"), "go to another folder, or name one in it"}
		}
	}
	if mounted(final) {
		return "", &Error{path, errors.New("this is the top of a disk or share and cannot be replaced as a whole"), "name a folder in it"}
	}
	return final, nil
}

// NewFolder makes the folder under a temporary name beside path, and finishes or removes what killed runs left there.
// keep names subfolders that Replace carries over.
func NewFolder(path string, keep ...string) (*Folder, error) {
	final, err := resolve(path)
	if err != nil {
		return nil, err
	}
	if err := os.MkdirAll(filepath.Dir(final), 0o777); err != nil {
		return nil, err
	}
	sweepFolders(final, keep)
	for {
		name := temporary(final)
		err := os.Mkdir(name, 0o777)
		if errors.Is(err, fs.ErrExist) {
			continue
		}
		if err != nil {
			return nil, &Error{path, fmt.Errorf("cannot be made: %w", bare(err)), "name another folder"}
		}
		lock, ok := holdFolder(name)
		if ok {
			making.Store(name, true)
			return &Folder{Path: name, final: final, made: name, lock: lock, syncFile: (*os.File).Sync}, nil
		}
	}
}

// Named returns err with the name final for the folder where it names a file in it.
func (f *Folder) Named(err error, final string) error {
	var e *Error
	if rest := ""; errors.As(err, &e) && f.Path != "" {
		if rest, _ = filepath.Rel(f.Path, e.Path); filepath.IsLocal(rest) {
			return &Error{filepath.Join(final, rest), e.Err, e.Remedy}
		}
	}
	return err
}

// Close removes what was not given its name.
func (f *Folder) Close() error {
	if f.lock != nil {
		defer f.lock.Close()
	}
	making.Delete(f.made)
	if f.Path == "" {
		return nil
	}
	return removeAll(f.Path)
}

// Replace gives the folder its name. A folder that bears the name is removed once the new one is in its place; its
// subfolders in keep are carried over where the new one has none. Where the system can exchange two names there is no moment
// at which neither is there. A kill on the way loses nothing: the next NewFolder finishes the work.
func (f *Folder) Replace(keep ...string) error {
	if err := f.sync(); err != nil {
		return f.Named(err, f.final)
	}
	if _, err := os.Lstat(f.final); errors.Is(err, fs.ErrNotExist) {
		if err := os.Rename(f.Path, f.final); err != nil {
			return &Error{f.final, fmt.Errorf("cannot be made: %w", bare(err)), ""}
		}
		f.Path = ""
		return nil
	}
	old := strings.TrimSuffix(f.Path, ending) + retired
	if err := f.swap(old); err != nil {
		return &Error{f.final, fmt.Errorf("cannot be replaced: %w", bare(err)), "name another folder"}
	}
	f.Path = ""
	return finish(old, f.final, keep)
}

// swap puts the new folder in place and the old one under the name old.
func (f *Folder) swap(old string) error {
	// named as retired before the exchange, so that what is being made never holds the only copy of something
	if err := os.Rename(f.Path, old); err != nil {
		return err
	}
	if exchange(old, f.final) == nil {
		return nil
	}
	if err := os.Rename(old, f.Path); err != nil {
		return err
	}
	if err := os.Rename(f.final, old); err != nil {
		return err
	}
	if err := os.Rename(f.Path, f.final); err != nil {
		return errors.Join(err, os.Rename(old, f.final))
	}
	return nil
}

// finish carries over what is kept and removes the retired folder.
func finish(old, final string, keep []string) error {
	for _, k := range keep {
		if _, err := os.Lstat(filepath.Join(final, k)); !errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err := os.Rename(filepath.Join(old, k), filepath.Join(final, k)); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return err // and old stays
		}
	}
	return removeAll(old)
}

// sweepFolders finishes the replacing that a killed run began, and removes what such runs were making.
func sweepFolders(final string, keep []string) {
	for _, old := range leftovers(final, retired) {
		ifAbandoned(old, func() {
			if _, err := os.Lstat(final); errors.Is(err, fs.ErrNotExist) {
				os.Rename(old, final) // killed between the two renames
				return
			}
			finish(old, final, keep)
		})
	}
	for _, name := range leftovers(final, ending) {
		if info, err := os.Lstat(name); err == nil && info.IsDir() {
			ifAbandoned(name, func() { removeAll(name) })
		}
	}
}
