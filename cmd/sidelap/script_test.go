package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"

	"sidelap/report"
	"sidelap/trajectory/simulate"
)

// TestMain makes the test binary serve as sidelap in the scripts.
func TestMain(m *testing.M) {
	testscript.Main(tidyM{m}, map[string]func(){
		"sidelap": main,
		"same":    sameFiles,
		"metres":  sameMetres,
	})
}

// sameFiles compares two files byte for byte.
func sameFiles() {
	a, errA := os.ReadFile(os.Args[1])
	b, errB := os.ReadFile(os.Args[2])
	if errA != nil || errB != nil || !bytes.Equal(withoutRun(a), withoutRun(b)) {
		fmt.Fprintln(os.Stderr, "files differ", errA, errB)
		os.Exit(1)
	}
}

// withoutRun takes the lines about the run itself out of results: when, and how it was called.
func withoutRun(b []byte) []byte {
	if !bytes.HasPrefix(b, []byte("{")) {
		return b
	}
	var rec map[string]any
	if err := json.Unmarshal(b, &rec); err != nil {
		return b
	}
	delete(rec, "created_utc")
	delete(rec, "command_line")
	out, _ := json.Marshal(rec)
	return out
}

// sameMetres compares every length of the strips of two results.
func sameMetres() {
	var recs [2]report.Record
	for i := range recs {
		b, err := os.ReadFile(os.Args[1+i])
		if err == nil {
			err = json.Unmarshal(b, &recs[i])
		}
		if err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
	}
	for i, a := range recs[0].Strips {
		b := recs[1].Strips[i]
		for _, v := range [][2]*float64{{a.LengthM, b.LengthM}, {a.WidthM, b.WidthM}, {a.AreaM2, b.AreaM2}, {a.HeightAboveGroundM, b.HeightAboveGroundM}, {a.DensityPerM2, b.DensityPerM2}} {
			if math.Abs(report.Get(v[0])-report.Get(v[1])) > 0.005*math.Abs(report.Get(v[0])) {
				fmt.Fprintf(os.Stderr, "strip %s: %v and %v\n", a.ID, report.Get(v[0]), report.Get(v[1]))
				os.Exit(1)
			}
		}
	}
}

// TestScripts runs the whole-program tests in testdata. The command "survey NAME" lays out a small
// simulated survey in the folder NAME: a clean one, or with the fault that follows.
func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir: "testdata",
		Cmds: map[string]func(ts *testscript.TestScript, neg bool, args []string){
			"survey": layOut,
			"damage": damageFile,
		},
	})
}

// damageFile cuts a file in half, or changes forty bytes in its middle.
func damageFile(ts *testscript.TestScript, neg bool, args []string) {
	if len(args) != 2 || neg || args[0] != "cut" && args[0] != "spoil" {
		ts.Fatalf("usage: damage cut|spoil FILE")
	}
	path := ts.MkAbs(args[1])
	b, err := os.ReadFile(path)
	ts.Check(err)
	half := len(b) / 2
	if args[0] == "cut" {
		b = b[:half]
	} else {
		for i := half; i < half+40; i++ {
			b[i] ^= 0x55
		}
	}
	ts.Check(os.WriteFile(path, b, 0o644))
}

func layOut(ts *testscript.TestScript, neg bool, args []string) {
	if len(args) < 1 || neg {
		ts.Fatalf("usage: survey DIR [laz] [roll] [usft] [nocrs]")
	}
	s := simulate.SmallScenario()
	s.Plan.StripLengthM = 60
	var o simulate.CloudOptions
	for _, a := range args[1:] {
		switch a {
		case "laz":
			o.Compressed = true
		case "roll":
			s.Faults.BoresightRollDeg = 0.08
		case "usft":
			o.Units = simulate.Units{HorizontalM: simulate.USSurveyFootM, VerticalM: simulate.USSurveyFootM}
		case "nocrs":
			o.NoCRS = true
		default:
			ts.Fatalf("survey: unknown word %q", a)
		}
	}
	if _, err := simulate.WriteSurvey(filepath.Join(ts.Getenv("WORK"), args[0]), s, o); err != nil {
		ts.Fatalf("survey: %v", err)
	}
}
