package las

import (
	"encoding/binary"
	"math"
)

// chooseRecords makes the lists of VLRs and EVLRs to write and the encoding bits that go with them.
func (w *Writer) chooseRecords() error {
	for _, list := range [2][]VLR{w.o.VLRs, w.o.EVLRs} {
		for _, v := range list {
			if v.droppedByWriter() || w.o.WKT != "" && v.UserID == UserProjection {
				continue
			}
			if len(v.UserID) > 16 || len(v.Description) > 32 {
				return kindf(ErrInvalidValue, "record %s/%d: user ID %q or description %q is longer than 16 or 32 bytes", v.UserID, v.RecordID, v.UserID, v.Description)
			}
			if !v.Extended && v.Size() > math.MaxUint16 {
				return kindf(ErrInvalidValue, "record %s/%d has %d bytes, a variable length record at most 65535", v.UserID, v.RecordID, v.Size())
			}
			if v.Extended {
				w.evlrs = append(w.evlrs, v)
			} else {
				w.vlrs = append(w.vlrs, v)
			}
		}
	}
	if w.o.WKT != "" {
		v := NewWKT(w.o.WKT)
		if len(v.Data) > math.MaxUint16 {
			return kindf(ErrInvalidValue, "the coordinate system has %d bytes of WKT, a record at most 65535", len(v.Data))
		}
		w.vlrs = append([]VLR{v}, w.vlrs...)
	}
	w.setEncoding()
	return nil
}

// setEncoding makes the encoding bits agree with the records.
func (w *Writer) setEncoding() {
	hasWKT, hasKeys, hasWaves := false, false, false
	for _, list := range [2][]VLR{w.vlrs, w.evlrs} {
		for i := range list {
			hasWKT = hasWKT || list[i].is(UserProjection, RecordWKT)
			hasKeys = hasKeys || list[i].is(UserProjection, RecordGeoKeys)
			hasWaves = hasWaves || list[i].is(UserSpec, recordWaveformData)
		}
	}
	switch {
	case w.o.Version.Minor < 4: // the bit is reserved
	case w.o.WKT != "", hasWKT && !hasKeys, Extended(w.o.Format) && !hasKeys:
		w.o.GlobalEncoding |= EncodingWKT
	case hasKeys && !hasWKT:
		w.o.GlobalEncoding &^= EncodingWKT
	}
	if !hasWaves {
		w.o.GlobalEncoding &^= EncodingWaveInternal
	}
}

// droppedByWriter reports whether a record describes the file it came from and would be false in
// another one.
func (v *VLR) droppedByWriter() bool {
	return v.is(userLASzip, recordLASzip) || v.UserID == userCOPC || v.is(UserSpec, recordSuperseded)
}

// NewWKT returns the record that holds a coordinate system as WKT.
func NewWKT(wkt string) VLR {
	return VLR{UserID: UserProjection, RecordID: RecordWKT, Description: "OGC WKT", Data: append([]byte(wkt), 0)}
}

// NewGeoKeys returns the records that hold a coordinate system as GeoTIFF keys, the form that
// crs.CRS.GeoKeys gives. Empty parts get no record.
func NewGeoKeys(directory []uint16, doubles []float64, ascii []byte) []VLR {
	le := binary.LittleEndian
	var list []VLR
	add := func(id uint16, description string, data []byte) {
		if len(data) > 0 {
			list = append(list, VLR{UserID: UserProjection, RecordID: id, Description: description, Data: data})
		}
	}
	var keys, numbers []byte
	for _, v := range directory {
		keys = le.AppendUint16(keys, v)
	}
	for _, v := range doubles {
		numbers = le.AppendUint64(numbers, math.Float64bits(v))
	}
	add(RecordGeoKeys, "GeoKeyDirectoryTag", keys)
	add(RecordGeoDoubles, "GeoDoubleParamsTag", numbers)
	add(RecordGeoASCII, "GeoAsciiParamsTag", ascii)
	return list
}
