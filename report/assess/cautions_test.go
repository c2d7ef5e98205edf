package assess

import (
	"math"
	"strings"
	"testing"
	"time"

	"sidelap/control"
	"sidelap/overlap"
	"sidelap/report"
)

// TestUnitCautions: what is assumed of units, or contradicts itself, is told; what was stated or given is not.
func TestUnitCautions(t *testing.T) {
	conflict := "horizontal unit: the unit key says US survey feet but EPSG:26949 (x) is in metres. The stated unit is used; check which one the coordinates are in"
	for _, c := range []struct {
		name string
		crs  report.CRS
		o    Options
		want string // "" for nothing
	}{
		{"stated", report.CRS{HorizontalUnit: "metre", HorizontalUnitStated: true, VerticalUnitStated: true, Notes: []string{"no geoid named"}}, Options{}, ""},
		{"nothing stated", report.CRS{HorizontalUnit: "metre"}, Options{}, "no file states its unit: metres assumed"},
		{"given", report.CRS{HorizontalUnit: "metre"}, Options{HorizontalM: 1, VerticalM: 1}, ""},
		{"heights only", report.CRS{HorizontalUnitStated: true, VerticalUnit: "US survey foot"}, Options{}, "the unit of heights: US survey feet assumed"},
		{"contradiction", report.CRS{HorizontalUnitStated: true, VerticalUnitStated: true, Notes: []string{conflict}}, Options{}, conflict},
	} {
		got := strings.Join(unitCautions(&c.crs, &c.o), "\n")
		if c.want == "" && got != "" || !strings.Contains(got, c.want) {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
}

// TestSettingCautions: a setting without what it belongs to is said to be unused, with it it is not.
func TestSettingCautions(t *testing.T) {
	o := Options{LeverGiven: true, Accuracy: "a.smrmsg", ColumnOrder: "penz", ListUnit: "m", SurveySDm: 0.01, GeoidM: 46.2, PolesM: []float64{2}, BaseMarkGiven: true,
		FlightDate: time.Date(2026, 5, 31, 0, 0, 0, 0, time.UTC), Target: control.TargetOptions{SizeM: 0.3}}
	flags := []string{"lever", "trajectory-accuracy", "columns", "list-unit", "survey-sd", "geoid", "poles", "base-mark", "flight-date", "targets"}
	got := settingCautions(&o)
	for i, f := range flags {
		if len(got) != len(flags) || !strings.HasPrefix(got[i], "--"+f+" is not used: there is no ") {
			t.Fatalf("%q, want a word on each of %q", got, flags)
		}
	}
	o.Control = "control.csv" // columns and unit are those of any list
	if got := settingCautions(&o); len(got) != len(flags)-2 {
		t.Errorf("with control points: %q", got)
	}
	o.Trajectory, o.CheckPoints = "flight.sbet", "points.csv"
	if got := settingCautions(&o); len(got) != 0 {
		t.Errorf("with path and list: %q", got)
	}
	if got := settingCautions(&Options{Trajectory: "flight.sbet"}); len(got) != 1 || !strings.HasPrefix(got[0], "no --lever was given") {
		t.Errorf("a path alone: %q", got)
	}
	if got := settingCautions(&Options{}); len(got) != 0 {
		t.Errorf("nothing given: %q", got)
	}
}

// TestInputWarnings: what a file says of itself reaches the record, the same text of many files once.
func TestInputWarnings(t *testing.T) {
	got := inputWarnings([]report.Input{{Path: "a.las", Warnings: []string{"1064 of 1065 points are whole"}}, {Path: "b.las", Warnings: []string{"old"}}, {Path: "c.las", Warnings: []string{"old", "old"}}})
	if len(got) != 2 || got[0] != "a.las: 1064 of 1065 points are whole" || got[1] != "b.las and 1 more: old" {
		t.Errorf("%q", got)
	}
}

// TestDropControl: a control point in the list of check points leaves the figures, by place or by name and place.
func TestDropControl(t *testing.T) {
	point := func(id string, e, dz float64) control.PointResult {
		return control.PointResult{Point: control.Point{ID: id, EM: e, NM: 10}, DzM: dz, Used: true}
	}
	cmp := &control.Comparison{Points: []control.PointResult{point("A", 0, 0.3), point("B", 100, 0.01), point("C", 200, -0.01), point("D", 300, 0.3)}, NRead: 4, NUsed: 4}
	dropControl(cmp, []control.Point{{ID: "x", EM: 0.04, NM: 10}, {ID: "B", EM: 101.5, NM: 10}, {ID: "D", EM: 300.5, NM: 10}, {ID: "y", EM: 200.06, NM: 10}})
	if cmp.NUsed != 2 || cmp.NExcluded != 2 || cmp.Points[0].Reason != control.ReasonControl || cmp.Points[3].Reason != control.ReasonControl || !cmp.Points[1].Used || !cmp.Points[2].Used {
		t.Errorf("%+v", cmp)
	}
	if cmp.NVA == nil || math.Abs(cmp.NVA.RMSEM-0.01) > 1e-12 || len(cmp.Warnings) != 1 {
		t.Errorf("RMSE of the others: %+v, %q", cmp.NVA, cmp.Warnings)
	}
}

// TestNoFirstReturns: without a first return the coverage is not zero but unknown.
func TestNoFirstReturns(t *testing.T) {
	for _, first := range []int64{0, 5} {
		rec := &report.Record{}
		fillCoverage(rec, &overlap.Survey{Strips: []overlap.Strip{{ID: "1", FirstReturns: first}}}, &overlap.Coverage{})
		if got := rec.Coverage.Voids != nil; got != (first > 0) || (rec.Coverage.AreaM2 != nil) != (first > 0) || (len(rec.Warnings) > 0) != (first == 0) {
			t.Errorf("%d first returns: %+v, %q", first, rec.Coverage, rec.Warnings)
		}
	}
}

// TestSpeedInFeet: where no file states the unit, a speed that is not plausible is put down to it.
func TestSpeedInFeet(t *testing.T) {
	for _, stated := range []bool{false, true} {
		rec := &report.Record{CRS: report.CRS{HorizontalUnitStated: stated}}
		fillStrips(rec, &overlap.Survey{Strips: []overlap.Strip{{ID: "1", RefusedMPS: 162, Notes: []string{"a speed of 162 m/s is not plausible: check the GPS times and the unit of x and y"}}}})
		if got := strings.Contains(strings.Join(rec.Strips[0].Notes, "; "), "in feet it would be 49 m/s"); got == stated || len(rec.Strips[0].Notes) != 1 {
			t.Errorf("unit stated %v: %q", stated, rec.Strips[0].Notes)
		}
	}
}

// TestBoresightBeside: the horizontal error to be expected says that a fault of the boresight is not in it.
func TestBoresightBeside(t *testing.T) {
	j := &job{rec: &report.Record{Causes: []report.Cause{{Kind: "boresight_roll", Significant: true}, {Kind: "boresight_pitch"}, {Kind: "time_offset", Significant: true}}}}
	if got := j.leftOut(); !strings.Contains(got, "(roll) is not in it") {
		t.Error(got)
	}
	j.rec.Causes = nil
	if got := j.leftOut(); got != "" {
		t.Error(got)
	}
}
