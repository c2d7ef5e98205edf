package field

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"sidelap/las/disk"
	"sidelap/report/assess"
)

// Names of the files in the folder of a field check.
const (
	PageName    = "field.html"
	RecordName  = "field.json"
	GeoJSONName = "refly.geojson"
	KMLName     = "refly.kml"
	TableName   = "refly.csv"
)

// WriteFolder writes the page, the list for the tablet as GeoJSON, KML and a table, and the record into dir. Each file
// is written under a temporary name and renamed; files of other names are left alone. When the coordinate
// system is not known the list cannot be drawn: an older one is then removed, and the warning says so.
func WriteFolder(dir string, r *Report) (warning string, err error) {
	_, errDir := os.Stat(dir)
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return "", &assess.InputError{Path: dir, Err: err, Remedy: "name another folder with --out"}
	}
	var written []string
	defer func() {
		if err != nil && errors.Is(errDir, fs.ErrNotExist) { // no half of a set in a folder made for it
			for _, path := range append(written, dir) {
				os.Remove(path)
			}
		}
	}()
	list, errList := r.ReflyGeoJSON()
	files := []struct {
		name  string
		write func(io.Writer) error
	}{
		{GeoJSONName, func(w io.Writer) error { _, err := w.Write(list); return err }},
		{KMLName, r.WriteKML},
		{TableName, r.WriteTable},
		{PageName, func(w io.Writer) error { return WriteHTML(w, r) }},
		{RecordName, func(w io.Writer) error {
			b, err := Marshal(r)
			if err == nil {
				_, err = w.Write(b)
			}
			return err
		}},
	}
	if errList != nil {
		warning = fmt.Sprintf("%s and %s were not written: %v", GeoJSONName, KMLName, errList)
		for _, f := range files[:2] {
			if err := os.Remove(filepath.Join(dir, f.name)); err != nil && !errors.Is(err, fs.ErrNotExist) {
				return warning, err
			}
		}
		files = files[2:]
	}
	for _, f := range files {
		path := filepath.Join(dir, f.name)
		if err := disk.Write(path, f.write); err != nil {
			return warning, err
		}
		written = append(written, path)
	}
	return warning, nil
}

// ReflyGeoJSON is the list of strips to repeat as GeoJSON, with times in the time of the cloud.
func (r *Report) ReflyGeoJSON() ([]byte, error) {
	b, err := r.GeoJSON()
	if err != nil {
		return nil, err
	}
	var fc map[string]any
	if err := json.Unmarshal(b, &fc); err != nil {
		return nil, err
	}
	features, _ := fc["features"].([]any)
	for i, f := range features {
		if i >= len(r.Refly) {
			break
		}
		m, _ := f.(map[string]any)
		p, _ := m["properties"].(map[string]any)
		if p == nil {
			continue
		}
		it := &r.Refly[i]
		p["number"], p["title"] = i+1, r.itemTitle(it)
		for _, k := range []string{"start_gps_s", "end_gps_s"} {
			if v, ok := p[k].(float64); ok {
				p[k] = round(r.GPSSeconds(v), 2)
			}
		}
		if !it.Planned {
			p["flown"] = r.Clock(it.StartS) + " to " + r.Clock(it.EndS) + " " + r.ClockName()
		}
	}
	fc["description"] = strings.Join(r.cautions(), " ")
	var out bytes.Buffer
	e := json.NewEncoder(&out)
	e.SetEscapeHTML(false)
	err = e.Encode(fc)
	return out.Bytes(), err
}
