package main

import (
	"fmt"
	"math"
	"os"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"sidelap/report/assess"
)

// surveyFlags are the flags that assess, strips, checkpoints and correct share.
type surveyFlags struct {
	o       assess.Options
	lever   string
	classes string
	hUnit   string
	vUnit   string
	out     string
	force   bool
	checks  checkFlags
	set     *pflag.FlagSet
}

// checkFlags are what is known about the check points and the base, as typed.
type checkFlags struct{ geoid, poles, baseMark, flightDate, targets string }

func (s *surveyFlags) addReading(c *cobra.Command) {
	s.o = assess.DefaultOptions()
	f := c.Flags()
	s.set = f
	f.Float64Var(&s.o.CellM, "cell", 0, "side of a grid cell in metres (default: from the point density)")
	f.StringVar(&s.o.StripsBy, "strips-by", "auto", "what makes a strip: auto, id (point source ID), file, time (GPS time)")
	f.IntVar(&s.o.Workers, "workers", s.o.Workers, "goroutines that read; the results are the same for any number")
	f.Var(memoryValue{&s.o.MemoryBytes}, "memory", "memory to aim at, such as 600MB or 4GiB: what does not fit goes to temporary files, the results are the same")
	f.StringVar(&s.hUnit, "horizontal-unit", "", "unit of X and Y if the files do not say: m, ift, usft, or metres in one unit")
	f.StringVar(&s.vUnit, "vertical-unit", "", "unit of Z if the files do not say: m, ift, usft, or metres in one unit")
}

// addSalvage is for the commands that only read: a corrected cloud is not made from a damaged file.
func (s *surveyFlags) addSalvage(c *cobra.Command) {
	c.Flags().BoolVar(&s.o.Salvage, "salvage", false, "go on behind damage in a file and say what is lost; the verdict is then a fail")
}

func (s *surveyFlags) addChecks(c *cobra.Command) {
	f := c.Flags()
	f.StringVar(&s.o.CheckPoints, "checkpoints", "", "list of surveyed check points, never fitted to (CSV or text)")
	f.StringVar(&s.o.ColumnOrder, "columns", "", "column order of lists without headings: p point, e easting, n northing, z height, d description, - skip")
	f.StringVar(&s.o.ListUnit, "list-unit", "", "unit of the lists: m, ift, usft (default: the cloud's)")
	f.Float64Var(&s.o.SurveySDm, "survey-sd", 0, "standard deviation of the check points' heights in metres, if the list does not say")
	f.StringVar(&s.o.Base, "base", "", "observation log of the base station (RINEX)")
	f.StringVar(&s.checks.baseMark, "base-mark", "", "base mark as used in processing, in the cloud's coordinates: easting,northing,height")
	f.StringVar(&s.checks.geoid, "geoid", "", "geoid separation at the site: a grid (GTX, GeoTIFF) or metres")
	f.StringVar(&s.checks.poles, "poles", "", "heights of the rover poles on the field sheet, metres, comma separated")
	f.StringVar(&s.checks.flightDate, "flight-date", "", "day of the flight, 2026-05-31 (default: by the points' GPS time)")
	f.StringVar(&s.checks.targets, "targets", "", "shape of the targets in the list, metres: disc:RADIUS, checkerboard:SIDE, chevron:ARM[:WIDTH], cross:ARM[:WIDTH]")
	f.StringVar(&s.o.Limits, "limits", "", "built-in limit set or TOML file (default "+assess.DefaultLimits+"; see 'sidelap limits')")
}

func (s *surveyFlags) addSurvey(c *cobra.Command) {
	s.addReading(c)
	s.addChecks(c)
	f := c.Flags()
	f.StringVar(&s.o.Trajectory, "trajectory", "", "path file of the flight (SBET or delimited text, may be gzipped)")
	f.StringVar(&s.o.Accuracy, "trajectory-accuracy", "", "accuracy companion of the path file (smrmsg)")
	f.StringVar(&s.o.Control, "control", "", "list of control points that were or may be used for fitting")
	f.StringVar(&s.lever, "lever", "", "trajectory point to scanner in body axes, metres: forward,right,down")
	f.StringVar(&s.classes, "classes", "", "classes compared between strips, comma separated (default: by the data)")
}

func (s *surveyFlags) addOutput(c *cobra.Command, def string) {
	f := c.Flags()
	f.StringVarP(&s.out, "out", "o", def, "results folder to write")
	f.BoolVar(&s.force, "force", false, "replace an existing results folder")
}

