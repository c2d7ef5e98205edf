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
		rest := cols
		if cols&fused == fused {
			rest &^= fused
			if fi.extended {
				c.extractFusedExtended(b, recordLength, lo, hi)
			} else {
				c.extractFusedClassic(b, recordLength, lo, hi)
			}
		}
		if fi.extended {
			c.extractExtended(b, recordLength, lo, hi, rest)
		} else {
			c.extractClassic(b, recordLength, lo, hi, rest)
		}
		c.extractCommon(b, recordLength, lo, hi, rest, fi)
	}
}

// extractXYZ copies the coordinates of one block.
func (c *Chunk) extractXYZ(b []byte, recordLength, lo, hi int) {
	x, y, z := c.X[lo:hi], c.Y[lo:hi], c.Z[lo:hi]
	y, z = y[:len(x)], z[:len(x)]
	at := 0
	for i := range x {
		r := b[at : at+12 : at+12]
		xy := binary.LittleEndian.Uint64(r)
		x[i], y[i] = int32(xy), int32(xy>>32)
		z[i] = int32(binary.LittleEndian.Uint32(r[8:]))
		at += recordLength
	}
}

// fused are the columns that two passes over a block fill when all of them are wanted: one 64-bit
// word of the record holds nearly all, so that a run of the main job spends half the time of a
// pass for each column. One pass for all six was slower: its pointers do not fit the registers.
const fused = ColReturn | ColFlags | ColClass | ColScanAngle | ColSource

// extractFusedClassic fills the fused columns from formats 0 to 5. The word at byte 12 holds, from
// its low end: intensity 16, returns and edge 8, class 8, angle 8, user data 8, source 16 bits.
func (c *Chunk) extractFusedClassic(b []byte, recordLength, lo, hi int) {
	rn, nr, so := c.ReturnNumber[lo:hi], c.NumReturns[lo:hi], c.Source[lo:hi]
	nr, so = nr[:len(rn)], so[:len(rn)]
	at := 12
	for i := range rn {
		w := binary.LittleEndian.Uint64(b[at : at+8 : at+8])
		rn[i], nr[i] = uint8(w>>16)&7, uint8(w>>19)&7
		so[i] = uint16(w >> 48)
		at += recordLength
	}
	fl, cl, an := c.Flags[lo:hi], c.Class[lo:hi], c.ScanAngle[lo:hi]
	cl, an = cl[:len(fl)], an[:len(fl)]
	at = 13
	for i := range fl {
		w := binary.LittleEndian.Uint32(b[at : at+4 : at+4])
		fl[i] = classicFlags[uint8(w>>16)] | uint8(w>>14)&3<<4
		cl[i] = uint8(w>>16) & 31
		an[i] = rankSteps[uint8(w>>24)]
		at += recordLength
	}
}

// extractFusedExtended fills the fused columns from formats 6 to 10. The word at byte 14 holds, from
// its low end: returns 8, flags and channel 8, class 8, user data 8, angle 16, source 16 bits.
func (c *Chunk) extractFusedExtended(b []byte, recordLength, lo, hi int) {
	rn, nr, so := c.ReturnNumber[lo:hi], c.NumReturns[lo:hi], c.Source[lo:hi]
	nr, so = nr[:len(rn)], so[:len(rn)]
	at := 14
	for i := range rn {
		w := binary.LittleEndian.Uint64(b[at : at+8 : at+8])
		rn[i], nr[i] = uint8(w)&15, uint8(w>>4)&15
		so[i] = uint16(w >> 48)
		at += recordLength
	}
	fl, cl, an := c.Flags[lo:hi], c.Class[lo:hi], c.ScanAngle[lo:hi]
	cl, an = cl[:len(fl)], an[:len(fl)]
	at = 14
	for i := range fl {
		w := binary.LittleEndian.Uint64(b[at : at+8 : at+8])
		fl[i] = uint8(w>>8)&15 | uint8(w>>14)&3<<4
		cl[i] = uint8(w >> 16)
		an[i] = int16(w >> 32)
		at += recordLength
	}
}

// extractClassic copies what formats 0 to 5 pack in their own way.
func (c *Chunk) extractClassic(b []byte, recordLength, lo, hi int, cols Columns) {
	if cols&ColReturn != 0 {
		rn, nr := c.ReturnNumber[lo:hi], c.NumReturns[lo:hi]
		nr = nr[:len(rn)]
		at := 14
		for i := range rn {
			v := b[at]
			rn[i], nr[i] = v&7, v>>3&7
			at += recordLength
		}
	}
	if cols&ColFlags != 0 {
		fl := c.Flags[lo:hi]
		at := 14
		for i := range fl {
			r := b[at : at+2 : at+2]
			fl[i] = classicFlags[r[1]] | r[0]>>6<<4
			at += recordLength
		}
	}
	if cols&ColClass != 0 {
		cl := c.Class[lo:hi]
		at := 15
		for i := range cl {
			cl[i] = b[at] & 31
			at += recordLength
		}
	}
	if cols&ColScanAngle != 0 {
		an := c.ScanAngle[lo:hi]
		at := 16
		for i := range an {
			an[i] = rankSteps[b[at]]
			at += recordLength
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
		at := 14
		for i := range rn {
			v := b[at]
			rn[i], nr[i] = v&15, v>>4
			at += recordLength
		}
	}
	if cols&ColFlags != 0 {
		fl := c.Flags[lo:hi]
		at := 15
		for i := range fl {
			v := b[at]
			fl[i] = v&15 | v>>6<<4
			at += recordLength
		}
	}
	if cols&ColChannel != 0 {
		ch := c.Channel[lo:hi]
		at := 15
		for i := range ch {
			ch[i] = b[at] >> 4 & 3
			at += recordLength
		}
	}
	if cols&ColClass != 0 {
		copy8(c.Class[lo:hi], b, recordLength, 16)
	}
	if cols&ColScanAngle != 0 {
		an := c.ScanAngle[lo:hi]
		at := 18
		for i := range an {
			an[i] = int16(binary.LittleEndian.Uint16(b[at : at+2 : at+2]))
			at += recordLength
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
		copy8(c.UserData[lo:hi], b, recordLength, user)
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
			for i := range t {
				t[i] = math.Float64frombits(binary.LittleEndian.Uint64(b[at : at+8 : at+8]))
				at += recordLength
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
	for i := range dst {
		dst[i] = binary.LittleEndian.Uint16(b[at : at+2 : at+2])
		at += recordLength
	}
}

// copy8 copies the byte at byte at of each record.
func copy8(dst []uint8, b []byte, recordLength, at int) {
	for i := range dst {
		dst[i] = b[at]
		at += recordLength
	}
}
