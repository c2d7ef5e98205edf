package las

import (
	"encoding/binary"
	"math"
)

// pack makes records of the columns. dst is zeroed and holds c.N records.
func (c *Chunk) pack(dst []byte, record int, format uint8) error {
	fi := &formats[format]
	if err := c.checkColumns(fi); err != nil {
		return err
	}
	c.packXYZ(dst, record)
	if fi.extended {
		c.packExtended(dst, record)
	} else {
		c.packClassic(dst, record)
	}
	user, source := 17, 18
	if fi.extended {
		source = 20
	}
	le := binary.LittleEndian
	for i := range c.N {
		r := dst[i*record : (i+1)*record]
		le.PutUint16(r[12:], at(c.Intensity, i))
		r[user] = at(c.UserData, i)
		le.PutUint16(r[source:], at(c.Source, i))
		if fi.gps >= 0 {
			le.PutUint64(r[fi.gps:], math.Float64bits(at(c.GPSTime, i)))
		}
		if fi.rgb >= 0 {
			le.PutUint16(r[fi.rgb:], at(c.Red, i))
			le.PutUint16(r[fi.rgb+2:], at(c.Green, i))
			le.PutUint16(r[fi.rgb+4:], at(c.Blue, i))
		}
		if fi.nir >= 0 {
			le.PutUint16(r[fi.nir:], at(c.NIR, i))
		}
	}
	return nil
}

// at returns s[i], or zero when the column is absent.
func at[T any](s []T, i int) (v T) {
	if i < len(s) {
		v = s[i]
	}
	return v
}

// packXYZ overwrites the coordinates of the records.
func (c *Chunk) packXYZ(dst []byte, record int) {
	le := binary.LittleEndian
	for i := range c.N {
		r := dst[i*record : i*record+12]
		le.PutUint32(r, uint32(c.X[i]))
		le.PutUint32(r[4:], uint32(c.Y[i]))
		le.PutUint32(r[8:], uint32(c.Z[i]))
	}
}

// returns gives return number and number of returns of point i; 1 of 1 when the columns are absent.
func (c *Chunk) returns(i int) (number, of uint8) {
	if len(c.ReturnNumber) == 0 {
		return 1, 1
	}
	return c.ReturnNumber[i], c.NumReturns[i]
}

func (c *Chunk) packClassic(dst []byte, record int) {
	for i := range c.N {
		r := dst[i*record : (i+1)*record]
		n, of := c.returns(i)
		fl := at(c.Flags, i)
		r[14] = n | of<<3 | fl>>4<<6
		r[15] = at(c.Class, i) | fl&7<<5
		r[16] = uint8(int8(math.Round(float64(at(c.ScanAngle, i)) * ScanAngleStepDeg)))
	}
}

func (c *Chunk) packExtended(dst []byte, record int) {
	for i := range c.N {
		r := dst[i*record : (i+1)*record]
		n, of := c.returns(i)
		fl := at(c.Flags, i)
		r[14] = n | of<<4
		r[15] = fl&15 | at(c.Channel, i)<<4 | fl>>4<<6
		r[16] = at(c.Class, i)
		binary.LittleEndian.PutUint16(r[18:], uint16(at(c.ScanAngle, i)))
	}
}

