package simulate

// Scenario is all that defines an invented survey. The zero value is not
// usable; start from DefaultScenario, FlatScenario, SmallScenario or
// DemoScenario and change what the case needs.
type Scenario struct {
	Seed    uint64  // drives every random number; default 1
	Site    Site    // where and when
	Terrain Terrain // what is measured
	Plan    Plan    // what is flown
	Motion  Motion  // how the aircraft moves along the plan
	Scanner Scanner // what measures
	Process Process // how the path is recorded and processed
	Label   Label   // how the points are labelled
	Survey  Survey  // check and control points
	Base    Base    // base station log
	Faults  Faults  // what goes wrong; zero value: nothing
}

// Site places the survey on the map and in time.
type Site struct {
	Name        string  // invented name
	UTMZone     int     // 1..60, WGS 84
	South       bool    // southern hemisphere
	CentreEM    float64 // easting of the block's centre, m
	CentreNM    float64 // northing of the block's centre, m
	GroundM     float64 // mean height of the ground above the geoid, m
	GeoidM      float64 // geoid height above the ellipsoid at the centre, m
	GeoidSlopeE float64 // change of geoid height per metre east
	GeoidSlopeN float64 // change of geoid height per metre north
	GPSWeek     int     // full GPS week number (no roll-over)
	PowerOnS    float64 // GPS seconds of week when the recording starts
}

// Terrain describes the ground and what stands on it.
type Terrain struct {
	ReliefM           float64   // standard deviation of the natural relief, m; 0 = plane
	WavelengthM       float64   // longest wavelength of the relief, m
	Octaves           int       // each halves the wavelength and the amplitude
	SlopeE, SlopeN    float64   // tilt of the whole site, metres per metre
	Roads             int       // hard roads across the block
	RoadWidthM        float64   // width of a road, m
	Pads              int       // hard, nearly level areas (yards, car parks)
	PadLengthM        float64   // long side of a pad, m; the short side is 0.7 of it
	AllHard           bool      // everything is hard ground (no grass)
	GrassHeightM      float64   // mean height of returns over soil in grass, m
	Houses            int       // number of houses
	HouseAzimuthsDeg  []float64 // grid azimuths of the ridges, used in turn
	HousePitchesDeg   []float64 // roof pitches, used in turn; 0 = flat roof
	HouseLengthM      float64   // along the ridge, m
	HouseWidthM       float64   // across the ridge, m
	EavesM            float64   // height of the eaves above ground, m
	TreesPerHa        float64   // trees in the woods, per hectare of woods
	TreeHeightM       float64   // mean height of trees, m
	Woods             int       // patches of wood
	WoodRadiusM       float64   // mean radius of a patch, m
	ScatteredTrees    int       // single trees over the block
	BrushPerHa        float64   // bushes in the woods and around, per hectare of woods
	WaterRadiusM      float64   // radius of a pond, m; 0 = none
	MarginM           float64   // terrain beyond the outermost beams, m
	CellM             float64   // grid of the relief, m; the surface is bilinear between nodes
	KeepHousesOffTree bool      // no tree crown over a roof
}

// Plan is the flight plan: parallel strips, cross strips, a second block at
// another height, and the alignment manoeuvres around them.
type Plan struct {
	Strips              int       // parallel strips
	StripLengthM        float64   // length of a strip, m
	SpacingM            float64   // distance between neighbouring strips, m
	HeadingDeg          float64   // grid azimuth of the odd strips (1, 3, ...)
	SameDirection       bool      // all strips flown in the same direction
	HeightM             float64   // height above Site.GroundM, m
	SpeedMPS            float64   // speed on strips, m/s
	StripHeightsM       []float64 // heights of single strips (flown order, cross strips too); 0 or missing = HeightM
	StripSpeedsMPS      []float64 // speeds of single strips; 0 or missing = SpeedMPS
	StripOffsetsM       []float64 // sideways displacement of single strips, m, to the right of HeadingDeg
	CrossStrips         int       // strips at right angles, alternating direction
	CrossSpacingM       float64   // distance between cross strips, m
	CrossLengthM        float64   // length of cross strips, m; 0 = the block's width and half a swath
	SecondHeightM       float64   // height of a second block of strips, m; 0 = none
	SecondStrips        int       // strips of the second block, alternating direction
	TurnRadiusM         float64   // radius of turns, m
	TurnSpeedMPS        float64   // speed in turns, m/s
	LeadM               float64   // straight flight before and after each strip, m
	AccelMPS2           float64   // acceleration along the path, m/s2
	ClimbMPS            float64   // rate of climb and descent, m/s
	StillBeforeS        float64   // recording on the ground before take-off, s
	StillAfterS         float64   // recording on the ground after landing, s
	StraightRunM        float64   // straight run after take-off, m; 0 = none
	StraightRunMPS      float64   // its speed, m/s
	FigureEightsBefore  int       // before the first strip
	FigureEightsAfter   int       // after the last strip
	FigureEightRadiusM  float64   // radius of each circle, m
	FollowTerrain       bool      // height kept above the ground under the strip, smoothed, instead of constant
	SpeedChangeStrip    int       // number of the strip (from 1) flown at another speed in its middle third; 0 = none
	SpeedChangeFactor   float64   // that speed over the planned one
	GroundClearanceM    float64   // reference point above ground when landed, m
	HoldBeforeStripsS   float64   // hover before the first strip, s (a battery or operator pause)
	LandBetweenBlocksS  float64   // time on the ground before the second block (battery swap), s; 0 = none
	StripOrderReversed  bool      // fly the parallel strips last to first
	CrossStripsFirst    bool      // fly the cross strips before the parallel ones
	HomeAheadM          float64   // home point: metres along HeadingDeg from the start of strip 1
	HomeRightM          float64   // home point: metres to the right of HeadingDeg from the start of strip 1
	CrossOffsetAlongM   float64   // displacement of the cross strips along HeadingDeg from the centre, m
	ExtendRecordingPast bool      // the laser also records in the turns and manoeuvres (strip number 0)
}

