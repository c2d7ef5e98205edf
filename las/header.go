package las

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
)

// Bits of Header.GlobalEncoding.
//
// Source: LAS 1.4 R16 and 1.5, global encoding.
const (
	EncodingAdjustedTime     uint16 = 1 << 0 // GPS time is adjusted standard, else GPS week seconds
	EncodingWaveInternal     uint16 = 1 << 1
	EncodingWaveExternal     uint16 = 1 << 2
	EncodingSyntheticReturns uint16 = 1 << 3
	EncodingWKT              uint16 = 1 << 4 // the CRS is a WKT record, else GeoTIFF keys
	EncodingTimeOffset       uint16 = 1 << 6 // LAS 1.5: Header.TimeOffset applies
)

// Header is the public header of a LAS file. Every field is as stored, except Points, which is what
// the file holds, and fields that the file's version or header size lacks, which are zero.
type Header struct {
	FileSourceID   uint16
	GlobalEncoding uint16 // 0 for LAS 1.0 and 1.1, where the field is reserved
	GUID           [16]byte
	Version        Version
	SystemID       string
	Software       string
	CreationDay    uint16 // 1 = 1 January
	CreationYear   uint16
	HeaderSize     int
	PointOffset    int64 // bytes from the start of the file to the points
	VLRCount       uint32
	Format         uint8 // point data record format 0..10
	Compressed     bool  // LAZ
	RecordLength   int   // bytes of a point record, extra bytes included

	Points        int64      // points that the file holds and that can be read
	StatedPoints  uint64     // points that the header claims
	StatedReturns [15]uint64 // points by return that the header claims

	Scale, Offset [3]float64
	Min, Max      [3]float64 // bounds that the header claims, in the file's units; do not trust them

	WaveformStart uint64 // LAS 1.3 and later
	EVLRStart     uint64 // LAS 1.4 and later
	EVLRCount     uint32

	MinGPSTime, MaxGPSTime float64 // LAS 1.5, as the header claims
	TimeOffset             uint16  // LAS 1.5, millions of seconds
}

const (
	minHeaderSize = 227
	maxHeaderRead = 393 // the last field of the newest version ends here
)

// ExtraBytes returns the number of bytes of a record beyond its format's own.
func (h *Header) ExtraBytes() int { return h.RecordLength - FormatSize(h.Format) }

// headerFault is a rule of the header that is broken; Open turns it into a *FormatError.
type headerFault struct {
	offset int64
	field  string
	err    error
	remedy string
}

func (e *headerFault) Error() string { return fmt.Sprintf("byte %d: %s: %v", e.offset, e.field, e.err) }
func (e *headerFault) Unwrap() error { return e.err }

func reject(offset int64, field string, kind error, format string, args ...any) *headerFault {
	return &headerFault{offset, field, kindf(kind, format, args...), remedyExport}
}

// parseHeader reads the public header from the first bytes of a file (at most maxHeaderRead are
// looked at). It applies the rules that need no other part of the file and returns warnings for
// what is odd but readable.
func parseHeader(b []byte) (*Header, []string, error) {
	if err := checkStart(b); err != nil {
		return nil, nil, err
	}
	h := &Header{
		Version:      Version{b[24], b[25]},
		SystemID:     cString(b[26:58]),
		Software:     cString(b[58:90]),
		CreationDay:  binary.LittleEndian.Uint16(b[90:]),
		CreationYear: binary.LittleEndian.Uint16(b[92:]),
		HeaderSize:   int(binary.LittleEndian.Uint16(b[94:])),
		PointOffset:  int64(binary.LittleEndian.Uint32(b[96:])),
		VLRCount:     binary.LittleEndian.Uint32(b[100:]),
		RecordLength: int(binary.LittleEndian.Uint16(b[105:])),
	}
	copy(h.GUID[:], b[8:24])
	var warnings []string
	warn := func(format string, args ...any) { warnings = append(warnings, fmt.Sprintf(format, args...)) }

	if h.HeaderSize < minHeaderSize {
		return nil, nil, reject(94, "header size", ErrInvalidValue, "%d bytes, but the shortest LAS header has %d", h.HeaderSize, minHeaderSize)
	}
	if int64(h.HeaderSize) > int64(len(b)) && len(b) < maxHeaderRead {
		return nil, nil, reject(94, "header size", ErrTruncated, "%d bytes, but the file has only %d", h.HeaderSize, len(b))
	}
	want, known := h.Version.headerSize()
	switch {
	case !known:
		warn("version %s is newer than this program knows (1.0 to 1.5); read as 1.5", h.Version)
	case h.HeaderSize > want:
		warn("header of %d bytes in a version %s file, which has %d; the bytes beyond are ignored", h.HeaderSize, h.Version, want)
	case h.HeaderSize < want:
		warn("header of %d bytes in a version %s file, which should have %d; the missing fields are taken as zero", h.HeaderSize, h.Version, want)
	}
	if err := h.parseFormat(b[104]); err != nil {
		return nil, nil, err
	}
	// A copy cut at the stated size and padded with zeros: fields beyond it read as zero.
	full := make([]byte, maxHeaderRead)
	copy(full, b[:min(len(b), h.HeaderSize, maxHeaderRead)])
	h.parseCounts(full, warn)
	if err := h.parseGeometry(full, warn); err != nil {
		return nil, nil, err
	}
	return h, warnings, nil
}

