package control

import "fmt"

// ListOptions controls ReadList. The zero value reads a list as it says itself.
type ListOptions struct {
	// Columns gives the order of the columns, a letter each: P point name, N northing, E easting,
	// Z height, D code or description, - anything else. Lower case x, y are E, N. "PNEZD", "ENZ",
	// "P--ENZ". Empty: headings, else the cloud's extent decides.
	Columns string
	// Unit of easting and northing: "m", "ft" (international), "usft", or empty: what the list or its
	// header line says, else metres, and a warning that says so.
	Unit string
	// HeightUnit is the unit of the heights; empty: as Unit.
	HeightUnit string
	// Extent of the cloud in metres; the zero box means unknown.
	Extent Box
	// Project turns latitude and longitude in radians into the cloud's easting and northing
	// in metres. Nil: a list in degrees is refused.
	Project func(latRad, lonRad float64) (eM, nM float64, err error)
	// HeaderUnitM tells the metres in one unit of a CRS named in a header line. Nil, or false: PROJ strings
	// and EPSG codes known to las/crs are read by ReadList itself, others ask for Unit.
	HeaderUnitM func(header string) (unitM float64, ok bool)
}

// Delimiters as List.Delimiter names them.
const (
	DelimiterComma     = "comma"
	DelimiterSemicolon = "semicolon"
	DelimiterTab       = "tab"
	DelimiterBlank     = "blank"
)

// List is a point list as read, with the choices made on the way.
type List struct {
	Path         string
	Points       []Point
	Choice       string // how the columns were understood and the first row as read, for the user to check
	Columns      string // order of the columns in the letters of ListOptions.Columns
	ColumnsFrom  string // headings, option, extent, header line
	Delimiter    string
	DecimalComma bool
	Unit         string  // of easting and northing: m, ft, usft or degree
	UnitM        float64 // metres in it; 0 for degrees
	HeightUnit   string
	Ellipsoidal  bool   // the heading of the heights says so
	UnitFrom     string // option, headings, header line, assumed
	HeaderLine   string // CRS line at the top, as read; empty without
	HeaderEPSG   int    // EPSG code in it, of a compound system that of its horizontal part; 0 without
	HeaderZone   int    // UTM zone in it, 0 without
	HeaderSouth  bool   // southern hemisphere of that zone
	// HeaderAnyHemisphere: the zone is named without its hemisphere.
	HeaderAnyHemisphere bool
	Geodetic            bool // latitudes and longitudes, projected by ListOptions.Project
	Warnings            []string
	Refused             []RefusedRow // rows that are no point, each with the reason
}

// RefusedRow is a line of a list that could not be read as a point.
type RefusedRow struct {
	Row    int
	Text   string
	Reason string
}

// AmbiguousError says that a list can be read in more than one way and that nothing in it decides.
// The user has to answer; nothing is guessed.
type AmbiguousError struct {
	Path     string
	Question string
	Readings []Reading
	Remedy   string
}

// Reading is one way to read a list: the order of columns and the first row read so.
type Reading struct {
	Columns  string
	FirstRow string
}

// Error implements error.
func (e *AmbiguousError) Error() string {
	s := e.Path + ": " + e.Question
	for _, r := range e.Readings {
		s += "\n  " + r.Columns + ": " + r.FirstRow
	}
	return s + "\n" + e.Remedy
}

// ListError says what in a list is wrong and what to do.
type ListError struct {
	Path   string
	Row    int // line, 0 = the file as a whole
	Err    error
	Remedy string
}

// Error implements error.
func (e *ListError) Error() string {
	s := e.Path + ": "
	if e.Row > 0 {
		s += fmt.Sprintf("line %d: ", e.Row)
	}
	s += e.Err.Error()
	if e.Remedy != "" {
		s += "; " + e.Remedy
	}
	return s
}

// Unwrap returns the cause.
func (e *ListError) Unwrap() error { return e.Err }