// Motion is how the aircraft departs from the plan.
type Motion struct {
	RollRMSDeg    float64 // roll jitter, degrees RMS
	PitchRMSDeg   float64 // pitch jitter, degrees RMS
	HeadingRMSDeg float64 // heading jitter, degrees RMS
	TrackRMSM     float64 // sideways and along wander, m RMS
	HeightRMSM    float64 // height wander, m RMS
	PitchTrimDeg  float64 // pitch at strip speed (a multirotor flies nose down: negative)
	CrabDeg       float64 // largest crab angle, reached with the wind abeam
	WindFromDeg   float64 // grid azimuth the wind comes from
	Bank          float64 // share of the coordinated bank taken in turns, 0..1
}

// Scanner is a line scanner: a rotating mirror, or an oscillating one.
type Scanner struct {
	PulseRateHz         float64 // pulses per second over the full turn (oscillating: all are used)
	LineRateHz          float64 // scan lines per second
	FieldOfViewDeg      float64 // full angle of the used fan
	RangeNoiseM         float64 // standard deviation of a range, m
	AngleNoiseDeg       float64 // standard deviation of the beam direction, across and along
	BeamDivergenceMrad  float64 // full angle; returns scatter inside the footprint with a quarter of it as sigma; 0 = off
	Oscillating         bool    // alternate scan directions instead of always left to right
	MaxReturns          int     // returns recorded of one pulse, 1..7
	LeverXM             float64 // true lever arm, forward, m
	LeverYM             float64 // true lever arm, right, m
	LeverZM             float64 // true lever arm, down, m
	BoresightRollDeg    float64 // true mounting angles; the used ones are these plus the faults
	BoresightPitchDeg   float64
	BoresightHeadingDeg float64
	DropoutShare        float64 // pulses without any return on land, 0..1
	ReturnSeparationM   float64 // returns of one pulse nearer than this merge, m
}

// Process is how the path is recorded and processed.
type Process struct {
	RateHz                 float64 // poses per second of the path; default 200
	NoiseHorizontalM       float64 // slow random error of the used path, m (standard deviation)
	NoiseVerticalM         float64 // the same in height, m
	NoiseRollPitchDeg      float64 // the same in roll and pitch
	NoiseHeadingDeg        float64 // the same in heading
	NoiseCorrelationS      float64 // correlation time of these errors, s
	StatedHorizontalM      float64 // sigma written to the accuracy file, m
	StatedVerticalM        float64
	StatedRollPitchDeg     float64
	StatedHeadingDeg       float64 // after alignment; before it the file states more
	WanderDeg              float64 // wander angle written to the path file (platform heading = true heading + wander)
	MapScale               bool    // grid vectors stretched by the point scale, as a real survey's are; false: equation (1) as it stands
	StatedHeadingUnaligned float64 // stated heading sigma at power-on, degrees
}

// SourceIDs says how point source IDs are set.
type SourceIDs int

// The ways to set point source IDs.
const (
	SourceStrip SourceIDs = iota // one for each strip, from Label.FirstID
	SourceZero                   // all zero
	SourceOne                    // all FirstID
)

// TimeBase says how GPS time is stored in the cloud.
type TimeBase int

// The time bases of LAS.
const (
	TimeAdjusted TimeBase = iota // adjusted standard GPS time: GPS seconds minus 1e9
	TimeWeek                     // GPS seconds of week
)

// Label is how the points are labelled.
type Label struct {
	SourceIDs    SourceIDs
	FirstID      uint16 // ID of the first strip
	Unclassified bool   // all points class 1; else 2 ground, 3-5 vegetation, 6 building, 9 water
	Time         TimeBase
}

// Survey is the ground survey of check and control points.
type Survey struct {
	OpenPoints      int     // check points on hard, nearly level ground
	VegetatedPoints int     // check points in grass, brush and under trees
	ControlPoints   int     // control points on hard ground
	SigmaHM         float64 // horizontal survey noise per axis, m
	SigmaVM         float64 // vertical survey noise, m
	SeparationM     float64 // least distance between points, m
	TargetRadiusM   float64 // radius of a bright disc painted at each hard check and control point, m; 0 = none
	Blunders        []Blunder
}

// Base is the base station and its log.
type Base struct {
	Marker            string
	DistanceM         float64 // from the block's centre, m
	AzimuthDeg        float64
	AntennaHeightM    float64 // ARP above the mark, m
	IntervalS         float64 // between epochs, s
	LeadS             float64 // log starts this long before power-on, s; negative: late
	TrailS            float64 // log ends this long after power-off, s; negative: early
	Gaps              []Gap   // pauses of the log, seconds from power-on
	MinElevationDeg   float64
	HeaderIntervalS   float64 // INTERVAL in the header; 0 = the true one
	ApproxPositionOff float64 // error of APPROX POSITION XYZ, m
}

// Gap is a pause.
type Gap struct {
	StartS    float64 // from power-on (Base) or from the start of the strip (StripFault), s
	DurationS float64 // s
}