// options finishes the flags into Options.
func (s *surveyFlags) options(a *app, args []string) (assess.Options, error) {
	o := s.o
	o.Inputs = args
	o.CommandLine = append([]string{"sidelap"}, os.Args[1:]...)
	o.Program = programVersion()
	o.Now = time.Now()
	var err error
	if s.lever != "" {
		if o.LeverM, err = parseTriple(s.lever); err != nil {
			return o, usagef("--lever: %w", err)
		}
		o.LeverGiven = true
	}
	if o.Classes, err = parseClasses(s.classes); err != nil {
		return o, usagef("--classes: %w", err)
	}
	if o.HorizontalM, err = parseUnit(s.hUnit); err != nil {
		return o, usagef("--horizontal-unit: %w", err)
	}
	if o.VerticalM, err = parseUnit(s.vUnit); err != nil {
		return o, usagef("--vertical-unit: %w", err)
	}
	if err := s.checks.set(&o); err != nil {
		return o, err
	}
	if o.CellM == 0 && s.set.Changed("cell") {
		return o, usagef("--cell: 0 m is no side of a cell; leave it out to let the density decide")
	}
	if err := o.Validate(); err != nil {
		return o, err
	}
	limitMemory(o.MemoryBytes)
	return o, nil
}

// set turns the flags about check points into options.
func (c *checkFlags) set(o *assess.Options) (err error) {
	if c.geoid != "" {
		v, err := strconv.ParseFloat(c.geoid, 64)
		switch {
		case err != nil:
			o.GeoidFile = c.geoid
		case v == 0:
			return usagef("--geoid: 0 m: where ellipsoid and geoid coincide their heights cannot be told apart; leave it out when the separation is not known, or name a grid")
		default:
			o.GeoidM = v
		}
	}
	for _, p := range strings.Split(c.poles, ",") {
		if strings.TrimSpace(p) == "" {
			continue
		}
		v, err := strconv.ParseFloat(strings.TrimSpace(p), 64)
		if err != nil {
			return usagef("--poles: %q is not a length in metres", p)
		}
		o.PolesM = append(o.PolesM, v)
	}
	if c.baseMark != "" {
		if o.BaseMark, err = parsePlace(c.baseMark); err != nil {
			return usagef("--base-mark: %w", err)
		}
		o.BaseMarkGiven = true
	}
	if c.flightDate != "" {
		if o.FlightDate, err = time.Parse(time.DateOnly, c.flightDate); err != nil {
			return usagef("--flight-date: %q is not a day such as 2026-05-31", c.flightDate)
		}
	}
	if c.targets != "" {
		if o.Target, err = assess.ParseTarget(c.targets); err != nil {
			return usagef("--targets: %w", err)
		}
	}
	return nil
}

// parsePlace reads easting,northing,height.
func parsePlace(s string) (v [3]float64, err error) {
	parts := strings.Split(s, ",")
	if len(parts) != 3 {
		return v, fmt.Errorf("%q is not easting,northing,height", s)
	}
	for i, p := range parts {
		if v[i], err = strconv.ParseFloat(strings.TrimSpace(p), 64); err != nil || math.IsNaN(v[i]) || math.IsInf(v[i], 0) {
			return v, fmt.Errorf("%q is not a number", p)
		}
	}
	return v, nil
}

func parseTriple(s string) (v [3]float64, err error) {
	parts := strings.Split(s, ",")
	if len(parts) != 3 {
		return v, fmt.Errorf("%q is not three numbers with commas, such as 0.10,0,0.25", s)
	}
	for i, p := range parts {
		if v[i], err = strconv.ParseFloat(strings.TrimSpace(p), 64); err != nil || math.IsNaN(v[i]) || math.Abs(v[i]) > 100 {
			return v, fmt.Errorf("%q is not a length in metres", p)
		}
	}
	return v, nil
}

func parseClasses(s string) ([]uint8, error) {
	if s == "" {
		return nil, nil
	}
	var classes []uint8
	for _, p := range strings.Split(s, ",") {
		n, err := strconv.ParseUint(strings.TrimSpace(p), 10, 8)
		if err != nil {
			return nil, fmt.Errorf("%q is not a class number from 0 to 255", p)
		}
		classes = append(classes, uint8(n))
	}
	return classes, nil
}

// parseUnit returns the metres in one unit; 0 when s is empty.
func parseUnit(s string) (float64, error) {
	switch strings.ToLower(s) {
	case "":
		return 0, nil
	case "m", "metre", "meter":
		return 1, nil
	case "ift":
		return 0.3048, nil
	case "usft":
		return 1200.0 / 3937.0, nil
	}
	v, err := strconv.ParseFloat(s, 64)
	if err != nil || !(v > 1e-6 && v < 1e6) {
		return 0, fmt.Errorf("%q is not a unit; use m, ift (international foot), usft (US survey foot) or the metres in one unit", s)
	}
	return v, nil
}
