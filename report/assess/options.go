// Package assess does the main job: it reads a cloud once, measures strips, overlaps, coverage
// and the differences to check points, looks for causes, and fills one report.Record.
//
// The stages and the packages that do the work are in docs/architecture.md. This
// package decides their order and turns their results into the record; it prints
// nothing and writes no file. It knows nothing of the field checks before leaving the
// site (trajectory/fieldcheck) and does not move points (adjust).
package assess

import (
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"runtime"
	"strings"
	"time"

	"sidelap/control"
)

// DefaultLimits is the limit set that is used when none is named: it is printed as a
// default, not as the client's limit.
const DefaultLimits = "asprs-ed2:10"

// Options says what to assess and how. Start from DefaultOptions.
type Options struct {
	Inputs        []string   // files and folders with the cloud
	Trajectory    string     // path file; "" = none
	Accuracy      string     // accuracy companion of the path file; "" = none, or found beside it
	CheckPoints   string     // list of check points: never fitted to; "" = none
	Control       string     // list of control points; "" = none
	ColumnOrder   string     // order of the columns of plain lists, such as "penzd"; "" = decided by data
	ListUnit      string     // "m", "ift", "usft" of the lists' coordinates; "" = the cloud's
	SurveySDm     float64    // standard deviation of the check points' heights in metres; 0 = as in the list, or unknown
	LeverM        [3]float64 // trajectory point to scanner in body axes (forward, right, down), metres
	LeverGiven    bool
	GeoidM        float64    // geoid separation at the site, h - H, metres; 0 = unknown
	PolesM        []float64  // rover poles on the field sheet, metres
	GeoidFile     string     // grid of geoid separations (GTX, GeoTIFF); "" = none
	BaseMark      [3]float64 // base mark in the cloud's coordinates and units; with BaseMarkGiven
	BaseMarkGiven bool
	FlightDate    time.Time             // zero: by the points' GPS time, if that tells
	Target        control.TargetOptions // shape of the targets in the list; SizeM 0 = none given
	Base          string                // base station log (RINEX); "" = none
	Limits        string                // built-in name or TOML file; "" = DefaultLimits
	CellM         float64
	StripsBy      string   // auto, id, file, time
	Classes       []uint8  // classes that make facets; nil = decided by the data
	HorizontalM   float64  // metres in one horizontal unit, to override the files' CRS; 0 = as the files say
	VerticalM     float64  // the same for heights
	Workers       int      // goroutines that read
	MemoryBytes   int64    // memory to aim at: sums of cells beyond their share go to temporary files; 0 = no bound
	CommandLine   []string // repeated in the record
	Program       string   // version of the program
	Now           time.Time
	Salvage       bool // go on behind damage in the files, and say what is lost
	SkipCauses    bool // leave the diagnosis out
	Intensity     bool // gather intensities for the swath separation image
	OnlyStrips    bool // stop after the strips
	OnlyChecks    bool // only the comparison with check points
	Progress      func(Progress)
	sumsBytes     int64 // budget of the sums in tests
}

// DefaultOptions returns the options that the command line starts from.
func DefaultOptions() Options {
	return Options{StripsBy: "auto", Limits: "", Workers: runtime.GOMAXPROCS(0), MemoryBytes: DefaultMemory}
}

// SettingsError says that an option has a value that cannot be used.
type SettingsError struct {
	Flag   string
	Err    error
	Remedy string
}

func (e *SettingsError) Error() string {
	s := "--" + e.Flag + ": " + e.Err.Error()
	if e.Remedy != "" {
		s += "; " + e.Remedy
	}
	return s
}

func (e *SettingsError) Unwrap() error { return e.Err }

// NoDataError says that the inputs were read but hold nothing that could be judged.
type NoDataError struct{ Err error }

func (e *NoDataError) Error() string { return e.Err.Error() }
func (e *NoDataError) Unwrap() error { return e.Err }

// Validate checks the options that can be checked without reading anything.
func (o *Options) Validate() error {
	if len(o.Inputs) == 0 {
		return &SettingsError{Flag: "", Err: fmt.Errorf("no input named"), Remedy: "name the files or the folder of the cloud"}
	}
	switch o.StripsBy {
	case "auto", "id", "file", "time":
	default:
		return &SettingsError{Flag: "strips-by", Err: fmt.Errorf("%q is not known", o.StripsBy), Remedy: "use auto, id, file or time"}
	}
	if o.CellM != 0 && (o.CellM < 0.1 || o.CellM > 100) {
		return &SettingsError{Flag: "cell", Err: fmt.Errorf("%g m is outside 0.1 to 100 m", o.CellM), Remedy: "leave it out to let the density decide"}
	}
	if o.Workers < 1 || o.Workers > 1024 {
		return &SettingsError{Flag: "workers", Err: fmt.Errorf("%d is outside 1 to 1024", o.Workers)}
	}
	if err := o.validateMemory(); err != nil {
		return err
	}
	if o.SurveySDm < 0 || o.SurveySDm > 1 {
		return &SettingsError{Flag: "survey-sd", Err: fmt.Errorf("%g m is outside 0 to 1 m", o.SurveySDm)}
	}
	if math.IsNaN(o.GeoidM) || math.Abs(o.GeoidM) > 120 {
		return &SettingsError{Flag: "geoid", Err: fmt.Errorf("%g m is no geoid separation; they lie between -107 and 86 m", o.GeoidM)}
	}
	for _, p := range o.PolesM {
		if !(p > 0 && p <= 10) {
			return &SettingsError{Flag: "poles", Err: fmt.Errorf("%g m is no pole height", p), Remedy: "give heights in metres, such as 1.8,2.0"}
		}
	}
	switch strings.ToLower(o.ListUnit) {
	case "", "m", "ift", "usft":
	default:
		return &SettingsError{Flag: "list-unit", Err: fmt.Errorf("%q is not known", o.ListUnit), Remedy: "use m, ift (international foot) or usft (US survey foot)"}
	}
	return o.present()
}

// present names the flag of a file that is not there.
func (o *Options) present() error {
	if o.GeoidFile != "" {
		if _, err := os.Stat(o.GeoidFile); errors.Is(err, fs.ErrNotExist) {
			return &SettingsError{Flag: "geoid", Err: fmt.Errorf("%q is neither a number of metres nor a file that is there", o.GeoidFile), Remedy: "give a grid (GTX, GeoTIFF), or the separation in metres such as 46.2"}
		}
	}
	return Present([][2]string{{"trajectory", o.Trajectory}, {"trajectory-accuracy", o.Accuracy}, {"checkpoints", o.CheckPoints}, {"control", o.Control}, {"base", o.Base}})
}

// Present returns an *InputError that names the flag of the first of the files, pairs of flag and path, that is not there. An empty path is none.
func Present(files [][2]string) error {
	for _, f := range files {
		if f[1] == "" {
			continue
		}
		if _, err := os.Stat(f[1]); errors.Is(err, fs.ErrNotExist) {
			return &InputError{Path: f[1], Err: errors.New("no such file, named with --" + f[0]), Remedy: "check the name"}
		}
	}
	return nil
}
