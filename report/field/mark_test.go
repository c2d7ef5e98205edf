package field

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"sidelap/control"
	"sidelap/trajectory/fieldcheck"
	"sidelap/trajectory/simulate"
)

// Known truth: a surveyed point on hard ground as the mark of the base. The cloud lies at it within the limit; a
// height off by the antenna's is seen and named; so is an antenna height that is not the header's.
func TestBaseMark(t *testing.T) {
	dir, o, f := lay(t, small(7), simulate.CloudOptions{})
	o.CheckPoints = filepath.Join(dir, simulate.DemoCheckPoints)
	list, err := control.ReadList(o.CheckPoints, control.ListOptions{})
	if err != nil {
		t.Fatal(err)
	}
	var p *control.Point
	for i := range list.Points {
		if list.Points[i].Cover == control.CoverOpen && p == nil {
			p = &list.Points[i]
		}
	}
	antenna := f.Scenario.Base.AntennaHeightM
	at := func(up float64) string { return fmt.Sprintf("%.3f,%.3f,%.3f", p.EM, p.NM, p.ZM+up) }
	for name, c := range map[string]struct {
		mark    string
		antenna float64
		mark1   fieldcheck.Result
		says    string
		file    fieldcheck.Result
	}{
		"by name":              {p.ID, antenna, fieldcheck.Go, "", ""},
		"by numbers":           {at(0), antenna, fieldcheck.Go, "", ""},
		"antenna left out":     {at(-antenna), 0, fieldcheck.Caution, "the antenna height (1.638 m) left out or taken twice", ""},
		"another antenna":      {at(0), antenna + 0.2, fieldcheck.Go, "", fieldcheck.Caution},
		"a mark without cloud": {fmt.Sprintf("%.3f,%.3f,412", p.EM+2000, p.NM), antenna, fieldcheck.NotJudged, "", ""},
	} {
		o.BaseMark, o.AntennaHeightM = c.mark, c.antenna
		r := check(t, o)
		k := r.Check("base_mark")
		if k.Result != c.mark1 || !strings.Contains(k.Note, c.says) {
			t.Errorf("%s: %s, %s", name, k.Result, k.Note)
		}
		if k := r.Check("base_file"); c.file != "" && (k.Result != c.file || !strings.Contains(k.Note, "measured were")) {
			t.Errorf("%s: %s, %s", name, k.Result, k.Note)
		}
		if k := r.Check("baseline"); !strings.Contains(k.Note, "by the base mark") {
			t.Errorf("%s: %s", name, k.Note)
		}
	}
}

// An outline of water in degrees, as a tablet draws it, takes the pond of a cloud without classes out of the check.
func TestWaterOutline(t *testing.T) {
	s := small(7)
	s.Terrain.WaterRadiusM, s.Label.Unclassified = 14, true
	dir, o, _ := lay(t, s, simulate.CloudOptions{})
	before := check(t, o)
	if before.Verdict != fieldcheck.Caution || !strings.Contains(before.Check("holes").Note, "look like water") || len(before.Map.Places) == 0 || !strings.Contains(before.Map.SVG(), "water?") {
		t.Fatalf("%s, %s", before.Verdict, before.Check("holes").Note)
	}
	var e, n, area float64
	if _, err := fmt.Sscanf(before.Check("holes").Note, "%f m² at %f E, %f N", &area, &e, &n); err != nil {
		t.Fatal(err, before.Check("holes").Note)
	}
	var ring strings.Builder
	for _, d := range [][2]float64{{-17, -17}, {17, -17}, {17, 17}, {-17, 17}, {-17, -17}} {
		lat, lon, err := before.grid.proj.Inverse(e+d[0], n+d[1])
		if err != nil {
			t.Fatal(err)
		}
		fmt.Fprintf(&ring, "%.7f,%.7f,0 ", lon*toDeg, lat*toDeg)
	}
	o.Water = filepath.Join(dir, "pond.kml")
	kml := `<kml xmlns="http://www.opengis.net/kml/2.2"><Placemark><name>pond</name><Polygon><outerBoundaryIs><LinearRing><coordinates>` + ring.String() + `</coordinates></LinearRing></outerBoundaryIs></Polygon></Placemark></kml>`
	if err := os.WriteFile(o.Water, []byte(kml), 0o644); err != nil {
		t.Fatal(err)
	}
	if r := check(t, o); r.Verdict != fieldcheck.Go || !strings.Contains(r.Check("holes").Note, "of water apart") {
		t.Errorf("with the outline: %s, %s", r.Verdict, r.Check("holes").Note)
		tell(t, r)
	}
}
