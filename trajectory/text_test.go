package trajectory

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"sidelap/trajectory/internal/motion"
)

// lines writes an invented flight as text, every tenth sample.
func lines(f *motion.Flight, heading string, row func(i int) string) []byte {
	var b strings.Builder
	if heading != "" {
		b.WriteString(heading + "\n")
	}
	for i := 0; i < len(f.T); i += 10 {
		b.WriteString(row(i) + "\n")
	}
	return []byte(b.String())
}

// Known truth: one flight, written in the ways that exports write it.
func TestTextConventions(t *testing.T) {
	f, _ := survey(2, 5, 5, 1)
	f.NoiseM = 0
	recs := sbetOf(f, 0)
	lat := func(i int) float64 { return recs[i].LatRad * toDeg }
	lon := func(i int) float64 { return recs[i].LonRad * toDeg }
	r, p, h := func(i int) float64 { return f.Roll[i] * toDeg }, func(i int) float64 { return f.Pitch[i] * toDeg }, func(i int) float64 { return f.Head[i] * toDeg }
	comma := func(s string) string { return strings.ReplaceAll(s, ".", ",") }
	day := time.Date(2024, 5, 15, 8, 0, 0, 0, time.UTC)
	cases := []struct {
		name, heading, note string
		grid                bool
		kind                TimeKind
		row                 func(i int) string
	}{
		{"heading words, degrees", "GpsTime,Latitude[deg],Longitude[deg],Ellipsoid Height[m],Roll[deg],Pitch[deg],Heading[deg]", "columns by the heading line", false, WeekSeconds,
			func(i int) string {
				return fmt.Sprintf("%.3f,%.10f,%.10f,%.4f,%.5f,%.5f,%.5f", f.T[i], lat(i), lon(i), f.H[i], r(i), p(i), h(i))
			}},
		{"heading words, radians by speed", "time lat lon alt roll pitch heading", "radians", false, WeekSeconds,
			func(i int) string {
				return fmt.Sprintf("%.3f %.12f %.12f %.4f %.7f %.7f %.7f", f.T[i], recs[i].LatRad, recs[i].LonRad, f.H[i], f.Roll[i], f.Pitch[i], f.Head[i])
			}},
		{"comment heading, semicolons, decimal comma", "# Zeit;Rechtswert;Hochwert;Höhe;Roll;Nick;Kurs", "columns by the heading line", true, WeekSeconds,
			func(i int) string {
				return comma(fmt.Sprintf("%.3f;%.4f;%.4f;%.4f;%.5f;%.5f;%.5f", f.T[i], f.E[i], f.N[i], f.H[i], r(i), p(i), h(i)))
			}},
		{"blanks and decimal comma, no heading", "", "", true, WeekSeconds,
			func(i int) string {
				return comma(fmt.Sprintf("%.3f  %.4f %.4f %.4f %.5f %.5f %.5f", f.T[i], f.E[i], f.N[i], f.H[i], r(i), p(i), h(i)))
			}},
		{"northing before easting by range", "", "", true, WeekSeconds,
			func(i int) string {
				return fmt.Sprintf("%.3f\t%.4f\t%.4f\t%.4f\t%.5f\t%.5f\t%.5f", f.T[i], f.N[i], f.E[i], f.H[i], r(i), p(i), h(i))
			}},
		{"lon before lat by course", "", "latitude) stands before", false, WeekSeconds,
			func(i int) string {
				return fmt.Sprintf("%.3f,%.10f,%.10f,%.4f,%.5f,%.5f,%.5f", f.T[i], lon(i), lat(i), f.H[i], r(i), p(i), h(i))
			}},
		{"y before x by words", "GpsTime,Y,X,Z,Roll,Pitch,Azimuth", "", true, WeekSeconds,
			func(i int) string {
				return fmt.Sprintf("%.3f,%.4f,%.4f,%.4f,%.5f,%.5f,%.5f", f.T[i], f.N[i], f.E[i], f.H[i], r(i), p(i), math.Remainder(h(i), 360))
			}},
		{"x and y that are degrees", "GpsTime,X,Y,Z,Roll,Pitch,Heading", "x is longitude", false, WeekSeconds,
			func(i int) string {
				return fmt.Sprintf("%.3f,%.10f,%.10f,%.4f,%.5f,%.5f,%.5f", f.T[i], lon(i), lat(i), f.H[i], r(i), p(i), h(i))
			}},
		{"yaw from east", "time,e,n,h,roll,pitch,yaw", "counter-clockwise from east", true, WeekSeconds,
			func(i int) string {
				return fmt.Sprintf("%.3f,%.4f,%.4f,%.4f,%.5f,%.5f,%.5f", f.T[i], f.E[i], f.N[i], f.H[i], r(i), p(i), 90-h(i))
			}},
		{"week and seconds", "week,tow,e,n,h,roll,pitch,heading", "GPS week", true, GPSSeconds,
			func(i int) string {
				return fmt.Sprintf("2314,%.3f,%.4f,%.4f,%.4f,%.5f,%.5f,%.5f", f.T[i], f.E[i], f.N[i], f.H[i], r(i), p(i), h(i))
			}},
		{"date and clock, UTC", "%  UTC   latitude(deg) longitude(deg) height(m) Q ns sdn(m) sde(m) sdu(m)", "dates and times are UTC", false, UTCTimestamp,
			func(i int) string {
				at := day.Add(time.Duration((f.T[i] - f.T[0]) * 1e9))
				return fmt.Sprintf("%s %.10f %.10f %.4f 1 14 0.0100 0.0090 0.0200", at.Format("2006/01/02 15:04:05.000"), lat(i), lon(i), f.H[i])
			}},
		{"ISO stamps, GPS", "gps_time,easting,northing,height", "dates and times are GPS", true, GPSTimestamp,
			func(i int) string {
				at := day.Add(time.Duration((f.T[i] - f.T[0]) * 1e9))
				return fmt.Sprintf("%s,%.4f,%.4f,%.4f", at.Format("2006-01-02T15:04:05.000"), f.E[i], f.N[i], f.H[i])
			}},
		{"clock only", "utc,x,y,z", "without a date", true, DaySeconds,
			func(i int) string {
				at := day.Add(time.Duration((f.T[i] - f.T[0]) * 1e9))
				return fmt.Sprintf("%s,%.4f,%.4f,%.4f", at.Format("15:04:05.000"), f.E[i], f.N[i], f.H[i])
			}},
		{"Unix seconds", "unix_time,x,y,z,roll,pitch,heading", "", true, UnixSeconds,
			func(i int) string {
				return fmt.Sprintf("%.3f,%.4f,%.4f,%.4f,%.5f,%.5f,%.5f", 1.7157e9+f.T[i], f.E[i], f.N[i], f.H[i], r(i), p(i), h(i))
			}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			tr, err := Decode(lines(f, c.heading, c.row), "x.txt", ReadOptions{})
			if err != nil {
				t.Fatal(err)
			}
			if tr.TimeKind != c.kind || tr.Geodetic == c.grid {
				t.Errorf("time %v, geodetic %v; want %v, %v; %q", tr.TimeKind, tr.Geodetic, c.kind, !c.grid, decisions(tr))
			}
			if c.note != "" {
				hasText(t, decisions(tr), c.note)
			}
			for k := 0; k < tr.Len(); k++ {
				i := 10 * k
				if math.Abs((tr.TimeS[k]-tr.TimeS[0])-(f.T[i]-f.T[0])) > 2e-3 {
					t.Fatalf("time of line %d: %.4f s after the first, want %.4f", k, tr.TimeS[k]-tr.TimeS[0], f.T[i]-f.T[0])
				}
				if c.grid && (math.Abs(tr.EM[k]-f.E[i]) > 1e-3 || math.Abs(tr.NM[k]-f.N[i]) > 1e-3) {
					t.Fatalf("line %d at %.3f, %.3f, want %.3f, %.3f", k, tr.EM[k], tr.NM[k], f.E[i], f.N[i])
				}
				if !c.grid && (math.Abs(tr.LatRad[k]-recs[i].LatRad) > 1e-10 || math.Abs(tr.LonRad[k]-recs[i].LonRad) > 1e-10) {
					t.Fatalf("line %d at %.8f, %.8f rad", k, tr.LatRad[k], tr.LonRad[k])
				}
				if tr.HeadingRad != nil && (math.Abs(WrapPi(tr.HeadingRad[k]-f.Head[i])) > 1e-5 || math.Abs(tr.RollRad[k]-f.Roll[i]) > 1e-5) {
					t.Fatalf("line %d: heading %.4f, roll %.4f rad, want %.4f, %.4f; %q", k, tr.HeadingRad[k], tr.RollRad[k], f.Head[i], f.Roll[i], decisions(tr))
				}
			}
		})
	}
}

