package control

import (
	"errors"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf16"
)

// siteBox is the extent of the invented cloud of these tests.
var siteBox = Box{MinEM: 512000, MinNM: 4500000, MaxEM: 513000, MaxNM: 4500800}

// wantPoint is the first point of every list in TestListVariants.
const wantE, wantN, wantZ = 512345.12, 4500321.10, 123.456

func TestListVariants(t *testing.T) {
	const rest = "\n"
	for _, c := range []struct {
		name, text string
		o          ListOptions
		id         string
		delimiter  string
		columns    string
	}{
		{"PNEZD by extent", "0101,4500321.10,512345.12,123.456,ASPH\n0102,4500400.00,512400.00,124.0,GRS" + rest, ListOptions{Extent: siteBox}, "0101", DelimiterComma, "PNEZD"},
		{"PENZD by extent", "0101,512345.12,4500321.10,123.456,ASPH\n0102,512400.00,4500400.00,124.0,GRS", ListOptions{Extent: siteBox}, "0101", DelimiterComma, "PENZD"},
		{"PNEZD, numeric codes", "0101,4500321.10,512345.12,123.456,12\n0102,4500400.00,512400.00,124.0,14", ListOptions{Extent: siteBox}, "0101", DelimiterComma, "PNEZD"},
		{"PNEZ", "7 4500321.10 512345.12 123.456\n8 4500400 512400 124", ListOptions{Extent: siteBox}, "7", DelimiterBlank, "PNEZ"},
		{"ENZ tab", "512345.12\t4500321.10\t123.456\n512400\t4500400\t124", ListOptions{Extent: siteBox}, "1", DelimiterTab, "ENZ"},
		{"NEZ", "4500321.10;512345.12;123.456\n4500400;512400;124", ListOptions{Extent: siteBox}, "1", DelimiterSemicolon, "NEZ"},
		{"option without extent", "4500321.10,512345.12,123.456", ListOptions{Columns: "NEZ"}, "1", DelimiterComma, "NEZ"},
		{"option XYZ", "512345.12 4500321.10 123.456", ListOptions{Columns: "xyz"}, "1", DelimiterBlank, "ENZ"},
		{"option with gaps", "a,1,2,512345.12,4500321.10,9,123.456", ListOptions{Columns: "P--EN-Z"}, "a", DelimiterComma, "P--EN-Z"},
		{"code first", "ASPH,0101,512345.12,4500321.10,123.456\nASPH,0102,512400,4500400,124", ListOptions{Extent: siteBox}, "0101", DelimiterComma, "DPENZ"},
		{"English headings", "Point Name,Northing,Easting,Elevation,Description\n0101,4500321.10,512345.12,123.456,kerb", ListOptions{}, "0101", DelimiterComma, "PNEZD"},
		{"German, decimal comma", "Punktnummer;Rechtswert;Hochwert;Höhe;Bemerkung\nA-1;512345,12;4500321,10;123,456;Weg", ListOptions{}, "A-1", DelimiterSemicolon, "PENZD"},
		{"German, thousands points", "Nr;Ost;Nord;Hoehe\nA-1;512.345,12;4.500.321,10;123,456", ListOptions{}, "A-1", DelimiterSemicolon, "PENZ"},
		{"French, thousands blanks", "Matricule;Est;Nord;Altitude\nA-1;512 345,12;4 500 321,10;123,456", ListOptions{}, "A-1", DelimiterSemicolon, "PENZ"},
		{"Spanish", "Punto\tEste\tNorte\tCota\nA-1\t512345.12\t4500321.10\t123.456", ListOptions{}, "A-1", DelimiterTab, "PENZ"},
		{"Latin-1", "Pkt;Rechtswert;Hochwert;H\xf6he\nA-1;512345.12;4500321.10;123.456", ListOptions{}, "A-1", DelimiterSemicolon, "PENZ"},
		{"byte order mark, CRLF", "\xef\xbb\xbfid,e,n,h\r\n01,512345.12,4500321.10,123.456\r\n", ListOptions{}, "01", DelimiterComma, "PENZ"},
		{"UTF-16", utf16LE("id,e,n,h\r\n01,512345.12,4500321.10,123.456\r\n"), ListOptions{}, "01", DelimiterComma, "PENZ"},
		{"comments and title", "# job 12\nCheck points of May\n# id,e,n,h\n01,512345.12,4500321.10,123.456", ListOptions{Columns: "PENZ"}, "01", DelimiterComma, "PENZ"},
		{"headings in a comment", "#id,e,n,h\n01,512345.12,4500321.10,123.456", ListOptions{}, "01", DelimiterComma, "PENZ"},
		{"quotes", `"name","east","north","z","note"` + "\n" + `"A, 1","512345.12","4500321.10","123.456","say ""kerb"""`, ListOptions{}, "A, 1", DelimiterComma, "PENZD"},
		{"thousands comma", "id;e;n;h\nA;512,345.12;4,500,321.10;123.456", ListOptions{}, "A", DelimiterSemicolon, "PENZ"},
		{"US survey feet in headings", "id,E (usft),N (usft),Z (usft)\nA,1680918.9479,14764803.4756,405.0386", ListOptions{}, "A", DelimiterComma, "PENZ"},
		{"international feet by option", "id,e,n,z\nA,1680922.3097,14764833.0052,405.0394", ListOptions{Unit: "ft"}, "A", DelimiterComma, "PENZ"},
		{"metres, heights in feet", "id,e_m,n_m,z_ft\nA,512345.12,4500321.10,405.0394", ListOptions{}, "A", DelimiterComma, "PENZ"},
		{"trailing delimiter", "id,e,n,h,\nA,512345.12,4500321.10,123.456,\n", ListOptions{}, "A", DelimiterComma, "PENZ"},
		{"collector export", "Point ID,Code,Lat,Long,Easting,Northing,Ortho Height,HRMS,VRMS,PDOP,Sats,Fix,Date,Rod Height\nA,GCP,40.6,-80.8,512345.12,4500321.10,123.456,0.008,0.014,1.2,19,Fixed,2026-05-11,2.000", ListOptions{}, "A", DelimiterComma, "PDAOENZ"},
	} {
		t.Run(c.name, func(t *testing.T) {
			l, err := ParseList("list", []byte(c.text), c.o)
			if err != nil {
				t.Fatal(err)
			}
			p := l.Points[0]
			near(t, "easting", p.EM, wantE, 2e-3)
			near(t, "northing", p.NM, wantN, 2e-3)
			near(t, "height", p.ZM, wantZ, 2e-4)
			if p.ID != c.id || l.Delimiter != c.delimiter || l.Columns != c.columns {
				t.Errorf("id %q, delimiter %s, columns %s; want %q, %s, %s", p.ID, l.Delimiter, l.Columns, c.id, c.delimiter, c.columns)
			}
			if !strings.Contains(l.Choice, "first row as read") {
				t.Errorf("choice does not show the first row: %s", l.Choice)
			}
		})
	}
}

