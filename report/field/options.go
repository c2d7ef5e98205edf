package field

import (
	"errors"
	"fmt"
	"math"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"time"

	"sidelap/report/assess"
	"sidelap/trajectory/fieldcheck"
)

// Options says what there is to check. Every input is optional, but one is needed. Start from
// DefaultOptions.
type Options struct {
	Inputs      []string // files and folders of the raw or quick cloud
	HeadersOnly bool     // read no points: only what the headers of the cloud say
	Trajectory  string   // path file, real-time or processed
	Accuracy    string   // its accuracy companion; "" = looked for beside it
	Base        []string // observation logs of the base, several in a row
	NoBase      bool     // flown on a correction service: base checks are not required
	Plan        string   // area and lines: GeoJSON, KML or GeoPackage
	Water       string   // outlines of open water, in the same forms
	WaterSeen   bool     // there is open water on the site: what looks like it in the cloud is taken as it
	BaseMark    string   // mark of the base: E,N,H in the grid and units of the cloud, or a point of CheckPoints
	CheckPoints string   // list of surveyed points
	ColumnOrder string   // column order of that list, as assess.Options
	ListUnit    string   // its unit: m, ift, usft; "" = the cloud's

	SpeedMPS         float64 // as planned, metres a second; 0 = not given, as all below
	HeightM          float64 // as planned, metres above ground
	SidelapPct       float64 // of neighbouring strips that plan or contract ask for
	FixedValue       float64 // in the path file's column of quality, that means a fixed solution
	AntennaHeightM   float64 // of the base above its mark, as measured
	DensityPerM2     float64 // first returns a square metre that the contract asks for
	StillS           float64 // still time wanted before take-off and after landing, seconds
	FieldOfViewDeg   float64 // of the scanner across the flight: sidelap can then be judged without a cloud
	StorageFreeBytes float64 // on the recorder
	PlannedMinutes   float64 // of recording still to come
	StorageRateMBs   float64 // megabytes a second that the recorder writes; 0 = as the files of the cloud tell

	Limits []string // NAME=VALUE, to judge by other numbers than fieldcheck.DefaultLimits

	EPSG        int     // grid of a path without cloud, or of a cloud that states none; 0 = as the cloud says, else the path's UTM zone
	HorizontalM float64 // metres in one horizontal unit of the cloud, where it does not say; 0 = as it says
	VerticalM   float64 // the same for heights
	StripsBy    string  // auto, id, file, time
	Workers     int     // goroutines that read

	CommandLine []string // repeated in the record
	Program     string   // version of the program
	Now         time.Time
	Progress    func(assess.Progress)
}

// DefaultOptions returns the options that the command line starts from.
func DefaultOptions() Options {
	return Options{StripsBy: "auto", Workers: runtime.GOMAXPROCS(0)}
}

// Validate checks what can be checked without reading anything.
func (o *Options) Validate() error {
	if len(o.Inputs) == 0 && o.Trajectory == "" && len(o.Base) == 0 {
		return &assess.SettingsError{Flag: "trajectory", Err: errors.New("nothing to check"), Remedy: "name at least one of a cloud, --trajectory and --base"}
	}
	if o.NoBase && len(o.Base) > 0 {
		return &assess.SettingsError{Flag: "no-base", Err: errors.New("a base log is given too"), Remedy: "leave out one of the two"}
	}
	switch o.StripsBy {
	case "auto", "id", "file", "time":
	default:
		return &assess.SettingsError{Flag: "strips-by", Err: fmt.Errorf("%q is not known", o.StripsBy), Remedy: "use auto, id, file or time"}
	}
	switch strings.ToLower(o.ListUnit) {
	case "", "m", "ift", "usft":
	default:
		return &assess.SettingsError{Flag: "list-unit", Err: fmt.Errorf("%q is not known", o.ListUnit), Remedy: "use m, ift (international foot) or usft (US survey foot)"}
	}
	if o.Workers < 1 || o.Workers > 1024 {
		return &assess.SettingsError{Flag: "workers", Err: fmt.Errorf("%d is outside 1 to 1024", o.Workers)}
	}
	for _, c := range []struct {
		flag, unit   string
		v, low, high float64
	}{
		{"speed", "m/s", o.SpeedMPS, 0.5, 100}, {"height", "m", o.HeightM, 2, 5000}, {"sidelap", "%", o.SidelapPct, 1, 95}, {"antenna-height", "m", o.AntennaHeightM, 0.01, 20}, {"density", "/m²", o.DensityPerM2, 0.01, 1e5},
		{"still", "s", o.StillS, 1, 3600}, {"field-of-view", "degrees", o.FieldOfViewDeg, 1, 160}, {"storage-free", "bytes", o.StorageFreeBytes, 1, 1e18},
		{"planned-minutes", "min", o.PlannedMinutes, 0.1, 6000}, {"storage-rate", "MB/s", o.StorageRateMBs, 0.001, 1e5},
	} {
		if c.v != 0 && !(c.v >= c.low && c.v <= c.high) {
			return &assess.SettingsError{Flag: c.flag, Err: fmt.Errorf("%g %s is outside %g to %g %s", c.v, c.unit, c.low, c.high, c.unit)}
		}
	}
	switch {
	case o.StorageFreeBytes > 0 && o.PlannedMinutes == 0:
		return &assess.SettingsError{Flag: "storage-free", Err: errors.New("it needs the recording still to come"), Remedy: "name it with --planned-minutes"}
	case o.StorageFreeBytes == 0 && (o.PlannedMinutes > 0 || o.StorageRateMBs > 0):
		flag := "planned-minutes"
		if o.PlannedMinutes == 0 {
			flag = "storage-rate"
		}
		return &assess.SettingsError{Flag: flag, Err: errors.New("it needs the free storage of the recorder"), Remedy: "name it with --storage-free"}
	}
	return nil
}