func TestTextSigmaColumns(t *testing.T) {
	b := []byte("time,e,n,h,sde,sdn,sdu,sdheading\n1,1,2,3,0.01,0.02,0.03,0.1\n2,2,2,3,0.01,0.02,0.03,0.1\n")
	tr, err := Decode(b, "x", ReadOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if tr.Sigma == nil || tr.Sigma.EastM[1] != 0.01 || tr.Sigma.DownM[0] != 0.03 || math.Abs(tr.Sigma.HeadingRad[0]-0.1*deg) > 1e-15 {
		t.Errorf("sigma %+v", tr.Sigma)
	}
}

func TestTextFaults(t *testing.T) {
	for _, c := range []struct{ name, text, want string }{
		{"a word among numbers", "t,e,n,h\n1,1,2,3\n2,1,oops,3\n3,1,2,3\n", "line 3: column 3"},
		{"a short line", "t,e,n,h\n1,1,2,3\n2,1\n3,1,2,3\n", "line 3: 2 fields"},
		{"no height", "time,east,north,roll\n1,1,2,3\n", "names no column of height"},
		{"time runs back", "t,e,n,h\n5,1,2,3\n4,1,2,3\n", "time"},
		{"three columns", "1 2 3\n2 3 4\n", "no line of numbers"},
	} {
		_, err := Decode([]byte(c.text), "p.txt", ReadOptions{})
		var fe *FormatError
		if !errors.As(err, &fe) || !contains(err.Error(), c.want) || !contains(err.Error(), "p.txt") {
			t.Errorf("%s: %v, want %q", c.name, err, c.want)
		}
	}
	// A file still being written ends in half a line: that line is left out.
	tr, err := Decode([]byte("t,e,n,h\n1,1,2,3\n2,1,2,3\n3,1,"), "p.txt", ReadOptions{})
	if err != nil || tr.Len() != 2 {
		t.Errorf("half a last line: %v, %v", tr, err)
	}
}

func TestRollAgainstTheTurnsIsNamed(t *testing.T) {
	f, _ := survey(2, 5, 5, 2)
	b := lines(f, "time,e,n,h,roll,pitch,heading", func(i int) string {
		return fmt.Sprintf("%.3f,%.4f,%.4f,%.4f,%.5f,%.5f,%.5f", f.T[i], f.E[i], f.N[i], f.H[i], -f.Roll[i]*toDeg, f.Pitch[i]*toDeg, f.Head[i]*toDeg)
	})
	tr, err := Decode(b, "x", ReadOptions{})
	if err != nil {
		t.Fatal(err)
	}
	hasText(t, tr.Warnings, "its sign may be flipped")
}

// The two open text paths show one aircraft: the one estimated from the cloud
// by its publisher must lie within metres of the navigation's.
func TestRealTextPathsAgree(t *testing.T) {
	a, err := Read(realData(t, "trajectory/pdaldata-sbet_047_IGS08-UTM15N-Ellipsoid-trim.txt"), ReadOptions{})
	if err != nil {
		t.Fatal(err)
	}
	b, err := Read(realData(t, "trajectory/pdaldata-C2_L2-traj3.txt"), ReadOptions{})
	if err != nil {
		t.Fatal(err)
	}
	// Source: the rows of these files in the data set's README.
	if a.Len() != 14600 || b.Len() != 7110 || math.Abs(a.RateHz()-200) > 0.1 || math.Abs(b.RateHz()-100) > 0.1 {
		t.Errorf("%s; %s", a.Summary(), b.Summary())
	}
	if math.Abs(a.TimeS[0]-407106.003) > 1e-3 || math.Abs(a.TimeS[14599]-407178.999) > 1e-3 || a.TimeKind != WeekSeconds {
		t.Errorf("times %v", a.Summary())
	}
	if r := a.RollRad[14599] * toDeg; math.Abs(r+18.5) > 0.1 {
		t.Errorf("roll in the turn at the end %.2f°, want -18.5", r)
	}
	if len(a.Warnings) != 0 {
		t.Errorf("warnings on a sound path: %q", a.Warnings)
	}
	pa, err := a.ToPath(nil, PathOptions{})
	if err != nil {
		t.Fatal(err)
	}
	pb, err := b.ToPath(nil, PathOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if pb.HasAttitude() {
		t.Error("a path without roll must have no attitude unless asked")
	}
	hasText(t, pb.Notes, "no roll")
	var d, dh []float64
	for i := 0; i < pb.Len(); i += 50 {
		if o, ok := pa.At(pb.TimeS[i]); ok {
			d, dh = append(d, math.Hypot(o.EM-pb.EM[i], o.NM-pb.NM[i])), append(dh, o.HM-pb.HM[i])
			if o.SpeedMPS < 60 || o.SpeedMPS > 80 {
				t.Fatalf("speed %.1f m/s at %.2f s", o.SpeedMPS, o.TimeS)
			}
		}
	}
	if m := median(d); len(d) < 140 || m > 5 {
		t.Errorf("%d places, median distance %.2f m, want metres", len(d), m)
	}
	t.Logf("median distance %.2f m, height difference %.2f m, at %d places", median(d), median(dh), len(d))
}

func TestTextFeetOfTheHeading(t *testing.T) {
	for _, c := range []struct {
		heading string
		unit, h float64
	}{
		{"time,easting(usft),northing(usft),height(m)", 1200.0 / 3937, 1},
		{"time,x_ft,y_ft,z_ft", 0.3048, 0.3048},
		{"time,x,y,z", 0.25, 0.5}, // not stated: the caller's
	} {
		tr, err := Decode([]byte(c.heading+"\n1,1000,2000,300\n2,1010,2000,300\n"), "x", ReadOptions{})
		if err != nil {
			t.Fatal(err)
		}
		p, err := tr.ToPath(nil, PathOptions{UnitM: 0.25, HeightUnitM: 0.5})
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(p.EM[0]-1000*c.unit) > 1e-9 || math.Abs(p.HM[0]-300*c.h) > 1e-9 {
			t.Errorf("%s: E %.6f, H %.6f m, want %.6f, %.6f", c.heading, p.EM[0], p.HM[0], 1000*c.unit, 300*c.h)
		}
	}
}