func utf16LE(s string) string {
	b := []byte{0xff, 0xfe}
	for _, u := range utf16.Encode([]rune(s)) {
		b = append(b, byte(u), byte(u>>8))
	}
	return string(b)
}

// What cannot be decided is asked, never guessed.
func TestListAsks(t *testing.T) {
	square := Box{MinEM: 1000, MinNM: 1000, MaxEM: 2000, MaxNM: 2000}
	for name, c := range map[string]struct {
		text string
		o    ListOptions
	}{
		"no headings, no cloud":         {"1,4500321.10,512345.12,123.4", ListOptions{}},
		"both orders inside":            {"1,1200,1500,12\n2,1300,1600,13", ListOptions{Extent: square}},
		"no order inside":               {"1,99200,71500,12\n2,99300,71600,13", ListOptions{Extent: square}},
		"which foot":                    {"id,e_ft,n_ft,z_ft\nA,1680905,14765115,405", ListOptions{}},
		"decimal or thousands comma":    {"id;e;n\nA;345,123;456,789", ListOptions{}},
		"degrees, order not stated":     {"EPSG:4326\nA,44.70,-85.61,150.5", ListOptions{Project: func(a, b float64) (float64, float64, error) { return a, b, nil }}},
		"feet of the cloud, no heading": {"1,1680905.6,14765115.8,405", ListOptions{Extent: siteBox}},
	} {
		_, err := ParseList("list.csv", []byte(c.text), c.o)
		var a *AmbiguousError
		if !errors.As(err, &a) || len(a.Readings) < 2 || a.Remedy == "" || !strings.Contains(err.Error(), "list.csv") {
			t.Errorf("%s: got %v, want a question with readings", name, err)
		}
	}
}