// present names the flag of a file that is not there.
func (o *Options) present() error {
	files := [][2]string{{"trajectory", o.Trajectory}, {"trajectory-accuracy", o.Accuracy}, {"plan", o.Plan}, {"water", o.Water}, {"checkpoints", o.CheckPoints}}
	for _, b := range o.Base {
		files = append(files, [2]string{"base", b})
	}
	return assess.Present(files)
}

// asked lists the limits and figures that were given, for the record.
func (o *Options) asked() string {
	s := slices.Clone(o.Limits)
	for _, x := range []struct {
		name string
		v    float64
	}{{"sidelap", o.SidelapPct}, {"density", o.DensityPerM2}, {"still", o.StillS}, {"speed", o.SpeedMPS}, {"height", o.HeightM}, {"antenna-height", o.AntennaHeightM}, {"fixed-value", o.FixedValue},
		{"field-of-view", o.FieldOfViewDeg}, {"storage-free", o.StorageFreeBytes}, {"planned-minutes", o.PlannedMinutes}, {"storage-rate", o.StorageRateMBs}} {
		if x.v != 0 {
			s = append(s, x.name+"="+strconv.FormatFloat(x.v, 'f', -1, 64))
		}
	}
	return strings.Join(s, ", ")
}

// setLimits puts the numbers of the options into the limits of the checks.
func (o *Options) setLimits(l *fieldcheck.Limits) error {
	for _, s := range o.Limits {
		name, text, ok := strings.Cut(s, "=")
		v, err := strconv.ParseFloat(strings.TrimSpace(text), 64)
		if !ok || err != nil {
			return &assess.SettingsError{Flag: "limit", Err: fmt.Errorf("%q is not NAME=VALUE", s), Remedy: "write it as bank-strip-deg=8"}
		}
		if err := l.Set(strings.TrimSpace(name), v); err != nil {
			return &assess.SettingsError{Flag: "limit", Err: err}
		}
	}
	if o.StillS > 0 {
		l.StillS = o.StillS
	}
	if o.SidelapPct > 0 {
		l.SidelapPct, l.SidelapAsked = o.SidelapPct, true
	}
	if o.DensityPerM2 > 0 {
		l.DensityPerM2 = o.DensityPerM2
	}
	return nil
}

// ParseBytes reads an amount of storage: a number with K, M, G or T (thousands), or with KiB, MiB, GiB
// or TiB (1024), in any case, with or without a B. A number alone is bytes.
func ParseBytes(s string) (float64, error) {
	t := strings.ToUpper(strings.TrimSpace(s))
	number := strings.TrimRight(t, "KMGTIB ")
	unit := strings.TrimSpace(t[len(number):])
	power := map[string]float64{"": 0, "B": 0, "K": 1, "KB": 1, "M": 2, "MB": 2, "G": 3, "GB": 3, "T": 4, "TB": 4}
	base := 1000.0
	if i := strings.TrimSuffix(unit, "IB"); i != unit && i != "" {
		base, unit = 1024, i
	}
	p, known := power[unit]
	v, err := strconv.ParseFloat(number, 64)
	if err != nil || !known || !(v > 0) || math.IsInf(v, 0) {
		return 0, fmt.Errorf("%q is not an amount of storage, such as 12G or 900M", s)
	}
	return v * math.Pow(base, p), nil
}
