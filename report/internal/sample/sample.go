// Package sample makes an invented survey, already assessed, for the tests and
// pictures of package report: no points behind it, but figures that agree with
// one another, because statistics and rasters come from the same invented cells.
//
// The survey: five opposed strips of 300 m and a cross strip over a quarry
// edge with a pond, 20 check points. All of it is made up.
package sample

import (
	"fmt"
	"math"
	"math/rand/v2"

	"sidelap/report"

	"github.com/paulmach/orb"
)

// Survey is a record with its layers.
type Survey struct {
	Record *report.Record
	Layers *report.Layers
}

const (
	cellM   = 1.0
	e0, n0  = 567200, 5934100 // south-west corner, metres
	areaW   = 340
	areaH   = 300
	stripW  = 100
	spacing = 60
	limitM  = 0.04
)

// Passing returns a survey inside its limits, in metres.
func Passing() *Survey { return make6(0, 0.012, 1) }

// Failing returns a survey with a roll fault and a low strip, outside its limits.
func Failing() *Survey { return make6(0.09, 0.014, 2) }

// Feet returns the passing survey as if its files were in US survey feet.
func Feet() *Survey {
	s := Passing()
	us := 1200.0 / 3937
	s.Record.CRS = report.CRS{
		Name:       "NAD83(2011) / Texas Central (ftUS) + NAVD88 height (ftUS)",
		Horizontal: "NAD83(2011) / Texas Central (ftUS)", HorizontalEPSG: report.I(6578),
		Vertical: "NAVD88 height (ftUS)", VerticalEPSG: report.I(6360),
		HorizontalUnit: "US survey foot", VerticalUnit: "US survey foot",
		HorizontalUnitM: report.F(us), VerticalUnitM: report.F(us),
		HorizontalUnitStated: true, VerticalUnitStated: true,
	}
	s.Record.Reference.Geoid = "GEOID18"
	s.Record.Reference.VerticalDatum = "NAVD88"
	return s
}

type cells struct {
	a, b   int
	e, n   []float64
	dz     []float64
	bounds orb.Bound
}

func stripBound(i int) orb.Bound {
	if i == 5 {
		return orb.Bound{Min: orb.Point{e0, n0 + 110}, Max: orb.Point{e0 + areaW, n0 + 110 + stripW}}
	}
	w := float64(e0 + i*spacing)
	return orb.Bound{Min: orb.Point{w, n0}, Max: orb.Point{w + stripW, n0 + areaH}}
}

func stripID(i int) string { return fmt.Sprint(101 + i) }

func heading(i int) float64 { return []float64{2.1, 182.0, 2.0, 181.9, 2.1, 91.8}[i] }

// inPond: no returns in the pond.
func inPond(e, n float64) bool {
	x, y := (e-e0-205)/13, (n-n0-62)/8
	return x*x+y*y < 1
}

func height(e, n float64) float64 {
	x, y := e-e0, n-n0
	h := 62 + 6*math.Sin(x/70) + 4*math.Cos(y/55) + 0.012*x
	if x > 120 && x < 142 && y > 170 && y < 186 { // a shed
		h += 5
	}
	if inPond(e, n) {
		return 58
	}
	return h - 9/(1+math.Exp(-(y-230)/4)) // the quarry's edge
}

func make6(fault, noise float64, seed uint64) *Survey {
	r := rand.New(rand.NewPCG(seed, 77))
	var pairs []cells
	for a := range 6 {
		for b := a + 1; b < 6; b++ {
			if c := pairCells(a, b, fault, noise, r); len(c.dz) > 0 {
				pairs = append(pairs, c)
			}
		}
	}
	s := &Survey{Record: record(), Layers: layers(pairs)}
	fillOverlap(s, pairs, fault)
	fillChecks(s, fault, r)
	fillVerdict(s, fault)
	if fault != 0 {
		fillDiagnosis(s, fault)
	}
	fillRasters(s)
	return s
}

// pairCells invents the separations of two strips: noise, and with a fault the
// tilt that a roll error gives to opposed strips plus strip 103 lying low.
func pairCells(a, b int, fault, noise float64, r *rand.Rand) cells {
	ba, bb := stripBound(a), stripBound(b)
	c := cells{a: a, b: b, bounds: orb.Bound{
		Min: orb.Point{max(ba.Min[0], bb.Min[0]), max(ba.Min[1], bb.Min[1])},
		Max: orb.Point{min(ba.Max[0], bb.Max[0]), min(ba.Max[1], bb.Max[1])},
	}}
	if c.bounds.Min[0] >= c.bounds.Max[0] || c.bounds.Min[1] >= c.bounds.Max[1] {
		return c
	}
	across := func(i int, e, n float64) float64 { // right of flight positive, -1..1
		m := stripBound(i)
		switch i {
		case 5:
			return -(n - (m.Min[1]+m.Max[1])/2) / 50
		case 0, 2, 4:
			return (e - (m.Min[0]+m.Max[0])/2) / 50
		}
		return -(e - (m.Min[0]+m.Max[0])/2) / 50
	}
	for n := c.bounds.Min[1] + 0.5; n < c.bounds.Max[1]; n += cellM {
		for e := c.bounds.Min[0] + 0.5; e < c.bounds.Max[0]; e += cellM {
			if inPond(e, n) || math.Abs(n-n0-230) < 10 || r.Float64() < 0.06 {
				continue // water, the quarry's edge, vegetation
			}
			dz := noise*r.NormFloat64() + 0.004*math.Sin(n/40)
			dz += fault * (across(b, e, n) - across(a, e, n)) / 2
			if fault != 0 && b == 2 {
				dz -= 0.04
			} else if fault != 0 && a == 2 {
				dz += 0.04
			}
			c.e, c.n, c.dz = append(c.e, e), append(c.n, n), append(c.dz, dz)
		}
	}
	return c
}

