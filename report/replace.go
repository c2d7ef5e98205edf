package report

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"sidelap/las/disk"
)

// ErrExists says that the results folder is there already.
var ErrExists = errors.New("the folder exists")

// Replaceable tells whether a results folder may be written: it does not exist, is empty, or force allows to replace it and everything in it is
// sidelap's own, in tables/ and rasters/ too. What a correction has in cloud/ and before/ is not looked at.
func Replaceable(dir string, force bool) error {
	list, err := Occupied(dir, force)
	if err != nil || len(list) == 0 {
		return err
	}
	rasters, err := rastersIn(dir)
	if err != nil {
		return fmt.Errorf("%s: %w and is no results folder (no results.json in it that can be read): nothing was replaced; name another folder", dir, ErrExists)
	}
	for _, e := range list {
		if !ours(e.Name()) {
			return NotOwn(dir, e.Name())
		}
		if e.Name() != "tables" && e.Name() != "rasters" {
			continue
		}
		below, err := os.ReadDir(filepath.Join(dir, e.Name()))
		if err != nil {
			return err
		}
		for _, f := range below {
			if own := e.Name() == "tables" && ourTable(f.Name()) || e.Name() == "rasters" && ourRaster(rasters, f.Name()); !own || f.IsDir() {
				return NotOwn(dir, filepath.Join(e.Name(), f.Name()))
			}
		}
	}
	return nil
}

// Occupied returns what is in a folder; nothing when it does not exist. Without force it is an error that there is something.
func Occupied(dir string, force bool) ([]fs.DirEntry, error) {
	list, err := os.ReadDir(dir)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil, nil
	case err == nil && len(list) > 0 && !force:
		return nil, fmt.Errorf("%s: %w; name another folder, or --force to replace it", dir, ErrExists)
	}
	return list, err
}

// NotOwn is the error of a folder that holds a file which is not sidelap's.
func NotOwn(dir, name string) error {
	return fmt.Errorf("%s: %w and holds %s, which is not sidelap's: nothing was replaced; move it, or name another folder", dir, ErrExists, name)
}

// ours tells whether a name directly in a results folder is one that sidelap writes.
func ours(name string) bool {
	switch name {
	case "results.json", "report.html", "report.pdf", "tables", "rasters", "map.gpkg", "map.geojson", "layers.json", "cloud", "before":
		return true
	}
	return false
}

// ourTable tells whether a name in tables/ is one that sidelap writes.
func ourTable(name string) bool {
	if name == "tables.md" {
		return true
	}
	base, ok := strings.CutSuffix(name, ".csv")
	return ok && (strings.HasPrefix(base, standardTable) || slices.ContainsFunc(tableSpecs, func(s *spec) bool { return s.name == base }))
}

// ourRaster tells whether a name in rasters/ belongs to a raster of the folder's record: the raster, its style, or what a viewer keeps of its statistics.
func ourRaster(rasters []string, name string) bool {
	for _, suffix := range []string{".tif", ".qml", ".tif.aux.xml"} {
		if base, ok := strings.CutSuffix(name, suffix); ok && slices.Contains(rasters, "rasters/"+base+".tif") {
			return true
		}
	}
	return false
}

// rastersIn lists the rasters that the record of a results folder names. The rest of the record is not looked at: it may be of another version.
func rastersIn(dir string) ([]string, error) {
	b, err := disk.Read(filepath.Join(dir, "results.json"), maxRecordBytes)
	if err != nil {
		return nil, err
	}
	var rec struct {
		Rasters []struct {
			Path string `json:"path"`
		} `json:"rasters"`
	}
	if err := json.Unmarshal(b, &rec); err != nil {
		return nil, err
	}
	var out []string
	for _, r := range rec.Rasters {
		out = append(out, r.Path)
	}
	return out, nil
}