// checkStart looks at signature, length and major version.
func checkStart(b []byte) error {
	switch {
	case len(b) == 0:
		return &headerFault{0, "file", kindf(ErrTruncated, "the file is empty"), "copy the file again from its source"}
	case len(b) < 4 || string(b[:4]) != "LASF":
		return &headerFault{0, "file signature", kindf(ErrNotLAS, "the file does not start with LASF"), "give a LAS or LAZ file"}
	case len(b) < minHeaderSize:
		return &headerFault{int64(len(b)), "public header", kindf(ErrTruncated, "the file ends after %d bytes, inside the header", len(b)), "copy the file again from its source"}
	case b[24] != 1:
		return reject(24, "version major", ErrUnsupported, "version %d.%d, but only 1.0 to 1.5 exist", b[24], b[25])
	}
	return nil
}

// parseFormat takes apart the format byte and checks the record length against it.
func (h *Header) parseFormat(b byte) error {
	h.Format = b & 0x3F
	h.Compressed = b&0x80 != 0
	if b&0x40 != 0 {
		return reject(104, "point data record format", ErrUnsupported, "%#02x marks an experimental compressor that was never released", b)
	}
	if h.Format > maxFormat {
		return reject(104, "point data record format", ErrUnsupported, "format %d, but only 0 to %d exist", h.Format, maxFormat)
	}
	if need := FormatSize(h.Format); h.RecordLength < need {
		return reject(105, "point data record length", ErrInvalidValue, "%d bytes, but format %d needs %d", h.RecordLength, h.Format, need)
	}
	return nil
}

// parseCounts reads the fields whose presence depends on the version. full is padded with zeros.
func (h *Header) parseCounts(full []byte, warn func(string, ...any)) {
	le := binary.LittleEndian
	minor := h.Version.Minor
	if minor >= 1 {
		h.FileSourceID = le.Uint16(full[4:])
	}
	if minor >= 2 {
		h.GlobalEncoding = le.Uint16(full[6:])
	}
	legacy := uint64(le.Uint32(full[107:]))
	for i := range 5 {
		h.StatedReturns[i] = uint64(le.Uint32(full[111+4*i:]))
	}
	h.StatedPoints = legacy
	if minor >= 3 {
		h.WaveformStart = le.Uint64(full[227:])
	}
	if minor >= 4 {
		h.EVLRStart = le.Uint64(full[235:])
		h.EVLRCount = le.Uint32(full[243:])
		n := le.Uint64(full[247:])
		var byReturn [15]uint64
		var sum uint64
		for i := range byReturn {
			byReturn[i] = le.Uint64(full[255+8*i:])
			sum += byReturn[i]
		}
		if sum > 0 {
			h.StatedReturns = byReturn
		}
		switch {
		case n == 0:
		case legacy == 0 || legacy == n:
			h.StatedPoints = n
		case Extended(h.Format):
			h.StatedPoints = n
			warn("the legacy point count %d differs from the point count %d; the latter is used (format %d)", legacy, n, h.Format)
		default:
			warn("the point count %d differs from the legacy point count %d; the latter is used (format %d)", n, legacy, h.Format)
		}
	}
	if minor >= 5 {
		h.MaxGPSTime = math.Float64frombits(le.Uint64(full[375:]))
		h.MinGPSTime = math.Float64frombits(le.Uint64(full[383:]))
		h.TimeOffset = le.Uint16(full[391:])
	}
}

// parseGeometry reads scale, offset and bounds.
func (h *Header) parseGeometry(full []byte, warn func(string, ...any)) error {
	f64 := func(at int) float64 { return math.Float64frombits(binary.LittleEndian.Uint64(full[at:])) }
	for i, axis := range [3]string{"X", "Y", "Z"} {
		h.Scale[i] = f64(131 + 8*i)
		h.Offset[i] = f64(155 + 8*i)
		h.Max[i] = f64(179 + 16*i)
		h.Min[i] = f64(187 + 16*i)
		if s := h.Scale[i]; s == 0 || math.IsNaN(s) || math.IsInf(s, 0) {
			return reject(int64(131+8*i), axis+" scale factor", ErrInvalidValue, "%v cannot scale coordinates", s)
		}
		if o := h.Offset[i]; math.IsNaN(o) || math.IsInf(o, 0) {
			return reject(int64(155+8*i), axis+" offset", ErrInvalidValue, "%v is not a coordinate", o)
		}
		if !(h.Min[i] <= h.Max[i]) {
			warn("the header's %s bounds %v to %v are no interval; bounds are computed from the points", axis, h.Min[i], h.Max[i])
		}
	}
	return nil
}

// cString returns the text before the first NUL, without blanks at the end. Bytes after the NUL
// are garbage in some files.
func cString(b []byte) string {
	if i := bytes.IndexByte(b, 0); i >= 0 {
		b = b[:i]
	}
	return string(bytes.TrimRight(b, " "))
}
