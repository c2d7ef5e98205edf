package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"github.com/spf13/cobra"

	"sidelap/report"
	"sidelap/report/field"
	"sidelap/trajectory/fieldcheck"
)

// fieldFlags are the flags of the field check.
type fieldFlags struct {
	o       field.Options
	storage string
	hUnit   string
	vUnit   string
	out     string
	force   bool
	events  bool
}

func (a *app) fieldCommand() *cobra.Command {
	var s fieldFlags
	c := &cobra.Command{
		Use:   "field [flags] [FILE|DIR...]",
		Short: "Before leaving the site: go, caution or refly, and which strips",
		Long: `Answer one question before the crew leaves the site: is anything missing that only another flight can mend?
Reads what there is: the path (real-time or quick), the base log, the raw or quick cloud. Says GO, CAUTION or REFLY
with the strips to repeat, then why. What is missing is not judged, and unknown is never GO. A file of the
cloud or of the base that is cut short or damaged is named, and read as far as it is sound; a path file must be whole.
CAUTION exits with 0, if every needed check had its input, and
with 4 if not: the first line has the word.

Writes field.html, refly.geojson, refly.kml, refly.csv and field.json. The list repeats strips as they were flown and plans
nothing new: whether, when and how to fly is for the pilot in command, under the rules of the place.`,
		Example: `  # everything that the flight left
  sidelap field --trajectory flight.sbet --base base.26o --plan area.geojson cloud/

  # the path and the base alone, in seconds
  sidelap field --trajectory flight.sbet --base base1.26o --base base2.26o --field-of-view 70

  # on a correction service, with room for another flight?
  sidelap field --trajectory flight.txt --no-base --storage-free 12G --planned-minutes 20 cloud/`,
		RunE: func(c *cobra.Command, args []string) error {
			if err := s.finish(args); err != nil {
				return err
			}
			if err := checkOut(s.out, s.force); err != nil {
				return err
			}
			return a.field(c.Context(), &s)
		},
	}
	s.add(c)
	return c
}

func (s *fieldFlags) add(c *cobra.Command) {
	s.o = field.DefaultOptions()
	f := c.Flags()
	f.StringVar(&s.o.Trajectory, "trajectory", "", "path file of the flight, real-time or processed (SBET or delimited text)")
	f.StringVar(&s.o.Accuracy, "trajectory-accuracy", "", "accuracy companion of the path file (smrmsg)")
	f.StringArrayVar(&s.o.Base, "base", nil, "observation log of the base (RINEX); repeat for several files in a row")
	f.BoolVar(&s.o.NoBase, "no-base", false, "flown on a correction service: no base log is needed")
	f.StringVar(&s.o.BaseMark, "base-mark", "", "mark of the base: E,N,H in the cloud's grid and units, or the name of a point of --checkpoints")
	f.Float64Var(&s.o.AntennaHeightM, "antenna-height", 0, "measured height of the base antenna above its mark in metres")
	f.StringVar(&s.o.Plan, "plan", "", "what was to be flown: area and lines (GeoJSON, KML, KMZ, GeoPackage)")
	f.StringVar(&s.o.Water, "water", "", "outlines of open water, in the same forms")
	f.BoolVar(&s.o.WaterSeen, "water-seen", false, "there is open water on the site: what looks like it in the cloud is taken as it")
	f.Float64Var(&s.o.FixedValue, "fixed-value", 0, "value in the path file's column of quality that means a fixed solution")
	f.StringVar(&s.o.CheckPoints, "checkpoints", "", "list of check points, to see whether the cloud holds them")
	f.StringVar(&s.o.ColumnOrder, "columns", "", "column order of that list, if it has no headings: p point, e easting, n northing, z height, d description, - skip")
	f.StringVar(&s.o.ListUnit, "list-unit", "", "unit of that list: m, ift, usft (default: the cloud's)")
	f.Float64Var(&s.o.SpeedMPS, "speed", 0, "planned speed in m/s")
	f.Float64Var(&s.o.HeightM, "height", 0, "planned height above ground in metres")
	f.Float64Var(&s.o.SidelapPct, "sidelap", 0, "sidelap in per cent that plan or contract ask for (default: 30, and refly only where a repeat would mend it)")
	f.Float64Var(&s.o.DensityPerM2, "density", 0, "first returns a square metre that are asked for")
	f.Float64Var(&s.o.StillS, "still", 0, "still time wanted before take-off and after landing, seconds (default 30)")
	f.Float64Var(&s.o.FieldOfViewDeg, "field-of-view", 0, "full angle of the scanner across the flight in degrees: judges sidelap without a cloud")
	f.StringVar(&s.storage, "storage-free", "", "free storage of the recorder, such as 12G")
	f.Float64Var(&s.o.PlannedMinutes, "planned-minutes", 0, "minutes of recording still to come")
	f.Float64Var(&s.o.StorageRateMBs, "storage-rate", 0, "megabytes a second that the recorder writes (default: as the files of an uncompressed, whole cloud tell)")
	f.StringArrayVar(&s.o.Limits, "limit", nil, "judge by another number, NAME=VALUE such as bank-strip-deg=8; repeat for several; a wrong name lists all")
	f.IntVar(&s.o.EPSG, "crs", 0, "EPSG code of the grid, if the cloud does not state it (default: the UTM zone of the path)")
	f.StringVar(&s.hUnit, "horizontal-unit", "", "unit of X and Y if the files do not say: m, ift, usft, or metres in one unit")
	f.StringVar(&s.vUnit, "vertical-unit", "", "unit of Z if the files do not say: m, ift, usft, or metres in one unit")
	f.StringVar(&s.o.StripsBy, "strips-by", "auto", "what makes a strip: auto, id (point source ID), file, time (GPS time)")
	f.BoolVar(&s.o.HeadersOnly, "headers", false, "read no points, only the headers of the cloud")
	f.IntVar(&s.o.Workers, "workers", s.o.Workers, "goroutines that read; the results are the same for any number")
	f.BoolVar(&s.events, "events", false, "list what the pilot did, with times")
	f.StringVarP(&s.out, "out", "o", "sidelap-field", "folder for the page, the list and the record")
	f.BoolVar(&s.force, "force", false, "write into an existing folder; only files of the same names are replaced")
}