func TestListEllipsoidal(t *testing.T) {
	l, err := ParseList("l", []byte("id,e,n,Ellipsoidal Height\nA,512345.12,4500321.10,90.1"), ListOptions{})
	if err != nil || !l.Ellipsoidal || l.Points[0].ZM != 90.1 {
		t.Errorf("%v %+v", err, l)
	}
	l, err = ParseList("l", []byte("id,e,n,Ellipsoidal Height,Ortho Height\nA,512345.12,4500321.10,90.1,123.4"), ListOptions{})
	if err != nil || l.Ellipsoidal || l.Points[0].ZM != 123.4 {
		t.Errorf("the orthometric height comes first: %v %+v", err, l)
	}
}

func TestListHintsAtFeet(t *testing.T) {
	_, err := ParseList("l", []byte("1,1680918.9,14764803.4,405\n2,1681000.1,14764900.2,406"), ListOptions{Extent: siteBox})
	if err == nil || !strings.Contains(err.Error(), "read in feet they would, in the order PENZ: give --columns PENZ with --list-unit ift") {
		t.Errorf("no hint at feet: %v", err)
	}
}

func TestListRefuses(t *testing.T) {
	for name, text := range map[string]string{
		"empty":        "  \n",
		"spreadsheet":  "PK\x03\x04abc",
		"point cloud":  "LASF....",
		"database":     "SQLite format 3\x00...",
		"XML":          "<kml></kml>",
		"binary":       "a\x00b",
		"text":         "these are\nno points\n",
		"degrees":      "id,lat,lon\nA,44.7,-85.6",
		"bad rows":     "id,e,n,h\nA,x,y,z\nB,1,2,3\nC,q,w,e",
		"column twice": "",
		"unknown code": "EPSG:999999\n1 2 3 4 5 a.jpg P",
	} {
		o := ListOptions{}
		if name == "column twice" {
			text, o.Columns = "1,2,3", "PEE"
		}
		_, err := ParseList("list.csv", []byte(text), o)
		var l *ListError
		if !errors.As(err, &l) || !strings.HasPrefix(err.Error(), "list.csv: ") || l.Remedy == "" {
			t.Errorf("%s: got %v, want a *ListError with a remedy", name, err)
		}
	}
}

func TestListAttributes(t *testing.T) {
	l, err := ParseList("l", []byte("id,e,n,h,use,surface,sd_h,sd_v,source,date,rod\n"+
		"A,512345.12,4500321.10,123.456,check,asphalt,0.010,0.015,base,2026-05-11,2.000\n"+
		"B,512345.12,4500322.10,,control,Grass,,,network,11.05.2026,\n"+
		"C,512345.12,4500323.10,-9999,,,,,,05/11/2026,1.8\n"+
		"note: shot twice\n"), ListOptions{})
	if err != nil {
		t.Fatal(err)
	}
	a, b, c := l.Points[0], l.Points[1], l.Points[2]
	if a.Cover != CoverOpen || a.Use != UseCheck || a.SDHorizontalM != 0.010 || a.SDVerticalM != 0.015 || a.Source != SourceBase || a.RodM != 2 || a.Date.Format("2006-01-02") != "2026-05-11" {
		t.Errorf("A: %+v", a)
	}
	if b.Cover != CoverVegetated || b.Use != UseControl || b.HasZ() || b.SDVerticalM != 0 || b.Source != SourceNetwork || b.Date != a.Date {
		t.Errorf("B: %+v", b)
	}
	if c.HasZ() || !c.Date.IsZero() || c.Cover != CoverUnknown || c.Source != SourceUnknown {
		t.Errorf("C: a sentinel is no height, 05/11 is no date: %+v", c)
	}
	if len(l.Refused) != 1 || l.Refused[0].Row != 5 {
		t.Errorf("refused: %+v", l.Refused)
	}
	if v, _ := SurveyAccuracy(l.Points); v != 0 {
		t.Error("the survey accuracy is unknown unless every point has one")
	}
	if v, h := SurveyAccuracy(l.Points[:1]); v != 0.015 || h != 0.010 {
		t.Errorf("survey accuracy %g, %g", v, h)
	}
}

