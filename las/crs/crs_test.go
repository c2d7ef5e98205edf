package crs

import (
	"math"
	"strings"
	"testing"
)

// TestFeet: NIST SP 811, appendix B.6; the difference is 2.000004e-6 (practice of
// the trade: 12 ft at 6 000 000 ft).
func TestFeet(t *testing.T) {
	if r := SurveyFootM/InternationalFootM - 1; math.Abs(r-2.000004e-6) > 1e-12 {
		t.Errorf("survey foot is longer by %.9g, want 2.000004e-6", r)
	}
	if d := 6e6 * (SurveyFootM/InternationalFootM - 1); math.Abs(d-12) > 0.01 {
		t.Errorf("at 6 000 000 ft the feet are %.3f ft apart, want 12", d)
	}
}

// TestStatePlaneFeet: which foot a state plane code is in. Six states legislated the
// international foot (AZ, MI, MT, ND, OR, SC), most others the survey foot.
func TestStatePlaneFeet(t *testing.T) {
	for _, c := range []struct {
		code int
		unit Unit
	}{
		{2223, internationalFoot}, // Arizona Central (ft)
		{2252, internationalFoot}, // Michigan Central (ft)
		{2256, internationalFoot}, // Montana (ft)
		{2265, internationalFoot}, // North Dakota North (ft)
		{2269, internationalFoot}, // Oregon North (ft)
		{2273, internationalFoot}, // South Carolina (ft)
		{2229, surveyFoot},        // California zone 5
		{2277, surveyFoot},        // Texas Central
		{2264, surveyFoot},        // North Carolina
		{6539, surveyFoot},        // New York Long Island, 2011
		{26945, metre},            // California zone 5, metres
	} {
		got, err := FromEPSG(c.code)
		if err != nil || !got.Horizontal.Unit.Equal(c.unit) {
			t.Errorf("EPSG:%d: %v %v, want %s", c.code, got, err, c.unit.Name)
		}
	}
	for code, unit := range map[int]Unit{5703: metre, 6360: surveyFoot, 8228: internationalFoot, 5773: metre, 3855: metre,
		5709: metre, 5720: metre, 5783: metre, 7837: metre, 5941: metre, 5713: metre} {
		got, err := FromEPSG(code)
		if err != nil || !got.Vertical.Unit.Equal(unit) || got.Vertical.EPSG != code || got.Heights != HeightGravity || got.Kind != KindUnknown {
			t.Errorf("vertical EPSG:%d: %v %v, want %s", code, got, err, unit.Name)
		}
	}
}

func TestFromEPSGKinds(t *testing.T) {
	for _, c := range []struct {
		code    int
		kind    Kind
		heights HeightKind
		ok      bool // lengths are metres at once
	}{
		{4326, KindGeographic, HeightUnknown, false}, {4979, KindGeographic, HeightEllipsoidal, false},
		{4978, KindGeocentric, HeightUnknown, true}, {25832, KindProjected, HeightUnknown, true}, {7415, KindProjected, HeightGravity, true},
	} {
		got, err := FromEPSG(c.code)
		if err != nil {
			t.Errorf("EPSG:%d: %v", c.code, err)
			continue
		}
		_, _, ok := got.Metres()
		if got.Kind != c.kind || got.Heights != c.heights || ok != c.ok {
			t.Errorf("EPSG:%d: %s, %s heights, metres %t; want %s, %s, %t", c.code, got.Kind, got.Heights, ok, c.kind, c.heights, c.ok)
		}
	}
	for _, code := range []int{0, -1, 1, 99999, 7030} {
		if c, err := FromEPSG(code); err == nil || c != nil {
			t.Errorf("EPSG:%d: no error", code)
		}
	}
	if !strings.Contains(TableVersion(), "EPSG v") {
		t.Errorf("table version %q", TableVersion())
	}
}

