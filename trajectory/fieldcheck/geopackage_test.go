package fieldcheck

import (
	"database/sql"
	"encoding/binary"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"github.com/paulmach/orb/encoding/wkb"
)

// smallGeoPackage writes a GeoPackage with one polygon, as small as the format allows.
func smallGeoPackage(f testing.TB) []byte {
	f.Helper()
	path := filepath.Join(f.TempDir(), "a.gpkg")
	db, err := sql.Open("sqlite", path)
	if err != nil {
		f.Fatal(err)
	}
	body, err := wkb.Marshal(orb.Polygon{{{11, 47}, {12, 47}, {12, 48}, {11, 47}}}, binary.LittleEndian)
	if err != nil {
		f.Fatal(err)
	}
	blob := append([]byte{'G', 'P', 0, 1, 0xe6, 0x10, 0, 0}, body...)
	for _, q := range []string{`PRAGMA page_size = 512`, `CREATE TABLE gpkg_geometry_columns (table_name TEXT, column_name TEXT, srs_id INTEGER)`,
		`INSERT INTO gpkg_geometry_columns VALUES ('a', 'geom', 4326)`, `CREATE TABLE a (geom BLOB, name TEXT)`} {
		if _, err := db.Exec(q); err != nil {
			f.Fatal(err)
		}
	}
	if _, err := db.Exec(`INSERT INTO a VALUES (?, 'site')`, blob); err != nil {
		f.Fatal(err)
	}
	if err := db.Close(); err != nil {
		f.Fatal(err)
	}
	b, err := os.ReadFile(path)
	if err != nil {
		f.Fatal(err)
	}
	return b
}

// A table of a GeoPackage may be a view, which has rows and bytes without end in a file of some kilobytes: too many are an
// error, never a part of them a plan. So are layers without end.
func TestGeoPackageWithoutEnd(t *testing.T) {
	for name, c := range map[string]struct{ query, says string }{
		"rows":   {`CREATE VIEW v AS WITH RECURSIVE n(k) AS (SELECT 1 UNION ALL SELECT k + 1 FROM n) SELECT a.geom AS geom, a.name AS name FROM a, n`, "100000 features"},
		"bytes":  {`CREATE VIEW v AS WITH RECURSIVE n(k) AS (SELECT 1 UNION ALL SELECT k + 1 FROM n) SELECT a.geom AS geom, hex(zeroblob(1000000)) AS name FROM a, n`, "64 MB"},
		"layers": {`CREATE VIEW gpkg_geometry_columns AS WITH RECURSIVE n(k) AS (SELECT 1 UNION ALL SELECT k + 1 FROM n) SELECT 'a' AS table_name, 'geom' AS column_name, 4326 AS srs_id FROM n`, "1000 layers"},
	} {
		t.Run(name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "a.gpkg")
			if err := os.WriteFile(path, smallGeoPackage(t), 0o644); err != nil {
				t.Fatal(err)
			}
			db, err := sql.Open("sqlite", path)
			if err != nil {
				t.Fatal(err)
			}
			first := `UPDATE gpkg_geometry_columns SET table_name = 'v'`
			if name == "layers" {
				first = `DROP TABLE gpkg_geometry_columns`
			}
			for _, q := range []string{first, c.query} {
				if _, err := db.Exec(q); err != nil {
					t.Fatal(err)
				}
			}
			if err := db.Close(); err != nil {
				t.Fatal(err)
			}
			var e *PlanError
			if p, err := ReadPlan(path); !errors.As(err, &e) || !strings.Contains(err.Error(), c.says) {
				t.Errorf("%+v, %v", p, err)
			}
		})
	}
}

// Any bytes give a plan or a PlanError, through the file system as a user's file does.
func FuzzReadPlan(f *testing.F) {
	f.Add(smallGeoPackage(f))
	f.Add([]byte(siteGeoJSON))
	f.Add([]byte(archive(f, "doc.kml", kml("<Polygon>"+boundary("outerBoundaryIs", outer)+"</Polygon>"))))
	path := filepath.Join(f.TempDir(), "plan")
	f.Fuzz(func(t *testing.T, b []byte) {
		if err := os.WriteFile(path, b, 0o644); err != nil {
			t.Fatal(err)
		}
		p, err := ReadPlan(path)
		var e *PlanError
		if err != nil {
			if !errors.As(err, &e) {
				t.Fatalf("error without a file name: %v", err)
			}
			return
		}
		if len(p.Area)+len(p.Lines) == 0 {
			t.Fatal("an empty plan without an error")
		}
	})
}