func TestListMissingAndRepeated(t *testing.T) {
	l, err := ParseList("l", []byte("id,e,n,h\nA,512345.12,4500321.10,212.4\nB,512346,4500321,0\nC,512347,4500321,213.1\nA,512345.12,4500321.10,212.4\nC,512347.02,4500321,213.1\n"), ListOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if len(l.Points) != 4 || l.Points[1].HasZ() || !l.Points[0].HasZ() {
		t.Errorf("A repeats exactly, C does not, B has no height: %+v", l.Points)
	}
	all := strings.Join(l.Warnings, "\n")
	for _, want := range []string{"taken as missing", "repeat a point exactly", "point C stands in lines 4 and 6, 0.020 m apart"} {
		if !strings.Contains(all, want) {
			t.Errorf("no warning %q in %q", want, all)
		}
	}
	l, err = ParseList("l", []byte("id,e,n,h\nA,512345.12,4500321.10,0.4\nB,512346,4500321,0\nC,512347,4500321,-0.2\n"), ListOptions{})
	if err != nil || !l.Points[1].HasZ() {
		t.Errorf("a zero near the sea is a height: %v %+v", err, l)
	}
}

// Degrees are projected by the caller's function, in every way of writing them.
func TestListGeodetic(t *testing.T) {
	project := func(lat, lon float64) (float64, float64, error) {
		return 1000 * lon * 180 / math.Pi, 1000 * lat * 180 / math.Pi, nil
	}
	for name, text := range map[string]string{
		"decimal":        "id,latitude,longitude,h\nA,44.508333333,-85.613888889,150.5",
		"seconds":        "id,lat,lon,h\nA,44°30'30.0\"N,85°36'50.0\"W,150.5",
		"blanks":         "id,lat,lon,h\nA,44 30 30.0,-85 36 50.0,150.5",
		"by PROJ":        "+proj=longlat +datum=WGS84\n-85.613888889 44.508333333 150.5 100 200 a.jpg A",
		"German":         "Punkt;Breite;Länge;Höhe\nA;44,508333333;-85,613888889;150,5",
		"column letters": "A,44.508333333,-85.613888889,150.5",
	} {
		o := ListOptions{Project: project}
		if name == "column letters" {
			o.Columns = "PAOZ"
		}
		l, err := ParseList("l", []byte(text), o)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		p := l.Points[0]
		near(t, name+" easting", p.EM, -85613.888889, 1e-3)
		near(t, name+" northing", p.NM, 44508.333333, 1e-3)
		near(t, name+" height", p.ZM, 150.5, 1e-9)
		if !l.Geodetic || l.Unit != "degree" || p.ID != "A" {
			t.Errorf("%s: geodetic %v, unit %s, id %s", name, l.Geodetic, l.Unit, p.ID)
		}
	}
}

// realData returns the folder of open data; without it the test is skipped, and fails in CI.
func realData(t *testing.T, sub string) string {
	t.Helper()
	dir := filepath.Join("..", "..", "shared", "data", "real", sub)
	if _, err := os.Stat(dir); err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatalf("open data missing: %v", err)
		}
		t.Skip("open data not here")
	}
	return dir
}

