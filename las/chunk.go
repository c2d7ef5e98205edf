package las

// Columns says which columns of a Chunk the caller needs. A reader fills those
// and leaves the others empty; for layered LAZ it does not even decode them.
// X, Y and Z are always filled.
type Columns uint32

// The columns of a Chunk.
const (
	ColIntensity Columns = 1 << iota
	ColReturn            // ReturnNumber and NumReturns
	ColFlags             // Flags
	ColChannel           // Channel
	ColClass             // Class
	ColScanAngle         // ScanAngle
	ColUserData          // UserData
	ColSource            // Source
	ColGPSTime           // GPSTime
	ColRGB               // Red, Green, Blue
	ColNIR               // NIR
	ColRecord            // Record: the whole stored records, with extra bytes and wave packets
)

// ColAll asks for every column.
const ColAll = ColIntensity | ColReturn | ColFlags | ColChannel | ColClass | ColScanAngle |
	ColUserData | ColSource | ColGPSTime | ColRGB | ColNIR | ColRecord

// Bits of Chunk.Flags, the same for all point formats.
const (
	FlagSynthetic uint8 = 1 << iota
	FlagKeyPoint
	FlagWithheld
	FlagOverlap // formats 6-10: the flag; formats 0-5: class 12
	FlagScanDirection
	FlagEdge
)

// ScanAngleStepDeg is the unit of Chunk.ScanAngle in degrees.
//
// Source: LAS 1.4, point data record format 6, scan angle.
const ScanAngleStepDeg = 0.006

// MaxChunk is the largest number of points a reader puts into one Chunk. It keeps the
// columns of a chunk inside the second-level cache.
const MaxChunk = 8192

// Chunk holds consecutive points of one file as columns. All columns that were
// asked for have length N, the others length 0.
//
// A chunk is reused by the reader: it and its slices are valid until the next
// step of the loop that delivered it, so copy what must outlive it.
type Chunk struct {
	Frame *Frame // how X, Y, Z become metres; shared by all chunks of a file
	First int64  // index in the file of the chunk's first point, from 0
	N     int    // number of points, 1..MaxChunk

	X, Y, Z      []int32  // stored integers
	Intensity    []uint16 // as stored
	ReturnNumber []uint8  // as stored, 1 = first; 0 occurs in real files
	NumReturns   []uint8  // as stored; 0 occurs in real files
	Flags        []uint8  // bits FlagSynthetic ... FlagEdge
	Channel      []uint8  // scanner channel 0..3; 0 for formats 0-5
	Class        []uint8  // 0..31 for formats 0-5 (flags removed), 0..255 for 6-10
	ScanAngle    []int16  // steps of ScanAngleStepDeg, positive to the right of flight, both families of formats
	UserData     []uint8
	Source       []uint16  // point source ID
	GPSTime      []float64 // seconds as stored (week seconds or adjusted standard); 0 for formats without time
	Red          []uint16
	Green        []uint16
	Blue         []uint16
	NIR          []uint16
	Record       []byte // N records of the file's record length
}

// Frame turns the stored integers of a file into coordinates.
type Frame struct {
	Scale, Offset [3]float64 // coordinate = stored*Scale + Offset, in the file's units
	HorizontalM   float64    // metres in one horizontal unit of the file (1, 0.3048, 1200/3937, ...)
	VerticalM     float64    // metres in one vertical unit of the file
}

// XM returns the easting in metres of the stored integer v.
func (f *Frame) XM(v int32) float64 { return (float64(v)*f.Scale[0] + f.Offset[0]) * f.HorizontalM }

// YM returns the northing in metres of the stored integer v.
func (f *Frame) YM(v int32) float64 { return (float64(v)*f.Scale[1] + f.Offset[1]) * f.HorizontalM }

// ZM returns the height in metres of the stored integer v.
func (f *Frame) ZM(v int32) float64 { return (float64(v)*f.Scale[2] + f.Offset[2]) * f.VerticalM }
