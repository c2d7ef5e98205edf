package control

import (
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
)

// A GeoPackage that GDAL wrote, with coordinates in the geometry alone.
func TestGeoPackageByGDAL(t *testing.T) {
	ogr, err := exec.LookPath("ogr2ogr")
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal("ogr2ogr is missing: apt-get install gdal-bin")
		}
		t.Skip("ogr2ogr is missing")
	}
	dir := t.TempDir()
	in, out := filepath.Join(dir, "in.csv"), filepath.Join(dir, "points.gpkg")
	text := "name,e,n,h,type,vert_acc\nA1,512345.12,4500321.1,123.456,NVA,0.014\nA2,512400,4500400,124,VVA,0.02\n"
	if err := os.WriteFile(in, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(ogr, "-f", "GPKG", out, in, "-a_srs", "EPSG:32617", "-oo", "X_POSSIBLE_NAMES=e", "-oo", "Y_POSSIBLE_NAMES=n", "-oo", "Z_POSSIBLE_NAMES=h", "-oo", "KEEP_GEOM_COLUMNS=NO")
	if b, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, b)
	}
	l, err := ReadList(out, ListOptions{})
	if err != nil {
		t.Fatal(err)
	}
	p, q := l.Points[0], l.Points[1]
	near(t, "easting", p.EM, wantE, 1e-6)
	near(t, "northing", p.NM, wantN, 1e-6)
	near(t, "height", p.ZM, wantZ, 1e-9)
	if p.ID != "A1" || l.HeaderLine != "EPSG:32617" || l.Unit != "m" || p.Cover != CoverOpen || q.Cover != CoverVegetated {
		t.Errorf("%+v, header %q, unit %s (%s)", p, l.HeaderLine, l.Unit, l.Choice)
	}
}

func TestGeoPackageRefused(t *testing.T) {
	dir := t.TempDir()
	for name, text := range map[string]string{"header.gpkg": "SQLite format 3\x00", "garbage.gpkg": "SQLite format 3\x00 and nothing that follows makes a database of it at all, on any page"} {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
		_, err := ReadList(path, ListOptions{})
		var l *ListError
		if !errors.As(err, &l) || l.Remedy == "" {
			t.Errorf("%s: %v, want a *ListError", name, err)
		}
		if left, _ := os.ReadDir(dir); len(left) > 2 {
			t.Errorf("files were left beside the list: %v", left)
		}
	}
}