// Every list of the open data is read as a surveyor would, or refused with the reason. First points
// and counts were read off the files by eye.
func TestRealLists(t *testing.T) {
	dir := realData(t, "control")
	project := func(lat, lon float64) (float64, float64, error) { return lon * 1e6, lat * 1e6, nil }
	nan := math.NaN()
	cases := map[string]struct {
		points  int
		id      string
		e, n, z float64
		unit    string
		warn    string // a warning that must be there
		refused string // or the reason for refusal
		o       ListOptions
	}{
		"br-odm_br-gcp_list.txt":          {points: 6, id: "HV01", e: 658528.361, n: 7167002.098, z: 890.636, unit: "m", warn: "repeat a point exactly"},
		"odm-gcp_extras.txt":              {points: 1, id: "gcp1", e: 609924.8180680283, n: 4950688.771811823, z: 171.662982, unit: "m"},
		"odm-gcp_latlon_south.txt":        {points: 1, id: "1", e: 105.03506 * math.Pi / 180 * 1e6, n: -5.23270 * math.Pi / 180 * 1e6, z: 20, unit: "degree", warn: "too coarse"},
		"odm-gcp_latlon_valid.txt":        {points: 2, id: "1", e: -85.61322729531112 * math.Pi / 180 * 1e6, n: 44.701151842605441 * math.Pi / 180 * 1e6, z: 150.5, unit: "degree"},
		"odm-gcp_michigan_feet_valid.txt": {points: 1, id: "1", e: 26607594.75468351 * 0.3048, n: -26813.882366498266 * 0.3048, z: 563.1987598425 * 0.3048, unit: "ft"},
		"odm-gcp_utm_north_valid.txt":     {points: 1, id: "1", e: 609925.8180680283, n: 4950688.771811823, z: 171.662982, unit: "m", warn: "no point names"},
		"pl-ochota-gcp_list.txt":          {points: 3, id: "1", e: 634676, n: 485344, z: 112, unit: "m", warn: "too coarse"},
		"us-ca-copr-gcp_list.txt":         {points: 10, id: "gcp02", e: 235269.88, n: 3811198.11, z: nan, unit: "m", warn: "taken as missing"},
		"us-ca-copr-points-latlon.csv":    {points: 10, id: "cop-target1", e: -119.879992097 * math.Pi / 180 * 1e6, n: 34.4082988202 * math.Pi / 180 * 1e6, z: nan, unit: "degree", warn: "no height"},
		"us-mn-cedar-creek-ace-gcps.csv":  {points: 3, id: "1", e: 484924.1340190754, n: 5027891.52860446, z: 252.489977, unit: "m", warn: "metres assumed"},
		"us-mn-cedar-creek-all-gcps.csv":  {points: 13, id: "1", e: 484839.5369294872, n: 5028169.731417404, z: 251.27868344155848, unit: "m"},
		"us-mn-cedar-creek-all-gcps.gpkg": {points: 13, id: "1", e: 484839.5369294872, n: 5028169.731417404, z: 251.27868344155848, unit: "m"},
		"us-mn-cedar-creek-fab1-gcps.csv": {points: 4, id: "1", e: 485154.3412, n: 5027922.911924659, z: 252.09457295597483, unit: "m"},
		"us-mn-cloquet-gcps.csv":          {points: 13, id: "1", e: 536805.846888971, n: 5169636.348269653, z: 353.8600637, unit: "m"},
		"us-nc-lakewheeler-gcp_list.txt":  {points: 4, id: "1", e: 637194.845, n: 219378.379, z: 111.888, unit: "m"},
		"us-oh-bellus-gcp_list.txt":       {points: 4, id: "1", e: 441024.15704911412, n: 4564001.8747091573, z: 345.1689312, unit: "m"},
	}
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range entries {
		c, known := cases[f.Name()]
		if !known {
			t.Errorf("%s: no case for this list", f.Name())
			continue
		}
		c.o.Project = project
		l, err := ReadList(filepath.Join(dir, f.Name()), c.o)
		if c.refused != "" {
			if err == nil || !strings.Contains(err.Error(), c.refused) {
				t.Errorf("%s: got %v, want it refused: %s", f.Name(), err, c.refused)
			}
			continue
		}
		if err != nil {
			t.Errorf("%s: %v", f.Name(), err)
			continue
		}
		p := l.Points[0]
		if len(l.Points) != c.points || p.ID != c.id || l.Unit != c.unit || p.HasZ() != !math.IsNaN(c.z) {
			t.Errorf("%s: %d points, first %+v, unit %s", f.Name(), len(l.Points), p, l.Unit)
		}
		near(t, f.Name()+" easting", p.EM, c.e, 1e-3)
		near(t, f.Name()+" northing", p.NM, c.n, 1e-3)
		if p.HasZ() {
			near(t, f.Name()+" height", p.ZM, c.z, 1e-9)
		}
		if c.warn != "" && !strings.Contains(strings.Join(l.Warnings, "\n"), c.warn) {
			t.Errorf("%s: no warning %q in %q", f.Name(), c.warn, l.Warnings)
		}
	}
	if l, _ := ReadList(filepath.Join(dir, "us-mn-cloquet-gcps.csv"), ListOptions{}); l.Points[0].SDHorizontalM != 0.0035 {
		t.Errorf("lateral rms of the first point: %g", l.Points[0].SDHorizontalM)
	}
}

