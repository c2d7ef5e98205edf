package simulate

import (
	"iter"
	"math"

	"sidelap/las"
)

// Units are the length units of a cloud, metres in one unit.
type Units struct{ HorizontalM, VerticalM float64 }

// The units of length in use. Source: EPSG units 9001, 9002 and 9003.
const (
	MetreM             = 1.0
	InternationalFootM = 0.3048
	USSurveyFootM      = 1200.0 / 3937.0
)

// Metres are the units of a metric cloud.
var Metres = Units{MetreM, MetreM}

// TrueColumns holds, beside a chunk, what the simulator knows about each of its points.
type TrueColumns struct {
	Strip      int       // number of the strip, 0 in turns
	TimeS      []float64 // true GPS seconds of week
	EM, NM, HM []float64 // where the return came from, map metres, height above the geoid
	Cover      []Cover   // what returned it
	RangeM     []float64 // range as measured (used)
	AngleRad   []float64 // mirror angle as used, right positive
}

// StripChunks streams the points of strip index i (Strips[i]) as metric chunks
// with all columns but Record, in time order. The chunk is reused.
func (f *Flight) StripChunks(i int) iter.Seq[*las.Chunk] { return f.StripChunksIn(i, Metres) }

// StripChunksIn is StripChunks with coordinates in other units.
func (f *Flight) StripChunksIn(i int, u Units) iter.Seq[*las.Chunk] {
	return f.chunksOnly(&f.Strips[i], u)
}

// TurnChunks streams the points recorded between strips, index i of Turns.
func (f *Flight) TurnChunks(i int, u Units) iter.Seq[*las.Chunk] { return f.chunksOnly(&f.Turns[i], u) }

func (f *Flight) chunksOnly(st *Strip, u Units) iter.Seq[*las.Chunk] {
	return func(yield func(*las.Chunk) bool) {
		for c := range f.chunks(st, u) {
			if !yield(c) {
				return
			}
		}
	}
}

// StripChunksWithTruth streams the points of Strips[i] beside their truth. Both are reused.
func (f *Flight) StripChunksWithTruth(i int) iter.Seq2[*las.Chunk, *TrueColumns] {
	return f.chunks(&f.Strips[i], Metres)
}

// Chunks streams all strips in flown order as metric chunks; the chunk's First counts over all.
func (f *Flight) Chunks() iter.Seq[*las.Chunk] {
	return func(yield func(*las.Chunk) bool) {
		var n int64
		for i := range f.Strips {
			for c := range f.StripChunks(i) {
				c.First = n
				n += int64(c.N)
				if !yield(c) {
					return
				}
			}
		}
	}
}

// Frame returns the coordinate frame of a cloud of these units: millimetre or
// 0.001 foot steps about an offset in round thousands.
func (f *Flight) Frame(u Units) *las.Frame {
	s := &f.Scenario.Site
	round := func(v float64) float64 { return math.Floor(v/1000) * 1000 }
	return &las.Frame{
		Scale:       [3]float64{0.001, 0.001, 0.001},
		Offset:      [3]float64{round(s.CentreEM / u.HorizontalM), round(s.CentreNM / u.HorizontalM), 0},
		HorizontalM: u.HorizontalM, VerticalM: u.VerticalM,
	}
}

func (f *Flight) chunks(st *Strip, u Units) iter.Seq2[*las.Chunk, *TrueColumns] {
	return func(yield func(*las.Chunk, *TrueColumns) bool) {
		c := newChunk(f.Frame(u))
		tr := newTrueColumns(st.Number)
		f.scan(st, func(b *batch) bool {
			f.fill(c, tr, b, st)
			ok := yield(c, tr)
			c.First += int64(c.N)
			return ok
		})
	}
}

