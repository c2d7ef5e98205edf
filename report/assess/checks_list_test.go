package assess

import (
	"testing"

	"sidelap/control"
	"sidelap/las/crs"
)

// A list that names another zone or system than the cloud's is pointed out; one that agrees, or says nothing, is not.
func TestOtherSystem(t *testing.T) {
	system := func(epsg int) *crs.CRS { return &crs.CRS{Horizontal: crs.Reference{EPSG: epsg}} }
	for _, c := range []struct {
		list  control.List
		cloud int
		want  bool
	}{
		{control.List{HeaderZone: 33}, 32633, false},
		{control.List{HeaderZone: 33}, 25833, false},
		{control.List{HeaderZone: 22, HeaderSouth: true}, 32633, true},
		{control.List{HeaderZone: 33, HeaderSouth: true}, 32633, true},
		{control.List{HeaderEPSG: 32617, HeaderZone: 17}, 32617, false},
		{control.List{HeaderEPSG: 2251}, 2252, true},
		{control.List{HeaderEPSG: 4326, Geodetic: true}, 2252, false},
		{control.List{}, 32633, false},
	} {
		if got := otherSystem(&c.list, system(c.cloud)); (got != "") != c.want {
			t.Errorf("%+v beside EPSG:%d: %q", c.list, c.cloud, got)
		}
	}
}