// TestUnitNames reads unit nodes as writers write them.
func TestUnitNames(t *testing.T) {
	for _, c := range []struct {
		node string
		want Unit
		note string // expected in the notes; "-" = no note about the unit
	}{
		{`UNIT["metre",1]`, metre, "-"},
		{`UNIT["Meter",1.0]`, metre, "-"},
		{`UNIT["metres", 1.000000000000]`, metre, "-"},
		{`UNIT["Foot_US",0.3048006096012192]`, surveyFoot, "-"},
		{`UNIT["US survey foot",0.304800609601219,AUTHORITY["EPSG","9003"]]`, surveyFoot, "-"},
		{`UNIT["US survey foot",0.3048006]`, surveyFoot, "-"},
		{`LENGTHUNIT["US survey foot",0.304800609601]`, surveyFoot, "-"},
		{`UNIT["US survey foot",1.0]`, surveyFoot, "its factor says 1 m"},
		{`UNIT["US survey foot",0.3048]`, internationalFoot, "the factor is taken"},
		{`UNIT["foot",0.3048]`, internationalFoot, "2 parts in a million"},
		{`UNIT["Foot",0.3048,AUTHORITY["EPSG","9002"]]`, internationalFoot, "2 parts in a million"},
		{`UNIT["foot",0.304800609601219]`, surveyFoot, "-"},
		{`UNIT["metre",0.3048]`, internationalFoot, "the factor is taken"},
		{`UNIT["foot",0.304801]`, Unit{M: 0.304801}, "neither"},
		{`UNIT["Clarke's foot",0.3047972654]`, Unit{M: 0.3047972654}, "neither"},
		{`UNIT["metre",0]`, metre, "no usable factor"},
		{`UNIT["metre"]`, metre, "no usable factor"},
		{`UNIT["smoot",1.7018]`, Unit{M: 1.7018}, "-"},
	} {
		got, err := FromWKT(`PROJCS["x",GEOGCS["y",DATUM["z",SPHEROID["GRS 1980",6378137,298.257222101]],PRIMEM["Greenwich",0],UNIT["degree",0.0174532925199433]],` +
			`PROJECTION["Transverse_Mercator"],PARAMETER["central_meridian",8.123],PARAMETER["scale_factor",1],PARAMETER["false_easting",7],` + c.node + `]`)
		if err != nil {
			t.Errorf("%s: %v", c.node, err)
			continue
		}
		if !near(got.Horizontal.Unit.M, c.want.M, 1e-12) || !got.Horizontal.Unit.Stated {
			t.Errorf("%s: %+v, want %.12g m", c.node, got.Horizontal.Unit, c.want.M)
		}
		if want := 7 * c.want.M; math.Abs(got.Projection.FalseEastingM-want) > 1e-9 {
			t.Errorf("%s: false easting %.12g m, want 7 units = %.12g", c.node, got.Projection.FalseEastingM, want)
		}
		unitNotes := strings.Join(got.Notes, "\n")
		if c.note == "-" && (strings.Contains(unitNotes, "factor") || strings.Contains(unitNotes, "foot") && !strings.Contains(unitNotes, "assumed")) ||
			c.note != "-" && !strings.Contains(unitNotes, c.note) {
			t.Errorf("%s: notes %q, want %q", c.node, unitNotes, c.note)
		}
	}
}