// checkColumns refuses columns of wrong length and values that the format cannot hold.
func (c *Chunk) checkColumns(fi *formatInfo) error {
	lengths := []struct {
		name string
		n    int
		must bool
	}{
		{"X", len(c.X), true}, {"Y", len(c.Y), true}, {"Z", len(c.Z), true},
		{"Intensity", len(c.Intensity), false}, {"ReturnNumber", len(c.ReturnNumber), false},
		{"NumReturns", len(c.NumReturns), len(c.ReturnNumber) > 0}, {"Flags", len(c.Flags), false},
		{"Channel", len(c.Channel), false}, {"Class", len(c.Class), false}, {"ScanAngle", len(c.ScanAngle), false},
		{"UserData", len(c.UserData), false}, {"Source", len(c.Source), false}, {"GPSTime", len(c.GPSTime), false},
		{"Red", len(c.Red), false}, {"Green", len(c.Green), false}, {"Blue", len(c.Blue), false}, {"NIR", len(c.NIR), false},
	}
	for _, l := range lengths {
		if l.n != c.N && (l.must || l.n != 0) {
			return kindf(ErrInvalidValue, "column %s has %d values for %d points", l.name, l.n, c.N)
		}
	}
	maxReturn, maxClass, maxChannel := uint8(7), uint8(31), uint8(0)
	if fi.extended {
		maxReturn, maxClass, maxChannel = 15, 255, 3
	}
	limits := []struct {
		name string
		col  []uint8
		max  uint8
	}{
		{"return number", c.ReturnNumber, maxReturn}, {"number of returns", c.NumReturns, maxReturn},
		{"class", c.Class, maxClass}, {"scanner channel", c.Channel, maxChannel}, {"flags", c.Flags, 63},
	}
	for _, l := range limits {
		for i, v := range l.col {
			if v > l.max {
				return kindf(ErrInvalidValue, "%s %d at index %d, but the point format holds at most %d", l.name, v, i, l.max)
			}
		}
	}
	if fi.extended {
		return nil
	}
	for i, v := range c.Flags {
		if v&FlagOverlap != 0 && at(c.Class, i) != classOverlap {
			return kindf(ErrInvalidValue, "the overlap flag at index %d, but the point format has it only as class 12", i)
		}
	}
	for i, v := range c.ScanAngle {
		if d := math.Round(float64(v) * ScanAngleStepDeg); d < math.MinInt8 || d > math.MaxInt8 {
			return kindf(ErrInvalidValue, "scan angle of %v degrees at index %d, but the point format holds -128 to 127", d, i)
		}
	}
	return nil
}

// Pack returns the stored integers of a coordinate in metres: the inverse of XM, YM and ZM, rounded
// to the nearest. ok is false when one does not fit 32 bits with the frame's scale and offset.
func (f *Frame) Pack(xM, yM, zM float64) (v [3]int32, ok bool) {
	in := [3]float64{xM / f.HorizontalM, yM / f.HorizontalM, zM / f.VerticalM}
	for i := range v {
		q := math.Round((in[i] - f.Offset[i]) / f.Scale[i])
		if !(q >= math.MinInt32 && q <= math.MaxInt32) {
			return v, false
		}
		v[i] = int32(q)
	}
	return v, true
}

// pointStats is what the header says about the points.
type pointStats struct {
	n        int64
	min, max [3]int32
	byReturn [16]uint64 // index 0: return number 0
	minT     float64
	maxT     float64
	timed    bool
}

// add counts whole records.
func (s *pointStats) add(records []byte, record int, format uint8) {
	n := len(records) / record
	if n == 0 {
		return
	}
	le, fi := binary.LittleEndian, &formats[format]
	mask := byte(7)
	if fi.extended {
		mask = 15
	}
	if s.n == 0 {
		for k := range 3 {
			s.min[k] = int32(le.Uint32(records[4*k:]))
		}
		s.max = s.min
	}
	s.n += int64(n)
	minX, minY, minZ, maxX, maxY, maxZ := s.min[0], s.min[1], s.min[2], s.max[0], s.max[1], s.max[2]
	for i, at := 0, 0; i < n; i, at = i+1, at+record {
		r := records[at : at+15 : at+15]
		xy := le.Uint64(r)
		x, y, z := int32(xy), int32(xy>>32), int32(le.Uint32(r[8:]))
		minX, minY, minZ = min(minX, x), min(minY, y), min(minZ, z)
		maxX, maxY, maxZ = max(maxX, x), max(maxY, y), max(maxZ, z)
		s.byReturn[r[14]&mask&15]++
	}
	s.min, s.max = [3]int32{minX, minY, minZ}, [3]int32{maxX, maxY, maxZ}
}

// addTimes gathers the range of GPS times, which the header of LAS 1.5 states.
func (s *pointStats) addTimes(records []byte, record int, format uint8) {
	at := formats[format].gps
	if at < 0 {
		return
	}
	for ; at+8 <= len(records); at += record {
		switch t := math.Float64frombits(binary.LittleEndian.Uint64(records[at:])); {
		case t != t:
		case !s.timed:
			s.minT, s.maxT, s.timed = t, t, true
		default:
			s.minT, s.maxT = min(s.minT, t), max(s.maxT, t)
		}
	}
}
