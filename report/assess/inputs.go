package assess

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"sidelap/las"
)

// InputError says that the list of inputs cannot be used as given.
type InputError struct {
	Path   string // file or folder as the user named it; may be empty
	Err    error
	Remedy string
}

func (e *InputError) Error() string {
	s := e.Err.Error()
	if e.Path != "" {
		s = e.Path + ": " + s
	}
	if e.Remedy != "" {
		s += "; " + e.Remedy
	}
	return s
}

func (e *InputError) Unwrap() error { return e.Err }

// Expand turns files and folders into the list of cloud files to read: a file stands
// for itself whatever its name, a folder for the .las and .laz files in it and below
// it. Hidden files and folders below a named folder are passed over, and so are results folders
// (they hold a results.json). The list is sorted by cleaned path and has no file twice.
func Expand(args []string) ([]string, error) {
	var files []string
	for _, arg := range args {
		info, err := os.Stat(arg)
		if err != nil {
			return nil, &InputError{Path: arg, Err: cause(err), Remedy: "check the path"}
		}
		if !info.IsDir() {
			files = append(files, filepath.Clean(arg))
			continue
		}
		found, err := expandDir(arg)
		if err != nil {
			return nil, err
		}
		if len(found) == 0 {
			return nil, &InputError{Path: arg, Err: errors.New("the folder holds no .las or .laz file"),
				Remedy: "name the folder with the point cloud"}
		}
		files = append(files, found...)
	}
	slices.Sort(files)
	return dropSameFiles(files), nil
}

func expandDir(dir string) ([]string, error) {
	var files []string
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return &InputError{Path: path, Err: cause(err), Remedy: "check the permissions"}
		}
		if path != dir && strings.HasPrefix(d.Name(), ".") {
			if d.IsDir() {
				return fs.SkipDir
			}
			return nil
		}
		if d.IsDir() {
			if _, err := os.Stat(filepath.Join(path, "results.json")); err == nil && path != dir {
				return fs.SkipDir
			}
			return nil
		}
		if IsCloudName(d.Name()) {
			files = append(files, filepath.Clean(path))
		}
		return nil
	})
	return files, err
}

// IsCloudName reports whether a file name ends as LAS or LAZ files do, in any case.
func IsCloudName(name string) bool {
	ext := strings.ToLower(filepath.Ext(name))
	return ext == ".las" || ext == ".laz"
}

// dropSameFiles removes later names of a file that is in the list already, by
// identity and not only by name, so that a point is never counted twice.
func dropSameFiles(files []string) []string {
	var kept []string
	var infos []fs.FileInfo
	for i, f := range files {
		if i > 0 && f == files[i-1] {
			continue
		}
		info, err := os.Stat(f)
		if err != nil {
			kept, infos = append(kept, f), append(infos, nil) // Open names the error
			continue
		}
		if !slices.ContainsFunc(infos, func(o fs.FileInfo) bool { return o != nil && os.SameFile(o, info) }) {
			kept, infos = append(kept, f), append(infos, info)
		}
	}
	return kept
}

// cause strips the operation and the path that the os package puts around an error,
// since the caller names the file itself.
func cause(err error) error {
	var pe *fs.PathError
	if errors.As(err, &pe) {
		return pe.Err
	}
	return err
}

// openAll opens every file, or closes those already open and returns the error.
func openAll(paths []string, o las.OpenOptions) ([]*las.File, error) {
	files := make([]*las.File, 0, len(paths))
	for _, p := range paths {
		f, err := las.OpenWith(p, o)
		if err != nil {
			closeAll(files)
			return nil, err
		}
		files = append(files, f)
	}
	return files, nil
}

func closeAll(files []*las.File) {
	for _, f := range files {
		f.Close()
	}
}
