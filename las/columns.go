package las

import (
	"encoding/binary"
	"math"
)

// blockPoints is how many records are taken apart at a time: few enough for the records to stay in
// the first-level cache while one column group after the other is copied out of them.
const blockPoints = 256

// rankSteps turns a scan angle rank (whole degrees, as the byte stored) into ScanAngleStepDeg.
var rankSteps = func() (t [256]int16) {
	for i := range t {
		t[i] = int16(math.Round(float64(int8(i)) / ScanAngleStepDeg))
	}
	return t
}()

// classicFlags turns the class byte of formats 0 to 5 into bits of Chunk.Flags.
var classicFlags = func() (t [256]uint8) {
	for i := range t {
		t[i] = uint8(i >> 5)
		if i&31 == classOverlap {
			t[i] |= FlagOverlap
		}
	}
	return t
}()

// classOverlap is the class of formats 0 to 5 that stands for the overlap flag of formats 6 to 10.
const classOverlap = 12

// resize gives the wanted columns of c length n and empties the others.
func (c *Chunk) resize(n int, cols Columns, recordLength int) {
	c.N = n
	c.X, c.Y, c.Z = sized(c.X, n, true), sized(c.Y, n, true), sized(c.Z, n, true)
	c.Intensity = sized(c.Intensity, n, cols&ColIntensity != 0)
	c.ReturnNumber = sized(c.ReturnNumber, n, cols&ColReturn != 0)
	c.NumReturns = sized(c.NumReturns, n, cols&ColReturn != 0)
	c.Flags = sized(c.Flags, n, cols&ColFlags != 0)
	c.Channel = sized(c.Channel, n, cols&ColChannel != 0)
	c.Class = sized(c.Class, n, cols&ColClass != 0)
	c.ScanAngle = sized(c.ScanAngle, n, cols&ColScanAngle != 0)
	c.UserData = sized(c.UserData, n, cols&ColUserData != 0)
	c.Source = sized(c.Source, n, cols&ColSource != 0)
	c.GPSTime = sized(c.GPSTime, n, cols&ColGPSTime != 0)
	c.Red = sized(c.Red, n, cols&ColRGB != 0)
	c.Green = sized(c.Green, n, cols&ColRGB != 0)
	c.Blue = sized(c.Blue, n, cols&ColRGB != 0)
	c.NIR = sized(c.NIR, n, cols&ColNIR != 0)
	c.Record = sized(c.Record, n*recordLength, cols&ColRecord != 0)
}

// sized returns s with length n, or length 0 when it is not wanted, keeping its memory. A chunk
// gets its full capacity at once so that a reused one never grows again.
func sized[T any](s []T, n int, want bool) []T {
	if !want {
		return s[:0]
	}
	if cap(s) < n {
		return make([]T, n)
	}
	return s[:n]
}

// extract fills the chunk with the columns of the records. len(records) is a multiple of the
// record length.
func (c *Chunk) extract(records []byte, recordLength int, format uint8, cols Columns) {
	c.resize(len(records)/recordLength, cols, recordLength)
	if cols&ColRecord != 0 {
		copy(c.Record, records)
	}
	fi := &formats[format]
	for lo := 0; lo < c.N; lo += blockPoints {
		hi := min(lo+blockPoints, c.N)
		b := records[lo*recordLength : hi*recordLength]
		c.extractXYZ(b, recordLength, lo, hi)
		if fi.extended {
			c.extractExtended(b, recordLength, lo, hi, cols)
		} else {
			c.extractClassic(b, recordLength, lo, hi, cols)
		}
		c.extractCommon(b, recordLength, lo, hi, cols, fi)
	}
}

// extractXYZ copies the coordinates of one block.
func (c *Chunk) extractXYZ(b []byte, recordLength, lo, hi int) {
	x, y, z := c.X[lo:hi], c.Y[lo:hi], c.Z[lo:hi]
	y, z = y[:len(x)], z[:len(x)]
	for i := range x {
		r := b[:12]
		x[i] = int32(binary.LittleEndian.Uint32(r))
		y[i] = int32(binary.LittleEndian.Uint32(r[4:]))
		z[i] = int32(binary.LittleEndian.Uint32(r[8:]))
		b = b[recordLength:]
	}
}