// TestVerticalParts: what exporters write for heights (no vertical part, a geoid
// model in place of the datum, a file name, a compound system of one part).
func TestVerticalParts(t *testing.T) {
	const utm = `PROJCS["UTM",GEOGCS["W",DATUM["WGS_1984",SPHEROID["WGS 84",6378137,298.257223563]],PRIMEM["Greenwich",0],UNIT["degree",0.0174532925199433]],PROJECTION["Transverse_Mercator"],PARAMETER["central_meridian",9],PARAMETER["scale_factor",0.9996],PARAMETER["false_easting",500000],UNIT["metre",1]]`
	for _, c := range []struct {
		name, vertical string
		heights        HeightKind
		unitM          float64
		stated         bool
		geoid, note    string
	}{
		{"none", ``, HeightUnknown, 1, false, "", "no vertical coordinate reference system stated"},
		{"WKT 1", `,VERT_CS["NAVD88 height",VERT_DATUM["North American Vertical Datum 1988",2005],UNIT["US survey foot",0.304800609601219]]`, HeightGravity, SurveyFootM, true, "", ""},
		{"dialect", `,VERTCS["NAVD_1988",VDATUM["North_American_Vertical_Datum_1988"],PARAMETER["Vertical_Shift",0.0],PARAMETER["Direction",1.0],UNIT["Foot_US",0.3048006096012192]]`, HeightGravity, SurveyFootM, true, "", ""},
		{"dialect, ellipsoid", `,VERTCS["WGS_1984",DATUM["D_WGS_1984",SPHEROID["WGS_1984",6378137.0,298.257223563]],UNIT["Meter",1.0]]`, HeightEllipsoidal, 1, true, "", ""},
		{"WKT 2 with geoid", `,VERTCRS["NAVD88 height",VDATUM["North American Vertical Datum 1988"],CS[vertical,1],AXIS["h",up],LENGTHUNIT["metre",1],GEOIDMODEL["GEOID18"],ID["EPSG",5703]]`, HeightGravity, 1, true, "GEOID18", ""},
		{"geoid for datum", `,VERT_CS["EGM96",VERT_DATUM["EGM96 geoid",2005],UNIT["metre",1]]`, HeightGravity, 1, true, "EGM96", "a geoid model is not a datum"},
		{"file for datum", `,VERT_CS["h",VERT_DATUM["C:\geo\egm2008.bin",2005],UNIT["metre",1]]`, HeightGravity, 1, true, "egm2008", "given as a file"},
		{"ellipsoidal type", `,VERT_CS["ellipsoid heights",VERT_DATUM["Ellipsoid",2002],UNIT["metre",1]]`, HeightEllipsoidal, 1, true, "", ""},
		{"unknown datum", `,VERT_CS["",VERT_DATUM["unknown",2005],UNIT["metre",1]]`, HeightUnknown, 1, true, "", "no vertical coordinate reference system stated"},
		{"no unit", `,VERT_CS["DHHN2016 height",VERT_DATUM["DHHN2016",2005]]`, HeightGravity, 1, false, "", "no vertical unit stated: metres assumed, as horizontally"},
		{"code, no unit", `,VERT_CS["x",VERT_DATUM["NAVD88",2005],AUTHORITY["EPSG","6360"]]`, HeightGravity, SurveyFootM, true, "", ""},
		{"code against unit", `,VERT_CS["x",VERT_DATUM["NAVD88",2005],UNIT["foot",0.3048],AUTHORITY["EPSG","5703"]]`, HeightGravity, InternationalFootM, true, "", "EPSG:8228"},
	} {
		got, err := FromWKT(`COMPD_CS["c",` + utm + c.vertical + `]`)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if got.Heights != c.heights || !near(got.Vertical.Unit.M, c.unitM, 1e-12) || got.Vertical.Unit.Stated != c.stated || got.Geoid != c.geoid {
			t.Errorf("%s: %s heights, %+v, geoid %q; want %s, %.9g m stated %t, %q", c.name, got.Heights, got.Vertical.Unit, got.Geoid, c.heights, c.unitM, c.stated, c.geoid)
		}
		if got.VerticalStated() != (c.heights != HeightUnknown) {
			t.Errorf("%s: VerticalStated %t", c.name, got.VerticalStated())
		}
		var notes []string
		for _, n := range got.Notes {
			if !strings.Contains(n, "no EPSG code stated") {
				notes = append(notes, n)
			}
		}
		if all := strings.Join(notes, "\n"); c.note == "" && all != "" || !strings.Contains(all, c.note) {
			t.Errorf("%s: notes %q, want %q", c.name, all, c.note)
		}
	}
}

// TestWKTErrors: text that is no WKT is an error, never a panic or an empty CRS.
func TestWKTErrors(t *testing.T) {
	for _, s := range []string{"", "\x00\x00", "''", `""`, "EPSG:2154", "x", "[", "]", `UNIT["metre",1]`, "GEOGCS", strings.Repeat("A[", 1000), strings.Repeat("x", maxWKT+1)} {
		if c, err := FromWKT(s); err == nil {
			t.Errorf("%q: %v, want an error", clip(s), c)
		}
	}
}

func TestDeepNestingIsRefused(t *testing.T) {
	if _, err := FromWKT(`PROJCS["a",` + strings.Repeat(`B[`, maxWKTDepth+2)); err == nil || !strings.Contains(err.Error(), "nested deeper") {
		t.Errorf("error %v", err)
	}
}