func FuzzParseList(f *testing.F) {
	for _, s := range []string{"id,e,n,h\nA,1,2,3", "+proj=utm +zone=17\n1\t2\t3\t4\t5\ta.jpg", "a;1 234,5;\"x\n", "EPSG:4326\n1 2 3", "P;Rechtswert;Hochwert;Höhe\n1;2,5;3,5;", "lat lon\n1°2'3\" 4", "id,e_ft,n_ft\n1,2,3", "\xff\xfe1\x002\x00"} {
		f.Add([]byte(s), "PNEZD")
		f.Add([]byte(s), "")
	}
	f.Fuzz(func(t *testing.T, b []byte, columns string) {
		if len(columns) > 40 || len(b) > 1<<16 {
			t.Skip()
		}
		l, err := ParseList("fuzz", b, ListOptions{Columns: columns, Extent: siteBox, Project: func(a, b float64) (float64, float64, error) { return a, b, nil }})
		if err != nil {
			var a *AmbiguousError
			var e *ListError
			if !errors.As(err, &a) && !errors.As(err, &e) {
				t.Fatalf("error without a file: %v", err)
			}
			return
		}
		if len(l.Points) == 0 || l.Choice == "" {
			t.Fatal("no points and no error")
		}
		for _, p := range l.Points {
			if !finite(p.EM) || !finite(p.NM) || math.IsInf(p.ZM, 0) || p.ID == "" {
				t.Fatalf("point %+v", p)
			}
		}
	})
}

// The zone that a header line names, in the forms met in the open data.
func TestHeaderZone(t *testing.T) {
	for _, c := range []struct {
		text  string
		zone  int
		south bool
	}{{"WGS84 UTM 17N", 17, false}, {"+proj=utm +zone=22 +south +datum=WGS84 +units=m +no_defs", 22, true}, {"EPSG:32617", 17, false}, {"EPSG:32748", 48, true},
		{"WGS84 UTM zone 33 N", 33, false}, {"EPSG:2251", 0, false}, {"+proj=longlat +datum=WGS84", 0, false}, {"UTM 77N", 0, false},
		{"EPSG:25832", 32, false}, {"EPSG:26917", 17, false}, {"EPSG:5555", 32, false}} {
		h, ok := parseHeader(c.text)
		if zone, south, any := h.zone(); !ok || any || zone != c.zone || south != c.south {
			t.Errorf("%q: zone %d, south %v, taken %v", c.text, zone, south, ok)
		}
	}
}
