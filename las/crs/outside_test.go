package crs

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"strings"
	"testing"
)

// projinfo asks PROJ about a CRS; o is the output format.
func projinfo(t *testing.T, of, o string) string {
	t.Helper()
	path, err := exec.LookPath("projinfo")
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatalf("projinfo (PROJ) is needed: %v", err)
		}
		t.Skip("projinfo (PROJ) not installed")
	}
	cmd := exec.Command(path, of, "-o", o, "-q", "--single-line")
	var errText bytes.Buffer
	cmd.Stderr = &errText
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("projinfo %s -o %s: %v: %s", of, o, err, errText.String())
	}
	return strings.TrimSpace(string(out))
}

// projUnit is a unit in PROJJSON: a name, or an object with a factor.
type projUnit struct {
	Name   string
	Factor float64
}

func (u *projUnit) UnmarshalJSON(b []byte) error {
	if err := json.Unmarshal(b, &u.Name); err == nil {
		u.Factor = map[string]float64{"metre": 1, "degree": math.Pi / 180, "unity": 1}[u.Name]
		return nil
	}
	var o struct {
		Name   string
		Factor float64 `json:"conversion_factor"`
	}
	err := json.Unmarshal(b, &o)
	u.Name, u.Factor = o.Name, o.Factor
	return err
}

type projAxes struct {
	Axis []struct{ Unit projUnit }
}

type projEllipsoid struct {
	Name string
	A    json.RawMessage `json:"semi_major_axis"`
	InvF float64         `json:"inverse_flattening"`
	B    json.RawMessage `json:"semi_minor_axis"`
}

type projCRS struct {
	Type string
	Name string
	Base struct {
		Datum    struct{ Ellipsoid projEllipsoid }
		Ensemble struct{ Ellipsoid projEllipsoid } `json:"datum_ensemble"`
	} `json:"base_crs"`
	Conversion struct {
		Method     struct{ ID struct{ Code int } }
		Parameters []struct {
			Value float64
			Unit  projUnit
			ID    struct{ Code int }
		}
	}
	CS         projAxes `json:"coordinate_system"`
	Components []projCRS
}

// sampleCodes covers what lidar is delivered in.
var sampleCodes = []int{2154, 28992, 27700, 2180, 25832, 3006, 31370, 2056, 21781, 3005, 2193, 2975, 5514, 31468, 3035,
	32601, 32633, 32760, 26910, 26719, 28356, 7855, 31983, 3067, 3857, 2229, 2903, 2913, 2994, 6497, 6543, 6880, 2255, 2271,
	2281, 2285, 2868, 2223, 26943, 3942, 27572, 3812, 31287, 3763, 23700, 3794, 3765, 3346, 5179, 6677, 2326, 3414, 3375, 22275, 3978, 6201}

// TestTableAgainstPROJ compares unit, ellipsoid and every parameter of sample codes
// with what PROJ's own program says of them.
func TestTableAgainstPROJ(t *testing.T) {
	for _, code := range sampleCodes {
		c, err := FromEPSG(code)
		if err != nil {
			t.Errorf("EPSG:%d: %v", code, err)
			continue
		}
		var w projCRS
		if err := json.Unmarshal([]byte(projinfo(t, fmt.Sprintf("EPSG:%d", code), "PROJJSON")), &w); err != nil {
			t.Fatalf("EPSG:%d: %v", code, err)
		}
		compareWithPROJ(t, fmt.Sprintf("EPSG:%d", code), c, &w)
		if c.Name != w.Name {
			t.Errorf("EPSG:%d: name %q, PROJ %q", code, c.Name, w.Name)
		}
	}
}

func compareWithPROJ(t *testing.T, what string, c *CRS, w *projCRS) {
	t.Helper()
	if !near(c.Horizontal.Unit.M, w.CS.Axis[0].Unit.Factor, 1e-12) {
		t.Errorf("%s: unit %.12g m, PROJ %.12g (%s)", what, c.Horizontal.Unit.M, w.CS.Axis[0].Unit.Factor, w.CS.Axis[0].Unit.Name)
	}
	p := c.Projection
	if p == nil {
		t.Errorf("%s: no projection", what)
		return
	}
	if int(p.Method) != w.Conversion.Method.ID.Code {
		t.Errorf("%s: method %d, PROJ %d", what, p.Method, w.Conversion.Method.ID.Code)
	}
	for _, q := range w.Conversion.Parameters {
		got, want := p.get(q.ID.Code), q.Value*q.Unit.Factor
		switch q.ID.Code {
		case pFalseEasting, pEastFalse, pEastCentre:
			got = p.FalseEastingM
		case pFalseNorthing, pNorthFalse, pNorthCentre:
			got = p.FalseNorthingM
		}
		if tol := 1e-13 * math.Max(1, math.Abs(want)); math.Abs(got-want) > tol*10 {
			t.Errorf("%s: parameter %d = %.15g, PROJ %.15g", what, q.ID.Code, got, want)
		}
	}
	e := w.Base.Datum.Ellipsoid
	if e.Name == "" {
		e = w.Base.Ensemble.Ellipsoid
	}
	var a float64
	if json.Unmarshal(e.A, &a) == nil && !near(a, p.Ellipsoid.A, 1e-12) {
		t.Errorf("%s: semi-major axis %.6f, PROJ %.6f", what, p.Ellipsoid.A, a)
	}
	if e.InvF != 0 && !near(e.InvF, p.Ellipsoid.InvF, 1e-12) {
		t.Errorf("%s: inverse flattening %.12g, PROJ %.12g", what, p.Ellipsoid.InvF, e.InvF)
	}
}

