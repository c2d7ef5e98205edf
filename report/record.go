package report

// SchemaVersion is the version of the results record that this package writes.
// Fields are added under the same major number and never renamed.
const SchemaVersion = "1.0"

// Record is the results record: one assessment, everything that is reported
// about it. Its JSON form is results.json; report/schema describes it.
//
// Pointers are nil (null) when a value was not determined. Sections that were
// not part of the run are nil: without check points Checkpoints is nil.
// Slices keep the order in which they are to be shown.
type Record struct {
	SchemaVersion string         `json:"schema_version"`
	Program       Program        `json:"program"`
	CommandLine   []string       `json:"command_line"`
	CreatedUTC    Text           `json:"created_utc"` // RFC 3339; the only value that differs between equal runs; null to leave it out
	Project       *Project       `json:"project"`
	Inputs        []Input        `json:"inputs"`
	Options       Options        `json:"options"`
	CRS           CRS            `json:"crs"`
	Reference     Reference      `json:"reference"`
	StripsBy      StripsBy       `json:"strips_by"`
	Strips        []Strip        `json:"strips"`
	Pairs         []Pair         `json:"pairs"`
	Loops         []Loop         `json:"loops"`
	Separation    *Separation    `json:"separation"`
	Repeatability *Repeatability `json:"repeatability"`
	Coverage      *Coverage      `json:"coverage"`
	Checkpoints   *Checkpoints   `json:"checkpoints"`
	Path          *Path          `json:"path"`
	Causes        []Cause        `json:"causes"`
	Findings      []Finding      `json:"findings"`
	Correction    *Correction    `json:"correction"`
	Field         *Field         `json:"field"`
	Verdict       Verdict        `json:"verdict"`
	Warnings      []string       `json:"warnings"`
	Rasters       []Raster       `json:"rasters"`
}

// Program names what wrote the record.
type Program struct {
	Name    string `json:"name"`
	Version string `json:"version"`
	Go      string `json:"go,omitempty"` // toolchain, as runtime.Version
}

// Project is what the firm says about the job, from a settings file. It is
// repeated in the reports and used in no computation.
type Project struct {
	Name       Text   `json:"name" toml:"name"`
	Number     Text   `json:"number" toml:"number"`
	Client     Text   `json:"client" toml:"client"`
	Site       Text   `json:"site" toml:"site"`
	Firm       Text   `json:"firm" toml:"firm"`
	Address    []Text `json:"address,omitempty" toml:"address"`
	FlightDate Text   `json:"flight_date" toml:"flight_date"`
	Sensor     Text   `json:"sensor" toml:"sensor"`
	Aircraft   Text   `json:"aircraft" toml:"aircraft"`
	Conditions Text   `json:"conditions" toml:"conditions"`
	Notes      []Text `json:"notes,omitempty" toml:"notes"`
}

// Input is one file of points that was read.
type Input struct {
	Path         string   `json:"path"`
	SHA256       Text     `json:"sha256"`
	Bytes        int64    `json:"bytes"`
	Points       int64    `json:"points"` // present, not claimed by the header
	Format       int      `json:"format"` // point data record format 0-10
	Version      string   `json:"version"`
	Compressed   bool     `json:"compressed"`
	TimeEncoding Text     `json:"time_encoding"` // "adjusted", "week", or null without time
	StartGPSS    *float64 `json:"start_gps_s"`
	EndGPSS      *float64 `json:"end_gps_s"`
	Software     Text     `json:"software"`              // generating software of the header
	Damaged      bool     `json:"damaged,omitempty"`     // read with --salvage, past damage
	PointsLost   *int64   `json:"points_lost,omitempty"` // announced by header and chunks, lost to damage
	Warnings     []string `json:"warnings,omitempty"`
}

// Options are the settings that the figures depend on.
type Options struct {
	CellM            *float64 `json:"cell_m"`
	CellWhy          Text     `json:"cell_why"` // given, or chosen from the density
	Classes          []int    `json:"classes"`  // classes compared between strips; empty: all but noise
	StripsBy         string   `json:"strips_by"`
	MinPoints        *int64   `json:"min_points"`    // returns of each strip that a cell needs
	MaxSlopeDeg      *float64 `json:"max_slope_deg"` // steeper cells are flagged
	MaxRoughM        *float64 `json:"max_rough_m"`   // rougher cells are flagged
	Limits           Text     `json:"limits"`        // name or file of the set of limits
	TrajectoryFile   Text     `json:"trajectory_file"`
	CheckpointsFile  Text     `json:"checkpoints_file"`
	CheckpointRadius *float64 `json:"checkpoint_radius_m"`
	LeverM           *Vector  `json:"lever_m"` // trajectory point to scanner, body axes
}