// extractClassic copies what formats 0 to 5 pack in their own way.
func (c *Chunk) extractClassic(b []byte, recordLength, lo, hi int, cols Columns) {
	if cols&ColReturn != 0 {
		rn, nr := c.ReturnNumber[lo:hi], c.NumReturns[lo:hi]
		nr = nr[:len(rn)]
		for i, r := 0, b; i < len(rn); i, r = i+1, r[recordLength:] {
			v := r[14]
			rn[i], nr[i] = v&7, v>>3&7
		}
	}
	if cols&ColFlags != 0 {
		fl := c.Flags[lo:hi]
		for i, r := 0, b; i < len(fl); i, r = i+1, r[recordLength:] {
			fl[i] = classicFlags[r[15]] | r[14]>>6<<4
		}
	}
	if cols&ColClass != 0 {
		cl := c.Class[lo:hi]
		for i, r := 0, b; i < len(cl); i, r = i+1, r[recordLength:] {
			cl[i] = r[15] & 31
		}
	}
	if cols&ColScanAngle != 0 {
		an := c.ScanAngle[lo:hi]
		for i, r := 0, b; i < len(an); i, r = i+1, r[recordLength:] {
			an[i] = rankSteps[r[16]]
		}
	}
	if cols&ColChannel != 0 {
		clear(c.Channel[lo:hi])
	}
}

// extractExtended copies what formats 6 to 10 pack in their own way.
func (c *Chunk) extractExtended(b []byte, recordLength, lo, hi int, cols Columns) {
	if cols&ColReturn != 0 {
		rn, nr := c.ReturnNumber[lo:hi], c.NumReturns[lo:hi]
		nr = nr[:len(rn)]
		for i, r := 0, b; i < len(rn); i, r = i+1, r[recordLength:] {
			v := r[14]
			rn[i], nr[i] = v&15, v>>4
		}
	}
	if cols&ColFlags != 0 {
		fl := c.Flags[lo:hi]
		for i, r := 0, b; i < len(fl); i, r = i+1, r[recordLength:] {
			v := r[15]
			fl[i] = v&15 | v>>6<<4
		}
	}
	if cols&ColChannel != 0 {
		ch := c.Channel[lo:hi]
		for i, r := 0, b; i < len(ch); i, r = i+1, r[recordLength:] {
			ch[i] = r[15] >> 4 & 3
		}
	}
	if cols&ColClass != 0 {
		cl := c.Class[lo:hi]
		for i, r := 0, b; i < len(cl); i, r = i+1, r[recordLength:] {
			cl[i] = r[16]
		}
	}
	if cols&ColScanAngle != 0 {
		an := c.ScanAngle[lo:hi]
		for i, r := 0, b; i < len(an); i, r = i+1, r[recordLength:] {
			an[i] = int16(binary.LittleEndian.Uint16(r[18:20]))
		}
	}
}

// extractCommon copies the columns that differ between formats only by their place.
func (c *Chunk) extractCommon(b []byte, recordLength, lo, hi int, cols Columns, fi *formatInfo) {
	user, source := 17, 18
	if fi.extended {
		source = 20
	}
	if cols&ColIntensity != 0 {
		copy16(c.Intensity[lo:hi], b, recordLength, 12)
	}
	if cols&ColUserData != 0 {
		ud := c.UserData[lo:hi]
		for i, r := 0, b; i < len(ud); i, r = i+1, r[recordLength:] {
			ud[i] = r[user]
		}
	}
	if cols&ColSource != 0 {
		copy16(c.Source[lo:hi], b, recordLength, source)
	}
	if cols&ColGPSTime != 0 {
		t := c.GPSTime[lo:hi]
		if fi.gps < 0 {
			clear(t)
		} else {
			at := fi.gps
			for i, r := 0, b; i < len(t); i, r = i+1, r[recordLength:] {
				t[i] = math.Float64frombits(binary.LittleEndian.Uint64(r[at:]))
			}
		}
	}
	if cols&ColRGB != 0 {
		copy16(c.Red[lo:hi], b, recordLength, fi.rgb)
		copy16(c.Green[lo:hi], b, recordLength, fi.rgb+2)
		copy16(c.Blue[lo:hi], b, recordLength, fi.rgb+4)
	}
	if cols&ColNIR != 0 {
		copy16(c.NIR[lo:hi], b, recordLength, fi.nir)
	}
}

// copy16 copies the 16-bit field at byte at of each record; zeros when the format lacks it (the
// places of absent colours are below 6).
func copy16(dst []uint16, b []byte, recordLength, at int) {
	if at < 6 {
		clear(dst)
		return
	}
	for i, r := 0, b; i < len(dst); i, r = i+1, r[recordLength:] {
		dst[i] = binary.LittleEndian.Uint16(r[at:])
	}
}