// TestRoundTrips: writing and reading again keeps units, codes and projection.
func TestRoundTrips(t *testing.T) {
	for _, code := range append([]int{4326, 4979, 4978, 7415, 7405, 6893, 8360, 5703}, sampleCodes...) {
		want, err := FromEPSG(code)
		if err != nil {
			t.Fatal(err)
		}
		dir, dbl, asc := want.GeoKeys()
		keys, err := FromGeoKeys(dir, dbl, asc)
		if err != nil {
			t.Errorf("EPSG:%d: GeoKeys: %v", code, err)
			continue
		}
		wkt, err := FromWKT(want.ToWKT1())
		if err != nil {
			t.Errorf("EPSG:%d: WKT: %v", code, err)
			continue
		}
		for how, got := range map[string]*CRS{"GeoKeys": keys, "WKT": wkt} {
			if how == "WKT" && (code == 4979 || want.Kind == KindUnknown) {
				continue // WKT 1 has no geographic system of three axes, and none of heights only
			}
			if got.Horizontal.EPSG != want.Horizontal.EPSG || got.Vertical.EPSG != want.Vertical.EPSG ||
				!got.Horizontal.Unit.Equal(want.Horizontal.Unit) || !got.Vertical.Unit.Equal(want.Vertical.Unit) {
				t.Errorf("EPSG:%d by %s: %v, want %v", code, how, got, want)
			}
			if got.Kind != want.Kind && want.Kind != KindUnknown {
				t.Errorf("EPSG:%d by %s: kind %s, want %s", code, how, got.Kind, want.Kind)
			}
		}
	}
}

// TestRoundTripWithoutCode keeps the projection of systems that have no code.
func TestRoundTripWithoutCode(t *testing.T) {
	for _, code := range []int{2154, 2229, 2994, 25832, 27700, 31467, 27572, 24200} {
		want, err := FromEPSG(code)
		if err != nil {
			t.Fatal(err)
		}
		want.Horizontal.EPSG = 0
		dir, dbl, asc := want.GeoKeys()
		got, err := FromGeoKeys(dir, dbl, asc)
		if err != nil || got.Projection == nil || !got.Projection.sameMap(want.Projection) || !near(got.Projection.Ellipsoid.A, want.Projection.Ellipsoid.A, 1e-15) ||
			math.Abs(got.Projection.PrimeMeridianRad-want.Projection.PrimeMeridianRad) > 1e-14 {
			t.Errorf("EPSG:%d without its code by GeoKeys: %v %+v", code, err, got)
		}
		if got, err = FromWKT(want.ToWKT1()); err != nil || got.Projection == nil || !got.Projection.sameMap(want.Projection) {
			t.Errorf("EPSG:%d without its code by WKT: %v %+v", code, err, got)
		}
	}
}

// TestContradictionIsNotWritten: a code whose unit is not the one in use is replaced
// by that of the same system in this unit.
func TestContradictionIsNotWritten(t *testing.T) {
	c, err := FromGeoKeys([]uint16{1, 1, 0, 5, 1024, 0, 1, 1, 3072, 0, 1, 26995, 3076, 0, 1, 9003, 4096, 0, 1, 5703, 4099, 0, 1, 9003}, nil, nil)
	if err != nil {
		t.Fatal(err)
	}
	dir, dbl, asc := c.GeoKeys()
	keys, err := FromGeoKeys(dir, dbl, asc)
	if err != nil {
		t.Fatal(err)
	}
	wkt, err := FromWKT(c.ToWKT1())
	if err != nil {
		t.Fatal(err)
	}
	for _, got := range []*CRS{keys, wkt} {
		if got.Horizontal.EPSG != 2255 || got.Vertical.EPSG != 6360 || len(got.Notes) != 0 {
			t.Errorf("%v %v, want EPSG:2255 + 6360 and no note", got, got.Notes)
		}
	}
}

func TestBrokenDirectories(t *testing.T) {
	for _, d := range [][]uint16{nil, {}, {1}, {1, 1, 0}, {2, 1, 0, 0}, {1, 1, 0, 0}, {1, 1, 0, 65535}, {0, 0, 0, 0, 0, 0, 0, 0}} {
		if c, err := FromGeoKeys(d, nil, nil); err == nil {
			t.Errorf("directory %v: %v, want an error", d, c)
		}
	}
	c, err := FromGeoKeys([]uint16{1, 1, 0, 9, 1024, 0, 1, 1, 3072, 0, 1, 2154, 3073, 34737}, nil, nil)
	if err != nil || c.Horizontal.EPSG != 2154 || !strings.Contains(strings.Join(c.Notes, "\n"), "promises 9 keys and holds 2") {
		t.Errorf("directory cut short: %v %v", c, err)
	}
	c, err = FromGeoKeys([]uint16{1, 1, 0, 3, 3072, 0, 1, 2154, 1026, 34737, 500, 900, 2057, 34736, 1, 7}, []float64{1}, []byte("x|"))
	if err != nil || !strings.Contains(strings.Join(c.Notes, "\n"), "key 2057 points outside") {
		t.Errorf("references outside: %v %v", c, err)
	}
}