func newChunk(frame *las.Frame) *las.Chunk {
	const n = las.MaxChunk
	return &las.Chunk{
		Frame: frame, X: make([]int32, n), Y: make([]int32, n), Z: make([]int32, n),
		Intensity: make([]uint16, n), ReturnNumber: make([]uint8, n), NumReturns: make([]uint8, n),
		Flags: make([]uint8, n), Channel: make([]uint8, n), Class: make([]uint8, n), ScanAngle: make([]int16, n),
		UserData: make([]uint8, n), Source: make([]uint16, n), GPSTime: make([]float64, n),
	}
}

func newTrueColumns(strip int) *TrueColumns {
	const n = las.MaxChunk
	return &TrueColumns{Strip: strip, TimeS: make([]float64, n), EM: make([]float64, n), NM: make([]float64, n), HM: make([]float64, n),
		Cover: make([]Cover, n), RangeM: make([]float64, n), AngleRad: make([]float64, n)}
}

// fill turns a batch into the columns of a chunk and its truth.
func (f *Flight) fill(c *las.Chunk, tr *TrueColumns, b *batch, st *Strip) {
	s := &f.Scenario
	resize(c, tr, b.n)
	id := s.Label.FirstID
	switch s.Label.SourceIDs {
	case SourceStrip:
		id = st.ID
	case SourceZero:
		id = 0
	}
	fr := c.Frame
	var inv [3]float64
	for i := range inv {
		inv[i] = 1 / fr.Scale[i]
	}
	geoid := 0.0
	if s.Faults.GeoidNotApplied {
		geoid = 1
	}
	if s.Faults.GeoidWrongSign {
		geoid = 2
	}
	ce, cn := s.Site.CentreEM, s.Site.CentreNM
	for i := range b.n {
		e, n, h := ce+b.x[i], cn+b.y[i], b.z[i]
		if geoid != 0 {
			h += geoid * f.GeoidM(e, n)
		}
		c.X[i] = int32(math.Round((e/fr.HorizontalM - fr.Offset[0]) * inv[0]))
		c.Y[i] = int32(math.Round((n/fr.HorizontalM - fr.Offset[1]) * inv[1]))
		c.Z[i] = int32(math.Round((h/fr.VerticalM - fr.Offset[2]) * inv[2]))
		c.ScanAngle[i] = int16(math.Round(b.angle[i] * (180 / math.Pi / las.ScanAngleStepDeg)))
		c.Source[i] = id
		c.GPSTime[i] = f.StoredTimeS(b.time[i])
		tr.EM[i], tr.NM[i], tr.HM[i] = ce+b.tx[i], cn+b.ty[i], b.tz[i]
	}
	copy(c.Intensity, b.intensity)
	copy(c.ReturnNumber, b.ret)
	copy(c.NumReturns, b.nret)
	copy(c.Flags, b.flags)
	copy(c.Class, b.class)
	if s.Label.Unclassified {
		for i := range c.Class {
			c.Class[i] = 1
		}
	}
	copy(tr.TimeS, b.time)
	copy(tr.Cover, b.cover)
	copy(tr.RangeM, b.rangeM)
	copy(tr.AngleRad, b.raw)
}

func resize(c *las.Chunk, t *TrueColumns, n int) {
	c.N = n
	c.X, c.Y, c.Z, c.GPSTime = c.X[:n], c.Y[:n], c.Z[:n], c.GPSTime[:n]
	c.Intensity, c.Source, c.ScanAngle = c.Intensity[:n], c.Source[:n], c.ScanAngle[:n]
	c.ReturnNumber, c.NumReturns, c.Flags = c.ReturnNumber[:n], c.NumReturns[:n], c.Flags[:n]
	c.Channel, c.Class, c.UserData = c.Channel[:n], c.Class[:n], c.UserData[:n]
	t.TimeS, t.EM, t.NM, t.HM = t.TimeS[:n], t.EM[:n], t.NM[:n], t.HM[:n]
	t.Cover, t.RangeM, t.AngleRad = t.Cover[:n], t.RangeM[:n], t.AngleRad[:n]
}
