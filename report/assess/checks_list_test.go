package assess

import (
	"os"
	"path/filepath"
	"testing"

	"sidelap/control"
	"sidelap/las/crs"
)

// A list that names another zone or system than the cloud's is pointed out; one that agrees, or says nothing, is not.
func TestOtherSystem(t *testing.T) {
	for _, c := range []struct {
		header string // first line of the list; empty: none
		cloud  int
		want   bool
	}{
		{"WGS84 UTM 33N", 32633, false},
		{"WGS84 UTM 33N", 25833, false},
		{"UTM 22S", 32633, true},
		{"UTM 33S", 32633, true},
		{"EPSG:32617", 32617, false},
		{"EPSG:2251", 2252, true},
		{"EPSG:4326", 2252, false},
		{"", 32633, false},
		// ETRS89 and NAD83 have zones too
		{"EPSG:25832", 25833, true},
		{"EPSG:25832", 32633, true},
		{"EPSG:25832", 32632, false},
		{"EPSG:26917", 32618, true},
		{"EPSG:26917", 32617, false},
		{"NAD83 UTM 18N", 26917, true},
		{"NAD83 UTM 18N", 26918, false},
		{"+proj=utm +zone=18 +datum=NAD83", 26917, true},
		// a zone without its hemisphere is compared by its number alone
		{"UTM zone 22", 32722, false},
		{"UTM zone 22", 32723, true},
		// one of them in no zone that is known: the codes decide
		{"EPSG:25832", 31467, true},
		{"EPSG:31467", 25832, true},
		// ETRS89 / UTM 32N + DHHN92 height is that zone
		{"EPSG:5555", 25832, false},
		{"EPSG:5555", 25833, true},
	} {
		path := filepath.Join(t.TempDir(), "list.csv")
		order, rows := "PENZ", "P1,500100.12,5500200.34,231.5\nP2,500150.20,5500260.10,232.0\nP3,500190.20,5500210.70,231.8\n"
		if c.header == "EPSG:4326" {
			order, rows = "PAOZ", "P1,49.5000,9.0010,231.5\nP2,49.5001,9.0020,232.0\n"
		}
		if err := os.WriteFile(path, []byte(c.header+"\n"+rows), 0o644); err != nil {
			t.Fatal(err)
		}
		list, err := control.ReadList(path, control.ListOptions{Columns: order, Project: func(lat, lon float64) (float64, float64, error) { return 1e6 * lon, 1e6 * lat, nil }})
		if err != nil {
			t.Fatalf("%s: %v", c.header, err)
		}
		got := otherSystem(list, &crs.CRS{Horizontal: crs.Reference{EPSG: c.cloud}})
		if (got != "") != c.want {
			t.Errorf("%q beside EPSG:%d: %q", c.header, c.cloud, got)
		}
	}
}