// Vector is three lengths in metres.
type Vector struct {
	XM float64 `json:"x_m"`
	YM float64 `json:"y_m"`
	ZM float64 `json:"z_m"`
}

// CRS says in which coordinates the files are. Unit names keep the kind of foot.
type CRS struct {
	Name                 Text     `json:"name"`
	Horizontal           Text     `json:"horizontal"`
	Vertical             Text     `json:"vertical"`
	HorizontalEPSG       *int64   `json:"horizontal_epsg"`
	VerticalEPSG         *int64   `json:"vertical_epsg"`
	HorizontalUnit       Text     `json:"horizontal_unit"` // "metre", "international foot", "US survey foot"
	VerticalUnit         Text     `json:"vertical_unit"`
	HorizontalUnitM      *float64 `json:"horizontal_unit_m"` // metres in one unit
	VerticalUnitM        *float64 `json:"vertical_unit_m"`
	HorizontalUnitStated bool     `json:"horizontal_unit_stated"` // false: assumed by the program
	VerticalUnitStated   bool     `json:"vertical_unit_stated"`
	WKT                  Text     `json:"wkt"`
	Notes                []string `json:"notes,omitempty"`
}

// Reference is the rest of the reference box: what is known about datum, geoid,
// base and check points. Text that nobody gave is null and shown as "unknown".
type Reference struct {
	VerticalDatum         Text     `json:"vertical_datum"`
	Geoid                 Text     `json:"geoid"`
	Epoch                 Text     `json:"epoch"`
	BaseMark              Text     `json:"base_mark"`
	BaseMarkSource        Text     `json:"base_mark_source"`
	AntennaHeightM        *float64 `json:"antenna_height_m"`
	AntennaHeightMethod   Text     `json:"antenna_height_method"` // vertical or slant, to which reference point
	CheckpointSource      Text     `json:"checkpoint_source"`     // base, network, level, total-station
	CheckpointIndependent *bool    `json:"checkpoint_independent"`
}

// StripsBy says how points were assigned to strips, and why so.
type StripsBy struct {
	Mode string `json:"mode"` // id, file, time
	Why  string `json:"why"`
}

// Strip is one pass of the aircraft.
type Strip struct {
	ID                 string   `json:"id"`
	Source             string   `json:"source"` // point source ID, file or span of time the strip was made from
	Points             int64    `json:"points"`
	FirstReturns       *int64   `json:"first_returns"`
	StartGPSS          *float64 `json:"start_gps_s"`
	EndGPSS            *float64 `json:"end_gps_s"`
	HeadingDeg         *float64 `json:"heading_deg"` // course over ground from grid north, clockwise, 0..360
	LengthM            *float64 `json:"length_m"`
	WidthM             *float64 `json:"width_m"`
	AreaM2             *float64 `json:"area_m2"`
	SpeedMPS           *float64 `json:"speed_mps"`
	HeightAboveGroundM *float64 `json:"height_above_ground_m"`
	DensityPerM2       *float64 `json:"first_return_density_per_m2"`
	DensityP5PerM2     *float64 `json:"first_return_density_p5_per_m2"`
	RoughnessM         *float64 `json:"roughness_m"` // rms plane residual inside the strip on smooth cells
	Notes              []string `json:"notes,omitempty"`
}

// Path says where the sensor's position and attitude come from.
type Path struct {
	Source     string   `json:"source"` // file, recovered, none
	File       Text     `json:"file"`
	Epochs     *int64   `json:"epochs"`
	RateHz     *float64 `json:"rate_hz"`
	StartGPSS  *float64 `json:"start_gps_s"`
	EndGPSS    *float64 `json:"end_gps_s"`
	CoveredPct *float64 `json:"covered_pct"` // share of the points' time that the path covers
	Attitude   bool     `json:"attitude"`
	SigmaM     *float64 `json:"sigma_m"` // of a recovered position
	Notes      []string `json:"notes,omitempty"`
}

// Raster is one raster of the results folder.
type Raster struct {
	Path   string   `json:"path"` // relative to the folder, with slashes
	Kind   string   `json:"kind"` // separation, separation_before, separation_pair, flags_pair, density, strips, relief, used, used_before, intensity, swath_image
	A      Text     `json:"a"`    // strips of a separation_pair
	B      Text     `json:"b"`
	Unit   string   `json:"unit"` // "m", "1/m2", "1"
	CellM  float64  `json:"cell_m"`
	Cols   int64    `json:"cols"`
	Rows   int64    `json:"rows"`
	Min    *float64 `json:"min"` // in Unit, of the cells with a value
	Max    *float64 `json:"max"`
	Cells  int64    `json:"cells"` // with a value
	SHA256 Text     `json:"sha256"`
}
