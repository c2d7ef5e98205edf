package las

import (
	"encoding/binary"
	"math"
)

// compat restores points of formats 6 to 10 that a writer stored as formats 1, 3, 4 or 5 with extra
// bytes, so that readers of LAS 1.2 could open the file.
//
// Source: LAS 1.4 compatibility mode of LASzip, as published by its author.
type compat struct {
	from, to       formatInfo
	record         int // length of a stored record
	restored       int // length of a restored record
	angle, returns int // places in the stored record
	class, flags   int
	nir            int   // -1 without
	extra          []int // places of the extra bytes that stay
	rankSteps      [256]int16
	descriptors    []byte // payload of the Extra Bytes record that stays
	format         uint8
}

// Names of the extra bytes that hold what formats 1 to 5 cannot.
const (
	compatAngle   = "LAS 1.4 scan angle"
	compatReturns = "LAS 1.4 extended returns"
	compatClass   = "LAS 1.4 classification"
	compatFlags   = "LAS 1.4 flags and channel"
	compatNIR     = "LAS 1.4 NIR band"
)

// newCompat returns how to restore the points, or nil when the file is not in compatibility mode or
// its extra bytes are not those of it. payload is that of the Extra Bytes records that fields were
// read from, one after the other.
func newCompat(h *Header, fields []ExtraField, payload []byte) *compat {
	c := &compat{from: formats[h.Format], record: h.RecordLength, angle: -1, returns: -1, class: -1, flags: -1, nir: -1}
	described := FormatSize(h.Format)
	for i, e := range fields {
		described = e.Offset + e.Size
		place, size := (*int)(nil), 1
		switch e.Name {
		case compatAngle:
			place, size = &c.angle, 2
		case compatReturns:
			place = &c.returns
		case compatClass:
			place = &c.class
		case compatFlags:
			place = &c.flags
		case compatNIR:
			place, size = &c.nir, 2
		}
		if place != nil {
			if e.Size != size {
				return nil
			}
			*place = e.Offset
			continue
		}
		for k := range e.Size {
			c.extra = append(c.extra, e.Offset+k)
		}
		c.descriptors = append(c.descriptors, payload[i*extraRecordSize:(i+1)*extraRecordSize]...)
	}
	for k := described; k < h.RecordLength; k++ {
		c.extra = append(c.extra, k)
	}
	if c.angle < 0 || c.returns < 0 || c.class < 0 || c.flags < 0 {
		return nil
	}
	switch {
	case h.Format == 1:
		c.format = 6
	case h.Format == 3 && c.nir < 0:
		c.format = 7
	case h.Format == 3:
		c.format = 8
	case h.Format == 4:
		c.format = 9
	case h.Format == 5 && c.nir >= 0:
		c.format = 10
	default:
		return nil
	}
	c.to = formats[c.format]
	c.restored = c.to.size + len(c.extra)
	for i := range c.rankSteps {
		q := float32(int8(i)) / float32(0.006)
		c.rankSteps[i] = int16(math.Round(float64(q)))
	}
	return c
}

// restore turns stored records into records of the restored format.
func (c *compat) restore(dst, src []byte) []byte {
	n := len(src) / c.record
	dst = sized(dst, n*c.restored, true)
	le := binary.LittleEndian
	for i := range n {
		s, d := src[i*c.record:(i+1)*c.record], dst[i*c.restored:(i+1)*c.restored]
		copy(d[:14], s[:14])
		ext, fl := s[c.returns], s[c.flags]
		number, of := s[14]&7+ext>>4, s[14]>>3&7+ext&15
		d[14] = number&15 | of<<4
		d[15] = s[15]>>5 | fl&1<<3 | fl>>1&3<<4 | s[14]&0xC0
		d[16] = s[15]&31 + s[c.class]
		d[17] = s[17]
		le.PutUint16(d[18:], uint16(int16(le.Uint16(s[c.angle:]))+c.rankSteps[s[16]]))
		copy(d[20:22], s[18:20])
		copy(d[22:30], s[c.from.gps:c.from.gps+8])
		if c.to.rgb >= 0 {
			copy(d[c.to.rgb:c.to.rgb+6], s[c.from.rgb:])
		}
		if c.to.nir >= 0 {
			copy(d[c.to.nir:c.to.nir+2], s[c.nir:])
		}
		if c.to.wave >= 0 {
			copy(d[c.to.wave:c.to.wave+29], s[c.from.wave:])
		}
		for k, at := range c.extra {
			d[c.to.size+k] = s[at]
		}
	}
	return dst
}

// restoreFormat recognises compatibility mode and makes the file look like what it was made from:
// header, records and, through deliver, points.
func (f *File) restoreFormat(keepStored bool) {
	f.record = f.hdr.RecordLength
	marker, ok := f.vlr(userCompatible, recordLASzip)
	inLAZ := f.laz != nil && f.laz.vlr.Options&lazCompatible != 0
	if !ok && !inLAZ || keepStored {
		return
	}
	var payload []byte
	for _, v := range f.extraRecords() {
		payload = append(payload, v.Data...)
	}
	c := newCompat(&f.hdr, f.extra, payload)
	if c == nil {
		f.warn("the file is marked as LAS 1.4 compatibility mode, but its extra bytes are not those of it; the points are served as stored")
		return
	}
	h := &f.hdr
	f.warn("LAS 1.4 compatibility mode: the points are restored to the format they had")
	f.compat = c
	h.Format, h.RecordLength, h.Version = c.format, c.restored, Version{1, 4}
	if ok && len(marker.Data) >= 8+148 { // bytes 227 to 374 of the original header
		for i := range h.StatedReturns {
			h.StatedReturns[i] = binary.LittleEndian.Uint64(marker.Data[8+28+8*i:])
		}
	}
	var kept []VLR
	for _, v := range f.vlrs {
		switch {
		case v.is(userCompatible, recordLASzip):
			continue
		case v.is(UserSpec, RecordExtraBytes):
			if len(c.descriptors) == 0 {
				continue
			}
			v = VLR{UserID: v.UserID, RecordID: v.RecordID, Description: v.Description, Data: c.descriptors}
			c.descriptors = nil // all fields that stay are in the first record
		}
		kept = append(kept, v)
	}
	f.vlrs, f.extra = kept, nil
	f.readExtraFields()
}
