package report

import (
	"database/sql"
	"encoding/binary"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"time"

	"sidelap/las/crs"
	"sidelap/las/disk"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/encoding/wkb"
	_ "modernc.org/sqlite" // the driver
)

// Numbers of the GeoPackage format.
//
// Source: OGC GeoPackage 1.3 (12-128r17), requirements 2, 10, 11, 19 and 21.
const (
	gpkgApplication = 0x47504B47 // "GPKG"
	gpkgVersion     = 10300
	gpkgLocalSRS    = 100000 // srs_id of a system without an EPSG code
)

// WriteGPKG writes the map of vectors as a GeoPackage: a layer for strips,
// their lines, overlap regions, voids, check points, findings and path as far as
// there are any. Coordinates are in the unit of the CRS; fields carry the keys of
// the record.
func WriteGPKG(path string, rec *Record, l *Layers, c *crs.CRS) error {
	tmp := filepath.Join(filepath.Dir(path), "."+filepath.Base(path)+".new")
	if err := os.Remove(tmp); err != nil && !os.IsNotExist(err) {
		return err
	}
	if err := fillGPKG(tmp, rec, l, c); err != nil {
		os.Remove(tmp)
		return &disk.Error{Path: path, Err: fmt.Errorf("cannot be written: %w", err)}
	}
	return os.Rename(tmp, path)
}

func fillGPKG(tmp string, rec *Record, l *Layers, c *crs.CRS) error {
	db, err := sql.Open("sqlite", disk.URI(tmp)+"?_pragma=journal_mode(OFF)&_pragma=synchronous(OFF)")
	if err != nil {
		return err
	}
	defer db.Close()
	db.SetMaxOpenConns(1)
	if _, err := db.Exec(fmt.Sprintf("PRAGMA application_id=%d; PRAGMA user_version=%d;", gpkgApplication, gpkgVersion)); err != nil {
		return err
	}
	tx, err := db.Begin()
	if err != nil {
		return err
	}
	if err := gpkgTables(tx, rec, l, c); err != nil {
		return err // the file is removed by the caller
	}
	if err := tx.Commit(); err != nil {
		return err
	}
	return db.Close()
}

const gpkgSchema = `
CREATE TABLE gpkg_spatial_ref_sys (srs_name TEXT NOT NULL, srs_id INTEGER NOT NULL PRIMARY KEY, organization TEXT NOT NULL, organization_coordsys_id INTEGER NOT NULL, definition TEXT NOT NULL, description TEXT);
CREATE TABLE gpkg_contents (table_name TEXT NOT NULL PRIMARY KEY, data_type TEXT NOT NULL, identifier TEXT UNIQUE, description TEXT DEFAULT '', last_change DATETIME NOT NULL, min_x DOUBLE, min_y DOUBLE, max_x DOUBLE, max_y DOUBLE, srs_id INTEGER, CONSTRAINT fk_gc_r_srs_id FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys(srs_id));
CREATE TABLE gpkg_geometry_columns (table_name TEXT NOT NULL, column_name TEXT NOT NULL, geometry_type_name TEXT NOT NULL, srs_id INTEGER NOT NULL, z TINYINT NOT NULL, m TINYINT NOT NULL, CONSTRAINT pk_geom_cols PRIMARY KEY (table_name, column_name), CONSTRAINT uk_gc_table_name UNIQUE (table_name), CONSTRAINT fk_gc_tn FOREIGN KEY (table_name) REFERENCES gpkg_contents(table_name), CONSTRAINT fk_gc_srs FOREIGN KEY (srs_id) REFERENCES gpkg_spatial_ref_sys (srs_id));`

// wgs84 is the definition that every GeoPackage has for srs_id 4326.
const wgs84 = `GEOGCS["WGS 84",DATUM["WGS_1984",SPHEROID["WGS 84",6378137,298.257223563,AUTHORITY["EPSG","7030"]],AUTHORITY["EPSG","6326"]],PRIMEM["Greenwich",0,AUTHORITY["EPSG","8901"]],UNIT["degree",0.0174532925199433,AUTHORITY["EPSG","9122"]],AUTHORITY["EPSG","4326"]]`

func gpkgTables(tx *sql.Tx, rec *Record, l *Layers, c *crs.CRS) error {
	if _, err := tx.Exec(gpkgSchema); err != nil {
		return err
	}
	for _, r := range [][]any{{"Undefined Cartesian SRS", -1, "NONE", -1, "undefined", ""}, {"Undefined geographic SRS", 0, "NONE", 0, "undefined", ""}, {"WGS 84 geodetic", 4326, "EPSG", 4326, wgs84, ""}} {
		if _, err := tx.Exec("INSERT INTO gpkg_spatial_ref_sys VALUES (?,?,?,?,?,?)", r...); err != nil {
			return err
		}
	}
	srs, err := gpkgSRS(tx, c)
	if err != nil {
		return err
	}
	unitM := 1.0
	if u := rec.CRS.HorizontalUnitM; u != nil && *u > 0 {
		unitM = *u
	}
	changed := time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)
	if t, err := time.Parse(time.RFC3339, string(rec.CreatedUTC)); err == nil {
		changed = t.UTC()
	}
	at, list := changed.Format("2006-01-02T15:04:05.000Z"), featureLayers(rec, l)
	for _, f := range list {
		if err := gpkgLayer(tx, &f, srs, unitM, at); err != nil {
			return fmt.Errorf("layer %s: %w", f.name, err)
		}
	}
	return gpkgStyles(tx, newView(rec), list, at)
}