func record() *report.Record {
	rec := &report.Record{
		SchemaVersion: report.SchemaVersion,
		Program:       report.Program{Name: "sidelap", Version: "0.1.0", Go: "go1.26"},
		CommandLine:   []string{"sidelap", "assess", "--checkpoints", "checks.csv", "--limits", "asprs-ed2:5", "cloud"},
		CreatedUTC:    "2026-05-12T15:04:05Z",
		Project: &report.Project{Name: "Greystone quarry, northern extension", Number: "26-031", Client: "Hollin Aggregates",
			Site: "Greystone", Firm: "Three Ridge Survey", Address: []report.Text{"4 Mill Lane", "Overby"}, FlightDate: "2026-05-11",
			Sensor: "drone lidar, two returns kept", Conditions: "dry, wind 3 m/s <from the west>"},
		Options: report.Options{CellM: report.F(cellM), CellWhy: "from the density", StripsBy: "auto", MinPoints: report.I(6),
			MaxSlopeDeg: report.F(10), MaxRoughM: report.F(0.06), Limits: "asprs-ed2:5", CheckpointsFile: "checks.csv", CheckpointRadius: report.F(1.5)},
		CRS: report.CRS{Name: "ETRS89 / UTM zone 32N + DHHN2016 height", Horizontal: "ETRS89 / UTM zone 32N", HorizontalEPSG: report.I(25832),
			Vertical: "DHHN2016 height", VerticalEPSG: report.I(7837), HorizontalUnit: "metre", VerticalUnit: "metre",
			HorizontalUnitM: report.F(1), VerticalUnitM: report.F(1), HorizontalUnitStated: true, VerticalUnitStated: false,
			Notes: []string{"the vertical unit is not stated in the file; metre assumed"}},
		Reference: report.Reference{VerticalDatum: "DHHN2016", BaseMark: "BM 17", BaseMarkSource: "client", AntennaHeightM: report.F(1.532),
			AntennaHeightMethod: "vertical to the antenna reference point", CheckpointSource: "network", CheckpointIndependent: report.B(true)},
		StripsBy: report.StripsBy{Mode: "id", Why: "point source IDs 101 to 106, each one pass"},
		Path: &report.Path{Source: "recovered", SigmaM: report.F(0.8), StartGPSS: report.F(391385600.25), EndGPSS: report.F(391386360.5),
			CoveredPct: report.F(100), Notes: []string{"no trajectory was given; position recovered from multiple returns"}},
		Loops:    []report.Loop{{A: "101", B: "102", C: "106", Cells: 3210, ClosureM: report.F(0.0021), SigmaM: report.F(0.0011)}},
		Warnings: []string{"the geoid model is unknown", `checks.csv: 1 row without a height: "CP21;;"`},
	}
	for i := range 6 {
		b := stripBound(i)
		long := max(b.Max[0]-b.Min[0], b.Max[1]-b.Min[1])
		rec.Inputs = append(rec.Inputs, report.Input{Path: fmt.Sprintf("cloud/strip_%d.laz", 101+i), Bytes: 9_123_456 + int64(i)*1717,
			SHA256: report.Text(fmt.Sprintf("%064x", 0xabcdef0123+i)), Points: 1_800_123 + int64(i)*911, Format: 6, Version: "1.4", Compressed: true, TimeEncoding: "adjusted"})
		rec.Strips = append(rec.Strips, report.Strip{ID: stripID(i), Source: fmt.Sprint(101 + i), Points: 1_800_123 + int64(i)*911,
			FirstReturns: report.I(1_700_011 + int64(i)*800), StartGPSS: report.F(391385600.25 + 120*float64(i)), EndGPSS: report.F(391385660.5 + 120*float64(i)),
			HeadingDeg: report.F(heading(i)), LengthM: report.F(long), WidthM: report.F(stripW), AreaM2: report.F(long * stripW), SpeedMPS: report.F(5 + 0.02*float64(i)),
			HeightAboveGroundM: report.F(60.2 + 0.3*float64(i)), DensityPerM2: report.F(56.67 + 0.3*float64(i)), DensityP5PerM2: report.F(31.5), RoughnessM: report.F(0.011)})
	}
	return rec
}
