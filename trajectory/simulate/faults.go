package simulate

// Faults is what goes wrong, used minus true. The zero value is a clean flight.
//
// Signs and effects: shared names with docs/simulator.md, which has a row for
// each field with its first-order effect on a strip.
type Faults struct {
	BoresightRollDeg    float64 // used boresight roll minus true
	BoresightPitchDeg   float64
	BoresightHeadingDeg float64
	ScanAngleScale      float64 // used angle = true angle (1 + ScanAngleScale)
	RangeOffsetM        float64 // used range minus true
	RangeScale          float64 // used range = true range (1 + RangeScale)
	LeverXM             float64 // used lever arm minus true, forward
	LeverYM             float64 // right
	LeverZM             float64 // down
	TimeOffsetS         float64 // the pose is taken at t + TimeOffsetS; the points carry that time too
	TimeLabelS          float64 // added to the points' time after georeferencing, e.g. -18 for UTC
	TimeMislabelled     bool    // global encoding says the other time base than the points carry
	DatumEM             float64 // shift of the whole path and cloud (base coordinates)
	DatumNM             float64
	DatumHeightM        float64
	GeoidNotApplied     bool // cloud heights are ellipsoidal
	GeoidWrongSign      bool // cloud heights are h + N instead of h - N

	// Faults of the path file alone; the cloud was made with the right path.
	PathTimeLabelS        float64 // added to the times of the path and accuracy files, e.g. -18 for UTC
	PathHeightsAboveGeoid bool    // the height column holds heights above the geoid instead of the ellipsoid
	PathHeadingIsTrue     bool    // the heading column holds true heading although the wander angle is not 0

	Strips  []StripFault // by strip; several entries of one strip add
	Holes   []Hole       // areas without returns
	Missing []int        // strips (numbers from 1) flown but lost

	// HeadingUnalignedDeg is the heading error at take-off of an inertial system that was not
	// aligned; it decays with the amount of turning and with time.
	HeadingUnalignedDeg float64
}

// StripFault is a fault of one strip of the processed path (positions and
// attitude, used minus true) or of its recording.
type StripFault struct {
	Strip    int // number of the strip in flown order, from 1
	EastM    float64
	NorthM   float64
	HeightM  float64
	DriftE   Drift // metres
	DriftN   Drift // metres
	DriftH   Drift // metres
	Roll     Drift // degrees
	Pitch    Drift // degrees
	Heading  Drift // degrees
	Gaps     []Gap // pauses of the laser, seconds from the start of the strip
	KeepFrom float64
	KeepTo   float64 // the strip is clipped to [KeepFrom, KeepTo] of its length; 0, 0 = all
}

// DriftShape is the course of a drift over a strip.
type DriftShape int

// The shapes of a Drift of size A over a strip, u = 0 at its start, 1 at its end.
const (
	DriftNone   DriftShape = iota
	DriftLinear            // A (u - 1/2): from -A/2 to +A/2
	DriftWave              // A sin(2 pi t / PeriodS)
	DriftStep              // 0 before u = At, A after
	DriftSpline            // smooth random curve of standard deviation A, knots PeriodS apart
)

// Drift is an error that changes along a strip, used minus true.
type Drift struct {
	Shape   DriftShape
	Size    float64 // A, in the unit of the field that holds it
	PeriodS float64 // period of a wave, knot spacing of a spline, s
	At      float64 // where a step lies, 0..1
}

// Hole is a disc on the ground without returns (shadow, drop-out, cut-out).
type Hole struct {
	EastM   float64 // from the block's centre, m
	NorthM  float64 // from the block's centre, m
	RadiusM float64
}

// BlunderKind is a gross error of the check point list.
type BlunderKind int

// The blunders that a list can hold. The ids B1..B15 of docs/blunders.md are in the comments.
const (
	BlunderNone         BlunderKind = iota
	BlunderConstant                 // B9: Value metres added to the given heights
	BlunderGeoid                    // B1: given heights are ellipsoidal (Value ignored)
	BlunderSwapEN                   // B3: easting and northing exchanged
	BlunderPole                     // B6: pole entered Value metres too long (heights too low by it)
	BlunderTranspose                // B14: two digits of the height of one point exchanged
	BlunderDigit                    // B14: one digit of the height of one point wrong by one (Value = power of ten)
	BlunderFeetHeights              // B2v: heights in feet (Value metres per foot; 0 = 0.3048)
	BlunderFeetAll                  // B2h: all coordinates in feet
	BlunderZone                     // B4: coordinates of the neighbouring UTM zone
	BlunderWrongFoot                // B5: coordinates converted with the other foot (2 ppm)
	BlunderTilt                     // B10: plane of Value metres per metre to the east, zero at the mean
	BlunderScale                    // B11: horizontal scale 1 + Value about the mean point
	BlunderVegetation               // B12: one point called hard was shot in vegetation, Value metres below the litter
	BlunderEdge                     // B13: one point displaced by Value metres horizontally
	BlunderControlReuse             // B15: the control points stand in the check list too
	BlunderShift                    // B7/B8: horizontal shift Value metres to the east and half of it to the north
)

// Blunder is a gross error of the list of check points.
type Blunder struct {
	Kind  BlunderKind
	Value float64 // meaning depends on Kind
	Point int     // index of the point for kinds that hit one point
}