// gpkgStyles writes the table in which QGIS finds the style of a layer.
//
// Source: the table's columns are those QGIS makes itself (QGIS 3.22, seen in a
// file it saved); the format GeoPackage has none of its own for styles.
func gpkgStyles(tx *sql.Tx, v *view, layers []featureLayer, changed string) error {
	if len(layers) == 0 {
		return nil
	}
	if _, err := tx.Exec(`CREATE TABLE layer_styles (id INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, f_table_catalog TEXT(256), f_table_schema TEXT(256), f_table_name TEXT(256), f_geometry_column TEXT(256),
styleName TEXT(30), styleQML TEXT, styleSLD TEXT, useAsDefault BOOLEAN, description TEXT, owner TEXT(30), ui TEXT(30), update_time DATETIME)`); err != nil {
		return err
	}
	for _, f := range layers {
		if style := v.vectorStyle(f.name); style != "" {
			if _, err := tx.Exec("INSERT INTO layer_styles VALUES (NULL,'','',?,'geom',?,?,'',1,?,'',NULL,?)", f.name, f.name, style, "as in the report", changed); err != nil {
				return err
			}
		}
	}
	_, err := tx.Exec("INSERT INTO gpkg_contents VALUES ('layer_styles','attributes','layer_styles','styles for QGIS',?,NULL,NULL,NULL,NULL,0)", changed)
	return err
}

// gpkgSRS enters the CRS of the cloud and returns its srs_id, -1 when unknown.
func gpkgSRS(tx *sql.Tx, c *crs.CRS) (int, error) {
	if c == nil || c.Kind == crs.KindUnknown {
		return -1, nil
	}
	horizontal := *c
	horizontal.Vertical, horizontal.Heights, horizontal.VertDatum, horizontal.WKT = crs.Reference{}, crs.HeightUnknown, "", ""
	id, org, name := c.Horizontal.EPSG, "EPSG", c.Horizontal.Name
	if id == 0 {
		id, org = gpkgLocalSRS, "NONE"
	}
	if name == "" {
		name = "coordinate system of the cloud"
	}
	if id == 4326 {
		return id, nil
	}
	_, err := tx.Exec("INSERT INTO gpkg_spatial_ref_sys VALUES (?,?,?,?,?,?)", name, id, org, id, horizontal.ToWKT1(), "coordinate system of the cloud")
	return id, err
}

func gpkgLayer(tx *sql.Tx, f *featureLayer, srs int, unitM float64, changed string) error {
	var columns, marks strings.Builder
	for _, x := range f.fields {
		fmt.Fprintf(&columns, `, "%s" %s`, x.name, x.kind)
		marks.WriteString(",?")
	}
	// The names are this package's own.
	if _, err := tx.Exec(fmt.Sprintf(`CREATE TABLE "%s" (fid INTEGER PRIMARY KEY AUTOINCREMENT NOT NULL, geom %s%s)`, f.name, f.kind, columns.String())); err != nil {
		return err
	}
	insert, err := tx.Prepare(fmt.Sprintf(`INSERT INTO "%s" VALUES (NULL,?%s)`, f.name, marks.String()))
	if err != nil {
		return err
	}
	defer insert.Close()
	bound := orb.Bound{Min: orb.Point{math.Inf(1), math.Inf(1)}, Max: orb.Point{math.Inf(-1), math.Inf(-1)}}
	for _, x := range f.features {
		g := scaleGeometry(x.geometry, unitM)
		bound = bound.Union(g.Bound())
		blob, err := gpkgGeometry(g, srs)
		if err != nil {
			return err
		}
		if _, err := insert.Exec(append([]any{blob}, x.values...)...); err != nil {
			return err
		}
	}
	if _, err := tx.Exec("INSERT INTO gpkg_contents VALUES (?,?,?,?,?,?,?,?,?,?)", f.name, "features", f.name, f.title, changed, bound.Min[0], bound.Min[1], bound.Max[0], bound.Max[1], srs); err != nil {
		return err
	}
	_, err = tx.Exec("INSERT INTO gpkg_geometry_columns VALUES (?,?,?,?,0,0)", f.name, "geom", f.kind, srs)
	return err
}

// gpkgGeometry returns the geometry as a GeoPackage blob: header, envelope, WKB.
func gpkgGeometry(g orb.Geometry, srs int) ([]byte, error) {
	b := []byte{'G', 'P', 0, 0x01} // version 1, little endian, no envelope
	if _, point := g.(orb.Point); !point {
		b[3] |= 1 << 1 // envelope [minx, maxx, miny, maxy]
	}
	b = binary.LittleEndian.AppendUint32(b, uint32(int32(srs)))
	if b[3]&2 != 0 {
		e := g.Bound()
		for _, v := range []float64{e.Min[0], e.Max[0], e.Min[1], e.Max[1]} {
			b = binary.LittleEndian.AppendUint64(b, math.Float64bits(v))
		}
	}
	body, err := wkb.Marshal(g, binary.LittleEndian)
	return append(b, body...), err
}
