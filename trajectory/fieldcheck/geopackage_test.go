package fieldcheck

import (
	"database/sql"
	"encoding/binary"
	"errors"
	"os"
	"path/filepath"
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
