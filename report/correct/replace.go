package correct

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"sidelap/las/disk"
	"sidelap/report"
)

// replaceable tells whether the results folder may be written: it does not exist, is empty, or force allows to replace it and everything in it, in
// before/ and cloud/ too, is what sidelap wrote there.
func replaceable(dir string, force bool) error {
	if err := report.Replaceable(dir, force); err != nil {
		return err
	}
	if before := filepath.Join(dir, "before"); exists(before) {
		if err := replaceable(before, true); err != nil {
			return err
		}
	}
	return ownCloud(filepath.Join(dir, "cloud"))
}

func exists(path string) bool {
	_, err := os.Lstat(path)
	return err == nil
}

// replaceableCloud tells whether a folder of clouds may be written: it does not exist, is empty, or holds only what sidelap wrote there and force
// allows to replace it.
func replaceableCloud(dir string, force bool) error {
	if list, err := report.Occupied(dir, force); err != nil || len(list) == 0 {
		return err
	}
	if up := filepath.Join(filepath.Dir(dir), "results.json"); filepath.Base(dir) == "cloud" && exists(up) {
		return fmt.Errorf("%s: %w and is the cloud that the results in %s tell of: nothing was replaced; name another folder", dir, report.ErrExists, filepath.Dir(dir))
	}
	return ownCloud(dir)
}

// ownCloud refuses a folder of clouds that holds anything but what the correction.json in it names.
func ownCloud(dir string) error {
	if list, err := report.Occupied(dir, true); err != nil || len(list) == 0 {
		return err
	}
	var s struct {
		Files []fileRow `json:"files"`
	}
	b, err := disk.Read(filepath.Join(dir, correctionName), maxStored)
	if err == nil {
		err = json.Unmarshal(b, &s)
	}
	if err != nil {
		return fmt.Errorf("%s: %w and is no folder of corrected clouds (no %s in it that can be read): nothing was replaced; name another folder", dir, report.ErrExists, correctionName)
	}
	own := map[string]bool{correctionName: true, pathName: true}
	for _, f := range s.Files {
		own[f.Output], own[f.Undo] = true, true
	}
	return fs.WalkDir(os.DirFS(dir), ".", func(name string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() || own[name] {
			return err
		}
		return report.NotOwn(dir, filepath.FromSlash(name))
	})
}

// noneBelow refuses an output folder that holds an input: replacing the folder would remove it. Links are followed.
func noneBelow(dir string, inputs []string) error {
	place, err := filepath.EvalSymlinks(dir)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	if place, err = filepath.Abs(place); err != nil {
		return err
	}
	for _, in := range inputs {
		p, err := filepath.EvalSymlinks(in)
		if err != nil {
			return err
		}
		if p, err = filepath.Abs(p); err != nil {
			return err
		}
		if rel, err := filepath.Rel(place, p); err == nil && filepath.IsLocal(rel) {
			return fmt.Errorf("%s: the input %s lies in it and would be replaced; nothing was written; name another folder", dir, in)
		}
	}
	return nil
}