// TestWKTFromPROJ reads what PROJ writes of each sample code in four dialects. The
// dialect without AUTHORITY nodes carries no code: there parameters alone are compared.
func TestWKTFromPROJ(t *testing.T) {
	supported := map[Method]bool{TransverseMercator: true, LambertConformal1SP: true, LambertConformal2SP: true, LambertConformal2SPBelg: true}
	for _, code := range sampleCodes {
		want, err := FromEPSG(code)
		if err != nil {
			t.Fatal(err)
		}
		for _, dialect := range []string{"WKT1_GDAL", "WKT1_ESRI", "WKT2:2015", "WKT2:2019"} {
			if strings.HasPrefix(dialect, "WKT1") && want.Projection.Method == LambertConformal2SPMich ||
				dialect == "WKT1_ESRI" && !supported[want.Projection.Method] {
				continue // PROJ has no such WKT, or another method for it
			}
			s := projinfo(t, fmt.Sprintf("EPSG:%d", code), dialect)
			got, err := FromWKT(s)
			if err != nil {
				t.Errorf("EPSG:%d as %s: %v", code, dialect, err)
				continue
			}
			if !got.Horizontal.Unit.Equal(want.Horizontal.Unit) || !got.Horizontal.Unit.Stated {
				t.Errorf("EPSG:%d as %s: unit %+v, want %+v", code, dialect, got.Horizontal.Unit, want.Horizontal.Unit)
			}
			if wantCode := map[bool]int{true: 0, false: code}[dialect == "WKT1_ESRI"]; got.Horizontal.EPSG != wantCode {
				t.Errorf("EPSG:%d as %s: code %d", code, dialect, got.Horizontal.EPSG)
			}
			if supported[want.Projection.Method] && !got.Projection.sameMap(want.Projection) {
				t.Errorf("EPSG:%d as %s: projection\n%+v, want\n%+v\n%s", code, dialect, got.Projection, want.Projection, s)
			}
			for _, n := range got.Notes {
				if !strings.Contains(n, "no vertical") && !strings.Contains(n, "no EPSG code stated") && code != 3857 {
					t.Errorf("EPSG:%d as %s: note %q", code, dialect, n)
				}
			}
		}
	}
}

// TestCompoundFromPROJ does the same for compound systems, whose parts carry no
// codes of their own in WKT 2.
func TestCompoundFromPROJ(t *testing.T) {
	for _, code := range []int{7405, 5554, 5972, 7415, 8360, 6893, 9388, 5698, 6190, 3901} {
		want, err := FromEPSG(code)
		if err != nil {
			t.Errorf("EPSG:%d: %v", code, err)
			continue
		}
		for _, dialect := range []string{"WKT1_GDAL", "WKT2:2019"} {
			got, err := FromWKT(projinfo(t, fmt.Sprintf("EPSG:%d", code), dialect))
			if err != nil {
				t.Errorf("EPSG:%d as %s: %v", code, dialect, err)
				continue
			}
			if got.Horizontal.EPSG != want.Horizontal.EPSG || got.Vertical.EPSG != want.Vertical.EPSG ||
				!got.Vertical.Unit.Equal(want.Vertical.Unit) || got.VertDatum != want.VertDatum || got.Heights != HeightGravity || len(got.Notes) != 0 {
				t.Errorf("EPSG:%d as %s: %v %q %v, want %v %q", code, dialect, got, got.VertDatum, got.Notes, want, want.VertDatum)
			}
		}
	}
}

// TestPROJReadsOurWKT lets PROJ read ToWKT1 of the sample codes, with the codes
// taken out so that only our parameters count, and compares what it understood.
func TestPROJReadsOurWKT(t *testing.T) {
	for _, code := range sampleCodes {
		c, err := FromEPSG(code)
		if err != nil {
			t.Fatal(err)
		}
		switch c.Projection.Method {
		case TransverseMercator, LambertConformal1SP, LambertConformal2SP, ObliqueStereographic, AlbersEqualArea, LambertAzimuthalEqualArea:
		default:
			continue
		}
		c.Horizontal.EPSG = 0
		var w projCRS
		if err := json.Unmarshal([]byte(projinfo(t, c.ToWKT1(), "PROJJSON")), &w); err != nil {
			t.Fatalf("EPSG:%d: %v", code, err)
		}
		compareWithPROJ(t, fmt.Sprintf("our WKT of EPSG:%d", code), c, &w)
	}
	c, err := FromEPSG(8360) // ETRS89 + EVRF2007: a compound of a geographic system
	if err != nil {
		t.Fatal(err)
	}
	if s := projinfo(t, c.ToWKT1(), "WKT1_GDAL"); !strings.Contains(s, "COMPD_CS") {
		t.Errorf("PROJ does not see a compound system in %s", c.ToWKT1())
	}
}