// finish turns the flags into options.
func (s *fieldFlags) finish(args []string) (err error) {
	s.o.Inputs = args
	s.o.CommandLine = append([]string{"sidelap"}, os.Args[1:]...)
	s.o.Program = programVersion()
	s.o.Now = time.Now()
	if s.storage != "" {
		if s.o.StorageFreeBytes, err = field.ParseBytes(s.storage); err != nil {
			return usagef("--storage-free: %w", err)
		}
	}
	if s.o.HorizontalM, err = parseUnit(s.hUnit); err != nil {
		return usagef("--horizontal-unit: %w", err)
	}
	if s.o.VerticalM, err = parseUnit(s.vUnit); err != nil {
		return usagef("--vertical-unit: %w", err)
	}
	return s.o.Validate()
}

// field checks, writes the folder, and prints the answer.
func (a *app) field(ctx context.Context, s *fieldFlags) error {
	rep, err := a.runField(ctx, s.o)
	if err != nil {
		return err
	}
	warning, err := field.WriteFolder(s.out, rep)
	if err != nil {
		return err
	}
	if warning != "" {
		fmt.Fprintln(a.stderr, "sidelap: "+printable(warning))
	}
	if a.json {
		b, err := field.Marshal(rep)
		if err != nil {
			return err
		}
		if _, err := a.stdout.Write(b); err != nil {
			return err
		}
		return fieldVerdict(rep)
	}
	columns, terminal := isTerminal(a.stdout)
	if !terminal {
		columns = 100
	}
	err = field.WriteText(a.stdout, rep, field.TextOptions{Columns: columns, Bold: terminal && report.UseBold(), Events: s.events,
		Page: filepath.Join(s.out, field.PageName)})
	if err != nil {
		return err
	}
	return fieldVerdict(rep)
}

func (a *app) runField(ctx context.Context, o field.Options) (*field.Report, error) {
	p := a.newProgress()
	defer p.close()
	o.Progress = p.update
	return field.Run(ctx, o)
}

// fieldVerdict turns the answer into the exit code: caution is no failure of the flight, but without the inputs
// of a needed check it is not enough to leave on.
func fieldVerdict(rep *field.Report) error {
	switch {
	case rep.Verdict == fieldcheck.Refly:
		return &verdictError{exitExceeded}
	case !rep.Complete():
		return &verdictError{exitNotJudged}
	}
	return nil
}
