package las

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"io"
)

// User IDs and record IDs of variable length records that this package knows.
//
// Source: LAS 1.4 R16, defined variable length records; LASzip and COPC as published by their authors.
const (
	UserProjection = "LASF_Projection"
	UserSpec       = "LASF_Spec"
	userLASzip     = "laszip encoded"
	userCompatible = "lascompatible"
	userCOPC       = "copc"

	RecordMathWKT      = 2111
	RecordWKT          = 2112
	RecordGeoKeys      = 34735
	RecordGeoDoubles   = 34736
	RecordGeoASCII     = 34737
	RecordTextArea     = 3
	RecordExtraBytes   = 4
	recordSuperseded   = 7
	recordLASzip       = 22204
	recordCOPCInfo     = 1
	recordCOPCTree     = 1000
	recordWaveformData = 65535
)

const (
	vlrHeaderSize  = 54
	evlrHeaderSize = 60

	// evlrInMemory is the longest EVLR payload that Open reads; longer ones (waveforms, COPC
	// trees) are left in the file and reached through VLR.Open.
	evlrInMemory = 4 << 20
)

// VLR is a variable length record (Extended false) or extended variable length record.
type VLR struct {
	UserID      string
	RecordID    uint16
	Description string
	Data        []byte // payload; nil for an extended record longer than 4 MiB, see Open
	Extended    bool

	head   []byte // header as read, so that a copy keeps every byte
	src    io.ReaderAt
	offset int64 // of the header in the file
	size   int64 // of the payload
}

// Size returns the bytes of the payload.
func (v *VLR) Size() int64 {
	if v.src != nil {
		return v.size
	}
	return int64(len(v.Data))
}

// Open returns a reader of the payload. For a record of a File it is valid until the File is closed.
func (v *VLR) Open() *io.SectionReader {
	if v.Data == nil && v.src != nil {
		return io.NewSectionReader(v.src, v.offset+evlrHeaderSize, v.size)
	}
	return io.NewSectionReader(bytes.NewReader(v.Data), 0, int64(len(v.Data)))
}

// is reports whether the record has the user ID and record ID.
func (v *VLR) is(user string, record uint16) bool { return v.UserID == user && v.RecordID == record }

// fill copies the fields of a record header.
func (v *VLR) fill(head []byte, extended bool) {
	v.Extended = extended
	v.head = head
	v.UserID = cString(head[2:18])
	v.RecordID = binary.LittleEndian.Uint16(head[18:])
	if extended {
		v.Description = cString(head[28:60])
	} else {
		v.Description = cString(head[22:54])
	}
}

// header returns the bytes of the record's header: as read where it was read, else made new.
func (v *VLR) header() []byte {
	if v.head != nil && (len(v.head) == evlrHeaderSize) == v.Extended {
		return v.head
	}
	le := binary.LittleEndian
	if v.Extended {
		b := make([]byte, evlrHeaderSize)
		copy(b[2:18], v.UserID)
		le.PutUint16(b[18:], v.RecordID)
		le.PutUint64(b[20:], uint64(v.Size()))
		copy(b[28:60], v.Description)
		return b
	}
	b := make([]byte, vlrHeaderSize)
	copy(b[2:18], v.UserID)
	le.PutUint16(b[18:], v.RecordID)
	le.PutUint16(b[20:], uint16(v.Size()))
	copy(b[22:54], v.Description)
	return b
}

// readVLRs reads the records between the header and the points. It stops, with a warning, at the
// first one that does not fit there: the offset to point data is authoritative. end is the place
// after the last good record.
func readVLRs(r io.ReaderAt, h *Header) (list []VLR, end int64, warnings []string, err error) {
	pos := int64(h.HeaderSize)
	for i := uint32(0); i < h.VLRCount; i++ {
		if pos+vlrHeaderSize > h.PointOffset {
			warnings = append(warnings, fmt.Sprintf("the header claims %d variable length records, but only %d fit before the points", h.VLRCount, i))
			break
		}
		head := make([]byte, vlrHeaderSize)
		if err := readAt(r, head, pos); err != nil {
			return nil, pos, warnings, err
		}
		n := int64(binary.LittleEndian.Uint16(head[20:]))
		if pos+vlrHeaderSize+n > h.PointOffset {
			warnings = append(warnings, fmt.Sprintf("variable length record %d of %d at byte %d runs past the start of the points; it and those after it are ignored", i+1, h.VLRCount, pos))
			break
		}
		v := VLR{src: r, offset: pos, size: n, Data: make([]byte, n)}
		if err := readAt(r, v.Data, pos+vlrHeaderSize); err != nil {
			return nil, pos, warnings, err
		}
		v.fill(head, false)
		list = append(list, v)
		pos += vlrHeaderSize + n
	}
	return list, pos, warnings, nil
}

// readWaveRecord reads the waveform record of LAS 1.3, which has the form of an extended record. What
// has not is left alone.
func readWaveRecord(r io.ReaderAt, size int64, h *Header) ([]VLR, error) {
	if h.Version.Minor != 3 || h.GlobalEncoding&EncodingWaveInternal == 0 || h.WaveformStart == 0 {
		return nil, nil
	}
	list, whole, _, err := readEVLRs(r, size, &Header{PointOffset: h.PointOffset, EVLRStart: h.WaveformStart, EVLRCount: 1})
	if !whole || len(list) == 1 && !list[0].is(UserSpec, recordWaveformData) {
		list = nil
	}
	return list, err
}

// readEVLRs reads the extended records. Those that do not fit into the file are dropped with a
// warning. whole reports that all of them fit.
func readEVLRs(r io.ReaderAt, size int64, h *Header) (list []VLR, whole bool, warnings []string, err error) {
	if h.EVLRCount == 0 {
		if h.EVLRStart != 0 && h.EVLRStart < uint64(h.PointOffset) {
			warnings = append(warnings, "the header gives a start of extended records but none; ignored")
		}
		return nil, true, warnings, nil
	}
	if h.EVLRStart < uint64(h.PointOffset) || h.EVLRStart > uint64(size) {
		return nil, false, []string{fmt.Sprintf("the extended records should start at byte %d, which is not behind the points (file of %d bytes); ignored", h.EVLRStart, size)}, nil
	}
	pos := int64(h.EVLRStart)
	for i := uint32(0); i < h.EVLRCount; i++ {
		if pos+evlrHeaderSize > size {
			return list, false, append(warnings, fmt.Sprintf("extended record %d of %d at byte %d lies beyond the end of the file; it and those after it are ignored", i+1, h.EVLRCount, pos)), nil
		}
		head := make([]byte, evlrHeaderSize)
		if err := readAt(r, head, pos); err != nil {
			return nil, false, warnings, err
		}
		n := binary.LittleEndian.Uint64(head[20:])
		if n > uint64(size-pos-evlrHeaderSize) {
			return list, false, append(warnings, fmt.Sprintf("extended record %d of %d at byte %d claims %d bytes, more than the file has; it and those after it are ignored", i+1, h.EVLRCount, pos, n)), nil
		}
		v := VLR{src: r, offset: pos, size: int64(n)}
		if n <= evlrInMemory {
			v.Data = make([]byte, n)
			if err := readAt(r, v.Data, pos+evlrHeaderSize); err != nil {
				return nil, false, warnings, err
			}
		}
		v.fill(head, true)
		list = append(list, v)
		pos += evlrHeaderSize + int64(n)
	}
	return list, true, warnings, nil
}