func TestUnknown(t *testing.T) {
	c := Unknown("first")
	h, v, ok := c.Metres()
	if h != 1 || v != 1 || !ok || c.Horizontal.Unit.Stated || c.Notes[0] != "first" || len(c.Notes) < 3 || c.VerticalStated() {
		t.Errorf("%v %v", c, c.Notes)
	}
}

func TestGeoidNames(t *testing.T) {
	for s, want := range map[string]string{
		"NAVD88 - Geoid03 (Feet)": "Geoid03", "NAVD88 height - GEOID18": "GEOID18", "navd88_geo03_contus": "geo03", "EGM2008 height": "EGM2008",
		"DHHN2016 (GCG2016)": "GCG2016", "NAVD88 via Geoid12B": "Geoid12B", "NAVD88 height": "", "Ordnance Datum Newlyn": "", "geodetic 1983": "", "CGVD2013(CGG2013a)": "CGVD2013",
	} {
		if got := geoidIn(s); got != want {
			t.Errorf("%q: %q, want %q", s, got, want)
		}
	}
}

func FuzzFromWKT(f *testing.F) {
	for _, code := range []int{2154, 2229, 7415, 4326, 27572} {
		c, err := FromEPSG(code)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(c.ToWKT1())
	}
	f.Add(`COMPOUNDCRS["x",PROJCRS["y",BASEGEOGCRS["z",DATUM["d",ELLIPSOID["e",6378137,298.3,LENGTHUNIT["metre",1]]]],CONVERSION["c",METHOD["Transverse Mercator",ID["EPSG",9807]],PARAMETER["Longitude of natural origin",9,ANGLEUNIT["degree",0.017453]]],CS[Cartesian,2],AXIS["(E)",east],LENGTHUNIT["US survey foot",0.304800609601]],VERTCRS["v",VDATUM["w"],CS[vertical,1],AXIS["h",up],LENGTHUNIT["foot",0.3048]],ID["EPSG",7415]]`)
	f.Add(`VERTCS["n",VDATUM["d"],UNIT["Foot_US",0.3048006]]`)
	f.Fuzz(func(t *testing.T, s string) {
		c, err := FromWKT(s)
		if err != nil {
			return
		}
		checkInvariants(t, c)
	})
}

func FuzzFromGeoKeys(f *testing.F) {
	for _, code := range []int{2154, 2229, 7415, 4326, 27572} {
		c, err := FromEPSG(code)
		if err != nil {
			f.Fatal(err)
		}
		for _, epsg := range []int{c.Horizontal.EPSG, 0} {
			c.Horizontal.EPSG = epsg
			b, asc := pack(c.GeoKeys())
			f.Add(b, asc)
		}
	}
	f.Fuzz(func(t *testing.T, b, asc []byte) {
		dir, dbl := unpack(b)
		c, err := FromGeoKeys(dir, dbl, asc)
		if err != nil {
			return
		}
		checkInvariants(t, c)
	})
}

// checkInvariants: whatever was read, both units have a size, and both written
// forms can be read again with the same units.
func checkInvariants(t *testing.T, c *CRS) {
	u, v := c.Horizontal.Unit, c.Vertical.Unit
	if !(u.M > 0 || u.Rad > 0) || !(v.M > 0) || math.IsInf(u.M, 0) || math.IsInf(v.M, 0) {
		t.Fatalf("units %+v and %+v", u, v)
	}
	dir, dbl, asc := c.GeoKeys()
	if d, err := FromGeoKeys(dir, dbl, asc); err != nil {
		t.Fatalf("own keys cannot be read: %v", err)
	} else if u.M > 0 && !near(d.Horizontal.Unit.M, u.M, 1e-9) && c.Kind != KindGeocentric {
		t.Fatalf("own keys: unit %g m, want %g", d.Horizontal.Unit.M, u.M)
	}
	if _, err := FromWKT(c.ToWKT1()); err != nil {
		t.Fatalf("own WKT %s cannot be read: %v", c.ToWKT1(), err)
	}
	_ = c.String()
}
